"""Local times made UTC, thousands at once, across the clock changes of a zone.

A time that the autumn change makes come twice is told by the order of the rows where they run on; where they do not,
it stays unknown, and is never guessed. A time that the spring change leaves out is named.

Source: the IANA time zone database (zoneinfo); how the rows tell is this project's, on the side of caution.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray

Whole = NDArray[np.int64]

_DAY_S = 86_400
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_JITTER_MS = 60_000  # a row out of order by no more than this is no second pass


@dataclass(frozen=True, slots=True)
class Changes:
    """A zone's clock changes in some years: moments `at_ms` [ms UTC] and offsets [ms] `before_ms`, `after_ms`.

    `first_ms` is the offset before the first of them.
    """

    at_ms: Whole
    before_ms: Whole
    after_ms: Whole
    first_ms: int


@dataclass(frozen=True, slots=True)
class Placed:
    """n local times in UTC [ms]; which a change `skipped`; which came twice: `told` apart by the rows, or `unknown`."""

    utc_ms: Whole
    skipped: BoolArray
    told: BoolArray
    unknown: BoolArray


@lru_cache(maxsize=64)
def changes(zone: tzinfo, first_year: int, last_year: int) -> Changes:
    """The clock changes of a zone from the beginning of one year to the end of another, to the second."""
    start = int((datetime(first_year, 1, 1, tzinfo=UTC) - _EPOCH).total_seconds())
    until = int((datetime(last_year + 1, 1, 1, tzinfo=UTC) - _EPOCH).total_seconds())
    found = []
    before = first = offset_at(zone, start)
    for day in range(start + _DAY_S, until + _DAY_S, _DAY_S):
        after = offset_at(zone, day)
        if after != before:
            low, high = day - _DAY_S, day  # the change lies in (low, high]
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if offset_at(zone, middle) == before else (low, middle)
            found.append((high * 1000, before, after))
            before = after
    at, befores, afters = np.array(found, np.int64).reshape(-1, 3).T
    return Changes(at, befores, afters, first)


def offset_at(zone: tzinfo, moment_s: int) -> int:
    """The zone's offset [ms] at a moment [s UTC]."""
    return (_EPOCH + timedelta(seconds=moment_s)).astimezone(zone).utcoffset() // timedelta(milliseconds=1)  # type: ignore[operator]


def offsets(utc_ms: Whole, zone: tzinfo) -> Whole:
    """The zone's offset [ms] at each moment [ms UTC]."""
    have = _changes_around(utc_ms, zone)
    table = np.concatenate([[have.first_ms], have.after_ms])
    return np.asarray(table[np.searchsorted(have.at_ms, utc_ms, side="right")], np.int64)


def to_utc(local_ms: Whole, zone: tzinfo, usual_ms: int) -> Placed:
    """Local times [ms], in the order of the rows and mostly rising, as UTC. `usual_ms` [ms] is their usual step.

    Of a time that comes twice the first pass is given until the rows say otherwise; so it is where it is unknown.
    """
    count = len(local_ms)
    nothing = np.zeros(count, np.bool_)
    if not count:
        return Placed(local_ms, nothing, nothing, nothing)
    have = _changes_around(local_ms, zone)
    table = np.concatenate([[have.first_ms], have.after_ms])
    bounds = have.at_ms + np.maximum(have.before_ms, have.after_ms)
    utc = local_ms - table[np.searchsorted(bounds, local_ms, side="right")]
    skipped, told, unknown = nothing, nothing.copy(), nothing.copy()
    for at, before, after in zip(have.at_ms.tolist(), have.before_ms.tolist(), have.after_ms.tolist(), strict=True):
        inside = (local_ms >= at + min(before, after)) & (local_ms < at + max(before, after))
        if not inside.any():
            continue
        if after > before:
            skipped = skipped | inside
            continue
        for first, last in _runs(inside):
            second = second_pass(local_ms, first, last, at + after, at + before, usual_ms)
            if second is None:
                unknown[first : last + 1] = True
            else:
                told[first : last + 1] = True
                utc[second : last + 1] = local_ms[second : last + 1] - after
    return Placed(utc, skipped, told, unknown)


def second_pass(local_ms: Whole, first: int, last: int, start: int, end: int, usual_ms: int) -> int | None:
    """At which row the second pass begins among rows `first` to `last`, all within the time that comes twice.

    That time is `start` to `end` [ms]. last + 1: all are of the first pass. None: the rows do not tell.
    """
    steps = np.diff(local_ms[first : last + 1])
    length = end - start
    # A clock that was set back by `length` between two rows shows their usual step less it.
    back = (steps <= 0) & (steps <= max(-length / 2, 1.5 * usual_ms - length))
    unclear = (steps < -max(2 * usual_ms, _JITTER_MS)) & ~back
    turns = np.flatnonzero(back)
    if len(turns) > 1 or unclear.any():
        return None
    if len(turns):
        return first + int(turns[0]) + 1
    before, after = (int(local_ms[one]) if 0 <= one < len(local_ms) else None for one in (first - 1, last + 1))
    from_before = before is not None and 0 < local_ms[first] - before <= 2 * usual_ms
    into_after = after is not None and 0 < after - local_ms[last] <= 2 * usual_ms
    if from_before == into_after:
        return None  # no clue, or one pass between both: then an hour is missing before it or behind it
    return last + 1 if from_before else first


def _runs(inside: BoolArray) -> list[tuple[int, int]]:
    at = np.flatnonzero(inside)
    cuts = np.flatnonzero(np.diff(at) > 1)
    firsts, lasts = at[np.concatenate([[0], cuts + 1])], at[np.concatenate([cuts, [len(at) - 1]])]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def _changes_around(times_ms: Whole, zone: tzinfo) -> Changes:
    """Those of the years that hold the times, and a year to each side."""
    years = [(_EPOCH + timedelta(milliseconds=int(one))).year for one in (times_ms.min(), times_ms.max())]
    return changes(zone, max(years[0] - 1, 2), min(years[1] + 1, 9997))
