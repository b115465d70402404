"""What moved, what was washed, which levels were seen, what else happened: as plain values."""

from __future__ import annotations

from datetime import datetime

from plant.process.limits import Outcome
from records.flow.common import plan_at
from records.flow.models import LevelSeen, Movement, MovementEnd, PlantEvent, Wash
from records.ledger.canonical import moment
from records.reports.values import Data, by_of, within
from records.washes.state import JudgedWash, judged, programs_at, why_not_proven
from records.washes.words import figures


def movements(start: datetime, end: datetime) -> list[Data]:
    """The day's movements; those that an amendment replaced are struck."""
    rows = within(Movement, start, end)
    ends = {one.movement: one for one in MovementEnd.objects.filter(movement__in=[row.number for row in rows])}
    amended = {one.amends for one in Movement.objects.filter(amends__in=[row.number for row in rows])}
    return [_movement(one, ends.get(one.number), one.number in amended) for one in rows]


def _movement(one: Movement, ended: MovementEnd | None, amended: bool) -> Data:
    end_at = ended.ended_at if ended else one.ended_at
    return {
        "number": one.number,
        "from": one.source_name,
        "from_code": one.source,
        "to": one.target_name,
        "to_code": one.target,
        "via": one.via_name,
        "via_code": one.via,
        "started_at": moment(one.started_at),
        "ended_at": moment(end_at) if end_at else "",
        "quantity": (ended.quantity_typed if ended and ended.quantity_typed else one.quantity_typed),
        "unit": (ended.unit if ended and ended.unit else one.unit),
        "measured_by": ended.measured_by if ended else one.measured_by,
        "product": one.product_name,
        "amends": one.amends,
        "amend_reason": one.amend_reason,
        "void": one.void,
        "struck": amended,
        "note": one.note,
        **by_of(one),
    }


def washes(start: datetime, end: datetime, *, programs: bool) -> list[Data]:
    """The day's washes; those that an amendment replaced are struck. `programs`: a plan of that day has any."""
    rows = within(Wash, start, end)
    amended = set(Wash.objects.filter(amends__in=[one.number for one in rows]).values_list("amends", flat=True))
    if not programs:
        return [wash(one, one.number in amended) for one in rows]
    told = judged(rows)
    return [{**wash(one.wash, one.wash.number in amended), **_judged(one)} for one in told]


def _judged(one: JudgedWash) -> Data:
    """Its program, its steps as typed and what they prove, in the plant's language; `verdict` '': no program asks."""
    in_force = plan_at(one.wash.started_at)
    asked = bool(one.program or programs_at(in_force.plan, one.wash.vessel, one.wash.what))
    with in_force.speaking():
        why = why_not_proven(one) if asked else []
        steps = [{"step": each.step, "figures": figures(each), "initials": each.by_initials} for each in one.steps]
    return {
        "program": one.program,
        "steps": steps,
        "verdict": "" if not asked else str(Outcome.NOT_PROVEN.value if why else Outcome.MET.value),
        "why": why,
    }


def wash(one: Wash, struck: bool = False) -> Data:
    """A wash or a sanitizing."""
    return {
        "what": one.what,
        "where": one.vessel_name,
        "vessel": one.vessel,
        "started_at": moment(one.started_at),
        "ended_at": moment(one.ended_at),
        "method": one.method,
        "temperature": f"{one.temperature_typed} {one.temperature_unit}".strip(),
        "strength": one.strength,
        "contact_min": one.contact_min,
        "parted": one.parted or "",
        "joined": one.joined or "",
        "note": one.note,
        "amends": one.amends,
        "amend_reason": one.amend_reason,
        "void": one.void,
        "struck": struck,
        **by_of(one),
    }


def level(one: LevelSeen) -> Data:
    """A level seen, and what the book said."""
    return {
        "where": one.vessel_name,
        "seen": f"{one.quantity_typed} {one.unit}",
        "book": format(one.book.normalize(), "f") if one.book is not None else "",
        "difference": format(one.difference.normalize(), "f") if one.difference is not None else "",
        **by_of(one),
    }


def event(one: PlantEvent) -> Data:
    """Something that the plan may ask a check for."""
    return {
        "event": one.event,
        "subject": one.subject,
        "where": one.subject_name,
        "reference": one.reference,
        "note": one.note,
        **by_of(one),
    }
