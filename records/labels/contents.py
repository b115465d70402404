"""What is in a vessel's product, by everything that went into it and into what it was made of, rework among it."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from uuid import UUID

from plant.process.allergens import Content, carried
from records.flow.choices import vessel_of
from records.flow.effective import standing
from records.flow.lineage import lots_at, lots_upstream
from records.flow.models import Movement
from records.labels.sequence import content_of
from records.people.plans import InForce

_SINK = UUID(int=0)
# A room holds packs of several products side by side: they do not mix.
ROOM = "room"


def contents_of(source: str, lot: UUID | None, product: str, at: datetime, in_force: InForce) -> list[Content]:
    """What is in the product that leaves a vessel at a moment, the nearest first; empty where no lot is known.

    From a room only what came in as this product counts. A few queries for each step back.
    """
    if lot is None:
        return []
    vessel = vessel_of(in_force, source)
    if vessel is not None and vessel.kind == ROOM:
        return _carried_into(Movement.objects.filter(target_lot=lot, product=product, started_at__lte=at), in_force)
    return _carried_into(Movement.objects.filter(target_lot=lot, started_at__lte=at), in_force)


def _carried_into(rows: object, in_force: InForce) -> list[Content]:
    first = list(standing(rows))  # type: ignore[arg-type]
    nearest = _sources(first)
    lots = set(nearest.get(_SINK, ()))
    for one in tuple(lots):
        lots |= lots_upstream(one)
    moves = list(standing(Movement.objects.filter(target_lot__in=lots)))
    into: dict[UUID, list[Content]] = defaultdict(list)
    for row in first:
        into[_SINK].append(content_of(in_force.plan, row.product, row.product_name))
    for row in moves:
        if row.target_lot:
            into[row.target_lot].append(content_of(in_force.plan, row.product, row.product_name))
    return carried(_SINK, into, {**_sources(moves, own=True), **nearest})


def _sources(rows: list[Movement], *, own: bool = False) -> dict[UUID, list[UUID]]:
    """The lots that these movements drew from, by the lot that they went into; without `own` all into one."""
    away = [row for row in rows if row.source]
    found: dict[UUID, list[UUID]] = defaultdict(list)
    for row, lot in zip(away, lots_at([(row.source, row.started_at) for row in away]), strict=True):
        target = row.target_lot if own else _SINK
        if target is None:
            continue
        found[target] += [one for one in (lot, *(UUID(each) for each in row.source_lots)) if one is not None]
    return found
