"""A trace reduced to the columns of a picture: the least and the greatest value of each column stay.

For drawing only. Whoever judges takes the samples themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plant.pictures.strip_data import Moments, Trace
from plant.process.arrays import BoolArray, FloatArray

Counts = NDArray[np.int64]

HOUR_MS = 3_600_000
FEW = 4  # so many steps say what is usual in an hour
# A step is a gap beyond this share of the usual one, and beyond a second more than it: stamps are often cut to seconds.
BEYOND, SLACK_MS = 1.75, 1000.0
SILENT, FAILED = "silent", "failed"


@dataclass(frozen=True, slots=True)
class Columns:
    """Least, greatest, first and last value of each column, and how many samples: all of shape (width,).

    Where ``count`` is 0 the others are nan.
    """

    low: FloatArray
    high: FloatArray
    first: FloatArray
    last: FloatArray
    count: Counts


@dataclass(frozen=True, slots=True)
class Line:
    """A trace's columns, and where its line is broken.

    ``joined``, shape (width,): the line comes on from the sample before the column's first. ``lead`` and ``trail``:
    (moment [ms], value) of the samples just outside of the window that the line is joined to; ``through``: the line
    passes a window without a sample.
    """

    columns: Columns
    joined: BoolArray
    lead: tuple[int, float] | None
    trail: tuple[int, float] | None
    through: bool


@dataclass(frozen=True, slots=True)
class Silence:
    """A time without values: ``why`` is SILENT (nothing recorded) or FAILED (the sensor said that it failed)."""

    start_ms: int
    end_ms: int
    why: str


def columns(times_ms: Moments, values: FloatArray, start_ms: int, end_ms: int, width: int) -> Columns:
    """Reduce samples to the columns of [``start_ms``, ``end_ms``): a sample at t is in column
    floor((t - start) * width / (end - start)).

    ``times_ms`` [ms] in order of time and ``values``, both of shape (n,); samples outside of the window are left out.
    Raises ValueError for a window without length or fewer than one column.
    """
    if end_ms <= start_ms or width < 1:
        raise ValueError("columns need a window with a length, and at least one column")
    at = np.searchsorted(times_ms, edges(start_ms, end_ms, width))
    count = np.diff(at)
    low, high, first, last = (np.full(width, np.nan) for _one in range(4))
    used = count > 0
    if used.any():
        within = values[: at[-1]]
        starts = at[:-1][used]
        # Between the starts of two columns with samples lie the samples of the first alone.
        low[used], high[used] = np.minimum.reduceat(within, starts), np.maximum.reduceat(within, starts)
        first[used], last[used] = within[starts], within[at[1:][used] - 1]
    return Columns(low, high, first, last, count.astype(np.int64))


def edges(start_ms: int, end_ms: int, width: int) -> Moments:
    """The first whole millisecond of each column and of what comes after the last, shape (width + 1,)."""
    steps = np.arange(width + 1, dtype=np.int64) * (end_ms - start_ms)
    return start_ms - (-steps // width)


def allowed_steps(trace: Trace) -> FloatArray:
    """How long each step of a trace may be [ms] before it is a gap, shape (n - 1,): by what is usual in its hour, or in
    the whole trace where the hour has too few samples to say. Kept with the trace, and not to be written to.
    """
    if trace.allowed is None:
        allowed = _allowed_steps(trace)
        allowed.flags.writeable = False
        object.__setattr__(trace, "allowed", allowed)
        return allowed
    return trace.allowed


def _allowed_steps(trace: Trace) -> FloatArray:
    steps = np.diff(trace.times_ms)
    if not len(steps) or trace.gap_ms is not None:
        return np.full(len(steps), trace.gap_ms or 0.0)
    hours = trace.times_ms[:-1] // HOUR_MS
    starts = np.flatnonzero(np.diff(hours, prepend=hours[0] - 1))
    least, most = np.minimum.reduceat(steps, starts).tolist(), np.maximum.reduceat(steps, starts).tolist()
    begins = starts.tolist()
    usual = np.empty(len(steps))
    of_all: float | None = None
    for start, end, low, high in zip(begins, [*begins[1:], len(steps)], least, most, strict=True):
        if end - start >= FEW:
            usual[start:end] = low if low == high else np.median(steps[start:end])  # mostly all are alike
        else:
            of_all = float(np.median(steps)) if of_all is None else of_all
            usual[start:end] = of_all
    return np.maximum(usual * BEYOND, usual + SLACK_MS)


def line(trace: Trace, start_ms: int, end_ms: int, width: int) -> Line:
    """The trace's line within a window, at most ``width`` columns of it. Raises ValueError as ``columns`` does."""
    times, values = trace.times_ms, trace.values
    valid = np.flatnonzero(~trace.failed)
    gaps = np.diff(times) > allowed_steps(trace)
    passed = np.concatenate([[0], np.cumsum(gaps)])[: len(times)]
    times, values, passed = times[valid], values[valid], passed[valid]
    found = columns(times, values, start_ms, end_ms, width)
    # joins[i]: sample i is joined to the one before it: neither a gap nor a failed sample lies between them.
    joins = np.zeros(len(times), np.bool_)
    joins[1:] = (np.diff(passed) == 0) & (np.diff(valid) == 1)
    low, high = np.searchsorted(times, [start_ms, end_ms]).tolist()
    joined = np.zeros(width, np.bool_)
    joined[found.count > 0] = joins[np.searchsorted(times, edges(start_ms, end_ms, width)[:-1])[found.count > 0]]
    lead = low > 0 and low < len(times) and bool(joins[low])
    trail = high > 0 and high < len(times) and bool(joins[high])
    return Line(
        found,
        joined,
        (int(times[low - 1]), float(values[low - 1])) if lead else None,
        (int(times[high]), float(values[high])) if trail else None,
        low == high and lead,
    )


def silences(trace: Trace, start_ms: int, end_ms: int) -> list[Silence]:
    """The times without values within a window, in order: gaps between samples, failed sensors, and what is missing at
    both ends of the window.
    """
    times = trace.times_ms
    if not len(times):
        return [Silence(start_ms, end_ms, SILENT)]
    allowed = allowed_steps(trace)
    gaps = np.diff(times) > allowed
    found = [
        Silence(int(times[at]), int(times[at + 1]), SILENT)
        for at in np.flatnonzero(gaps & (times[1:] > start_ms) & (times[:-1] < end_ms)).tolist()
    ]
    before, after = int(times[0]) - start_ms, end_ms - int(times[-1])
    edge = float(allowed.min()) if len(allowed) else SLACK_MS
    if len(allowed) and max(before, after) > edge:  # else neither is beyond what is usual either
        edge = float(np.median(allowed))
    if before > edge:
        found.append(Silence(start_ms, min(int(times[0]), end_ms), SILENT))
    if after > edge:
        found.append(Silence(max(int(times[-1]), start_ms), end_ms, SILENT))
    found += _failed(trace, gaps)
    return sorted(
        (
            Silence(max(one.start_ms, start_ms), min(one.end_ms, end_ms), one.why)
            for one in found
            if one.end_ms > start_ms and one.start_ms < end_ms
        ),
        key=lambda one: (one.start_ms, one.end_ms),
    )


def _failed(trace: Trace, gaps: BoolArray) -> list[Silence]:
    """Each run of failed samples, to the next sample that has a value (to its own last before a gap)."""
    marks = np.diff(trace.failed.astype(np.int8), prepend=0, append=0)
    starts, ends = np.flatnonzero(marks == 1).tolist(), np.flatnonzero(marks == -1).tolist()
    times, last = trace.times_ms, len(trace) - 1
    found = []
    for start, end in zip(starts, ends, strict=True):
        until = end if end <= last and not gaps[end - 1] else end - 1
        found.append(Silence(int(times[start]), max(int(times[until]), int(times[start]) + 1), FAILED))
    return found
