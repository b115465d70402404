"""What the pages of ingredients and batches share: one form and its answer, one record with what replaced it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from records.flow.consequences import sentences_of
from records.flow.forms import BEGINS_NOW
from records.flow.pages import now_and_plan, saved_by
from records.ingredients import keeping
from records.ingredients.models import KeptOnce
from records.ledger.actions import Actor
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS


def by(request: HttpRequest) -> Actor:
    """Who acts."""
    return cast(Request, request).actor


def may(request: HttpRequest, route: str) -> bool:
    """Whether a role of the person may open a route."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


def sent(request: HttpRequest) -> dict[str, Any]:
    """A form's arguments: what was posted, with its files; nothing when the page is only opened."""
    return {"data": request.POST, "files": request.FILES} if request.method == "POST" else {}


def plan_or_404() -> tuple[datetime, InForce]:
    """The moment of this page and the plan in force."""
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return now, in_force


def begins(request: HttpRequest) -> bool:
    """Whether the person says that it begins now."""
    return BEGINS_NOW in request.POST


def answered(
    request: HttpRequest, form: Any, heading: str, act: Callable[[], Any], to: Callable[[Any], str], template: str,
    **more: Any,
) -> HttpResponse:  # fmt: skip
    """The page of one form: it acts when the form is in order, says what followed, and goes on to `to`."""
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, act)
        if saved is not None:
            messages.success(request, _("Recorded: entry %(number)d.") % {"number": saved.number})
            for number in filter(None, [saved.number, getattr(saved, "stock", 0), getattr(saved, "movement", 0)]):
                for text in sentences_of(number):
                    messages.warning(request, text)
            return redirect(to(saved))
    status = 422 if form.errors else 200
    context = {"form": form, "heading": heading, "zone": form.in_force.zone, **more}
    return render(request, template, context, status=status)


def amended(
    request: HttpRequest, row: KeptOnce, kinds: Mapping[type[KeptOnce], tuple[Any, Any]], kind_words: str,
    to: Callable[[Any], str], template: str, **more: Any,
) -> HttpResponse:  # fmt: skip
    """The page that amends a record, the latest of its line alone. `kinds`: form and act of each; `more`: of its form.

    An older record of the line is answered by the page of the latest.
    """
    now, in_force = plan_or_404()
    latest = standing_or_404(row)
    if latest.number != row.number:
        return redirect(to(latest))
    made, saves = kinds[type(row)]
    form = made(**sent(request), in_force=in_force, now=now, row=row, **more)
    heading = _("Amend: %(what)s") % {"what": kind_words}
    refusal = keeping.why_not(by(request), row)
    return answered(request, form, heading, lambda: saves(by(request), form.said()), to, template, refusal=refusal)


def record_or_404(number: int, *models: type[KeptOnce]) -> KeptOnce:
    """The record of the address, of one of these kinds."""
    for model in models:
        found = keeping.record_of(model.KIND, number)
        if found is not None:
            return found
    raise Http404(_("There is no such entry."))


def standing_or_404(row: KeptOnce) -> KeptOnce:
    """The last of the record's line of amendments."""
    latest = keeping.latest_of(type(row), row.number)
    if latest is None:
        raise Http404(_("There is no such entry."))
    return latest


def context_of(request: HttpRequest, row: KeptOnce, in_force: InForce) -> dict[str, Any]:
    """What the page of one record says of it beside its own words."""
    model: Any = type(row)
    return {
        "row": row,
        "successor": model.objects.filter(amends=row.number).first(),
        "refusal": keeping.why_not(by(request), row),
        "followed": sentences_of(row.number),
        "zone": in_force.zone,
    }
