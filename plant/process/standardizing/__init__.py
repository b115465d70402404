"""Standardizing: streams blended to wanted contents, and the separator's balance."""

from plant.process.standardizing.blend import Blend, blend
from plant.process.standardizing.pearson import Square, pearson_square
from plant.process.standardizing.reach import CannotBlend, Reach, attainable
from plant.process.standardizing.separation import Separation, Skimmed, Unaccounted, account, separate, skim_to
from plant.process.standardizing.streams import (
    Proof,
    ProofRow,
    Stream,
    Target,
    msnf_by_rule,
    prove,
    with_fat,
)

__all__ = [
    "Blend",
    "CannotBlend",
    "Proof",
    "ProofRow",
    "Reach",
    "Separation",
    "Skimmed",
    "Square",
    "Stream",
    "Target",
    "Unaccounted",
    "account",
    "attainable",
    "blend",
    "msnf_by_rule",
    "pearson_square",
    "prove",
    "separate",
    "skim_to",
    "with_fat",
]
