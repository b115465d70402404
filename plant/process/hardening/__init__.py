"""Hardening: how long ice cream takes to be cold at its core, and what that is reckoned from."""

from __future__ import annotations

from plant.process.hardening.conduction import (
    Body,
    Course,
    HardeningTime,
    Shape,
    cool,
    hardening_time,
    overall_h_w_m2k,
)
from plant.process.hardening.plank import brick_factors, plank, plank_brick
from plant.process.hardening.product import (
    Conduction,
    HeatTable,
    constant_table,
    ice_cream_table,
    ice_fraction,
    maxwell_eucken_w_mk,
    mix_composition,
    parallel_w_mk,
    with_conductivity,
)
from plant.process.hardening.series import cooling_ratio, semi_infinite_ratio, series_roots, tub_ratio

__all__ = [
    "Body",
    "Conduction",
    "Course",
    "HardeningTime",
    "HeatTable",
    "Shape",
    "brick_factors",
    "constant_table",
    "cool",
    "cooling_ratio",
    "hardening_time",
    "ice_cream_table",
    "ice_fraction",
    "maxwell_eucken_w_mk",
    "mix_composition",
    "overall_h_w_m2k",
    "parallel_w_mk",
    "plank",
    "plank_brick",
    "semi_infinite_ratio",
    "series_roots",
    "tub_ratio",
    "with_conductivity",
]
