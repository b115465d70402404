"""Where a lot's product came from and where it went, computed from times, so that a fact recorded late counts too."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from django.db.models import OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from records.flow.choices import WASHED
from records.flow.effective import asked_at_once, standing
from records.flow.models import Movement, MovementEnd, Wash
from records.lots.models import Lot

FIRST = datetime(1900, 1, 1, tzinfo=UTC)
LAST = datetime(9000, 1, 1, tzinfo=UTC)


# So many lots are asked for in one statement; SQLite bounds the columns and the depth of one.
AT_ONCE = 100


@dataclass(frozen=True, slots=True)
class _Flow:
    """Product that left a lot for another; `ended_at` None: still going on."""

    target: UUID
    started_at: datetime
    ended_at: datetime | None
    row: Movement


def downstream_lots(lot: UUID, since: datetime) -> set[UUID]:
    """Every lot that took in product of this lot after `since`, however far on; without itself."""
    return downstream_of({lot: since})[lot]


def downstream_of(roots: Mapping[UUID, datetime]) -> dict[UUID, set[UUID]]:
    """As `downstream_lots` for many lots, each from its own moment on: one walk, a few queries for each step of it."""
    found: dict[UUID, set[UUID]] = {root: set() for root in roots}
    for root, lot in reached_from(roots):
        if lot != root:
            found[root].add(lot)
    return found


def reached_from(
    roots: Mapping[UUID, datetime],
    *,
    known_by: int | None = None,
    freed: Callable[[UUID, Movement], bool] = lambda _root, _row: False,
) -> dict[tuple[UUID, UUID], datetime]:
    """For each root, itself and every lot that took in product of it, with the earliest moment at which it could.

    `known_by`: by the book as it was at this entry. `freed`: whether what a movement brought of a root counts no more.
    """
    reached: dict[tuple[UUID, UUID], datetime] = {(root, root): since for root, since in roots.items()}
    frontier = set(reached)
    flows: dict[UUID, list[_Flow]] = {}
    while frontier:
        unknown = sorted({lot for _, lot in frontier} - set(flows))
        for first in range(0, len(unknown), AT_ONCE):
            flows |= _out_of(unknown[first : first + AT_ONCE], known_by)
        following = set()
        for root, lot in frontier:
            since = reached[root, lot]
            for one in flows[lot]:
                # What had wholly left before the moment was not reached by it.
                if one.ended_at is not None and one.ended_at <= since and one.started_at < since:
                    continue
                if freed(root, one.row):
                    continue
                key, at = (root, one.target), max(since, one.started_at)
                if key not in reached or at < reached[key]:
                    reached[key] = at
                    following.add(key)
        frontier = following
    return reached


def lots_upstream(lot: UUID) -> set[UUID]:
    """Every lot that gave product to this one, however far back; without itself."""
    reached = {lot}
    frontier = {lot}
    while frontier:
        rows = standing(Movement.objects.filter(target_lot__in=frontier)).exclude(source="")
        found = set(lots_at([(row.source, row.started_at) for row in rows])) - {None}
        found |= {UUID(one) for row in rows for one in row.source_lots}
        frontier = {one for one in found if one is not None} - reached
        reached |= frontier
    return reached - {lot}


def lots_at(places: Iterable[tuple[str, datetime]]) -> list[UUID | None]:
    """The lot that was in each vessel at its moment: the first recorded fill since its last wash. One query."""
    asked = {f"p{index}": _lot_at(vessel, moment) for index, (vessel, moment) in enumerate(places)}
    if not asked:
        return []
    row = asked_at_once(asked)
    return [row.get(name) for name in asked]


def _lot_at(vessel: str, moment: datetime) -> Subquery:
    washed = standing(Wash.objects.filter(vessel=vessel, what=WASHED, started_at__lte=moment))
    last = Coalesce(Subquery(washed.order_by("-started_at").values("started_at")[:1]), FIRST)
    fills = Movement.objects.filter(target=vessel, started_at__lte=moment, started_at__gte=last)
    return Subquery(standing(fills).order_by("number").values("target_lot")[:1])


def span_of(lot: Lot) -> tuple[datetime, datetime]:
    """From when to when a vessel's lot was in it: its first fill to the next wash of the vessel."""
    return _spans([lot])[lot.id]


def _spans(lots: list[Lot], known_by: int | None = None) -> dict[UUID, tuple[datetime, datetime]]:
    fill = standing(Movement.objects.filter(target_lot=OuterRef("id")), known_by).order_by("started_at")
    rows = Lot.objects.filter(id__in=[one.id for one in lots])
    began = dict(rows.annotate(began=Subquery(fill.values("started_at")[:1])).values_list("id", "began"))
    starts = {one.id: min(began[one.id] or one.observed_at, one.observed_at) for one in lots}
    asked = {}
    for index, one in enumerate(lots):
        washed = Wash.objects.filter(vessel=one.vessel, what=WASHED, started_at__gt=starts[one.id])
        washed = standing(washed, known_by)
        asked[f"w{index}"] = Subquery(washed.order_by("started_at").values("started_at")[:1])
    row = asked_at_once(asked)
    return {one.id: (starts[one.id], row.get(f"w{index}") or LAST) for index, one in enumerate(lots)}


def _out_of(lots: Sequence[UUID], known_by: int | None = None) -> dict[UUID, list[_Flow]]:
    """What each of these lots flowed into, and when."""
    found: dict[UUID, list[_Flow]] = {one: [] for one in lots}
    rows = list(Lot.objects.filter(id__in=lots).exclude(vessel=""))
    if not rows:
        return found
    spans = _spans(rows, known_by)
    wanted = Q(pk__in=[])
    for one in rows:
        begin, end = spans[one.id]
        wanted |= Q(source=one.vessel, started_at__gte=begin, started_at__lt=end)
    moves = list(standing(Movement.objects.filter(wanted), known_by).exclude(target_lot=None))
    ended = MovementEnd.objects.filter(movement__in=[one.number for one in moves])
    ended = ended if known_by is None else ended.filter(number__lte=known_by)
    ends = dict(ended.values_list("movement", "ended_at"))
    for one in rows:
        begin, last = spans[one.id]
        for row in moves:
            if row.source == one.vessel and begin <= row.started_at < last and row.target_lot:
                found[one.id].append(_Flow(row.target_lot, row.started_at, ends.get(row.number, row.ended_at), row))
    return found
