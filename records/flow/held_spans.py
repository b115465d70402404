"""What a vessel held, or a line ran, over a time: product, class and lot, span by span."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from plant.hazard_plan.content import Plan
from records.flow import choices, queries
from records.flow.history import History
from records.flow.history_kept import place_kept
from records.people.plans import InForce


@dataclass(frozen=True, slots=True)
class HeldSpan:
    """From `start` until `end` (None: still) a place held, or ran, a product of a pasteurization class."""

    start: datetime
    end: datetime | None
    product: str
    product_class: str
    lot: UUID | None
    label: str


@dataclass(frozen=True, slots=True)
class FillSpan:
    """What was poured into a vessel from `start` until `end` (None: still); `first`: into an empty one."""

    start: datetime
    end: datetime | None
    first: bool


@dataclass(frozen=True, slots=True)
class Held:
    """One place's products; washes and sanitizings (start, end), and the washes alone; the fills of a vessel."""

    spans: tuple[HeldSpan, ...]
    washes: tuple[tuple[datetime, datetime], ...]
    washed: tuple[tuple[datetime, datetime], ...] = ()
    fills: tuple[FillSpan, ...] = ()


def held_between(place: str, start: datetime, end: datetime, in_force: InForce) -> Held:
    """What a vessel held, or a line ran, in [start, end], with its washes; a few queries, whatever the past holds."""
    kept = place_kept(place, start, end, in_force)
    history = kept.history
    classes = {one.code: one.product_class for one in in_force.plan.products}
    line = choices.is_line(in_force.plan, place)
    found = _ran(history, place) if line else _held(history, place, in_force.plan)
    within = [one for one in found if one.start <= end and (one.end is None or one.end >= start)]
    lots = kept.lots(one.lot for one in within if one.lot is not None)
    labels = {key: queries.label_of(lot, in_force) for key, lot in lots.items()}
    spans = [
        HeldSpan(
            one.start,
            one.end,
            one.product,
            classes.get(one.product, ""),
            one.lot,
            labels.get(one.lot, "") if one.lot is not None else "",
        )
        for one in within
    ]
    stand = [one for one in history.washes_of(place) if one.ended_at >= start and one.started_at <= end]
    return Held(
        tuple(sorted(spans, key=lambda one: one.start)),
        tuple(sorted((one.started_at, one.ended_at) for one in stand)),
        tuple(sorted((one.started_at, one.ended_at) for one in stand if one.what == choices.WASHED)),
        () if line else tuple(one for one in _fills(history, place) if one.start <= end),
    )


def _fills(history: History, vessel: str) -> list[FillSpan]:
    begun = {held.since for held in queries.holdings_of(history, vessel)}
    into = sorted(history.into(vessel), key=lambda one: one.row.started_at)
    return [
        FillSpan(one.row.started_at, history.end_of(one), one.row.started_at in begun) for one in into
    ]  # fmt: skip


def _ran(history: History, line: str) -> list[HeldSpan]:
    return [
        HeldSpan(one.row.started_at, history.end_of(one), one.row.product, "", one.row.target_lot, "")
        for one in history.through(line)
    ]


def _held(history: History, vessel: str, plan: Plan) -> list[HeldSpan]:
    """Each time of holding, cut where another product went in."""
    found = []
    for held in queries.holdings_of(history, vessel):
        fills = [
            one.row
            for one in history.into(vessel)
            if held.since <= one.row.started_at and (held.until is None or one.row.started_at < held.until)
        ]
        starts = [held.since]
        names = [fills[0].product if fills else ""]
        for one in fills:
            if one.product != names[-1]:
                starts.append(one.started_at)
                names.append(one.product)
        for at, (since, name) in enumerate(zip(starts, names, strict=True)):
            until = starts[at + 1] if at + 1 < len(starts) else held.until
            if until is None or until > since:
                found.append(HeldSpan(since, until, name, "", history.lot_at(vessel, since), ""))
    return found
