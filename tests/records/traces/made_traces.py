"""Samples kept for the pages of traces: an invented recorder of the small plant."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from plant.pictures.strip_time import milliseconds
from plant.process.trace_blocks import Samples
from records.ledger.actions import WATCH, act
from records.traces.blocks import Channel, keep


def samples(first: datetime, values: list[int], step_ms: int = 1000, places: int = 1) -> Samples:
    """One each `step_ms` from a moment on, none failed."""
    times = milliseconds(first) + step_ms * np.arange(len(values), dtype=np.int64)
    return Samples(times, np.array(values, dtype=np.int64), np.zeros(len(values), np.bool_), places)


def kept(given: Samples, instrument: str = "T-12", name: str = "Press 1 recording", unit: str = "°F") -> None:
    """Kept in an act of the watch."""
    with act(WATCH) as a:
        keep(a, Channel(instrument, name, unit, given), None)


def day_with_a_dip(start: datetime, hours: int = 24, dip_s: int = 7 * 3600) -> Samples:
    """161.0 to 163.9 °F at one a second, and 120.0 °F for one second."""
    values = [1625 + (at * 7919) % 14 for at in range(hours * 3600)]
    values[dip_s] = 1200
    return samples(start, values)
