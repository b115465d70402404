"""What a day's trace costs to judge and to weigh: 24 hours at 1 Hz against plain numpy.

Ours: each sample beside the legal limit in its governing unit, seconds below and not proven, longest runs, segments,
and the exact lethality. Plain: a count of the samples below the limit and the rectangle sum of the lethal rates,
without looking at the trace otherwise. Processor time, the least of several runs taken in turns, in a warm process.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from decimal import Decimal

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.lethality import exact_f_s
from plant.process.limits import Limit
from plant.process.trace import BelowLimit, Segment, below_limit

RUNS = 40
SAMPLES = 86_400
REFERENCE_C, Z_C = 72.0, 4.34
LIMIT = Limit("htst-milk", "temperature", "°F", low=Decimal(161), clause="21 CFR 1240.61(b)")
LIMIT_C = (161 - 32) / 1.8


def day() -> tuple[FloatArray, FloatArray]:
    """Moments [s] and temperatures [°C] of an invented day: heating up, a noisy run with three dips, cooling."""
    times = np.arange(SAMPLES, dtype=np.float64)
    noise = np.random.default_rng(20260303).normal(0, 0.05, SAMPLES)
    levels = np.interp(times, [0, 3600, 5400, 79_200, 82_800, 86_399], [8, 8, 72.6, 72.6, 8, 8]) + noise
    for start, length in ((20_000, 40), (41_000, 300), (66_000, 7)):
        levels[start : start + length] -= 2.5
    return times, levels.round(2)


def ours(times: FloatArray, levels: FloatArray) -> tuple[BelowLimit, list[Segment], float]:
    """The trace beside the limit, its segments and its exact lethality [s]."""
    beside = below_limit(times, levels, LIMIT)
    return beside, list(beside.segments()), exact_f_s(times, levels, REFERENCE_C, Z_C)


def plain(_times: FloatArray, levels: FloatArray) -> tuple[int, float]:
    """How many samples are below the limit, and the rectangle sum of the lethal rates [s]."""
    return int(np.count_nonzero(levels < LIMIT_C)), float(np.sum(10 ** ((levels - REFERENCE_C) / Z_C) * 1.0))


def measure() -> dict[str, object]:
    """Seconds of both sides and their ratio; that both sides agree is checked first."""
    times, levels = day()
    (beside, segments, exact), (count, rectangle) = ours(times, levels), plain(times, levels)
    if beside.samples_below != count or abs(exact - rectangle) > 0.01 * rectangle:
        raise SystemExit(f"the two sides disagree: {beside.samples_below}, {count}; {exact}, {rectangle}")
    spent: dict[Callable[[FloatArray, FloatArray], object], list[float]] = {ours: [], plain: []}
    for turn in range(RUNS):
        for work in (ours, plain) if turn % 2 else (plain, ours):
            started = time.process_time()
            work(times, levels)
            spent[work].append(time.process_time() - started)
    ours_s, plain_s = min(spent[ours]), min(spent[plain])
    return {
        "samples": SAMPLES,
        "segments": len(segments),
        "samples_below": count,
        "runs": RUNS,
        "ours_s": round(ours_s, 6),
        "plain_s": round(plain_s, 6),
        "trace_ratio": round(ours_s / plain_s, 3),
    }


if __name__ == "__main__":
    print(json.dumps(measure()))
