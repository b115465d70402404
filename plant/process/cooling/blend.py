"""What warm milk does to cold milk: the blend temperature, and how much may be added."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from plant.process.errors import CalculationError, Infeasible, within
from plant.process.said import say as _

_LEAST_KG: Final = 1e-3


def blend_temperature_c(
    masses_kg: Iterable[float], temperatures_c: Iterable[float], specific_heats: Iterable[float] | None = None
) -> float:
    """What milk of several temperatures comes to when mixed, without heat from outside [°C]: sum(m c T)/sum(m c).

    masses_kg: [kg].
    temperatures_c: one for each [°C].
    specific_heats: one for each, in one unit [kJ/(kg K)]; None: alike, as for milk and milk.

    Range: masses of 1 g and more; specific heats 0.1 to 10 kJ/(kg K); 0 to 100 °C, so that nothing freezes or boils.
    Raises: OutsideRange; CalculationError for lists of different length or none.
    Source: heat balance, by definition.

    >>> blend_temperature_c([1000, 500], [4, 10])
    6.0
    """
    masses, temperatures = list(masses_kg), list(temperatures_c)
    heats = [1.0] * len(masses) if specific_heats is None else list(specific_heats)
    if not masses or not len(masses) == len(temperatures) == len(heats):
        raise CalculationError(_("a blend needs a mass and a temperature for each part"))
    capacity = heat = 0.0
    for mass, temperature, specific in zip(masses, temperatures, heats, strict=True):
        share = within("mass", mass, _LEAST_KG, None, "kg") * within("specific heat", specific, 0.1, 10, "kJ/(kg K)")
        capacity += share
        heat += share * within("temperature", temperature, 0, 100, "°C")
    return heat / capacity


def most_warm_milk_kg(in_tank_kg: float, in_tank_c: float, added_c: float, limit_c: float) -> float:
    """How much warm milk a tank of cold milk takes before the blend passes a limit, without cooling meanwhile [kg].

    m (limit - tank)/(added - limit); alike specific heats, well mixed.

    in_tank_kg: milk in the tank [kg].
    in_tank_c, added_c, limit_c: temperatures of the tank, of what is added, and of the limit [°C].

    Range: mass of 1 g and more; 0 to 100 °C.
    Raises: OutsideRange; Infeasible when the tank is above the limit already, and when what is added is not warmer
        than the limit, so that there is no most.
    Source: heat balance, by definition; the limit for blends is 50 °F, PMO Table 1 (a textbook's copy was read:
        https://issuhub.com/view/index/5299?pageIndex=392).

    >>> most_warm_milk_kg(1000, 4, 34, 10)
    250.0
    """
    mass = within("mass", in_tank_kg, _LEAST_KG, None, "kg")
    tank, added = within("temperature", in_tank_c, 0, 100, "°C"), within("temperature", added_c, 0, 100, "°C")
    limit = within("limit", limit_c, 0, 100, "°C")
    if added <= limit:
        raise Infeasible(
            _("what is added is not warmer than the limit: no amount of it takes the blend beyond"), "blend", limit
        )
    if tank > limit:
        raise Infeasible(
            _("the tank at %(tank)s °C is above the limit already", tank=f"{tank:g}"), "blend", limit, tank, added, "°C"
        )
    return mass * (limit - tank) / (added - limit)
