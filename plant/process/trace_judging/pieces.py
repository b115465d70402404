"""The pieces of a trace between its samples, each met, out or not proven. All that is judged by samples is judged here.

The rule: a piece between two samples is judged by those of the two that were taken in time that counts (forward flow,
say), and by both where neither was. One that is out takes the piece with it, as `plant.process.trace` has it. A step
longer than the plan allows, or over a sample at fault, proves nothing, whatever its ends say; two ends out make it part
of the time out all the same, and a sample out is never lost. A sample in doubt proves nothing good; its miss counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.trace_judging.channel import Merged, merged
from plant.process.trace_judging.faults import BEYOND, CAUSES, FAILED, beyond, marks
from plant.process.trace_judging.flow import Windows
from plant.process.trace_judging.values import Channel
from plant.process.trace_judging.whole import FAR, Codes, Whole

# Why a piece is not proven, as its place: beside the faults of samples a step that is too long.
LONG = len(CAUSES) + 1
_BIG = int(np.iinfo(np.int64).max)


@dataclass(frozen=True, slots=True, eq=False)
class Ready:
    """A channel's samples that prove something, between two that lie beyond all time: shape (n + 2,).

    `keys` of their moments; `low`, `high` [10^-places]; `doubted`: why a sample that may be at fault proves nothing
    good, else 0; `clashes` as of Merged; `after`, shape (n + 1,): why the step after each proves nothing, 0 where it
    does. `slow`: most of its steps are longer than the plan allows.
    `flats` (start, end [ms], value). `every`: all samples, those at fault included, `codes` of their faults.
    """

    channel: Channel
    places: int
    keys: Whole
    low: Whole
    high: Whole
    doubted: Codes
    clashes: BoolArray
    after: Codes
    slow: bool
    flats: tuple[tuple[int, int, int], ...]
    every: Merged
    codes: Codes

    def signed(self, sign: int) -> Whole:
        """The values so that a bound from below judges them: the low ones, or the high ones with their sign turned."""
        return self.low if sign > 0 else -self.high


def ready(channel: Channel, vouched_ms: tuple[int, ...] = ()) -> Ready:
    """A channel made ready; `vouched_ms` beside its own."""
    whole = merged(channel)
    codes, flats = marks(whole, channel.faults, (*channel.vouched_ms, *vouched_ms))
    kept = np.flatnonzero(codes == 0)
    some = slice(None) if len(kept) == len(codes) else kept
    times = _padded(whole.times[some], -FAR, FAR)
    after = np.where(times[1:] - times[:-1] > channel.slowest_ms, LONG, 0).astype(np.int8)
    # Fewer than half of the steps too long: then the middle one is not, and nothing has to be sorted.
    mostly = len(kept) > 2 and 2 * np.count_nonzero(after[1:-1]) >= len(kept) - 1
    slow = bool(mostly and np.median(np.diff(times[1:-1])) > channel.slowest_ms)
    doubted = np.where(whole.doubted, FAILED, np.where(beyond(whole, channel.faults), BEYOND, 0)).astype(np.int8)
    gone = np.flatnonzero(codes)
    if len(gone):
        place = np.searchsorted(kept, gone)
        after[place] = 0
        np.maximum.at(after, place, codes[gone])
    # The ends beyond all time are never out of a bound.
    return Ready(
        channel,
        whole.places,
        2 * times,
        _padded(whole.low[some], _BIG, _BIG),
        _padded(whole.high[some], -_BIG, -_BIG),
        _padded(doubted[some], 0, 0).astype(np.int8),
        _padded(whole.clashes[some], 0, 0).astype(np.bool_),
        after,
        slow,
        tuple(flats),
        whole,
        codes,
    )


def _padded(values: NDArray[Any], before: int, after: int) -> Whole:
    return np.concatenate([[before], values, [after]])


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Pieces of some windows beside one bound, in order of time, shape (m,).

    `starts`, `ends` [keys]; `out`; `why` it is not proven, 0 where it is; `worst` the value that decides, signed as of
    Ready.signed; `left` the place in Ready of the sample at or before its start. `alone`: places of samples out that
    no piece out touches.
    """

    starts: Whole
    ends: Whole
    out: BoolArray
    why: Codes
    worst: Whole
    left: Whole
    alone: Whole

    def runs_out(self) -> Iterator[tuple[int, int, int, int, int]]:
        """Unbroken time out: (start, end [keys], worst value, first and last place in Ready)."""
        for a, b in self._touching(self.out.astype(np.int8)):
            worst = int(self.worst[a : b + 1].min())
            yield int(self.starts[a]), int(self.ends[b]), worst, int(self.left[a]), int(self.left[b]) + 1

    def runs_unproven(self) -> Iterator[tuple[int, int, int]]:
        """Unbroken time not proven for one reason: (start, end [keys], reason)."""
        for a, b in self._touching(self.why):
            yield int(self.starts[a]), int(self.ends[b]), int(self.why[a])

    def _touching(self, codes: Codes) -> list[tuple[int, int]]:
        if not len(codes):
            return []
        cut = (codes[1:] != codes[:-1]) | (self.starts[1:] != self.ends[:-1])
        bounds = np.concatenate([[0], np.flatnonzero(cut) + 1, [len(codes)]])
        first, last = bounds[:-1], bounds[1:] - 1
        wanted = codes[first] != 0
        return list(zip(first[wanted].tolist(), last[wanted].tolist(), strict=True))


def pieces(given: Ready, sign: int, least: int, windows: Windows, counts: BoolArray) -> Pieces:
    """The pieces of `windows` beside the bound `least` on the values as of Ready.signed(sign).

    counts: which samples of `given` were taken in time that counts, shape (n + 2,).
    """
    none = np.zeros(0, np.int64)
    if not len(windows):
        return Pieces(none, none, none.astype(np.bool_), none.astype(np.int8), none, none, none)
    # Only the part of the trace that the windows lie in.
    first = int(np.searchsorted(given.keys, windows.starts[0], "right")) - 1
    last = int(np.searchsorted(given.keys, windows.ends[-1], "left"))
    part = slice(first, last + 1)
    keys, values, counts = given.keys[part], given.signed(sign)[part], counts[part]
    inside = windows.holds(keys)
    own = np.flatnonzero(inside)
    # A piece begins with a window and with each sample in one; `left` is the sample at or before it.
    starts = np.concatenate([windows.starts, keys[own]])
    left = np.concatenate([np.searchsorted(keys, windows.starts, "right") - 1, own])
    order = np.argsort(starts, kind="stable")
    order = order[np.append(True, starts[order][1:] != starts[order][:-1])]
    starts, left = starts[order], left[order]
    begins = np.searchsorted(starts, windows.starts)
    ends = np.append(starts[1:], 0)
    ends[np.append(begins[1:], len(starts)) - 1] = windows.ends
    here, there = counts[left], counts[left + 1]
    neither = ~(here | there)
    # A moment alone with a sample of its own is judged by that one.
    moment = (ends == starts + 1) & (keys[left] == starts)
    here, there = here | neither, (there | neither) & ~moment
    out = values < least
    out_here, out_there = here & out[left], there & out[left + 1]
    why = np.where(moment, 0, given.after[part][left])
    some_out = out_here | out_there
    doubted = given.doubted[part]
    if doubted.any():
        doubt = np.maximum(np.where(here, doubted[left], 0), np.where(there, doubted[left + 1], 0))
        why = np.where((why == 0) & ~some_out, doubt, why)
    is_out = np.where(why == 0, some_out, out_here & out_there)
    worst = np.minimum(np.where(here, values[left], _BIG), np.where(there, values[left + 1], _BIG))
    return Pieces(
        starts, ends, is_out, why.astype(np.int8), worst, left + first,
        _alone(keys, np.flatnonzero(out & inside), starts, ends, is_out) + first,
    )  # fmt: skip


def _alone(keys: Whole, out: Whole, starts: Whole, ends: Whole, is_out: BoolArray) -> Whole:
    """Of the samples out those that neither begin nor end a piece that is out."""
    place = np.searchsorted(starts, keys[out])
    before = np.maximum(place - 1, 0)
    touched = is_out[place] | ((place > 0) & is_out[before] & (ends[before] == keys[out]))
    alone: Whole = out[~touched]
    return alone
