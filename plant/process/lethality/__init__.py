"""Lethality of a heat treatment: lethal rate, F value of a recorded trace, log reductions by published D and z.

It supports an evaluation and never replaces the legal verdict, which counts nothing but the time at or above the legal
temperature. Temperatures in °C, times in seconds; every F is said with its reference temperature and its z.
"""

from plant.process.lethality.arithmetic import (
    MOST_LOGS,
    LogReductions,
    ZFit,
    d_at_s,
    equivalent_hold_s,
    fit_z,
    lethal_rate,
    log_reductions,
    time_for_reductions_s,
    z_between,
)
from plant.process.lethality.organisms import EXTRAPOLATION_C, ORGANISMS, DRange, Organism, d_range_s
from plant.process.lethality.recorded import (
    FValue,
    exact_f_s,
    f_value,
    pasteurization_units,
    trapezium_f_s,
)
from plant.process.lethality.reductions import Reduction, reduction

__all__ = [
    "EXTRAPOLATION_C",
    "MOST_LOGS",
    "ORGANISMS",
    "DRange",
    "FValue",
    "LogReductions",
    "Organism",
    "Reduction",
    "ZFit",
    "d_at_s",
    "d_range_s",
    "equivalent_hold_s",
    "exact_f_s",
    "f_value",
    "fit_z",
    "lethal_rate",
    "log_reductions",
    "pasteurization_units",
    "reduction",
    "time_for_reductions_s",
    "trapezium_f_s",
    "z_between",
]
