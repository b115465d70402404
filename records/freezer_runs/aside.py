"""Rework set aside in a freezer's run: a movement into a container of its own, in the act that keeps the row.

So it has a lot whose family leads back to the vessel that was drawn from, and every hold on that reaches it.
"""

from __future__ import annotations

import uuid
from datetime import datetime

from django.utils.translation import gettext as _

from plant.rework_places import code_of
from records.flow.actions import MovementData, amend_movement, record_movement
from records.flow.effective import standing
from records.flow.errors import Refused
from records.flow.models import Movement, MovementEnd
from records.freezer_runs.models import DRAW_BEGUN, REWORK, FreezerEvent
from records.freezer_runs.state import FreezerRun
from records.ledger.actions import Actor
from records.people.plans import InForce


def keep_aside(by: Actor, row: FreezerEvent, old: FreezerEvent | None, run: FreezerRun, in_force: InForce) -> None:
    """The movement of what a row sets aside as rework; `old` is the row that it amends, whose movement goes with it."""
    code = code_of(first_number(row))
    before = standing(Movement.objects.filter(target=code)).order_by("-number").first() if old is not None else None
    wanted = row.became == REWORK and not row.void
    if before is None and not wanted:
        return
    if before is not None and not wanted:
        if standing(Movement.objects.filter(source=code)).exists():  # where it went would lose where it came from
            raise Refused(_("Some of it was used or thrown away: amend that first."), "" if row.void else "became")
        amend_movement(by, before.number, _as_it_stands(row, before), row.amend_reason, void=True)
        return
    moved = _movement(row, code, run, in_force)
    if before is None:
        record_movement(by, moved)
    else:
        amend_movement(by, before.number, moved, row.amend_reason)


def first_number(row: FreezerEvent) -> int:
    """The number that the first of a line of amendments has: a portion keeps it."""
    while row.amends is not None:
        row = FreezerEvent.objects.get(number=row.amends)
    return row.number


def _form(row: FreezerEvent) -> uuid.UUID:
    return uuid.uuid5(row.form_id, "set aside")


def _movement(row: FreezerEvent, code: str, run: FreezerRun, in_force: InForce) -> MovementData:
    """From the draw's beginning until it was set aside: a part of what the draw took, so through the same line."""
    drawn = _draw(run, row.happened_at)
    began, ended = (row.happened_at, row.happened_at) if drawn is None else _between(drawn, row.happened_at)
    with in_force.speaking():
        note = _("Run %(number)d: set aside as rework") % {"number": run.number}
        outside = _("%(place)s, by run %(number)d") % {"place": row.place_name, "number": run.number}
    return MovementData(
        form_id=_form(row), source=drawn.source if drawn is not None else "",
        source_name="" if drawn is not None else outside, target=code, via=row.place, product=row.product,
        started_at=began, ended_at=ended, quantity_typed=row.amount_typed, unit=row.unit,
        measured_by=_how(row), note=note,
    )  # fmt: skip


def _how(row: FreezerEvent) -> str:
    if row.amount is None:
        return "unknown"
    return "mass" if row.unit in ("lb", "kg") else "level"


def _draw(run: FreezerRun, at: datetime) -> Movement | None:
    """The movement of the last draw by then, as it stands; None where it was said not to have happened."""
    drawn = next((one for one in reversed(run.by(at)) if one.what == DRAW_BEGUN), None)
    begun = drawn.movement if drawn is not None else None
    row = Movement.objects.filter(number=begun).first() if begun is not None else None
    while row is not None and (later := Movement.objects.filter(amends=row.number).first()) is not None:
        row = later
    return None if row is None or row.void else row


def _between(drawn: Movement, at: datetime) -> tuple[datetime, datetime]:
    """From the beginning of a draw to a moment, or to its end where that was earlier."""
    end = MovementEnd.objects.filter(movement=drawn.number).first()
    ended = end.ended_at if end is not None else drawn.ended_at
    last = at if ended is None else min(at, ended)
    return drawn.started_at, max(drawn.started_at, last)


def _as_it_stands(row: FreezerEvent, moved: Movement) -> MovementData:
    return MovementData(
        form_id=_form(row), source=moved.source, source_name=moved.source_name, target=moved.target, via=moved.via,
        product=moved.product, started_at=moved.started_at, ended_at=moved.ended_at,
        quantity_typed=moved.quantity_typed, unit=moved.unit, measured_by=moved.measured_by, note=moved.note,
    )  # fmt: skip


__all__ = ["first_number", "keep_aside"]
