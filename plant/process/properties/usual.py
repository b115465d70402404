"""The density that carries a quantity of product between mass and volume, and how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from plant.process.errors import CalculationError, within
from plant.process.properties.milk import cold_milk_density_kg_m3, pounds_per_gallon
from plant.process.said import say as _
from plant.process.units import UnitError, exact

# The trade's round figure for milk; a page carries it (see the reference in tests/records/flow/test_doubts.py).
MILK_LB_PER_GAL: Final = Decimal("8.6")
COLD_C: Final = 4.4
MILK, CREAM, MIX, SWEETENED, IN_A_BLEND = "milk", "cream", "mix", "sweetened milk", "in a blend"
KINDS: Final = (MILK, CREAM, MIX, SWEETENED, IN_A_BLEND)
# Fat [% by mass] and density [kg/m3] at 4.4 °C: light and heavy cream of the table (the heavy one from memory), on to
# 50 % with the slope of the line through 57 samples, 0.77 kg/m3 for each percent; 7 % by the formula for milk.
CREAM_LINE: Final = ((7.0, 1031.1), (20.0, 1021.0), (36.6, 1008.0), (50.0, 997.7))
# What a product is where nobody tested it. Common practice, no source.
UNTESTED_SOLIDS: Final = {MIX: 38.0}
UNTESTED: Final = {MIX: 1097.0, SWEETENED: 1055.0, CREAM: 1008.0, IN_A_BLEND: 1000.0}
# Two standard deviations, relative: of the formulas (they differ among themselves by half of it), and where contents
# are not tested. Common practice, no source; 101 cold samples of milk lie within 0.4 % of their middle.
TESTED_U: Final = {MILK: 0.003, CREAM: 0.006, MIX: 0.01, SWEETENED: 0.01, IN_A_BLEND: 0.03}
UNTESTED_U: Final = {MILK: 0.012, CREAM: 0.015, MIX: 0.025, SWEETENED: 0.025, IN_A_BLEND: 0.1}


@dataclass(frozen=True, slots=True)
class UsualDensity:
    """A density [lb/gal, three decimals] and what it may be off, relative, as two standard deviations."""

    lb_per_gal: Decimal
    doubt: Decimal
    tested: bool


def usual_density(kind: str, fat_percent: float | None = None, solids_percent: float | None = None) -> UsualDensity:
    """The density of cold product by its tested fat and total solids; by its usual ones, with more doubt, without.

    kind: one of KINDS; "in a blend" is the volume that an ingredient takes up in one.
    fat_percent, solids_percent: tested, total solids with the fat [% by mass], or None. Fat alone counts as nominal.

    Range: fat 0 to 100 %, total solids 0 to 100 % and not below the fat. Milk, cream and mix as their formulas; outside
        them the general form 1/(1.075 F + 0.63 (TS - F) + W). About 4 °C: milk at 10 °C is 0.1 % lighter, cream 0.3 %.
    Raises: OutsideRange; CalculationError for another kind.
    Source: as cold_milk_density_kg_m3, tabulated_density_kg_m3 (cream), mix_density_kg_m3; without a test milk has the
        trade's 8.6 lb/gal (common practice).

    >>> usual_density("mix", 12, 38.3).lb_per_gal, usual_density("milk").lb_per_gal
    (Decimal('9.154'), Decimal('8.6'))
    """
    if kind not in KINDS:
        raise CalculationError(_("%(name)s is not one of: %(known)s", name=kind[:40], known=", ".join(KINDS)))
    fat = None if fat_percent is None else within(_("fat"), fat_percent, 0, 100, "%")
    solids = None if solids_percent is None else within(_("total solids"), solids_percent, fat or 0, 100, "%")
    if fat is not None and solids is not None:
        return _as(_tested(kind, fat, solids), TESTED_U[kind], tested=True)
    if kind == MILK:
        return UsualDensity(MILK_LB_PER_GAL, Decimal(str(UNTESTED_U[MILK])), tested=False)
    density = UNTESTED[kind]
    if kind == CREAM and fat is not None and CREAM_LINE[0][0] <= fat <= CREAM_LINE[-1][0]:
        density = _cream(fat)
    elif kind == MIX and fat is not None and fat <= UNTESTED_SOLIDS[MIX]:
        density = _general(fat, UNTESTED_SOLIDS[MIX])
    return _as(density, UNTESTED_U[kind], tested=False)


def _tested(kind: str, fat: float, solids: float) -> float:
    if kind == MILK and fat <= 7 and 7 <= solids - fat <= 11:
        return cold_milk_density_kg_m3(fat, solids - fat, COLD_C)
    if kind == CREAM and CREAM_LINE[0][0] <= fat <= CREAM_LINE[-1][0]:
        return _cream(fat)
    return _general(fat, solids)


def _cream(fat: float) -> float:
    fats, densities = zip(*CREAM_LINE, strict=True)
    return float(np.interp(fat, fats, densities))


def _general(fat: float, solids: float) -> float:
    return 1000 / ((1.075 * fat + 0.63 * (solids - fat) + 100 - solids) / 100)


def _as(density: float, doubt: float, *, tested: bool) -> UsualDensity:
    return UsualDensity(Decimal(f"{pounds_per_gallon(density):.3f}"), Decimal(str(doubt)), tested)


def between(value: Decimal | Fraction, unit: str, to: str, lb_per_gal: Decimal) -> Fraction:
    """A quantity in another unit of volume [gal, L, …] or mass [lb, kg, …], by a density [lb/gal] between the two.

    value: in `unit`. to: the unit wanted. lb_per_gal: above 0.

    Range: any units of mass and volume. Raises: UnitError for what is neither.
    Source: by definition: 1 lb = 0.45359237 kg, 1 gal = 231 cubic inches.

    >>> between(Decimal(8600), "lb", "gal", Decimal("8.6"))
    Fraction(1000, 1)
    """
    try:
        return exact(value, unit, to)
    except UnitError:
        pass
    liters_per_kg = exact(Decimal(1), "gal", "L") / exact(lb_per_gal, "lb", "kg")
    if crosses(unit, to) and _kind_of(unit) == "mass":
        return exact(exact(value, unit, "kg") * liters_per_kg, "L", to)
    return exact(exact(value, unit, "L") / liters_per_kg, "kg", to)


def crosses(unit: str, to: str) -> bool:
    """Whether a quantity goes between mass and volume, so that a density is needed.

    Range: any units; one that is unknown crosses nothing.
    Source: by definition.

    >>> crosses("lb", "gal"), crosses("gal", "L")
    (True, False)
    """
    return {_kind_of(unit), _kind_of(to)} == {"mass", "volume"}


def _kind_of(unit: str) -> str:
    for kind, first in (("mass", "kg"), ("volume", "L")):
        try:
            exact(Decimal(1), unit, first)
        except UnitError:
            continue
        return kind
    return ""


