"""What the flow's views share: the plan in force, a form's answer, and how an act's refusal stands beside its field."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from plant import clock
from plant.hazard_plan.content import VesselDef
from records.flow import choices, consequences
from records.flow.errors import DifferentContent, Refused, Several
from records.ledger.models import Record
from records.people.plans import InForce, plan_in_force

T = TypeVar("T", bound=Record)


def now_and_plan() -> tuple[datetime, InForce | None]:
    """The moment of this page and the plan in force then."""
    now = clock.now()
    return now, plan_in_force(now)


def no_plan(request: HttpRequest) -> HttpResponse:
    """What stands on a page of the flow before a plan was approved."""
    return render(request, "records/flow/no_plan.html", status=409)


def place_or_404(in_force: InForce, code: str) -> VesselDef:
    """The vessel or line of a code that came with the address."""
    found = choices.vessel_of(in_force, code)
    if found is None:
        raise Http404(_("The plan in force knows no vessel of that code."))
    return found


def washed_place_or_404(in_force: InForce, code: str) -> str:
    """The name of what is washed by that code: a vessel, a line, other equipment."""
    name = dict(choices.washable(in_force.plan)).get(code)
    if name is None:
        raise Http404(_("The plan in force knows no vessel of that code."))
    return name


def saved_by(form: forms.Form, save: Callable[[], T]) -> T | Record | None:
    """The record that the act made, or None with its refusal beside the form's fields.

    A form saved before with other content gets its saved record put on the form as `saved_before`.
    """
    try:
        return save()
    except Several as refusal:
        for sentence in refusal.sentences:
            form.add_error(None, sentence)
    except Refused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal.sentence))
    except DifferentContent as different:
        form.saved_before = different.saved  # type: ignore[attr-defined]
        form.add_error(
            None,
            _("This form was saved before with other content. What was saved stands; amend it if it is wrong."),
        )
    return None


def answer(request: HttpRequest, record: Record, sentence: str, *, code: str = "") -> HttpResponse:
    """Say what was saved and what followed from it, and go to the vessel's page, or the Floor."""
    messages.success(request, sentence)
    for text in consequences.sentences_of(record.number):
        messages.warning(request, text)
    return redirect("records:vessel", code=code) if code else redirect("records:floor")


def show_form(
    request: HttpRequest, form: forms.Form, heading: str, *, template: str = "records/flow/form.html", **more: Any
) -> HttpResponse:
    """A page with one form on it."""
    status = 422 if form.errors else 200
    return render(request, template, {"form": form, "heading": heading, **more}, status=status)


def back_to(request: HttpRequest) -> str:
    """The page of ours that a form was opened from (`?next=`), to go back to after it; empty for any other address."""
    wanted = request.GET.get("next", "")
    ours = wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, None)
    return wanted if ours else ""


def with_query(address: str, **said: str) -> str:
    """An address with these words of its query; empty ones are left out."""
    query = urlencode({name: value for name, value in said.items() if value})
    return f"{address}?{query}" if query else address


def new_form_id() -> uuid.UUID:
    """For a form of one button."""
    return uuid.uuid4()
