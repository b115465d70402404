"""Stored product: when a warming tank reaches its limit, and the clocks that run while vessels are in use."""

from __future__ import annotations

from plant.process.storage.clocks import ClockLimit, daily_wash_clock, raw_storage_clock, run_hours_clock
from plant.process.storage.warming import (
    HOUR,
    Line,
    NoForecast,
    Warming,
    confidence_band,
    crossing,
    fit_line,
    t_quantile,
    time_to_limit,
    warming_stretch,
)

__all__ = [
    "HOUR",
    "ClockLimit",
    "Line",
    "NoForecast",
    "Warming",
    "confidence_band",
    "crossing",
    "daily_wash_clock",
    "fit_line",
    "raw_storage_clock",
    "run_hours_clock",
    "t_quantile",
    "time_to_limit",
    "warming_stretch",
]
