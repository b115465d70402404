"""Freezing of ice-cream mix: where it begins, how much of the water is ice at a temperature, and the other way round.

The method of sucrose equivalents: A. Leighton, On the calculation of the freezing point of ice-cream mixes and of the
quantities of ice separated during the freezing process, J. Dairy Sci. 10:300, 1927
(https://scribd.com/document/474416779/LEIGHTON-1927-ON-THE-CALCULATION-OF-THE-FREEZING-POINT-ICE-CREAM), as taught at
Guelph (https://www.scribd.com/document/488724925/FreezingCurveCalculation). The terms 0.545, 0.765, DE/100, 2.37 were
read there; the factors 1.8 and 1.9 and the table of sucrose are from memory.

It is an equilibrium estimate: no supercooling, no bound water. For plain milk it reads 0.02 °C too cold.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Final

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, Infeasible, OutsideRange, within
from plant.process.said import say as _

__all__ = [
    "CornSyrup", "Draw", "FreezingPoint", "Mix", "corn_syrup_factor", "draw", "equivalence_by_molar_mass",
    "freezing_curve", "freezing_point", "frozen_at", "frozen_limit", "molal_depression_c", "salts_depression_c",
    "sucrose_depression_c", "sucrose_equivalents", "temperature_at",
]  # fmt: skip

HIGHEST_G: Final = 180.0
SALTS_C: Final = 2.37
LACTOSE_OF_MSNF, LACTOSE_OF_WHEY_SOLIDS, HFCS_FACTOR, MONOSACCHARIDE_FACTOR = 0.545, 0.765, 1.8, 1.9
SUCROSE_G_MOL, GLUCOSE_G_MOL, WATER_K_KG_MOL = 342.3, 180.16, 1.86
# Depression [°C] at 3, 6, ... 180 g of sucrose in 100 g of water: Pickering and Leighton, as tabulated by Goff and
# Hartel, Ice Cream, 7th edition (from memory).
_STEPS_C: Final = (
    0.18, 0.35, 0.53, 0.72, 0.90, 1.10, 1.29, 1.47, 1.67, 1.86, 2.03, 2.21, 2.40, 2.60, 2.78, 2.99, 3.20, 3.42, 3.63,
    3.85, 4.10, 4.33, 4.54, 4.77, 5.00, 5.26, 5.53, 5.77, 5.99, 6.23, 6.50, 6.80, 7.04, 7.32, 7.56, 7.80, 8.04, 8.33,
    8.62, 8.92, 9.19, 9.45, 9.71, 9.96, 10.22, 10.47, 10.72, 10.97, 11.19, 11.41, 11.63, 11.88, 12.14, 12.40, 12.67,
    12.88, 13.08, 13.28, 13.48, 13.68,
)  # fmt: skip
# Water without sugar freezes at 0 °C: the first step is a line from there.
TABLE_G: Final[FloatArray] = np.arange(0.0, HIGHEST_G + 1, 3.0)
TABLE_C: Final[FloatArray] = np.array((0.0, *_STEPS_C))
TABLE_G.setflags(write=False)
TABLE_C.setflags(write=False)
_SUM_TOLERANCE: Final = 0.5


class CornSyrup(StrEnum):
    """How corn syrup solids count as sucrose: the two conventions in use, which differ by a factor of two at 42 DE."""

    DE = "DE/100"
    MOLAR_MASS = "molecular weight"


@dataclass(frozen=True, slots=True)
class Mix:
    """What lowers the freezing point of a mix, in grams per 100 g of mix (percent by mass), and its water.

    `msnf` milk solids-not-fat without the whey solids added; `whey_solids` dried whey; `corn_syrup_solids` with their
    `dextrose_equivalent` [DE], counted by `corn_syrup`; `hfcs` solids of high-fructose syrup (42 %);
    `monosaccharides` dextrose and fructose; `other_equivalents` what else is dissolved, already as sucrose
    (equivalence_by_molar_mass). Fat and stabilizer are not named: they do not count.

    Raises OutsideRange for a part outside 0 to 100 (water above 0, DE 5 to 100), CalculationError for more than 100
    together.
    """

    water: float
    msnf: float = 0.0
    whey_solids: float = 0.0
    sucrose: float = 0.0
    corn_syrup_solids: float = 0.0
    dextrose_equivalent: float = 42.0
    hfcs: float = 0.0
    monosaccharides: float = 0.0
    other_equivalents: float = 0.0
    corn_syrup: CornSyrup = CornSyrup.DE

    def __post_init__(self) -> None:
        """Refuse parts that are none and sums above 100."""
        within("water", self.water, 1, 100, "%")
        within("dextrose equivalent", self.dextrose_equivalent, 5, 100)
        within("other sucrose equivalents", self.other_equivalents, 0, 1000, "g/100 g")
        not_parts = {"dextrose_equivalent", "corn_syrup", "other_equivalents"}
        parts = {one.name: float(getattr(self, one.name)) for one in fields(self) if one.name not in not_parts}
        for name, part in parts.items():
            within(name.replace("_", " "), part, 0, 100, "%")
        total = sum(parts.values())
        if total > 100 + _SUM_TOLERANCE + 1e-9:
            raise CalculationError(_("the parts of the mix add to %(total)s %%, more than 100 %%", total=f"{total:g}"))


def corn_syrup_factor(dextrose_equivalent: float, convention: CornSyrup = CornSyrup.DE) -> float:
    """What a gram of corn syrup solids counts as sucrose [g/g].

    DE/100: 0.42 at 42 DE. By molecular weight: 342.3 g/mol over the number-average 100 x 180.16/DE, 0.80 at 42 DE.
    Crystalline dextrose is no corn syrup solids: it counts among the monosaccharides, 1.9.

    dextrose_equivalent: DE.
    convention: which of the two; they give different answers, so say which was used.

    Range: DE 5 to 100.
    Raises: OutsideRange.
    Source: DE/100: Guelph freezing curve calculation (see the module). By molecular weight: 342/429 at 42 DE (from
        memory); DE as 180.16/molar mass x 100, by definition.

    >>> corn_syrup_factor(42), round(corn_syrup_factor(42, CornSyrup.MOLAR_MASS), 2)
    (0.42, 0.8)
    """
    equivalent = within("dextrose equivalent", dextrose_equivalent, 5, 100)
    if CornSyrup(convention) is CornSyrup.DE:
        return equivalent / 100
    return equivalence_by_molar_mass(100 * GLUCOSE_G_MOL / equivalent)


def equivalence_by_molar_mass(molar_mass_g_mol: float) -> float:
    """What a gram of something dissolved that does not split into ions counts as sucrose [g/g]: 342.3/M.

    molar_mass_g_mol: M [g/mol].

    Range: 18 to 100,000 g/mol.
    Raises: OutsideRange.
    Source: the depression follows the number of molecules (Raoult), by definition.

    >>> round(equivalence_by_molar_mass(180.16), 2)
    1.9
    """
    return SUCROSE_G_MOL / within("molar mass", molar_mass_g_mol, 18, 100_000, "g/mol")


def sucrose_equivalents(mix: Mix) -> float:
    """The sugars of a mix as sucrose [g per 100 g of mix].

    SE = 0.545 MSNF + 0.765 WS + S + CSS x factor + 1.8 HFCS + 1.9 (dextrose and fructose) + others.

    mix: parts [g/100 g].

    Range: as Mix.
    Raises: nothing more than Mix.
    Source: Guelph freezing curve calculation after Leighton, 1927 (see the module); 1.8 and 1.9 from memory.

    >>> round(sucrose_equivalents(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)), 2)
    20.66
    """
    return (
        LACTOSE_OF_MSNF * mix.msnf
        + LACTOSE_OF_WHEY_SOLIDS * mix.whey_solids
        + mix.sucrose
        + mix.corn_syrup_solids * corn_syrup_factor(mix.dextrose_equivalent, mix.corn_syrup)
        + HFCS_FACTOR * mix.hfcs
        + MONOSACCHARIDE_FACTOR * mix.monosaccharides
        + mix.other_equivalents
    )


def sucrose_depression_c(sucrose_g_per_100g_water: float) -> float:
    """How far below 0 °C a sucrose solution begins to freeze [°C, positive], on a line between rows of the table.

    sucrose_g_per_100g_water: [g/100 g of water].

    Range: 0 to 180 g/100 g. Above it is refused, never extrapolated.
    Raises: OutsideRange.
    Source: Pickering and Leighton, as tabulated by Goff and Hartel, Ice Cream, 7th edition (from memory).

    >>> round(sucrose_depression_c(34.4333), 3)
    2.116
    """
    grams = within("sucrose in 100 g of water", sucrose_g_per_100g_water, 0, HIGHEST_G, "g")
    return float(np.interp(grams, TABLE_G, TABLE_C))


def molal_depression_c(solute_g_per_100g_water: float, molar_mass_g_mol: float) -> float:
    """The ideal depression of a dilute solution [°C, positive]: 1.86 x moles in a kilogram of water.

    solute_g_per_100g_water: what is dissolved and does not split into ions [g/100 g of water].
    molar_mass_g_mol: [g/mol].

    Range: up to 1 mol/kg, beyond which real solutions freeze colder.
    Raises: OutsideRange.
    Source: cryoscopic constant of water 1.86 K kg/mol, as used by Leighton, 1927 (see the module).

    >>> round(molal_depression_c(100 * 4.9 / 87.11, 342.3), 3)
    0.306
    """
    mass = within("molar mass", molar_mass_g_mol, 18, 100_000, "g/mol")
    molality = within("molality", 10 * solute_g_per_100g_water / mass, 0, 1, "mol/kg")
    return WATER_K_KG_MOL * molality


def salts_depression_c(mix: Mix) -> float:
    """What the milk salts add to the depression before any water is ice [°C, positive]: 2.37 (MSNF + WS)/W.

    mix: parts [g/100 g].

    Range: as Mix.
    Raises: nothing more than Mix.
    Source: Guelph freezing curve calculation after Leighton, 1927 (see the module); 4.26 for °F.

    >>> round(salts_depression_c(Mix(60, msnf=10, whey_solids=2)), 3)
    0.474
    """
    return SALTS_C * (mix.msnf + mix.whey_solids) / mix.water


@dataclass(frozen=True, slots=True)
class FreezingPoint:
    """Where a mix begins to freeze and what it comes from.

    `equivalents` [g/100 g of mix], `equivalents_in_water` [g/100 g of water], `sugars_c` and `salts_c` the two
    depressions [°C, positive], `temperature_c` the start of freezing [°C, negative].
    """

    equivalents: float
    equivalents_in_water: float
    sugars_c: float
    salts_c: float
    temperature_c: float


def freezing_point(mix: Mix) -> FreezingPoint:
    """The temperature at which ice begins to form, with its parts.

    mix: parts [g/100 g].

    Range: at most 180 g of sucrose equivalents in 100 g of water.
    Raises: OutsideRange.
    Source: Guelph freezing curve calculation after Leighton, 1927 (see the module).

    >>> round(freezing_point(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)).temperature_c, 2)
    -2.59
    """
    equivalents = sucrose_equivalents(mix)
    in_water = 100 * equivalents / mix.water
    sugars, salts = sucrose_depression_c(in_water), salts_depression_c(mix)
    return FreezingPoint(equivalents, in_water, sugars, salts, -(sugars + salts))


def frozen_limit(mix: Mix) -> tuple[float, float]:
    """How far the method goes for this mix: (percent of the water frozen, temperature there [°C]).

    At that point the water left holds 180 g of sucrose equivalents in 100 g. Beyond it nothing is answered.

    mix: parts [g/100 g], some of them dissolved.

    Range: as freezing_point; a mix without anything dissolved is refused.
    Raises: OutsideRange, CalculationError.
    Source: end of the table (see sucrose_depression_c).

    >>> most, coldest = frozen_limit(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4))
    >>> round(most, 1), round(coldest, 1)
    (80.9, -16.2)
    """
    start = _started(mix)
    left = start.equivalents_in_water / HIGHEST_G
    return 100 * (1 - left), -(sucrose_depression_c(HIGHEST_G) + start.salts_c / left)


def temperature_at(mix: Mix, frozen_percent: float) -> float:
    """The temperature at which so much of the water is ice [°C].

    Sugars and salts stay in the water that is left: W (1 - f) takes the place of W in both depressions.

    mix: parts [g/100 g].
    frozen_percent: 100 f [% of the water].

    Range: 0 % to frozen_limit (about 81 % for a usual mix).
    Raises: OutsideRange, CalculationError for a mix with nothing dissolved.
    Source: Guelph freezing curve calculation after Leighton, 1927 (see the module).

    >>> round(temperature_at(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4), 50), 2)
    -5.48
    """
    start, (most, _coldest) = _started(mix), frozen_limit(mix)
    left = 1 - within("water frozen", frozen_percent, 0, most, "%") / 100
    # At the very end of the table the quotient may round to just above it.
    in_water = min(start.equivalents_in_water / left, HIGHEST_G)
    return -(sucrose_depression_c(in_water) + start.salts_c / left)


def frozen_at(mix: Mix, temperature_c: float) -> float:
    """How much of the water is ice at a temperature [% of the water]. At or above the start of freezing it is 0.

    mix: parts [g/100 g].
    temperature_c: of the mix [°C].

    Range: 60 °C down to frozen_limit (about -16 °C for a usual mix).
    Raises: OutsideRange, CalculationError for a mix with nothing dissolved.
    Source: Guelph freezing curve calculation after Leighton, 1927 (see the module), solved exactly: between rows of
        the table both depressions are lines.

    >>> round(frozen_at(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4), -5), 1)
    45.7
    """
    start, (_most, coldest) = _started(mix), frozen_limit(mix)
    # The end of the table, worked out two ways, may differ in the last digits.
    temperature = within("temperature", temperature_c, coldest - 1e-9, 60, "°C")
    if temperature >= start.temperature_c:
        return 0.0
    both = TABLE_C + start.salts_c * TABLE_G / start.equivalents_in_water
    in_water = float(np.interp(-temperature, both, TABLE_G))
    return max(0.0, 100 * (1 - start.equivalents_in_water / in_water))


def freezing_curve(mix: Mix, points: int = 60) -> tuple[FloatArray, FloatArray]:
    """The freezing curve: temperatures [°C], falling, and percent of the water frozen at each; both of shape (points,).

    It runs from the start of freezing to frozen_limit, evenly in percent frozen.

    mix: parts [g/100 g].
    points: how many.

    Range: 2 to 2000 points.
    Raises: OutsideRange, CalculationError for a mix with nothing dissolved.
    Source: as temperature_at.

    >>> curve_c, frozen = freezing_curve(Mix(60, msnf=10, sucrose=16), 5)
    >>> bool((curve_c[1:] < curve_c[:-1]).all() and frozen[0] == 0)
    True
    """
    within("points", points, 2, 2000)
    frozen = np.linspace(0, frozen_limit(mix)[0], int(points))
    return np.array([temperature_at(mix, float(one)) for one in frozen]), frozen


@dataclass(frozen=True, slots=True)
class Draw:
    """What a draw temperature says.

    `frozen_percent` [% of the water], `ice_percent` [% of the mix by mass], `start_c` start of freezing [°C]; `met`
    whether the wanted range of the plan is kept (None: none given) and `margin` the distance to its nearest end
    [% of the water], negative outside.
    """

    temperature_c: float
    frozen_percent: float
    ice_percent: float
    start_c: float
    met: bool | None = None
    margin: float | None = None


def draw(
    mix: Mix, temperature_c: float, wanted_low: float | None = None, wanted_high: float | None = None
) -> Draw:  # fmt: skip
    """How much of the water is ice when the product leaves the freezer, held against the plan's wanted range.

    It says how well the freezer froze, nothing about safety: freezing kills no pathogen.

    mix: parts [g/100 g].
    temperature_c: draw temperature [°C].
    wanted_low, wanted_high: the plan's range [% of the water], either may be left out.

    Range: as frozen_at; wanted 0 to 100 %.
    Raises: OutsideRange; Infeasible when wanted_low is above wanted_high.
    Source: as frozen_at. A draw at -5 to -6 °C is usual (common practice, no source).

    >>> found = draw(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4), -5.5, 45, 55)
    >>> round(found.frozen_percent, 1), found.met
    (50.2, True)
    """
    for wanted in (wanted_low, wanted_high):
        if wanted is not None:
            within("wanted share of ice", wanted, 0, 100, "%")
    if wanted_low is not None and wanted_high is not None and wanted_low > wanted_high:
        raise Infeasible(_("the lower end of the wanted range is above its upper end"), "wanted share of ice")
    frozen = frozen_at(mix, temperature_c)
    distances = [frozen - wanted_low] if wanted_low is not None else []
    distances += [wanted_high - frozen] if wanted_high is not None else []
    margin = min(distances, default=None)
    ice = frozen * mix.water / 100
    met = None if margin is None else margin >= 0
    return Draw(float(temperature_c), frozen, ice, freezing_point(mix).temperature_c, met, margin)


def _started(mix: Mix) -> FreezingPoint:
    start = freezing_point(mix)
    if start.equivalents_in_water <= 0:
        raise CalculationError(_("nothing is dissolved in the water: it freezes at one temperature"))
    if start.equivalents_in_water >= HIGHEST_G:
        raise OutsideRange("sucrose equivalents in 100 g of water", start.equivalents_in_water, 0, HIGHEST_G, "g")
    return start
