"""How long a trace was out of limits: estimate, least and most. Between two readings nobody looked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray, trace
from plant.process.errors import CalculationError, within
from plant.process.limits import Outcome
from plant.process.said import say as _

Span = tuple[float, float]
ROUNDING: Final = 1 + 1e-9  # the difference of two moments is not exact


@dataclass(frozen=True, slots=True)
class TimeOut:
    """How long a trace was out of limits, all in seconds.

    `total_s` is the estimate, with a straight line between readings; `least_s` counts only intervals with both ends
    out on one side, `most_s` every interval with an end out. `longest_s` and `longest_most_s` are the longest without
    a break, by estimate and at most. `unproven_s` are gaps between readings that are in limits but too far apart;
    `longest_unproven_s` is the longest without a break that is out at most or unproven. `spans` are the times (from,
    until) that count as out at most, `gaps` the unproven ones.
    """

    total_s: float
    least_s: float
    most_s: float
    longest_s: float
    longest_most_s: float
    unproven_s: float
    longest_unproven_s: float
    readings_out: int
    spans: tuple[Span, ...]
    gaps: tuple[Span, ...]


def time_out_of_limits(
    times_s: ArrayLike,
    values: ArrayLike,
    *,
    high: float | None = None,
    low: float | None = None,
    longest_gap_s: float,
) -> TimeOut:
    """How long a trace was out of limits: estimate, least and most, longest and cumulative.

    A value at the limit itself is in limits. A gap with an end out of limits counts as out in the estimate too.

    times_s: moments of the readings, rising, n >= 2 [s].
    values: the reading at each, shape (n,) [one unit, the one that the limits are written in].
    high, low: the limits, at least one of them [unit of values].
    longest_gap_s: how far apart two readings may be for what lies between them to count [s].

    Range: low not above high; longest gap 0 s and more.
    Raises: OutsideRange; CalculationError for a wrong trace or without a limit.
    Source: linear crossing and bounds by definition; that a reading at the limit meets it, 1 NYCRR 2.49(a): 45 °F or
        below (https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/).

    >>> found = time_out_of_limits([0, 900, 1800, 2700], [44, 46, 46, 44], high=45, longest_gap_s=900)
    >>> found.least_s, found.total_s, found.most_s
    (900.0, 1800.0, 2700.0)
    """
    times, levels = trace(times_s, values)
    longest = within("longest gap", longest_gap_s, 0, None, "s")
    if high is None and low is None:
        raise CalculationError(_("without a limit nothing is out of limits"))
    ceiling = np.inf if high is None else within("upper limit", high)
    floor = -np.inf if low is None else within("lower limit", low, None, None if high is None else high)
    above, below = levels > ceiling, levels < floor
    out = above | below
    steps = np.diff(times)
    wide = steps > longest * ROUNDING
    any_out = out[:-1] | out[1:]
    both_out = (above[:-1] & above[1:]) | (below[:-1] & below[1:])
    intervals = list(zip(times[:-1].tolist(), times[1:].tolist(), strict=True))
    lines = _line_spans(times, levels, float(ceiling), float(floor))
    estimate: list[Span] = []
    for place, whole in enumerate(intervals):
        if any_out[place]:
            estimate.extend([whole] if wide[place] else lines[place])
    spans = _merged(intervals[place] for place in np.flatnonzero(any_out))
    gaps = _merged(intervals[place] for place in np.flatnonzero(wide & ~any_out))
    return TimeOut(
        total_s=_total(estimate),
        least_s=float(steps[both_out].sum()),
        most_s=_total(spans),
        longest_s=_longest(_merged(estimate)),
        longest_most_s=_longest(spans),
        unproven_s=_total(gaps),
        longest_unproven_s=_longest(_merged(intervals[place] for place in np.flatnonzero(any_out | wide))),
        readings_out=int(out.sum()),
        spans=spans,
        gaps=gaps,
    )


def judge_time_out(found: TimeOut, most_total_s: float = 0.0, most_at_once_s: float | None = None) -> Outcome:
    """Whether a time out of limits is within what a rule allows, by the worst that the readings leave open.

    MET only when even the most, and every unproven gap counted as out, is allowed; NOT_PROVEN when only the gaps are
    too much; else NOT_MET.

    found: from time_out_of_limits.
    most_total_s: allowed altogether [s]. 0: none, as for milk held at 45 °F or below.
    most_at_once_s: allowed without a break [s]; None: not limited by itself.

    Range: both 0 s and more.
    Raises: OutsideRange.
    Source: plant rule; that none is allowed in cold storage, 1 NYCRR 2.49(a), (b)
        (https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/).

    >>> judge_time_out(time_out_of_limits([0, 900], [44, 45], high=45, longest_gap_s=900))
    <Outcome.MET: 'met'>
    """
    total = within("time allowed out of limits", most_total_s, 0, None, "s") * ROUNDING
    at_once = np.inf
    if most_at_once_s is not None:
        at_once = within("time allowed out of limits at once", most_at_once_s, 0, None, "s") * ROUNDING
    if found.most_s > total or found.longest_most_s > at_once:
        return Outcome.NOT_MET
    if found.most_s + found.unproven_s > total or found.longest_unproven_s > at_once:
        return Outcome.NOT_PROVEN
    return Outcome.MET


def _line_spans(times: FloatArray, levels: FloatArray, ceiling: float, floor: float) -> list[list[Span]]:
    """For each interval, the parts of a straight line between its ends that lie out of limits."""
    found: list[list[Span]] = []
    for place in range(len(times) - 1):
        start, end = float(times[place]), float(times[place + 1])
        first, last = float(levels[place]), float(levels[place + 1])
        parts: list[Span] = []
        for sign, bound in ((1.0, ceiling), (-1.0, floor)):
            over, then = sign * (first - bound), sign * (last - bound)
            if over > 0 and then > 0:
                parts.append((start, end))
            elif over > 0:
                parts.append((start, start + over / (over - then) * (end - start)))
            elif then > 0:
                parts.append((start + over / (over - then) * (end - start), end))
        found.append(sorted(parts))
    return found


def _merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Spans in order of time, those that touch made one."""
    found: list[Span] = []
    for start, end in spans:
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def _total(spans: Iterable[Span]) -> float:
    return float(sum(end - start for start, end in spans))


def _longest(spans: Iterable[Span]) -> float:
    return max((end - start for start, end in spans), default=0.0)
