"""Liquid water at atmospheric pressure, and the temperature at which it boils."""

from __future__ import annotations

import math
from typing import Final

from plant.process.errors import OutsideRange, within

# IAPWS SR6-08(2011), table 1 and equations (1) to (8), reference pressure 0.1 MPa (from memory).
_GAS: Final = 461.51805  # J/(kg K)
_SCALE_K: Final = 10.0
_REFERENCE_PA: Final = 1e5
_ATMOSPHERE_PA: Final = 101_325.0
# Isothermal compressibility, 1/Pa: 4.4e-10 to 5.1e-10 from 0 to 100 °C. Over the 1.325 kPa between reference and
# standard atmosphere the choice of one value moves the density by less than 0.0001 kg/m3.
_COMPRESSIBILITY: Final = 4.6e-10
# (coefficient, power) of alpha = 10 K / (593 K - T) and of beta = 10 K / (T - 232 K).
_VOLUME_ALPHA: Final = (
    (6.74458446e3, 4), (-2.22521604e5, 5), (1.00231247e8, 7), (-1.63552118e9, 8), (8.32299658e9, 9),
)  # fmt: skip
_VOLUME_BETA: Final = (
    (5.78545292e-3, 1), (-1.53195665e-2, 2), (3.11337859e-2, 3),
    (-4.23546241e-2, 4), (3.38713507e-2, 5), (-1.19946761e-2, 6),
)  # fmt: skip
_VOLUME_CONSTANT: Final = 1.93763157e-2
_HEAT_ALPHA: Final = ((-1.661470539e5, 4), (2.708781640e6, 5), (-1.557191544e8, 7))
_HEAT_BETA: Final = ((-8.237426256e-1, 2), (1.908956353, 3), (-2.017597384, 4), (8.546361348e-1, 5))
_HEAT_CONSTANT: Final = -8.983025854
# (coefficient, power) of T / 300 K.
_VISCOSITY: Final = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
_CONDUCTIVITY: Final = ((1.6630, -1.15), (-1.7781, -3.4), (1.1567, -6.0), (-0.432115, -7.6))

# IAPWS-IF97, region 4, table 34 (from memory).
_SATURATION: Final = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
_LEAST_KPA, _CRITICAL_KPA, _CRITICAL_C = 0.611213, 22_064.0, 373.946
_END: Final = 1e-6  # the pressures of both ends are printed rounded


def water_density_kg_m3(temperature_c: float) -> float:
    """The density of liquid water at 101.325 kPa [kg/m3].

    temperature_c: [°C].

    Range: 0 to 100 °C. Within 0.0002 kg/m3 of IAPWS-95 there (tested); no dissolved air.
    Raises: OutsideRange.
    Source: IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation (2) (from memory), brought to the standard atmosphere.

    >>> round(water_density_kg_m3(20), 3)
    998.207
    """
    kelvin = _kelvin(temperature_c)
    alpha, beta = _alpha(kelvin), _beta(kelvin)
    terms = sum(a * alpha**n for a, n in _VOLUME_ALPHA) + sum(b * beta**m for b, m in _VOLUME_BETA)
    volume = _GAS * _SCALE_K / _REFERENCE_PA * (_VOLUME_CONSTANT + terms)
    return 1 / (volume * (1 - _COMPRESSIBILITY * (_ATMOSPHERE_PA - _REFERENCE_PA)))


def water_specific_heat_kj_kgk(temperature_c: float) -> float:
    """The specific heat of liquid water at constant pressure, 0.1 MPa [kJ/(kg K)].

    temperature_c: [°C].

    Range: 0 to 100 °C. Within 0.005 % of IAPWS-95 there (tested).
    Raises: OutsideRange.
    Source: IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation (5) (from memory).

    >>> round(water_specific_heat_kj_kgk(20), 3)
    4.184
    """
    kelvin = _kelvin(temperature_c)
    alpha, beta = _alpha(kelvin), _beta(kelvin)
    terms = sum(n * (n + 1) * a * alpha ** (n + 2) for a, n in _HEAT_ALPHA)
    terms += sum(m * (m + 1) * b * beta ** (m + 2) for b, m in _HEAT_BETA)
    return -_GAS * (_HEAT_CONSTANT + kelvin / _SCALE_K * terms) / 1000


def water_viscosity_mpas(temperature_c: float) -> float:
    """The dynamic viscosity of liquid water at 0.1 MPa [mPa s, the same as cP].

    temperature_c: [°C].

    Range: 0 to 100 °C. Within 0.005 % of the IAPWS formulation of 2008 there (tested).
    Raises: OutsideRange.
    Source: IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation (7) (from memory).

    >>> round(water_viscosity_mpas(20), 4)
    1.0016
    """
    reduced = _kelvin(temperature_c) / 300
    return math.fsum(a * reduced**b for a, b in _VISCOSITY) / 1000


def water_conductivity_w_mk(temperature_c: float) -> float:
    """The thermal conductivity of liquid water at 0.1 MPa [W/(m K)].

    temperature_c: [°C].

    Range: 0 to 100 °C. Within 0.005 % of the IAPWS formulation of 2011 there (tested).
    Raises: OutsideRange.
    Source: IAPWS SR6-08(2011), liquid water at 0.1 MPa, equation (8) (from memory).

    >>> round(water_conductivity_w_mk(25), 4)
    0.6065
    """
    reduced = _kelvin(temperature_c) / 300
    return math.fsum(c * reduced**d for c, d in _CONDUCTIVITY)


def boiling_point_c(pressure_kpa: float) -> float:
    """The temperature at which pure water boils at a pressure [°C].

    pressure_kpa: absolute pressure, at a barometer the station pressure, not the one reduced to sea level [kPa].

    Range: 0.611213 to 22,064 kPa, the pressures of 0 to 373.946 °C; a millionth beyond is taken as rounding, so that
        vapor_pressure_kpa of either end comes back to it.
    Raises: OutsideRange.
    Source: IAPWS-IF97, region 4, equation (31) (from memory).

    >>> round(boiling_point_c(101.325), 2), round(boiling_point_c(90), 2)
    (99.97, 96.69)
    """
    pressure_mpa = within("pressure", pressure_kpa, unit="kPa") / 1000
    if not _LEAST_KPA * (1 - _END) <= pressure_kpa <= _CRITICAL_KPA * (1 + _END):
        raise OutsideRange("pressure", pressure_kpa, _LEAST_KPA, _CRITICAL_KPA, "kPa")
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SATURATION
    beta = math.sqrt(math.sqrt(pressure_mpa))
    e, f, g = beta**2 + n3 * beta + n6, n1 * beta**2 + n4 * beta + n7, n2 * beta**2 + n5 * beta + n8
    d = 2 * g / (-f - math.sqrt(f**2 - 4 * e * g))
    celsius = (n10 + d - math.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2 - 273.15
    return min(max(celsius, 0.0), _CRITICAL_C)


def vapor_pressure_kpa(temperature_c: float) -> float:
    """The pressure at which pure water boils at a temperature [kPa, absolute].

    temperature_c: [°C].

    Range: 0 to 373.946 °C.
    Raises: OutsideRange.
    Source: IAPWS-IF97, region 4, equation (30) (from memory).

    >>> round(vapor_pressure_kpa(100), 3)
    101.418
    """
    kelvin = within("temperature", temperature_c, 0, _CRITICAL_C, "°C") + 273.15
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SATURATION
    theta = kelvin + n9 / (kelvin - n10)
    a, b, c = theta**2 + n1 * theta + n2, n3 * theta**2 + n4 * theta + n5, n6 * theta**2 + n7 * theta + n8
    return 1000 * (2 * c / (-b + math.sqrt(b**2 - 4 * a * c))) ** 4


def _kelvin(temperature_c: float) -> float:
    return within("water temperature", temperature_c, 0, 100, "°C") + 273.15


def _alpha(kelvin: float) -> float:
    return _SCALE_K / (593 - kelvin)


def _beta(kelvin: float) -> float:
    return _SCALE_K / (kelvin - 232)
