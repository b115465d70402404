"""Density, specific heat and thermal conductivity of a food from its composition: Choi and Okos, 1986.

M. Y. Choi and M. R. Okos, "Effects of temperature and composition on the thermal properties of foods", in Food
Engineering and Process Applications, vol. 1, 1986. The coefficients were read in a scanned textbook with errors
(https://www.scribd.com/document/496001891/propiedades-alimentos-Ibarz) and in an open library, and checked against
memory; those of fiber and of the specific heat of water below 0 °C are from memory alone.

Its water is 2.5 kg/m3 light at 20 °C, and milk comes out about 6 kg/m3 light. Use it for heat; use the densities of
milk and cream in this package for weight.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import say as _

COMPONENTS: Final = ("water", "protein", "fat", "carbohydrate", "ash", "fiber", "ice")
# Percents are printed to one decimal; seven of them may miss 100 by this much and mean the same.
SUM_TOLERANCE: Final = 0.5
_LOWEST_C, _HIGHEST_C = -40.0, 150.0

# Constant, T and T squared, T in °C.
_Quadratic = tuple[float, float, float]
_DENSITY: Final[dict[str, _Quadratic]] = {
    "water": (997.18, 3.1439e-3, -3.7574e-3),
    "protein": (1329.9, -0.5184, 0.0),
    "fat": (925.59, -0.41757, 0.0),
    "carbohydrate": (1599.1, -0.31046, 0.0),
    "ash": (2423.8, -0.28063, 0.0),
    "fiber": (1311.5, -0.36589, 0.0),
    "ice": (916.89, -0.13071, 0.0),
}
_SPECIFIC_HEAT: Final[dict[str, _Quadratic]] = {
    # 4.1762 in the paper; some later printings have 4.1289, which is 1 % below what water has.
    "water": (4.1762, -9.0864e-5, 5.4731e-6),
    "protein": (2.0082, 1.2089e-3, -1.3129e-6),
    "fat": (1.9842, 1.4733e-3, -4.8008e-6),
    "carbohydrate": (1.5488, 1.9625e-3, -5.9399e-6),
    "ash": (1.0926, 1.8896e-3, -3.6817e-6),
    "fiber": (1.8459, 1.8306e-3, -4.6509e-6),  # from memory
    "ice": (2.0623, 6.0769e-3, 0.0),
}
_COLD_WATER_HEAT: Final[_Quadratic] = (4.0817, -5.3062e-3, 9.9516e-4)  # -40 to 0 °C, from memory
_CONDUCTIVITY: Final[dict[str, _Quadratic]] = {
    "water": (0.57109, 1.7625e-3, -6.7036e-6),
    "protein": (0.17881, 1.1958e-3, -2.7178e-6),
    "fat": (0.18071, -2.7604e-4, -1.7749e-7),
    "carbohydrate": (0.20141, 1.3874e-3, -4.3312e-6),
    "ash": (0.32962, 1.4011e-3, -2.9069e-6),
    "fiber": (0.18331, 1.2497e-3, -3.1683e-6),  # from memory
    "ice": (2.2196, -6.2489e-3, 1.0154e-4),
}


@dataclass(frozen=True, slots=True)
class Composition:
    """What a food consists of, in percent by mass. `water` is liquid, `ice` frozen; sugars are carbohydrate.

    The parts must add to 100 within 0.5; what printing rounded off is spread over them in proportion.
    Raises OutsideRange for a part outside 0 to 100, CalculationError for another sum.
    """

    water: float
    protein: float = 0.0
    fat: float = 0.0
    carbohydrate: float = 0.0
    ash: float = 0.0
    fiber: float = 0.0
    ice: float = 0.0

    def __post_init__(self) -> None:
        """Refuse parts that are none and sums that are not 100."""
        for one in fields(self):
            within(one.name, getattr(self, one.name), 0, 100, "%")
        total = self._total()
        if abs(total - 100) > SUM_TOLERANCE + 1e-9:
            raise CalculationError(
                _("the parts add to %(total)s %%, not to 100 %% within %(most)s", total=f"{total:g}", most="0.5")
            )

    def fractions(self) -> dict[str, float]:
        """The mass fraction of each part that there is; they add to 1."""
        total = self._total()
        return {name: part / total for name in COMPONENTS if (part := getattr(self, name)) > 0}

    def _total(self) -> float:
        return float(sum(getattr(self, name) for name in COMPONENTS))


def component_density_kg_m3(component: str, temperature_c: float) -> float:
    """The density of one component of food [kg/m3].

    component: "water", "protein", "fat", "carbohydrate", "ash", "fiber" or "ice".
    temperature_c: [°C].

    Range: -40 to 150 °C, ice -40 to 0 °C.
    Raises: OutsideRange; CalculationError for another component.
    Source: Choi and Okos, 1986 (see the module).

    >>> round(component_density_kg_m3("fat", 20), 2)
    917.24
    """
    return _at(_DENSITY, component, temperature_c)


def component_specific_heat_kj_kgk(component: str, temperature_c: float) -> float:
    """The specific heat of one component of food [kJ/(kg K)]. Heat of melting (ice, fat) is not in it.

    component: as component_density_kg_m3.
    temperature_c: [°C].

    Range: -40 to 150 °C, ice -40 to 0 °C. Water below 0 °C (not frozen) has an equation of its own, which misses the
        other at 0 °C by 2 %.
    Raises: OutsideRange; CalculationError for another component.
    Source: Choi and Okos, 1986 (see the module).

    >>> round(component_specific_heat_kj_kgk("water", 20), 4)
    4.1766
    """
    if component == "water" and temperature_c < 0:
        return _value(_COLD_WATER_HEAT, within("temperature", temperature_c, _LOWEST_C, _HIGHEST_C, "°C"))
    return _at(_SPECIFIC_HEAT, component, temperature_c)


def component_conductivity_w_mk(component: str, temperature_c: float) -> float:
    """The thermal conductivity of one component of food [W/(m K)]. Its water conducts up to 2 % more than water does.

    component: as component_density_kg_m3.
    temperature_c: [°C].

    Range: -40 to 150 °C, ice -40 to 0 °C.
    Raises: OutsideRange; CalculationError for another component.
    Source: Choi and Okos, 1986 (see the module).

    >>> round(component_conductivity_w_mk("water", 20), 4)
    0.6037
    """
    return _at(_CONDUCTIVITY, component, temperature_c)


def food_density_kg_m3(composition: Composition, temperature_c: float) -> float:
    """The density of a food without air [kg/m3]: 1/rho = sum of (mass fraction / density of the component).

    Known bias: its water is 995.74 kg/m3 at 20 °C (true 998.21), so milk comes out about 6 kg/m3 light. For weights
    and volumes use the densities of milk and cream; use this one with the heat properties of the same set.

    composition: percent by mass.
    temperature_c: [°C].

    Range: -40 to 150 °C; ice only up to 0 °C.
    Raises: OutsideRange.
    Source: Choi and Okos, 1986 (see the module); volumes add, by definition.

    >>> round(food_density_kg_m3(Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7), 20), 1)
    1023.6
    """
    return 1 / sum(_volumes(composition, temperature_c).values())


def specific_heat_kj_kgk(composition: Composition, temperature_c: float) -> float:
    """The specific heat of a food [kJ/(kg K)]: sum of (mass fraction x specific heat of the component).

    Sensible heat only. Ice that melts and milk fat that melts (about 10 to 35 °C) take more.

    composition: percent by mass.
    temperature_c: [°C].

    Range: -40 to 150 °C; ice only up to 0 °C.
    Raises: OutsideRange.
    Source: Choi and Okos, 1986 (see the module).

    >>> round(specific_heat_kj_kgk(Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7), 20), 3)
    3.884
    """
    return sum(
        share * component_specific_heat_kj_kgk(name, temperature_c) for name, share in composition.fractions().items()
    )


def thermal_conductivity_w_mk(composition: Composition, temperature_c: float) -> float:
    """The thermal conductivity of a food [W/(m K)]: sum of (volume fraction x conductivity of the component).

    composition: percent by mass.
    temperature_c: [°C].

    Range: -40 to 150 °C; ice only up to 0 °C.
    Raises: OutsideRange.
    Source: Choi and Okos, 1986 (see the module), parallel model.

    >>> round(thermal_conductivity_w_mk(Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7), 20), 3)
    0.564
    """
    volumes = _volumes(composition, temperature_c)
    whole = sum(volumes.values())
    return sum(volume / whole * component_conductivity_w_mk(name, temperature_c) for name, volume in volumes.items())


def thermal_diffusivity_m2_s(composition: Composition, temperature_c: float) -> float:
    """The thermal diffusivity of a food [m2/s]: conductivity / (density x specific heat), all of the same set.

    composition: percent by mass.
    temperature_c: [°C].

    Range: -40 to 150 °C; ice only up to 0 °C.
    Raises: OutsideRange.
    Source: by definition, from Choi and Okos, 1986 (see the module).

    >>> f"{thermal_diffusivity_m2_s(Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7), 20):.3e}"
    '1.419e-07'
    """
    heat_j = specific_heat_kj_kgk(composition, temperature_c) * 1000
    return thermal_conductivity_w_mk(composition, temperature_c) / (
        food_density_kg_m3(composition, temperature_c) * heat_j
    )


def _volumes(composition: Composition, temperature_c: float) -> dict[str, float]:
    """The volume of each part in one kilogram [m3]."""
    return {
        name: share / component_density_kg_m3(name, temperature_c) for name, share in composition.fractions().items()
    }


def _at(table: dict[str, _Quadratic], component: str, temperature_c: float) -> float:
    if component not in table:
        raise CalculationError(_("%(name)s is not one of: %(known)s", name=component[:40], known=", ".join(COMPONENTS)))
    if component == "ice" and temperature_c > 0:
        raise OutsideRange("temperature of ice", temperature_c, _LOWEST_C, 0, "°C")
    return _value(table[component], within("temperature", temperature_c, _LOWEST_C, _HIGHEST_C, "°C"))


def _value(coefficients: _Quadratic, temperature_c: float) -> float:
    constant, linear, square = coefficients
    return constant + linear * temperature_c + square * temperature_c**2
