"""Heat in ice cream and what conducts it, as tables over temperature: heat content, conductivity, density.

The heat content (enthalpy) counts the water that turns to ice on the way down, so that no heat is lost between steps.
Components: Choi and Okos, 1986 (plant.process.properties). Ice: the freezing curve of the mix as far as its table goes,
and below it the share that grows as 1 - Tf/T (Schwartzberg 1976; ASHRAE Handbook Refrigeration, thermal properties of
foods; from memory), scaled to meet the curve where it ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, within
from plant.process.freezing import Mix, freezing_point, frozen_at, frozen_limit
from plant.process.overrun import air_percent, product_density_kg_m3
from plant.process.properties import (
    Composition,
    component_conductivity_w_mk,
    component_density_kg_m3,
    component_specific_heat_kj_kgk,
)
from plant.process.said import say as _

COLDEST_C, WARMEST_C = -40.0, 30.0
LATENT_KJ_KG: Final = 333.43  # ice at 0 °C, IAPWS R10-06(2009) (from memory)
AIR_W_MK: Final = 0.024  # air at 0 °C (from memory); it changes by a tenth down to -35 °C, the product by a thousandth
# Of milk solids-not-fat and of sweet whey solids: protein, lactose, ash (common practice, no source); the lactose is
# the same share as in the freezing curve.
_MSNF, _WHEY = (0.365, 0.545, 0.090), (0.130, 0.765, 0.105)


class Conduction(StrEnum):
    """How ice and the liquid around it conduct together.

    Maxwell and Eucken: ice crystals apart from each other in the liquid; the least that the mixture can conduct
    (Hashin and Shtrikman, 1962), so the longest time. Parallel: ice and liquid side by side along the heat's way, the
    most it can conduct, so the shortest time. The truth lies between.
    """

    MAXWELL_EUCKEN = "Maxwell-Eucken"
    PARALLEL = "parallel"


@dataclass(frozen=True, slots=True, eq=False)
class HeatTable:
    """What a product holds and conducts, at temperatures that rise, all arrays of one shape (n,), n at least 2.

    `temperature_c` [°C], `enthalpy_kj_kg` [kJ/kg] rising with it, `conductivity_w_mk` [W/(m K)], `density_kg_m3` one
    number [kg/m3]. Between two rows both run on a line. Raises CalculationError for shapes or values that cannot be.
    """

    temperature_c: FloatArray
    enthalpy_kj_kg: FloatArray
    conductivity_w_mk: FloatArray
    density_kg_m3: float

    def __post_init__(self) -> None:
        """Refuse tables that are none."""
        within("density", self.density_kg_m3, 1, 5000, "kg/m3")
        columns = (self.temperature_c, self.enthalpy_kj_kg, self.conductivity_w_mk)
        if any(one.ndim != 1 or len(one) < 2 or len(one) != len(self.temperature_c) for one in columns):
            raise CalculationError(_("a table of heat needs at least two temperatures, and one value for each"))
        rising = (np.diff(self.temperature_c) > 0).all() and (np.diff(self.enthalpy_kj_kg) > 0).all()
        if not (all(np.isfinite(one).all() for one in columns) and rising and (self.conductivity_w_mk > 0).all()):
            raise CalculationError(_("temperature and heat of the table must rise, and the conductivity be above 0"))

    def heat_at(self, temperature_c: float) -> float:
        """The heat content at a temperature of the table [kJ/kg]. Raises OutsideRange."""
        low, high = float(self.temperature_c[0]), float(self.temperature_c[-1])
        at = within("temperature", temperature_c, low, high, "°C")
        return float(np.interp(at, self.temperature_c, self.enthalpy_kj_kg))


def constant_table(
    density_kg_m3: float,
    specific_heat_kj_kgk: float,
    conductivity_w_mk: float,
    low_c: float = -60.0,
    high_c: float = 150.0,
) -> HeatTable:
    """The table of a product whose properties do not change with temperature, heat counted from 0 °C.

    density_kg_m3: [kg/m3].
    specific_heat_kj_kgk: [kJ/(kg K)].
    conductivity_w_mk: [W/(m K)].
    low_c, high_c: the temperatures that it covers [°C].

    Range: all above 0, low_c below high_c.
    Raises: OutsideRange, CalculationError.
    Source: by definition.

    >>> constant_table(1000, 4.0, 0.5).heat_at(10)
    40.0
    """
    heat = within("specific heat", specific_heat_kj_kgk, 1e-6, 1e6, "kJ/(kg K)")
    temperatures = np.linspace(low_c, high_c, 2)
    conductivity = within("conductivity", conductivity_w_mk, 1e-6, 1e4, "W/(m K)")
    return HeatTable(temperatures, heat * temperatures, np.full(2, conductivity), density_kg_m3)


def mix_composition(mix: Mix, fat_percent: float, other_solids_percent: float = 0.0) -> Composition:
    """What a mix consists of as the heat properties want it [% by mass]: water, protein, fat, carbohydrate, ash.

    Milk solids-not-fat count as 36.5 % protein, 54.5 % lactose and 9 % ash, whey solids as 13, 76.5 and 10.5 %.

    mix: the water and what is dissolved [% by mass].
    fat_percent: [% by mass].
    other_solids_percent: stabilizer, emulsifier, yolk; counted as carbohydrate [% by mass].

    Range: all together 100 % within 0.5.
    Raises: OutsideRange, CalculationError.
    Source: common practice, no source (the lactose shares are those of the freezing curve).

    >>> round(mix_composition(Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4), 12).carbohydrate, 2)
    22.98
    """
    milk, whey = mix.msnf, mix.whey_solids
    protein, lactose, ash = (of_milk * milk + of_whey * whey for of_milk, of_whey in zip(_MSNF, _WHEY, strict=True))
    sugars = mix.sucrose + mix.corn_syrup_solids + mix.hfcs + mix.monosaccharides
    carbohydrate = lactose + sugars + within("other solids", other_solids_percent, 0, 60, "%")
    return Composition(water=mix.water, protein=protein, fat=fat_percent, carbohydrate=carbohydrate, ash=ash)


def ice_fraction(mix: Mix, temperature_c: float) -> float:
    """The share of the water that is ice [0 to 1], colder than the table of sucrose too.

    Down to the end of the freezing curve it is the curve. Below, it grows as 1 - Tf/T, scaled to meet the curve there.

    mix: the water and what is dissolved [% by mass].
    temperature_c: [°C].

    Range: -40 to 30 °C.
    Raises: OutsideRange, CalculationError.
    Source: freezing_curve; below it Schwartzberg, J. Food Sci. 41:152, 1976, as in ASHRAE Handbook Refrigeration,
        thermal properties of foods (from memory).

    >>> mix = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)
    >>> round(ice_fraction(mix, -5), 3), round(ice_fraction(mix, -18), 3)
    (0.457, 0.825)
    """
    temperature = within("temperature", temperature_c, COLDEST_C, WARMEST_C, "°C")
    most, end_c = frozen_limit(mix)
    if temperature >= end_c:
        return frozen_at(mix, temperature) / 100
    start_c = freezing_point(mix).temperature_c
    return most / 100 * (1 - start_c / temperature) / (1 - start_c / end_c)


def parallel_w_mk(conductivities_w_mk: FloatArray, volumes: FloatArray) -> float:
    """The conductivity of parts side by side along the way of the heat [W/(m K)]: sum of (volume share x k).

    conductivities_w_mk: of each part, shape (n,) [W/(m K)].
    volumes: their volumes, shape (n,) [any unit].

    Range: conductivities and the sum of the volumes above 0, volumes not below 0.
    Raises: CalculationError.
    Source: ASHRAE Handbook Refrigeration, thermal properties of foods, parallel model (from memory).

    >>> round(parallel_w_mk(np.array([0.5, 2.0]), np.array([1.0, 1.0])), 2)
    1.25
    """
    parts, sizes = np.asarray(conductivities_w_mk, dtype=float), np.asarray(volumes, dtype=float)
    if parts.shape != sizes.shape or not ((parts > 0).all() and (sizes >= 0).all() and sizes.sum() > 0):
        raise CalculationError(_("each part needs a conductivity above 0 and a volume"))
    return float((parts * sizes).sum() / sizes.sum())


def maxwell_eucken_w_mk(continuous_w_mk: float, dispersed_w_mk: float, dispersed_share: float) -> float:
    """The conductivity of a body with separate round pieces of another in it [W/(m K)].

    k = kc (2 kc + kd - 2 e (kc - kd))/(2 kc + kd + e (kc - kd)).

    continuous_w_mk: kc, of what lies around [W/(m K)].
    dispersed_w_mk: kd, of the pieces [W/(m K)].
    dispersed_share: e, their share of the volume [0 to 1].

    Range: conductivities above 0, share 0 to 1.
    Raises: OutsideRange.
    Source: Maxwell, 1873; Eucken, 1940, as in ASHRAE Handbook Refrigeration, thermal properties of foods (from memory).

    >>> round(maxwell_eucken_w_mk(1.0, 0.024, 0.5), 3)
    0.417
    """
    around = within("conductivity", continuous_w_mk, 1e-6, 1e4, "W/(m K)")
    pieces = within("conductivity", dispersed_w_mk, 1e-6, 1e4, "W/(m K)")
    lack = within("share of the pieces", dispersed_share, 0, 1) * (around - pieces)
    return around * (2 * around + pieces - 2 * lack) / (2 * around + pieces + lack)


def ice_cream_table(
    mix: Mix,
    composition: Composition,
    mix_density_kg_m3: float,
    overrun_percent: float,
    conduction: Conduction = Conduction.MAXWELL_EUCKEN,
) -> HeatTable:
    """The heat and conductivity of ice cream from -40 to 30 °C.

    Heat content: solids, water and ice by their specific heats, ice 333.43 kJ/kg below water at 0 °C. Conductivity:
    the unfrozen parts side by side; ice in it by `conduction`; air as bubbles by Maxwell and Eucken. The density is
    that at the freezer and does not change; particulates, fat that hardens and air that shrinks are left out.

    mix: the water and what is dissolved [% by mass].
    composition: of the same mix, without ice, with the same water (mix_composition) [% by mass].
    mix_density_kg_m3: mix without air [kg/m3].
    overrun_percent: [%].
    conduction: the model for ice in the liquid.

    Range: as Mix, Composition and product_density_kg_m3; water of both equal within 0.5 %.
    Raises: OutsideRange, CalculationError.
    Source: Choi and Okos, 1986, for the components; the module for ice; latent heat IAPWS R10-06 (from memory).

    >>> mix = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)
    >>> table = ice_cream_table(mix, mix_composition(mix, 12), 1097, 100)
    >>> round(table.density_kg_m3, 1), round(table.heat_at(-5) - table.heat_at(-18))
    (548.5, 99)
    """
    if abs(mix.water - composition.water) > 0.5 or composition.ice > 0:
        raise CalculationError(_("the composition must have the water of the mix, none of it frozen"))
    model = Conduction(conduction)
    bubbles = air_percent(overrun_percent) / 100
    grid = _grid(freezing_point(mix).temperature_c, frozen_limit(mix)[1])
    frozen = np.array([ice_fraction(mix, float(one)) for one in grid])
    parts = composition.fractions()
    water = parts.pop("water")
    heat = water * ((1 - frozen) * _heat("water", grid) + frozen * (_heat("ice", grid) - LATENT_KJ_KG))
    for name, share in parts.items():
        heat = heat + share * _heat(name, grid)
    conductivity = np.array(
        [
            maxwell_eucken_w_mk(_condensed(water, float(ice), parts, float(at), model), AIR_W_MK, bubbles)
            for at, ice in zip(grid, frozen, strict=True)
        ]
    )
    return HeatTable(grid, heat, conductivity, product_density_kg_m3(mix_density_kg_m3, overrun_percent))


def with_conductivity(table: HeatTable, factor: float) -> HeatTable:
    """The same product conducting so many times as well, to see what that uncertainty does.

    table: the product.
    factor: on the conductivity.

    Range: 0.1 to 10.
    Raises: OutsideRange.
    Source: by definition.

    >>> float(with_conductivity(constant_table(1000, 4.0, 0.5), 2).conductivity_w_mk[0])
    1.0
    """
    return replace(table, conductivity_w_mk=table.conductivity_w_mk * within("factor", factor, 0.1, 10))


def _grid(start_c: float, end_c: float) -> FloatArray:
    """Temperatures, close together where most of the ice forms, with both ends of the freezing curve among them."""
    steps = (
        np.arange(COLDEST_C, -12, 0.25),
        np.arange(-12, start_c, 0.05),
        np.arange(start_c, WARMEST_C, 0.5),
        np.array([end_c, 0.0, WARMEST_C]),
    )
    grid = np.unique(np.concatenate(steps))
    kept = np.concatenate(([True], np.diff(grid) > 1e-6))
    return grid[kept]


def _heat(component: str, grid: FloatArray) -> FloatArray:
    """The sensible heat of a component from 0 °C [kJ/kg], by trapezoids of its specific heat."""
    at = np.array(
        [component_specific_heat_kj_kgk(component, min(float(one), 0.0 if component == "ice" else 1e9)) for one in grid]
    )
    rising = np.concatenate(([0.0], np.cumsum(np.diff(grid) * (at[1:] + at[:-1]) / 2)))
    return np.asarray(rising - np.interp(0.0, grid, rising))


def _condensed(water: float, ice: float, solids: dict[str, float], at: float, model: Conduction) -> float:
    """The conductivity of the mix without air at a temperature, part of its water frozen."""
    masses = {"water": water * (1 - ice), **solids}
    volumes = np.array([mass / component_density_kg_m3(name, at) for name, mass in masses.items()])
    conductivities = np.array([component_conductivity_w_mk(name, at) for name in masses])
    liquid, room = parallel_w_mk(conductivities, volumes), float(volumes.sum())
    if ice <= 0:
        return liquid
    crystals = water * ice / component_density_kg_m3("ice", at)
    crystal = component_conductivity_w_mk("ice", at)
    if model is Conduction.PARALLEL:
        return parallel_w_mk(np.array([liquid, crystal]), np.array([room, crystals]))
    return maxwell_eucken_w_mk(liquid, crystal, crystals / (room + crystals))
