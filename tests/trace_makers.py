"""Small traces for the tests of their judging: an invented pasteurizer and tank, each value open to change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from plant.process.limits import Limit
from plant.process.pasteurization import Method, ProductClass, Row
from plant.process.trace_blocks import Samples
from plant.process.trace_judging import (
    Band,
    Channel,
    Indicated,
    PasteurizerTrace,
    Run,
    SetUpWindow,
    Signal,
    TankTrace,
    TimedLimit,
    samples_of,
)

SECOND = 1000
MILK = Row("htst-milk", (ProductClass.MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "21 CFR 1240.61(b)", "read")
HOT = Row("hhst-191", (ProductClass.MILK,), Method.HHST, Decimal(191), "°F", Decimal(1), "21 CFR 1240.61(b)", "read")
MIX = Row("mix-htst", (ProductClass.MIX,), Method.HTST, Decimal(175), "°F", Decimal(25), "21 CFR 135.3", "read")
ROWS = {"milk": (MILK, HOT), "mix": (MIX,)}
COLD = Limit(
    "cooled", "temperature of cooled product", "°F", high=Decimal(45), rule="pasteurized-cold", clause="2.49(b)"
)


def times(count: int, step: int = SECOND) -> list[int]:
    """So many moments from 0 on [ms]."""
    return [place * step for place in range(count)]


def channel(levels: Sequence[float], unit: str = "°F", places: int = 1, **changes: Any) -> Channel:
    """A channel at 1 Hz from 0 s on, or at `at` [ms]; nan failed."""
    at = changes.pop("at", None) or times(len(levels))
    given = Channel(changes.pop("name", "recorder"), unit, samples_of(at, levels, places), SECOND)
    return replace(given, **changes)


def signal(states: Sequence[float], **changes: Any) -> Signal:
    """A signal at 1 Hz from 0 s on, or at `at` [ms]; nan failed."""
    at = changes.pop("at", None) or times(len(states))
    return replace(Signal("diversion device", samples_of(at, states, 0), SECOND), **changes)


def other(at: Sequence[int], values: Sequence[int], places: int = 1) -> Samples:
    """Samples that contradict others."""
    return Samples(np.array(at), np.array(values), np.zeros(len(at), np.bool_), places)


def press(levels: Sequence[float], forward: Sequence[float] | None = None, **changes: Any) -> PasteurizerTrace:
    """A run of milk, lot A, in forward flow throughout, held 16 s, its recorder as the indicating thermometer reads."""
    made = changes.pop("temperature", None) or channel(levels)
    end = int(made.samples.times_ms[-1])
    valve = changes.pop("valve", None) or signal(forward or [1] * len(levels))
    given = PasteurizerTrace(
        start_ms=0,
        end_ms=end,
        temperature=made,
        forward=valve,
        bands=(Band(0, end, "milk", "A"),),
        set_ups=(SetUpWindow(0, end, "milk", 16, ("milk",), tested_ms=0),),
        runs=(Run(0, end, (Indicated(0, 165, "°F", recording=165),)),),
        rows=ROWS,
    )
    return replace(given, **changes)


def silo(levels: Sequence[float], step: int = 900 * SECOND, **changes: Any) -> TankTrace:
    """A silo that holds raw milk, lot R, at 45 °F or below, read every 15 minutes."""
    made = changes.pop("temperature", None) or channel(
        levels, at=times(len(levels), step), slowest_ms=step, name="Silo"
    )
    end = int(made.samples.times_ms[-1])
    limit = Limit("raw", "temperature", "°F", high=Decimal(45), rule="raw-cold", clause="1 NYCRR 2.49(a)")
    given = TankTrace(0, end, made, (Band(0, end, "raw", "R"),), (TimedLimit(limit),))
    return replace(given, **changes)


def told(findings: Sequence[Any]) -> list[tuple[str, str, str, int, int]]:
    """Findings in short: about what, why, outcome, from and to [s]."""
    return [
        (one.kind.value, one.cause.value, one.outcome.value, one.start_ms // SECOND, one.end_ms // SECOND)
        for one in findings
    ]
