"""Overrun: the air in ice cream, what a gallon weighs, and what the standard of identity asks of both."""

from __future__ import annotations

from plant.process.overrun.composition import (
    BULKY_FACTORS,
    Bulky,
    Named,
    bulky_weight_percent,
    judge_composition,
    least_nonfat_milk_solids_percent,
)
from plant.process.overrun.gallon import (
    LEAST_SOLIDS_LB_GAL,
    LEAST_WEIGHT_LB_GAL,
    Finding,
    LawfulOverrun,
    food_solids_lb_gal,
    judge_gallon,
    largest_lawful_overrun,
)
from plant.process.overrun.volumes import (
    CupWeight,
    Inclusion,
    Package,
    air_percent,
    cup_weights,
    mix_overrun_in_package,
    overrun_by_cup,
    overrun_by_mass,
    overrun_by_volume,
    package,
    product_density_kg_m3,
)

__all__ = [
    "BULKY_FACTORS",
    "Bulky",
    "CupWeight",
    "Finding",
    "Inclusion",
    "LEAST_SOLIDS_LB_GAL",
    "LEAST_WEIGHT_LB_GAL",
    "LawfulOverrun",
    "Named",
    "Package",
    "air_percent",
    "bulky_weight_percent",
    "cup_weights",
    "food_solids_lb_gal",
    "judge_composition",
    "judge_gallon",
    "largest_lawful_overrun",
    "least_nonfat_milk_solids_percent",
    "mix_overrun_in_package",
    "overrun_by_cup",
    "overrun_by_mass",
    "overrun_by_volume",
    "package",
    "product_density_kg_m3",
]
