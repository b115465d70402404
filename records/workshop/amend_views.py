"""Amending an entry of the workshop, saying that it did not happen, and revising an instrument after a calibration."""

from __future__ import annotations

import uuid
from datetime import date
from decimal import Decimal
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from plant.equipment.models import Instrument
from plant.process.pasteurization import last_valid_day
from plant.process.units import plain
from plant.rules.intervals import INSTRUMENTS, counts_until
from records.flow import closed_days
from records.flow.moving import may_amend
from records.flow.pages import no_plan, now_and_plan
from records.ledger.models import FileKept
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.refused import Refused
from records.people.revisions import revise
from records.workshop import actions, story
from records.workshop.data import Report
from records.workshop.doubt import last_good
from records.workshop.forms import (
    NO,
    PLANT,
    REGULATOR,
    YES,
    AmendNoticeForm,
    AmendSealForm,
    AmendWorkForm,
    VoidForm,
)
from records.workshop.keeping import local_day, press_of, standing
from records.workshop.models import Calibration, EquipmentTest, HoldingTest, Kept, RegulatorNotice, SealAct, WorkDone
from records.workshop.record_forms import AmendCalibrationForm, AmendHoldingForm, AmendTestForm, ReviseForm
from records.workshop.views import entry_or_404, form_page, page, place_of, row_of

signed = sensitive_post_parameters("signer_secret")
LOOSE_MONTHS = 12  # a loose or tank instrument: a year, common practice, no source

FORMS: dict[str, tuple[type[Any], Any]] = {
    WorkDone.KIND: (AmendWorkForm, actions.record_work),
    EquipmentTest.KIND: (AmendTestForm, actions.record_test),
    HoldingTest.KIND: (AmendHoldingForm, actions.record_holding),
    SealAct.KIND: (AmendSealForm, actions.record_seal),
    RegulatorNotice.KIND: (AmendNoticeForm, actions.record_notice),
    Calibration.KIND: (AmendCalibrationForm, actions.record_calibration),
}


@signed
@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An entry as it should have been recorded; the old one stays, struck through."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    row, asked = entry_or_404(number), cast(Request, request)
    if (sent_away := _not_theirs(request, row, in_force)) is not None:
        return sent_away
    kind, act = FORMS[row.KIND]
    options: dict[str, Any] = {"in_force": in_force, "now": now, "place": row.place, "amends": row.number}
    if isinstance(row, RegulatorNotice):
        options["subject"] = (row.subject_kind, row.subject_number)
    if isinstance(row, Calibration):
        options["instrument"] = _tool(row.instrument)
    form = kind(request.POST or None, request.FILES or None, request=asked, initial=as_recorded(row), **options)
    form.kept_report = _report_of(row)
    heading = _("Amend entry %(number)s") % {"number": row.number}
    return form_page(
        request, form, heading, story.sentence(row), lambda: row_of(act(signature_actor(asked, form), form.said()))
    )


@signed
@page
def void(request: HttpRequest, number: int) -> HttpResponse:
    """Say that an entry did not happen: it stays, struck through."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    row, asked = entry_or_404(number), cast(Request, request)
    if (sent_away := _not_theirs(request, row, in_force)) is not None:
        return sent_away
    form = VoidForm(request.POST or None, request=asked, initial={"form_id": uuid.uuid4()})
    heading = _("Entry %(number)s did not happen") % {"number": row.number}

    def save() -> Kept:
        data = form.cleaned_data
        return actions.say_it_did_not_happen(signature_actor(asked, form), row, data["amend_reason"], data["form_id"])

    return form_page(request, form, heading, story.sentence(row), save, own_tag=True)


def _not_theirs(request: HttpRequest, row: Kept, in_force: InForce) -> HttpResponse | None:
    """Away to the entry's page when it is not theirs to amend, or was amended already."""
    closed = closed_days.is_closed(in_force.calendar.plant_day(row.observed_at))
    why_not = may_amend(cast(Request, request).actor, row, closed)
    if row.void or (request.method != "POST" and story.successor(row) is not None):
        why_not = _("This entry was amended already. Amend the one that stands.")
    if not why_not:
        return None
    messages.warning(request, why_not)
    return redirect("records:workshop-entry", number=row.number)


def _report_of(row: Kept) -> Report | None:
    sha256 = getattr(row, "report", "")
    kept = FileKept.objects.filter(sha256=sha256).first() if sha256 else None
    return Report(sha256=kept.sha256, name=kept.name, mime=kept.mime) if kept is not None else None


def as_recorded(row: Kept) -> dict[str, Any]:
    """The entry as its form has it."""
    known: dict[str, Any] = {
        one.name: getattr(row, one.name)
        for one in row._meta.concrete_fields
        if one.name not in ("form_id", "amend_reason", "pump_rate", "seconds")
    }
    known |= {"at": row.observed_at, "by_regulator": _whose(getattr(row, "by_regulator", None))}
    for name in ("met", "opened", "adjusted"):
        if name in known:
            known[name] = YES if known[name] else NO
    if isinstance(row, HoldingTest):
        known |= {"seconds": row.seconds_typed, "diverted": row.diverted_typed, "tries": " ".join(row.tries)}
        known["pump_rate"] = row.pump_rate_typed
    if isinstance(row, SealAct):
        known["number"] = row.number_seen
    if isinstance(row, Calibration):
        known |= {"reference_u": row.reference_u_typed, "repeatability": row.repeatability_typed}
        for place, one in enumerate(row.points, 1):
            known |= {f"reference_{place}": one["reference"], f"left_{place}": one["left"]}
            known[f"found_{place}"] = " ".join(one["found"])
    return known


def _whose(by_regulator: bool | None) -> str:
    return "" if by_regulator is None else REGULATOR if by_regulator else PLANT


def _tool(code: str) -> Instrument:
    found = Instrument.objects.filter(code=code).first()
    if found is None:
        raise Http404(_("There is no instrument with this number."))
    return found


# --- after a calibration


@signed
@page
def revise_instrument(request: HttpRequest, instrument: str) -> HttpResponse:
    """An instrument's correction and next due day, proposed from its last calibration, changed with a signature."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    tool, asked = _tool(instrument), cast(Request, request)
    last = standing(Calibration.objects.filter(instrument=tool.code)).order_by("-observed_at", "-number").first()
    form = ReviseForm(request.POST or None, request=asked, initial=_proposed(tool, last, in_force))
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            done = revise(by, "instrument", tool, form.changes(), form.cleaned_data["reason"])
        except Refused as refused:
            form.refuse(refused)
        else:
            said = _("Written and signed.") if done else _("Nothing was different; nothing was written.")
            messages.success(request, said)
            return redirect("records:workshop")
    shown = {"form": form, "tool": tool, "last": last, "good": last_good(tool.code, _now)}
    return render(request, "records/workshop/revise.html", shown, status=422 if form.errors else 200)


def _proposed(tool: Instrument, last: Calibration | None, in_force: InForce) -> dict[str, Any]:
    if last is None:
        return {"correction": plain(tool.correction), "calibration_due": tool.calibration_due}
    day = local_day(in_force, last.observed_at)
    left = last.worst_left if last.worst_left is not None else last.worst_error
    reason = _("calibration of %(day)s, entry %(number)s") % {"day": day.isoformat(), "number": last.number}
    due = _next_due(tool, day, in_force) if last.good_after else tool.calibration_due
    return {"correction": plain(-left if left else Decimal(0)), "calibration_due": due, "reason": reason}


def _next_due(tool: Instrument, day: date, in_force: InForce) -> date:
    """At a pasteurizer the day that the law's interval gives; elsewhere a year."""
    if press_of(in_force, place_of(tool, in_force)):
        return counts_until(in_force.plan.plant.rule_set, INSTRUMENTS, day).strict
    return last_valid_day(day, LOOSE_MONTHS)


__all__ = ["amend", "revise_instrument", "void"]
