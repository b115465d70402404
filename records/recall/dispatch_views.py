"""What left the plant: the list, one with its amendments, a form for what leaves now or has left."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from records.flow.consequences import sentences_of
from records.flow.forms import BEGINS_NOW
from records.flow.pages import no_plan, now_and_plan
from records.flow.queries import not_free_at
from records.lots.models import Lot
from records.recall import actions, returned
from records.recall.dispatched import standing
from records.recall.forms import DispatchAmendForm, DispatchForm
from records.recall.models import Dispatch
from records.recall.pages import line_of, opened
from records.run_rows.pages import by, may, saved, sent, show

MOST = 100
FORM = "records/recall/form.html"
page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def dispatches(request: HttpRequest) -> HttpResponse:
    """The latest that left, with what is on hold since."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    held = not_free_at(now)
    back = list(returned.standing().order_by("-returned_at", "-number")[:MOST])
    holds = returned.held_as([one.part for one in back])
    rows = list(standing().order_by("-dispatched_at", "-number")[:MOST])
    context = {
        "rows": [(one, next(iter(held.get(one.lot, [])), "")) for one in rows],
        "back": [(one, returned.fate(holds.get(one.part, []))) for one in back],
        "most": MOST,
        "zone": in_force.zone,
        "may_send": may(request, "records:dispatch-new"),
    }
    return render(request, "records/recall/dispatches.html", context)


@require_safe
def dispatch(request: HttpRequest, number: int) -> HttpResponse:
    """One that left, its amendments struck through, what followed from it."""
    row, now, in_force = opened(Dispatch, number, _("There is no such dispatch."))
    line = line_of(row)
    latest = line[-1]
    context = {
        "row": latest,
        "line": line,
        "followed": [text for one in line for text in sentences_of(one.number)],
        "held": not_free_at(now).get(latest.lot, []),
        "zone": in_force.zone,
        "may_amend": may(request, "records:dispatch-amend")
        and not latest.void
        and not actions.may_amend_row(by(request), latest),
    }
    return render(request, "records/recall/dispatch.html", context)


@page
def new(request: HttpRequest) -> HttpResponse:
    """Packs that leave now, or have left."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    known = {"code": request.GET.get("code", "")}
    form = DispatchForm(sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        begins = BEGINS_NOW in request.POST
        row = saved(form, lambda: actions.dispatch(by(request), form.said(begins_now=begins)))
        if row is not None:
            return _saved(request, row)
    lot = Lot.objects.filter(code=known["code"]).first() if known["code"] else None
    against = not_free_at(now).get(lot.id, []) if lot is not None else []
    return show(request, form, _("Dispatch"), FORM, against=list(dict.fromkeys(against)), back="records:dispatches")


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A dispatch as it should have been recorded."""
    row, now, in_force = opened(Dispatch, number, _("There is no such dispatch."))
    known: dict[str, Any] = {
        "code": row.code, "consignee": row.consignee, "address": row.address, "phone": row.phone,
        "email": row.email or "", "packed_as": row.packed_as or "",
        "carrier": row.carrier, "dispatched_at": row.dispatched_at, "quantity": row.quantity_typed,
        "unknown": row.quantity is None, "note": row.note,
    }  # fmt: skip
    if row.unit:
        known["unit"] = row.unit
    form = DispatchAmendForm(sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        amended = saved(form, lambda: _amended(request, form, row))
        if amended is not None:
            return _saved(request, amended)
    refusal = actions.may_amend_row(by(request), row)
    return show(request, form, _("Amend dispatch %(number)d") % {"number": number}, FORM, refusal=refusal)


def _amended(request: HttpRequest, form: DispatchAmendForm, row: Dispatch) -> Dispatch:
    given = form.cleaned_data
    said = form.said(begins_now=False)
    return actions.amend_dispatch(by(request), row.number, said, given["reason"], void=given["void"])


def _saved(request: HttpRequest, row: Any) -> HttpResponse:
    messages.success(request, _("Recorded: %(code)s to %(who)s.") % {"code": row.code, "who": row.consignee})
    for text in sentences_of(row.number):
        messages.warning(request, text)
    return redirect("records:dispatch", number=row.number)
