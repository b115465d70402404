"""The readings of the plan's checks that a freezer's row answers: kept with it, each judged at once."""

from __future__ import annotations

import uuid

from django.utils.translation import gettext as _

from plant.process.units import plain
from records.checks.actions import DifferentContent as ReadingDiffers
from records.checks.actions import amend_reading, record_reading
from records.checks.entry import Nonsense, ReadingData
from records.deviations.errors import Refused
from records.flow.errors import DifferentContent
from records.freezer_runs import state
from records.freezer_runs.models import CUP, DRAW, HARDENING, FreezerEvent
from records.ledger.actions import Actor
from records.people.plans import InForce


def readings(
    by: Actor, row: FreezerEvent, form_id: uuid.UUID, in_force: InForce, old: FreezerEvent | None, reason: str
) -> None:
    """The readings of the plan's checks that a row answers: each judged at once, by its own limit."""
    mark = in_force.plan.plant.decimal_mark
    first = second = None
    if row.what == DRAW:
        first = (state.DRAW_QUANTITY, row.amount_typed, row.unit, row.instrument)
    elif row.what == CUP and row.overrun is not None:
        first = (state.OVERRUN_QUANTITY, plain(row.overrun).replace(".", mark), "", "")
        if row.lb_gal is not None:
            second = (state.WEIGHT_QUANTITY, plain(row.lb_gal).replace(".", mark), "lb/gal", "")
    elif row.what == HARDENING and row.minutes is not None:
        first = (state.HARDENING_QUANTITY, plain(row.minutes).replace(".", mark), "min", "")
    before = (old.reading, old.reading_two) if old is not None else (None, None)
    row.reading = _reading(by, row, form_id, in_force, first, before[0], reason)
    row.reading_two = _reading(by, row, form_id, in_force, second, before[1], reason)


def _reading(
    by: Actor,
    row: FreezerEvent,
    form_id: uuid.UUID,
    in_force: InForce,
    asked: tuple[str, str, str, str] | None,
    old: int | None,
    reason: str,
) -> int | None:
    if asked is None:
        return old
    quantity, typed, unit, instrument = asked
    check = state.check_of(quantity, row.place, in_force)
    if check is None:
        return old
    data = ReadingData(
        form_id=uuid.uuid5(form_id, quantity),
        subject=row.place,
        monitoring_key=check.key,
        typed=typed,
        unit=unit or check.answer.unit,
        instrument=instrument,
        observed_at=row.happened_at,
        note=_("Run %(number)d") % {"number": row.run or 0},
        late_reason="",
    )
    try:
        if old is not None:
            return amend_reading(by, old, data, reason, day_closed=False).reading.number
        return record_reading(by, data).reading.number
    except Nonsense as nonsense:
        typed_in = {DRAW: "amount", CUP: "cup_product"}.get(row.what, "drawn_at")
        fields = {"typed": typed_in, "observed_at": "happened_at"}
        raise Refused(nonsense.sentence, fields.get(nonsense.field, nonsense.field)) from nonsense
    except ReadingDiffers as different:
        raise DifferentContent(different.saved) from different
