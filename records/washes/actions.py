"""The acts of a wash by a program: the wash and its steps in one act, and a step amended.

What has happened is always recorded, met or not; what a step lacks is judged and said, and follows to product.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.hazard_plan.content import WashStepDef
from plant.process.units import CELSIUS, exact
from plant.process.washing import HOTTEST_C
from records.flow.actions import WashData, may_amend, record_wash
from records.flow.choices import WASHED
from records.flow.closed_days import is_closed
from records.flow.common import not_ahead, plan_at, same_or_different, typed_number
from records.flow.errors import DifferentContent, Refused
from records.flow.joined import NO, YES
from records.flow.models import Wash
from records.flow.programs import INSPECT
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.washes import state
from records.washes.anew import reached
from records.washes.data import ProgramWashData, StepData
from records.washes.models import WashStep

LONGEST = timedelta(hours=24)
SAID = (
    "wash", "program", "place_in", "step", "started_at", "ended_at", "temperature_typed", "strength_typed",
    "flow_typed", "strip_lot", "strip_expires", "looked", "note", "amends", "amend_reason", "void",
)  # fmt: skip


def record(by: Actor, data: ProgramWashData) -> Wash:
    """A wash by its program, with its steps: all or nothing, once for its form.

    Raises Refused beside the field of the row (`started_2`), DifferentContent.
    """
    if not data.steps:
        raise Refused(_("Enter at least one step that was done."))
    first = min(one.started_at for one in data.steps)
    in_force = plan_at(first)
    planned = state.program(in_force.plan, data.program)
    if not planned or data.vessel not in planned[0].places:
        raise Refused(_("The plan has no such program for this place."))
    rows = [_row(planned, one, in_force, data.form_id) for one in data.steps]
    kind = state.kind_of(planned)
    main = [one for one in rows if one.step != state.SANITIZE] if kind == WASHED else rows
    if not main:
        raise Refused(_("Enter at least one step of washing: a sanitizing alone is no wash."))
    last = [one for one in rows if one.step == state.SANITIZE] if kind == WASHED else []
    with act(by) as a:
        said_before = Wash.objects.filter(form_id=data.form_id).exists()
        saved = record_wash(by, _wash(data, kind, main, data.form_id))
        if said_before:
            return _same(by, saved, rows)
        if last:
            record_wash(by, _wash(data, "sanitized", last, state.sanitizing_form(data.form_id)))
        for row in rows:
            row.wash = saved.number
            a.write(row, observed_at=row.ended_at)
        reached(a, saved, rows[-1], in_force)
    return saved


def _same(by: Actor, saved: Wash, rows: list[WashStep]) -> Wash:
    """The wash that the same form saved; DifferentContent where its steps say something else now."""
    before = {one.form_id: one for one in WashStep.objects.filter(wash=saved.number, amends=None)}
    if set(before) != {one.form_id for one in rows}:
        raise DifferentContent(saved)
    for row in rows:
        row.wash = saved.number
        same_or_different(before[row.form_id], row, SAID, by)
    return saved


def amend(by: Actor, number: int, data: StepData, form_id: uuid.UUID, reason: str, *, void: bool = False) -> WashStep:
    """A step as it should have been said; `void`: it was not done. A worse one has its consequence at once."""
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "reason")
    old = WashStep.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such step."))
    in_force = plan_at(old.started_at)
    planned = state.program(in_force.plan, old.program)
    given = replace(data, place_in=old.place_in)
    if void:
        given = StepData(
            old.place_in, old.started_at, old.ended_at, old.temperature_typed, old.strength_typed, old.flow_typed,
            old.strip_lot or "", old.strip_expires, old.looked or "",
        )  # fmt: skip
    row = _row(planned, given, in_force, form_id, at="")
    row.form_id, row.wash, row.amends, row.amend_reason, row.void = form_id, old.wash, number, reason.strip(), void
    with act(by) as a:
        saved = WashStep.objects.filter(form_id=form_id).first()
        if saved is not None:
            return same_or_different(saved, row, SAID, by)
        if why_not := may_amend(by, old, is_closed(in_force.calendar.plant_day(old.observed_at))):
            raise Refused(why_not)
        if WashStep.objects.filter(amends=number).exists():
            raise Refused(_("It was amended already: amend the latest."))
        a.write(row, observed_at=row.ended_at)
        wash = Wash.objects.filter(number=old.wash).first()
        if wash is not None:
            reached(a, wash, row, in_force)
    return row


def _wash(data: ProgramWashData, what: str, rows: list[WashStep], form_id: uuid.UUID) -> WashData:
    """The wash that these steps make, as flow keeps it. Of a sanitizing its figures stand there too."""
    one = rows[-1]
    of_one = what != WASHED
    minutes = int((one.ended_at - one.started_at).total_seconds() // 60)
    return WashData(
        form_id=form_id,
        what="sanitized" if of_one else "washed",
        vessel=data.vessel,
        started_at=min(each.started_at for each in rows),
        ended_at=max(each.ended_at for each in rows),
        method=data.program,
        temperature_typed=one.temperature_typed if of_one else "",
        temperature_unit=one.temperature_unit if of_one else "",
        strength=f"{one.strength_typed} {one.strength_unit}".strip() if of_one else "",
        contact_min=minutes if of_one else None,
        was_empty=data.was_empty,
        note=data.note.strip(),
        parted=data.parted,
    )


def _row(
    planned: list[WashStepDef], data: StepData, in_force: InForce, form_id: uuid.UUID, at: str | None = None
) -> WashStep:
    at = f"_{data.place_in}" if at is None else at
    if not 1 <= data.place_in <= len(planned):
        raise Refused(_("The plan has no such step."))
    step = planned[data.place_in - 1]
    for moment, field in ((data.started_at, "started"), (data.ended_at, "ended")):
        not_ahead(moment, f"{field}{at}")
    if data.ended_at <= data.started_at:
        raise Refused(_("A step takes time: its end comes after its start."), f"ended{at}")
    if data.ended_at - data.started_at > LONGEST:
        raise Refused(_("No step takes more than a day."), f"ended{at}")
    temperature = typed_number(data.temperature, in_force, f"temperature{at}")
    if temperature is not None and not 0 <= exact(temperature, step.unit, CELSIUS) <= HOTTEST_C:
        raise Refused(_("That is no temperature of a wash."), f"temperature{at}")
    flow_unit = f"{in_force.plan.plant.volume_unit}/min"
    strength = typed_number(data.strength, in_force, f"strength{at}")
    if strength is not None and (not step.strength_unit or _past(strength, step.strength_unit)):
        raise Refused(_("That is no strength of this step."), f"strength{at}")
    if data.looked not in ("", YES, NO):
        raise Refused(_("Say yes or no."), f"looked{at}")
    return WashStep(
        form_id=uuid.uuid5(form_id, f"step {data.place_in}"),
        program=step.program,
        place_in=data.place_in,
        step=step.step,
        started_at=data.started_at,
        ended_at=data.ended_at,
        temperature_typed=data.temperature,
        temperature=temperature,
        temperature_unit=step.unit if data.temperature else "",
        strength_typed=data.strength,
        strength=strength,
        strength_unit=step.strength_unit if data.strength else "",
        flow_typed=data.flow,
        flow=typed_number(data.flow, in_force, f"flow{at}"),
        flow_unit=flow_unit if data.flow else "",
        strip_lot=(data.strip_lot.strip() or None) if step.strips else None,
        strip_expires=data.strip_expires if step.strips else None,
        looked=(data.looked or None) if step.step == INSPECT else None,
    )


def _past(strength: Decimal, unit: str) -> bool:
    """Past what the unit can say: a slip of the finger."""
    most = {"%": 100, "pH": 14}.get(unit, 1_000_000)
    return strength > most
