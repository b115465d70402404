"""What a vat's rows come to at a moment: its state, the hold that counts, what is missing, what stands against it."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Literal

from django.utils.translation import gettext as _

from plant.equipment.models import Stage, VesselKind
from plant.hazard_plan.content import Plan, VesselDef
from records.flow.finding import PASTEURIZATION
from records.flow.findings import control_point
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing
from records.judging.vat import Hold, VatReading
from records.judging.words import to_operator
from records.people.plans import InForce
from records.run_rows.models import ENDED
from records.run_rows.queries import Run
from records.vat_runs.models import (
    HOLD_BEGUN,
    HOLD_ENDED,
    LOOKS,
    OUTLET_OPENED,
    OUTLET_SHUT,
    WITH_READINGS,
    VatEvent,
)

State = Literal["not holding", "holding", "hold ended", "emptying", "ended"]
VatRun = Run[VatEvent]


def vats(plan: Plan) -> list[VesselDef]:
    """The plan's vat pasteurizers: vats that stand where product is pasteurized."""
    return [one for one in plan.vessels if one.kind == VesselKind.VAT and one.stage == Stage.PRESS]


def point_of(place: str, in_force: InForce) -> str:
    """The control point of a vat: of its own checks a CCP, else that of pasteurization."""
    plan = in_force.plan
    watched = [one.control_point for one in plan.monitoring if place in one.subjects]
    own = next((key for key in watched if plan.control_point_by_key(key).kind == "ccp"), "")
    return own or control_point(plan, PASTEURIZATION, place)


def look_words(look: str) -> str:
    """What is looked at when a hold begins, in the reader's language."""
    return {
        "valve_closed": _("Outlet valve closed"),
        "leak_drained": _("Leak-detecting valve drained, nothing leaks past it"),
        "agitated": _("Agitated from before the hold to its end"),
        "cover_closed": _("Cover closed"),
    }[look]


def state_at(run: VatRun, moment: datetime) -> State:
    """What the rows by then say."""
    found: State = "not holding"
    for one in run.by(moment):
        found = _next(one.what, found)
    return found


def _next(what: str, before: State) -> State:
    known: dict[str, State] = {
        HOLD_BEGUN: "holding", HOLD_ENDED: "hold ended", OUTLET_OPENED: "emptying", OUTLET_SHUT: "hold ended",
        ENDED: "ended",
    }  # fmt: skip
    return known.get(what, before)


def emptying_at(run: VatRun, moment: datetime) -> VatEvent | None:
    """The row that opened the outlet which is open then."""
    found = None
    for one in run.by(moment):
        if one.what == OUTLET_OPENED:
            found = one
        elif one.what in (OUTLET_SHUT, ENDED):
            found = None
    return found


def hold_of(run: VatRun, ended: VatEvent) -> list[VatEvent]:
    """The rows of the hold that this row ends: from the last beginning before it; empty where none is recorded."""
    begun = [one for one in run.by(ended.happened_at) if one.what == HOLD_BEGUN]
    if not begun:
        return []
    first = begun[-1]
    return [
        one
        for one in run.events
        if one.what in WITH_READINGS and first.happened_at <= one.happened_at <= ended.happened_at
        and (one.what != HOLD_BEGUN or one is first) and (one.what != HOLD_ENDED or one is ended)
    ]  # fmt: skip


def within_a_hold(run: VatRun, row: VatEvent) -> bool:
    """Whether a row with temperatures lies in a hold, its beginning and its end included."""
    if row.what in (HOLD_BEGUN, HOLD_ENDED):
        return True
    state = "not holding"
    for one in run.by(row.happened_at):
        if one.what == HOLD_ENDED and one.happened_at == row.happened_at:
            continue
        state = _next(one.what, state)  # type: ignore[arg-type]
    return state == "holding"


def reading_of(row: VatEvent) -> VatReading:
    """The temperatures of a row for judging."""
    return VatReading(
        row.indicating, row.recording, row.air_space, row.unit, row.correction, row.instrument_unit, row.calibration_due
    )


def as_hold(rows: list[VatEvent], in_force: InForce) -> Hold:
    """The hold of these rows, the first its beginning and the last its end."""
    first, last = rows[0], rows[-1]
    seconds = Fraction(round((last.happened_at - first.happened_at).total_seconds() * 1_000_000), 1_000_000)
    with in_force.speaking():
        looks = [(look_words(one), getattr(first, one)) for one in LOOKS]
    return Hold(
        [reading_of(one) for one in rows],
        seconds,
        None if last.fill_min is None else Fraction(last.fill_min) * 60,
        None if last.empty_min is None else Fraction(last.empty_min) * 60,
        looks,
        in_force.calendar.local(first.happened_at).date(),
    )


def verdicts(run: VatRun) -> dict[int, Verdict]:
    """The governing verdict of each row of a run that has one. One query."""
    return governing(VatEvent.KIND, [one.number for one in run.events if one.what in WITH_READINGS])


def against(run: VatRun, at: datetime) -> list[str]:
    """What stands against opening the outlet: no hold, or one that is not shown to be within its row."""
    by_then = run.by(at)
    ended = next((one for one in reversed(by_then) if one.what == HOLD_ENDED), None)
    begun = next((one for one in reversed(by_then) if one.what == HOLD_BEGUN), None)
    if begun is None:
        return [_("No hold is recorded.")]
    if ended is None or ended.happened_at < begun.happened_at:
        return [_("The end of the hold is not recorded.")]
    found = governing(VatEvent.KIND, [one.number for one in hold_of(run, ended)])
    told = []
    for one in hold_of(run, ended):
        verdict = found.get(one.number)
        if verdict is not None and verdict.outcome not in GOOD:
            told.append(f"{to_operator(verdict.outcome)}: {verdict.reason}")
        elif verdict is None and one is ended:
            told.append(_("The hold was not judged."))
    return list(dict.fromkeys(told))


def missing(run: VatRun) -> list[str]:
    """What a run lacks, by name."""
    found = [] if run.first.chart_number else [_("number of the chart")]
    begun, ended = run.last(HOLD_BEGUN), run.last(HOLD_ENDED)
    found += [] if begun else [_("hold begun")]
    found += [] if ended and begun and ended.happened_at >= begun.happened_at else [_("hold ended")]
    if begun:
        found += [look_words(one) for one in LOOKS if getattr(begun, one) not in ("yes", "no")]
    if ended:
        found += [_("minutes of filling that count")] if ended.fill_min is None else []
        found += [_("minutes of emptying that count")] if ended.empty_min is None else []
    for row in (begun, ended):
        if row is not None:
            names = {"indicating": _("indicating thermometer"), "recording": _("recorder"), "air_space": _("air space")}
            place = _("beginning of the hold") if row is begun else _("end of the hold")
            found += [f"{place}: {name}" for key, name in names.items() if getattr(row, key) is None]
    return found
