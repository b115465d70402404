"""Cooling and cold storage over a trace: how long out of limits, whether cooled in time, what a blend comes to.

Between two readings nobody looked. The estimate draws a line between them; the verdict does not: an interval with an
end out of limits counts as out, and one longer than the longest gap proves nothing. All of it supports an evaluation
by a qualified person and never releases a product; which rule applies, the regulator says.
"""

from __future__ import annotations

from plant.process.cooling.blend import blend_temperature_c, most_warm_milk_kg
from plant.process.cooling.in_time import Cooled, CoolingRule, FirstInLimit, first_in_limit, judge_cooling
from plant.process.cooling.out_of_limits import Span, TimeOut, judge_time_out, time_out_of_limits

__all__ = [
    "Cooled",
    "CoolingRule",
    "FirstInLimit",
    "Span",
    "TimeOut",
    "blend_temperature_c",
    "first_in_limit",
    "judge_cooling",
    "judge_time_out",
    "most_warm_milk_kg",
    "time_out_of_limits",
]
