"""The table that says what a strip chart shows: least, greatest and mean of each minute, and what is missing."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from plant.pictures.strip_columns import edges
from plant.process.trace_blocks import Samples

MINUTE_MS = 60_000
STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 360, 720, 1440)


@dataclass(frozen=True, slots=True)
class Row:
    """One step of time, or several in a row without any sample. ``least``, ``greatest`` and ``mean`` are exact, in the
    samples' unit; None where no sample has a value.
    """

    start_ms: int
    end_ms: int
    samples: int
    failed: int
    contradicting: int
    least: Fraction | None = None
    greatest: Fraction | None = None
    mean: Fraction | None = None

    @property
    def silent(self) -> bool:
        """Say whether nothing at all was recorded."""
        return not (self.samples or self.failed or self.contradicting)


def step_minutes(start_ms: int, end_ms: int, most: int) -> int:
    """The shortest step [min] that needs at most ``most`` rows for a window."""
    for minutes in STEPS_MIN:
        if (end_ms - start_ms) <= (most - 1) * minutes * MINUTE_MS:
            return minutes
    return STEPS_MIN[-1]


def rows(
    samples: Samples, beside: Samples, start_ms: int, end_ms: int, minutes: int = 1, offset_ms: int = 0
) -> list[Row]:
    """The rows of [``start_ms``, ``end_ms``), cut at whole steps of the wall clock; the first and the last row may be
    shorter. ``beside``: samples that contradict; they are counted, and their values stand in the picture.

    ``offset_ms``: what the wall clock is ahead of UTC. ``samples`` counts those with a value.
    Raises ValueError for a window without length.
    """
    if end_ms <= start_ms:
        raise ValueError("a table needs a window with a length")
    step = minutes * MINUTE_MS
    first = (start_ms + offset_ms) // step * step - offset_ms
    count = -(-(end_ms - first) // step)
    cuts = np.clip(edges(first, first + count * step, count), start_ms, end_ms)
    valid = ~samples.failed
    times, values = samples.times_ms[valid], samples.values[valid]
    at = np.searchsorted(times, cuts)
    held = np.diff(at)
    used = held > 0
    least, greatest, total = (np.zeros(count, np.int64) for _one in range(3))
    if used.any():
        within, starts = values[: at[-1]], at[:-1][used]
        for target, reduce in ((least, np.minimum), (greatest, np.maximum), (total, np.add)):
            target[used] = reduce.reduceat(within, starts)
    failed = np.diff(np.searchsorted(samples.times_ms[samples.failed], cuts))
    other = np.diff(np.searchsorted(beside.times_ms, cuts))
    scale = 10**samples.places
    found: list[Row] = []
    columns = (cuts[:-1], cuts[1:], held, failed, other, least, greatest, total)
    for begin, end, n, bad, contrary, low, high, whole in zip(*(one.tolist() for one in columns), strict=True):
        if n:
            numbers = Fraction(low, scale), Fraction(high, scale), Fraction(whole, n * scale)
            found.append(Row(begin, end, n, bad, contrary, *numbers))
            continue
        row = Row(begin, end, 0, bad, contrary)
        if row.silent and found and found[-1].silent:
            row = Row(found.pop().start_ms, end, 0, 0, 0)
        found.append(row)
    return found
