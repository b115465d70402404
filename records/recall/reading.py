"""Reading what a scope can reach, step by step, forward or backward in time; then the pure search over those rows."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from plant.process.lots import Movement as Six
from plant.process.lots import Origin, Scope, scope_backward, scope_forward
from records.flow.lineage import FIRST, LAST
from records.recall.rows import Fill, Reached, Row, fills_at, rows_of


@dataclass(frozen=True, slots=True)
class Start:
    """Where a scope begins: fills with the window in which they count, and movements that carry all of it."""

    fills: tuple[tuple[Fill, datetime, datetime], ...] = ()
    rows: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Walked:
    """The rows of a scope, and what the search over them found: each fill and movement with its moment."""

    reached: Reached
    fills: dict[Fill, datetime]
    movements: dict[int, datetime]


def forward(start: Start) -> Walked:
    """Every fill that could hold any of it and every movement that could have carried some of it (scope_forward)."""
    reached = Reached()
    frontier: dict[Fill, datetime] = {}
    for fill, since, _until in start.fills:
        _earlier(frontier, fill, max(since, fill.begin))
    for row in start.rows:
        _keep(reached, row)
    _resolve(reached, start.rows)
    for row in start.rows:
        if row.number in reached.taken:
            _earlier(frontier, reached.taken[row.number], row.started_at)
    out: dict[Fill, list[Row]] = {}
    while frontier:
        new = [one for one in frontier if one not in out]
        out |= rows_of(new, "source")
        for fill in new:
            for row in out[fill]:
                _keep(reached, row, given=fill)
        _resolve(reached, [row for one in new for row in out[one]])
        following: dict[Fill, datetime] = {}
        for fill, moment in frontier.items():
            _earlier(reached.fills, fill, moment)
            for row in out[fill]:
                # What had wholly left before was not reached by it.
                if row.started_at < moment and reached.ends[row.number] <= moment:
                    continue
                target, at = reached.taken.get(row.number), max(moment, row.started_at)
                known = following.get(target, reached.fills.get(target, LAST)) if target is not None else LAST
                if target is not None and at < target.end and at < known:
                    following[target] = at
        frontier = following
    return _searched(reached, start, backward=False)


def backward(start: Start) -> Walked:
    """Every fill of which some could be in it and every movement that could have brought it (scope_backward)."""
    reached = Reached()
    frontier: dict[Fill, datetime] = {}
    for fill, _since, until in start.fills:
        _later(frontier, fill, min(until, fill.end))
    for row in start.rows:
        _keep(reached, row)
    _resolve(reached, start.rows)
    for row in start.rows:
        if row.number in reached.given:
            _later(frontier, reached.given[row.number], reached.ends[row.number])
    into: dict[Fill, list[Row]] = {}
    while frontier:
        new = [one for one in frontier if one not in into]
        into |= rows_of(new, "target")
        for fill in new:
            for row in into[fill]:
                _keep(reached, row, taken=fill)
        _resolve(reached, [row for one in new for row in into[one]])
        following: dict[Fill, datetime] = {}
        for fill, moment in frontier.items():
            _later(reached.fills, fill, moment)
            for row in into[fill]:
                if row.started_at > moment:
                    continue
                giver, at = reached.given.get(row.number), min(moment, reached.ends[row.number])
                if giver is not None and at > following.get(giver, reached.fills.get(giver, FIRST)):
                    following[giver] = at
        frontier = following
    return _searched(reached, start, backward=True)


def both_ways_in(reached: Reached, fills: Iterable[Fill]) -> None:
    """Read what else went into and out of these fills: shares need all of it. Two statements for each 150 fills."""
    wanted = list(fills)
    for end in ("source", "target"):
        for fill, rows in rows_of(wanted, end).items():
            for row in rows:
                _keep(reached, row, **{"given" if end == "source" else "taken": fill})


def _earlier(found: dict[Fill, datetime], fill: Fill, moment: datetime) -> None:
    if fill not in found or moment < found[fill]:
        found[fill] = moment


def _later(found: dict[Fill, datetime], fill: Fill, moment: datetime) -> None:
    if fill not in found or moment > found[fill]:
        found[fill] = moment


def _keep(reached: Reached, row: Row, *, given: Fill | None = None, taken: Fill | None = None) -> None:
    reached.rows.setdefault(row.number, row)
    if given is not None:
        reached.given[row.number] = given
    if taken is not None:
        reached.taken[row.number] = taken
    ends = [row.ended_at, *(one[row.number].end for one in (reached.given, reached.taken) if row.number in one)]
    reached.ends[row.number] = max(row.started_at, min(ends))


def _resolve(reached: Reached, rows: Collection[Row]) -> None:
    """The fills at both ends of these movements, asked for where they are not known: one statement for each 150."""
    known = {(fill.vessel, fill.begin): fill for fill in (*reached.given.values(), *reached.taken.values())}
    by_vessel: dict[str, list[Fill]] = {}
    for fill in known.values():
        by_vessel.setdefault(fill.vessel, []).append(fill)
    asked: list[tuple[str, datetime, int, str]] = []
    for row in rows:
        for end, vessel in (("given", row.source), ("taken", row.target)):
            where = reached.given if end == "given" else reached.taken
            if not vessel or row.number in where:
                continue
            met = next((one for one in by_vessel.get(vessel, ()) if one.begin <= row.started_at < one.end), None)
            if met is None:
                asked.append((vessel, row.started_at, row.number, end))
            else:
                _keep(reached, row, **{end: met})
    moments = sorted({(vessel, moment) for vessel, moment, _number, _end in asked})
    told = dict(zip(moments, fills_at(moments), strict=True))
    for vessel, moment, number, end in asked:
        _keep(reached, reached.rows[number], **{end: told[vessel, moment]})


# --- the search


def seconds(moment: datetime) -> float:
    """A moment as the pure search takes it [s]."""
    return moment.timestamp()


def breaks_of(reached: Reached, more: Iterable[Fill] = ()) -> list[tuple[str, float]]:
    """The clean breaks that the fills show: where each begins, and where it ends."""
    fills = {*reached.fills, *reached.given.values(), *reached.taken.values(), *more}
    moments = {(one.vessel, at) for one in fills for at in (one.begin, one.end) if FIRST < at < LAST}
    return [(vessel, seconds(at)) for vessel, at in sorted(moments)]


def six_of(reached: Reached, quantities: dict[int, float | None] | None = None) -> list[Six]:
    """The rows as the pure search takes them: outside is None."""
    said = quantities or {}
    return [
        Six(
            one.number, one.source or None, one.target or None, seconds(one.started_at),
            None if reached.ends[one.number] == LAST else seconds(reached.ends[one.number]), said.get(one.number),
        )
        for one in sorted(reached.rows.values(), key=lambda row: row.number)
    ]  # fmt: skip


def origin_of(start: Start) -> list[Origin]:
    """The starts as the pure search takes them: each fill's own part of the window, and the movements."""
    found = [
        Origin((fill.vessel,), seconds(max(since, fill.begin)), seconds(until) if until < fill.end else _last_of(fill))
        for fill, since, until in start.fills
    ]
    return found + ([Origin(movements=tuple(one.number for one in start.rows))] if start.rows else [])


def _last_of(fill: Fill) -> float:
    """The last number before a fill's end."""
    return float("inf") if fill.end == LAST else seconds(fill.end) - 1e-6


def _searched(reached: Reached, start: Start, *, backward: bool) -> Walked:
    breaks, rows = breaks_of(reached, [fill for fill, _since, _until in start.fills]), six_of(reached)
    # An empty vessel in the window moved nothing: the search refuses a name that the record does not know.
    moving = {name for one in rows for name in (one.source, one.target) if name is not None}
    search = scope_backward if backward else scope_forward
    fills = {fill: _within(since if not backward else until, fill) for fill, since, until in start.fills}
    movements: dict[int, datetime] = {}
    numbers = fills_by_number(reached, breaks, [fill for fill, _since, _until in start.fills])
    for origin in origin_of(start):
        if not origin.movements and not set(origin.places) <= moving:
            continue
        scope: Scope = search(rows, breaks, origin)
        for lot, at in scope.lots.items():
            if lot in numbers:
                _merge(fills, numbers[lot], _moment(at, numbers[lot].begin, numbers[lot].end), backward)
        for ident, at in scope.movements.items():
            row = reached.rows[int(str(ident))]
            _merge(movements, row.number, _moment(at, row.started_at, reached.ends[row.number]), backward)
    return Walked(reached, fills, movements)


def fills_by_number(
    reached: Reached, breaks: list[tuple[str, float]], more: Iterable[Fill]
) -> dict[tuple[str, int], Fill]:
    """Each known fill by the number that the search gives it."""
    found = {}
    starts: dict[str, list[float]] = {}
    for vessel, at in breaks:
        starts.setdefault(vessel, []).append(at)
    for fill in {*reached.fills, *reached.given.values(), *reached.taken.values(), *more}:
        before = bisect_right(starts.get(fill.vessel, []), seconds(fill.begin)) if fill.begin > FIRST else 0
        found[fill.vessel, before] = fill
    return found


def _within(moment: datetime, fill: Fill) -> datetime:
    return min(max(moment, fill.begin), fill.end)


def _moment(at: float, first: datetime, last: datetime) -> datetime:
    """The search's number as a moment, within what it belongs to (it says 'just before the end' for an end)."""
    if at <= seconds(first):
        return first
    return last if at >= seconds(last) - 2e-6 else datetime.fromtimestamp(at, first.tzinfo)


def _merge(found: dict, key: object, moment: datetime, backward: bool) -> None:  # type: ignore[type-arg]
    if key not in found or (moment > found[key] if backward else moment < found[key]):
        found[key] = moment
