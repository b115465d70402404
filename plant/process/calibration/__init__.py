"""Checking instruments: fixed points, errors and uncertainty, Pt100 sensors, what a failed check puts in doubt."""

from plant.process.calibration.boiling import boiling_point_at_altitude_c, standard_pressure_kpa
from plant.process.calibration.doubt import Doubt, InDoubt, Stored, doubtful_intervals, doubtful_readings
from plant.process.calibration.errors_found import AsFound, Conformity, as_found_error, judge_tolerance
from plant.process.calibration.resistance import (
    lead_error_c,
    pt100_resistance_ohm,
    pt100_sensitivity_ohm_per_c,
    pt100_temperature_c,
    pt100_tolerance_c,
)
from plant.process.calibration.two_points import TwoPoint, two_point
from plant.process.properties import boiling_point_c

__all__ = [
    "AsFound",
    "Conformity",
    "Doubt",
    "InDoubt",
    "Stored",
    "TwoPoint",
    "as_found_error",
    "boiling_point_at_altitude_c",
    "boiling_point_c",
    "doubtful_intervals",
    "doubtful_readings",
    "judge_tolerance",
    "lead_error_c",
    "pt100_resistance_ohm",
    "pt100_sensitivity_ohm_per_c",
    "pt100_temperature_c",
    "pt100_tolerance_c",
    "standard_pressure_kpa",
    "two_point",
]
