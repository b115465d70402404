"""A lot's family in both directions, with quantities and holds."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from records.flow.disposed import NotReleased
from records.flow.effective import standing
from records.flow.lineage import span_of
from records.flow.models import Movement, MovementEnd
from records.flow.queries import downstream_lots, label_of, lots_upstream, not_free_at
from records.flow.story import movement_words
from records.lots.models import Lot
from records.people.plans import InForce

# The list shows what began lately, and whatever is held.
LATELY = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Member:
    """A lot of a family, with its label and why it is held."""

    lot: Lot
    label: str
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Family:
    """One lot with what came into it, what left it, and every lot before and after it."""

    member: Member
    before: list[Member]
    after: list[Member]
    came: list[tuple[Movement, str]] = field(default_factory=list)
    left: list[tuple[Movement, str]] = field(default_factory=list)


def lately(in_force: InForce, moment: datetime) -> list[Member]:
    """Lots that began in the last days, and those held, the latest first."""
    held = not_free_at(moment)
    # What two people decided long ago is not in the list for it: a hold that stands must not be cut off by such.
    on_hold = [lot for lot, why in held.items() if not all(isinstance(one, NotReleased) for one in why)]
    rows = Lot.objects.filter(observed_at__gt=moment - LATELY) | Lot.objects.filter(id__in=on_hold)
    return [_member(one, held, in_force) for one in rows.distinct().order_by("-observed_at", "-number")[:200]]


def family_of(lot: Lot, in_force: InForce, moment: datetime) -> Family:
    """A lot's family at a moment."""
    held = not_free_at(moment)
    begin, _end = span_of(lot)
    came = standing(Movement.objects.filter(target_lot=lot.id)).order_by("started_at")
    return Family(
        _member(lot, held, in_force),
        _members(lots_upstream(lot.id), held, in_force),
        _members(downstream_lots(lot.id, begin), held, in_force),
        _in_words(list(came)),
        _in_words(_left(lot)),
    )


def _left(lot: Lot) -> list[Movement]:
    """Movements out of a lot's vessel while it was in it."""
    if not lot.vessel:
        return []
    begin, end = span_of(lot)
    rows = Movement.objects.filter(source=lot.vessel, started_at__gte=begin, started_at__lt=end)
    return list(standing(rows).order_by("started_at"))


def _in_words(rows: list[Movement]) -> list[tuple[Movement, str]]:
    ends = {one.movement: one for one in MovementEnd.objects.filter(movement__in=[row.number for row in rows])}
    return [(row, movement_words(row, ends.get(row.number))) for row in rows]


def _members(lots: set[UUID], held: dict[UUID, list[str]], in_force: InForce) -> list[Member]:
    rows = Lot.objects.filter(id__in=list(lots)).order_by("observed_at", "number")
    return [_member(one, held, in_force) for one in rows]


def _member(lot: Lot, held: dict[UUID, list[str]], in_force: InForce) -> Member:
    return Member(lot, label_of(lot, in_force), tuple(dict.fromkeys(held.get(lot.id, []))))
