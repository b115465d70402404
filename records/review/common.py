"""What the pages of this feature share."""

from __future__ import annotations

from typing import Any, cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from records.ledger.actions import Actor
from records.people.middleware import Request
from records.people.rights import RIGHTS

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


def by_of(request: HttpRequest) -> Actor:
    """Who acts."""
    return cast(Request, request).actor


def may(request: HttpRequest, route: str) -> bool:
    """Whether the reader's roles open a route."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


def show(request: HttpRequest, template: str, wrong: bool = False, **place: Any) -> HttpResponse:
    """A page; 422 when a form on it was refused."""
    return render(request, template, place, status=422 if wrong else 200)


def paged(found: list[Any], request: HttpRequest, size: int = 25) -> Any:
    """One page of a list, by ?page=; what is no page is the nearest one."""
    from django.core.paginator import Paginator

    return Paginator(found, size).get_page(request.GET.get("page"))
