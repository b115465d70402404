"""The boiling point of water at an altitude: the upper fixed point of a thermometer check where no barometer is."""

from __future__ import annotations

from plant.process.errors import within
from plant.process.properties import boiling_point_c
from plant.process.said import say as _

# The lower layer of the standard atmosphere: 101.325 kPa and 288.15 K at sea level, 6.5 K/km; 2.25577e-5 is
# 0.0065/288.15 and 5.25588 is 9.80665/(287.053 x 0.0065), as tables of it print them.
_LAPSE_PER_M, _EXPONENT, _SEA_LEVEL_KPA = 2.25577e-5, 5.25588, 101.325


def standard_pressure_kpa(altitude_m: float) -> float:
    """Pressure [kPa] of the standard atmosphere at `altitude_m` above sea level [m].

    Weather moves the real pressure by 3 kPa and more: read a barometer at the place where you can.

    Range: -500 to 11,000 m (its lowest layer).
    Raises: OutsideRange.
    Source: International Standard Atmosphere (ISO 2533:1975), lowest layer, constants as printed (from memory).

    >>> round(standard_pressure_kpa(500), 3)
    95.461
    """
    altitude = within(_("altitude"), altitude_m, -500, 11_000, "m")
    return float(_SEA_LEVEL_KPA * (1 - _LAPSE_PER_M * altitude) ** _EXPONENT)


def boiling_point_at_altitude_c(altitude_m: float) -> float:
    """Boiling point of pure water [°C] at `altitude_m` [m] in the standard atmosphere.

    Caution: weather moves the boiling point by about 1 °C; prefer boiling_point_c with the day's station pressure.

    Range: -500 to 11,000 m.
    Raises: OutsideRange.
    Source: ISO 2533:1975 for the pressure; IAPWS-IF97, region 4, equation (31) (both from memory).

    >>> round(boiling_point_at_altitude_c(1500), 2)
    94.98
    """
    return boiling_point_c(standard_pressure_kpa(altitude_m))
