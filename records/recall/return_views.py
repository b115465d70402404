"""What came back: a form for it, one with its amendments and the hold that it is under."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from records.flow.pages import no_plan, now_and_plan
from records.people.plans import InForce
from records.recall import linked, return_actions, return_doubts
from records.recall.actions import may_amend_row
from records.recall.forms import ReturnAmendForm, ReturnForm
from records.recall.models import ProductReturned
from records.recall.pages import line_of, opened
from records.recall.returned import fate, held_as
from records.run_rows.pages import by, may, saved, sent, show

FORM = "records/recall/form.html"
page = require_http_methods(["GET", "HEAD", "POST"])


@page
def new(request: HttpRequest) -> HttpResponse:
    """Packs that came back from a customer."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    given = request.GET.get
    known = {"code": given("code", ""), "consignee": given("from", ""), "recall": given("recall", "")}
    form = ReturnForm(sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        _ask(form, in_force)
        row = saved(form, lambda: return_actions.take_back(by(request), form.said()))
        if row is not None:
            messages.success(request, _("Recorded. It is on hold until two people have decided what becomes of it."))
            return redirect("records:return", number=row.number)
    about = _("Keep it apart from stock and mark it. It never goes back to stock by itself.")
    return show(request, form, _("Product came back"), FORM, about=about, back="records:dispatches")


@require_safe
def returned(request: HttpRequest, number: int) -> HttpResponse:
    """One return: as it stands, its amendments struck through, its holds."""
    row, _now, in_force = opened(ProductReturned, number, _("There is no such return."))
    line = line_of(row)
    latest = line[-1]
    may_amend = may(request, "records:return-amend") and not latest.void
    context = {
        "row": latest,
        "line": line,
        "step": linked.steps_of([row.part]).get(row.part),
        "holds": [(one, fate([one])) for one in held_as([row.part]).get(row.part, [])],
        "zone": in_force.zone,
        "may_amend": may_amend and not may_amend_row(by(request), latest),
    }
    return render(request, "records/recall/returned.html", context)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A return as it should have been recorded."""
    row, now, in_force = opened(ProductReturned, number, _("There is no such return."))
    known: dict[str, Any] = {
        "code": row.code, "consignee": row.consignee, "returned_at": row.returned_at, "quantity": row.quantity_typed,
        "unknown": row.quantity is None, "temperature": row.temperature_typed, "condition": row.condition,
        "reason": row.reason, "kept_where": row.kept_where, "note": row.note,
    }  # fmt: skip
    if row.unit:
        known["unit"] = row.unit
    step = linked.steps_of([row.part]).get(row.part)
    if step is not None:
        known["recall"] = str(step.recall)
    form = ReturnAmendForm(sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        _ask(form, in_force, row.part)
        amended = saved(form, lambda: _amended(request, form, row))
        if amended is not None:
            messages.success(request, _("Recorded. What is on hold stays on hold."))
            return redirect("records:return", number=amended.number)
    refusal = may_amend_row(by(request), row)
    heading = _("Amend return %(number)d") % {"number": number}
    return show(request, form, heading, FORM, refusal=refusal, back="records:dispatches")


def _ask(form: ReturnForm, in_force: InForce, part: UUID | None = None) -> None:
    """Ask once more about what looks like a slip; of a form that was saved already, and of what did not happen, not."""
    if not form.is_valid() or form.cleaned_data.get("void"):
        return
    data = form.said()
    if not ProductReturned.objects.filter(form_id=data.form_id).exists():
        form.doubt(return_doubts.about(data, in_force, part))


def _amended(request: HttpRequest, form: ReturnAmendForm, row: ProductReturned) -> ProductReturned:
    given = form.cleaned_data
    return return_actions.amend_return(by(request), row.number, form.said(), given["amend_reason"], void=given["void"])
