"""Density and viscosity of milk, cream and ice-cream mix, and pounds a gallon."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Final

import numpy as np

from plant.process.errors import CalculationError, within
from plant.process.said import say as _
from plant.process.units import exact

_LB_GAL_KG_M3: Final = float(exact(Decimal(1), "lb/gal", "kg/m3"))


@dataclass(frozen=True, slots=True)
class TabulatedDensity:
    """A row of the table: fat and solids-not-fat [% by mass], densities [kg/L] at TABLE_C, where the row was seen."""

    fat_percent: float
    snf_percent: float
    kg_l: tuple[float, float, float, float]
    basis: str


TABLE_C: Final = (4.4, 10.0, 20.0, 38.9)
_COPY, _MEMORY = "text consulted (copy)", "from memory"
# University of Guelph dairy text, table of densities of milk products; a copy was read at
# https://bsci-ch.org/what-is-the-density-of-milk/
TABULATED: Final[Mapping[str, TabulatedDensity]] = MappingProxyType(
    {
        "producer milk": TabulatedDensity(4.00, 8.95, (1.035, 1.033, 1.030, 1.023), _COPY),
        "homogenized milk": TabulatedDensity(3.60, 8.60, (1.033, 1.032, 1.029, 1.022), _COPY),
        "skim milk": TabulatedDensity(0.02, 8.90, (1.036, 1.035, 1.033, 1.026), _MEMORY),
        "fortified skim milk": TabulatedDensity(0.02, 10.15, (1.041, 1.040, 1.038, 1.031), _COPY),
        "half-and-half": TabulatedDensity(12.25, 7.75, (1.027, 1.025, 1.020, 1.010), _MEMORY),
        "fortified half-and-half": TabulatedDensity(11.30, 8.90, (1.031, 1.030, 1.024, 1.014), _MEMORY),
        "light cream": TabulatedDensity(20.00, 7.20, (1.021, 1.018, 1.012, 1.000), _COPY),
        "heavy cream": TabulatedDensity(36.60, 5.55, (1.008, 1.005, 0.994, 0.978), _MEMORY),
    }
)


def tabulated_density_kg_m3(product: str, temperature_c: float) -> float:
    """The density of a usual product by a printed table [kg/m3], on a line between its two nearest temperatures.

    There is no answer between two products: they differ in fat and in solids-not-fat at once.

    product: a key of TABULATED, as "light cream".
    temperature_c: [°C].

    Range: 4.4 to 38.9 °C. Printed to 0.001 kg/L.
    Raises: OutsideRange; CalculationError for a product that is not in the table.
    Source: University of Guelph dairy text, densities of milk products (copy at
        https://bsci-ch.org/what-is-the-density-of-milk/; half of the rows from memory, see TABULATED).

    >>> round(tabulated_density_kg_m3("light cream", 10), 1)
    1018.0
    """
    if product not in TABULATED:
        raise CalculationError(_("%(name)s is not one of: %(known)s", name=product[:40], known=", ".join(TABULATED)))
    within("temperature", temperature_c, TABLE_C[0], TABLE_C[-1], "°C")
    return float(np.interp(temperature_c, TABLE_C, TABULATED[product].kg_l)) * 1000


def cold_milk_density_kg_m3(fat_percent: float, snf_percent: float, temperature_c: float) -> float:
    """The density of cold milk from its fat and solids-not-fat [kg/m3].

    1.003073 - 0.000179 t - 0.000368 F + 0.00374 N kg/L.

    fat_percent: F [% by mass].
    snf_percent: N, solids-not-fat [% by mass].
    temperature_c: t [°C].

    Range: 0.95 to 10 °C, fat 0 to 7 %, solids-not-fat 7 to 11 %. Within 0.001 kg/L of the table for milk.
        Not for cream: use cold_cream_density_kg_m3.
    Raises: OutsideRange.
    Source: Watson and Tittsler, The density of milk at low temperatures, J. Dairy Sci. 44:416, 1961 (from memory).

    >>> round(cold_milk_density_kg_m3(4.0, 8.95, 4.4), 1)
    1034.3
    """
    fat = within("fat", fat_percent, 0, 7, "%")
    snf = within("solids-not-fat", snf_percent, 7, 11, "%")
    temperature = within("temperature", temperature_c, 0.95, 10, "°C")
    return 1000 * (1.003073 - 0.000179 * temperature - 0.000368 * fat + 0.00374 * snf)


def cold_cream_density_kg_m3(fat_percent: float) -> float:
    """The density of cream at 9.85 °C, and at no other temperature [kg/m3]: 1.03123 - 0.000770 F kg/L.

    fat_percent: F [% by mass].

    Range: fat 20 to 50 %.
    Raises: OutsideRange.
    Source: line through 57 samples of cream
        (https://paperexplained.cn/articles/paper/detail/ab451f2680a9278ab558ecac112008d704521e6e).

    >>> round(cold_cream_density_kg_m3(30), 2)
    1008.13
    """
    return 1000 * (1.03123 - 0.000770 * within("fat", fat_percent, 20, 50, "%"))


def density_20c_kg_m3(fat_percent: float, protein_percent: float, lactose_percent: float, rest_percent: float) -> float:
    """The density of milk or cream at 20 °C from its components [kg/m3], water making up the rest.

    1/rho = sum of (mass fraction / density): fat 918, protein 1400, lactose 1780, rest 1850, water 998.2 kg/m3.
    The fat is liquid in it: cream whose fat is partly solid is heavier, by 3 kg/m3 for 20 % fat in the table.

    fat_percent, protein_percent, lactose_percent: [% by mass].
    rest_percent: ash, organic acids and what else is dissolved [% by mass].

    Range: 20 °C only; each part 0 % and more, together at most 60 %.
    Raises: OutsideRange.
    Source: Walstra, Wouters and Geurts, Dairy Science and Technology, 2nd ed., density (from memory).

    >>> round(density_20c_kg_m3(3.5, 3.3, 4.7, 0.85), 1)
    1030.1
    """
    parts = (
        (within("fat", fat_percent, 0, 60, "%"), 918.0),
        (within("protein", protein_percent, 0, 60, "%"), 1400.0),
        (within("lactose", lactose_percent, 0, 60, "%"), 1780.0),
        (within("rest", rest_percent, 0, 60, "%"), 1850.0),
    )
    solids = within("solids together", math.fsum(part for part, _density in parts), 0, 60, "%")
    return 100 / (math.fsum(part / density for part, density in parts) + (100 - solids) / 998.2)


def mix_density_kg_m3(fat_percent: float, total_solids_percent: float) -> float:
    """The density of ice-cream mix without air [kg/m3]: 1/(1.075 F + 0.63 (TS - F) + W) kg/L, mass fractions.

    fat_percent: F [% by mass].
    total_solids_percent: TS, fat included; the water W is what remains [% by mass].

    Range: fat 0 to 25 %, total solids 20 to 50 % and not below the fat. No temperature is stated with the formula:
        weigh a measured volume where it matters.
    Raises: OutsideRange.
    Source: ice-cream course text, mix density (https://www.scribd.com/document/495662971/Overrun-calculations);
        some copies use 1.07527 and 0.6329.

    >>> round(mix_density_kg_m3(12, 38.3), 1)
    1096.9
    """
    fat = within("fat", fat_percent, 0, 25, "%")
    solids = within("total solids", total_solids_percent, max(20.0, fat), 50, "%")
    return 1000 / ((1.075 * fat + 0.63 * (solids - fat) + 100 - solids) / 100)


def pounds_per_gallon(density_kg_m3: float) -> float:
    """A density in pounds a US gallon [lb/gal].

    density_kg_m3: [kg/m3].

    Range: 1 to 3000 kg/m3.
    Raises: OutsideRange.
    Source: by definition: 1 lb = 0.45359237 kg, 1 gal = 231 cubic inches.

    >>> round(pounds_per_gallon(1033), 3)
    8.621
    """
    return within("density", density_kg_m3, 1, 3000, "kg/m3") / _LB_GAL_KG_M3


def density_of_pounds_per_gallon_kg_m3(pounds: float) -> float:
    """The density of what weighs so many pounds a US gallon [kg/m3].

    pounds: [lb/gal].

    Range: 0.005 to 25 lb/gal.
    Raises: OutsideRange.
    Source: by definition: 1 lb = 0.45359237 kg, 1 gal = 231 cubic inches.

    >>> round(density_of_pounds_per_gallon_kg_m3(8.6), 1)
    1030.5
    """
    return within("weight of a gallon", pounds, 0.005, 25, "lb/gal") * _LB_GAL_KG_M3


def milk_viscosity_mpas(fat_percent: float, temperature_c: float) -> float:
    """The viscosity of milk and cream [mPa s, the same as cP]: ln mu = -8.9 + 0.1 F + 2721.5 / (t + 273.15).

    fat_percent: F [% by mass].
    temperature_c: t [°C].

    Range: 0 to 30 °C, fat 0.1 to 30 %. Measured were 1 to 60 mPa s: richer cream is refused, and so are sour or
        thickened products, whose viscosity depends on the shear.
    Raises: OutsideRange.
    Source: Bakshi and Smith, J. Dairy Sci. 67:1157, 1984
        (https://experts.umn.edu/en/publications/effect-of-fat-content-and-temperature-on-viscosity-in-relation-to).

    >>> round(milk_viscosity_mpas(3.5, 4), 2), round(milk_viscosity_mpas(3.5, 20), 2)
    (3.56, 2.08)
    """
    fat = within("fat", fat_percent, 0.1, 30, "%")
    kelvin = within("temperature", temperature_c, 0, 30, "°C") + 273.15
    return math.exp(-8.9 + 0.1 * fat + 2721.5 / kelvin)
