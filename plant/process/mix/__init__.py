"""Ice cream mix: ingredients, the mix that meets its targets, its masses in steps of the scales, the weighed batch."""

from plant.process.mix.batch import BatchLine, Recomputed, batch_lines, recomputed, weighed
from plant.process.mix.density import DENSITY_FORMS, mix_density, pounds_per_gallon
from plant.process.mix.formula import Mix, compose, formulate
from plant.process.mix.ingredients import GROUPS, PARTS, SUGARS, Ingredient, cream_or_milk, msnf_balance
from plant.process.mix.weighing import Missed, Weighable, missed, to_steps

__all__ = [
    "DENSITY_FORMS",
    "GROUPS",
    "PARTS",
    "SUGARS",
    "BatchLine",
    "Ingredient",
    "Missed",
    "Mix",
    "Recomputed",
    "Weighable",
    "batch_lines",
    "compose",
    "cream_or_milk",
    "formulate",
    "missed",
    "mix_density",
    "msnf_balance",
    "pounds_per_gallon",
    "recomputed",
    "to_steps",
    "weighed",
]
