"""Water against the IAPWS formulations, by their printed values and by two independent libraries."""

from __future__ import annotations

import math

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from iapws import IAPWS95, IAPWS97

from plant.process import properties

pytestmark = pytest.mark.once

KPA = 101.325


@pytest.mark.proves(
    "properties.water_density_kg_m3",
    by="published",
    source="IAPWS-95 at 0.101325 MPa, density (values computed from the formulation, http://www.iapws.org)",
)
@pytest.mark.proves(
    "properties.water_viscosity_mpas",
    by="published",
    source="IAPWS 2008 viscosity at 0.101325 MPa (values computed from it, http://www.iapws.org/relguide/viscosity.htm)",
)
@pytest.mark.parametrize(
    ("temperature_c", "kg_m3", "upas"),
    [
        (4, 999.975, 1567.3),
        (5, 999.967, 1518.2),
        (7, 999.904, 1427.0),
        (15, 999.103, 1137.6),
        (20, 998.207, 1001.6),
        (30, 995.649, 797.2),
        (60, 983.196, 466.0),
        (63, 981.626, 445.7),
        (72, 976.612, 392.7),
        (75, 974.843, 377.4),
        (80, 971.790, 354.1),
    ],
)
def test_density_and_viscosity_of_water(temperature_c, kg_m3, upas):
    """To the digits printed; the compact equation for viscosity may differ by 0.005 %."""
    assert properties.water_density_kg_m3(temperature_c) == pytest.approx(kg_m3, abs=0.00065)
    assert properties.water_viscosity_mpas(temperature_c) * 1000 == pytest.approx(upas, abs=0.05 + 5e-5 * upas)


@pytest.mark.proves(
    "properties.water_specific_heat_kj_kgk",
    by="published",
    source="IAPWS-95 at 0.101325 MPa, cp (values computed from the formulation, http://www.iapws.org)",
)
@pytest.mark.parametrize(
    ("temperature_c", "kj_kgk"),
    [(5, 4.2050), (15, 4.1885), (20, 4.184), (30, 4.1798), (60, 4.1850), (80, 4.1968)],
)
def test_specific_heat_of_water(temperature_c, kj_kgk):
    """To the digits printed, and 0.005 % of the compact equation."""
    assert properties.water_specific_heat_kj_kgk(temperature_c) == pytest.approx(kj_kgk, abs=0.0003)


@pytest.mark.proves(
    "properties.water_density_kg_m3",
    by="published",
    source="IAPWS SR6-08(2011), table of check values, 298.15 K: v 1.00296167e-3 m3/kg (from memory)",
)
@pytest.mark.proves(
    "properties.water_specific_heat_kj_kgk",
    by="published",
    source="IAPWS SR6-08(2011), table of check values, 298.15 K: cp 4.181446 kJ/(kg K) (from memory)",
)
@pytest.mark.proves(
    "properties.water_viscosity_mpas",
    by="published",
    source="IAPWS SR6-08(2011), table of check values, 298.15 K: 889.9966 uPa s (from memory)",
)
@pytest.mark.proves(
    "properties.water_conductivity_w_mk",
    by="published",
    source="IAPWS SR6-08(2011), table of check values, 298.15 K: 0.6065002 W/(m K) (from memory)",
)
def test_check_values_at_25_c():
    """The release's own check: density brought back from the standard atmosphere to 0.1 MPa first."""
    at_reference = properties.water_density_kg_m3(25) / (1 + 4.6e-10 * 1325)
    assert 1 / at_reference == pytest.approx(1.00296167e-3, rel=1e-7)
    assert properties.water_specific_heat_kj_kgk(25) == pytest.approx(4.181446, abs=1e-6)
    assert properties.water_viscosity_mpas(25) == pytest.approx(0.8899968, abs=1e-6)
    assert properties.water_conductivity_w_mk(25) == pytest.approx(0.606502, abs=3e-6)


@pytest.mark.proves(
    "properties.water_viscosity_mpas",
    by="published",
    source="ISO/TR 3666:1998, viscosity of water at 20 °C, 1.0016 mPa s (from memory)",
)
@pytest.mark.proves(
    "properties.water_density_kg_m3",
    by="published",
    source="CRC Handbook of Chemistry and Physics, density of water at 25, 50 and 100 °C (from memory)",
)
def test_water_of_the_handbooks():
    """The values that calibrate viscometers and pycnometers."""
    assert properties.water_viscosity_mpas(20) == pytest.approx(1.0016, abs=0.00005)
    found = [properties.water_density_kg_m3(one) for one in (25, 50, 100)]
    assert found == pytest.approx([997.047, 988.04, 958.4], abs=0.06)


@pytest.mark.proves("properties.water_density_kg_m3", by="independent", source="iapws library, IAPWS-95")
@pytest.mark.proves("properties.water_specific_heat_kj_kgk", by="independent", source="iapws library, IAPWS-95")
@pytest.mark.proves("properties.water_viscosity_mpas", by="independent", source="iapws library, IAPWS 2008")
@pytest.mark.proves("properties.water_conductivity_w_mk", by="independent", source="iapws library, IAPWS 2011")
def test_water_over_the_whole_range_agrees_with_the_full_formulation():
    """The errors that the docstrings state hold from 0 to just below boiling."""
    for temperature_c in np.linspace(0.01, 99.9, 34):
        full = IAPWS95(T=temperature_c + 273.15, P=KPA / 1000)
        assert properties.water_density_kg_m3(temperature_c) == pytest.approx(full.rho, abs=2e-4)
        assert properties.water_specific_heat_kj_kgk(temperature_c) == pytest.approx(full.cp, rel=5e-5)
        assert properties.water_viscosity_mpas(temperature_c) == pytest.approx(full.mu * 1000, rel=5e-5)
        assert properties.water_conductivity_w_mk(temperature_c) == pytest.approx(full.k, rel=5e-5)


@pytest.mark.proves("properties.water_density_kg_m3", by="independent", source="CoolProp library")
@pytest.mark.proves("properties.boiling_point_c", by="independent", source="CoolProp library, IAPWS-95 saturation")
@pytest.mark.proves("properties.vapor_pressure_kpa", by="independent", source="CoolProp library, IAPWS-95 saturation")
def test_water_agrees_with_a_second_library():
    """Another implementation, of another formulation on the saturation line (0.002 °C between the two)."""
    for temperature_c in (5, 20, 45, 72, 95):
        other = coolprop.PropsSI("D", "T", temperature_c + 273.15, "P", KPA * 1000, "Water")
        assert properties.water_density_kg_m3(temperature_c) == pytest.approx(other, abs=2e-4)
        pressure = coolprop.PropsSI("P", "T", temperature_c + 273.15, "Q", 0, "Water") / 1000
        assert properties.vapor_pressure_kpa(temperature_c) == pytest.approx(pressure, rel=3e-4)
        assert properties.boiling_point_c(pressure) == pytest.approx(temperature_c, abs=0.006)


@pytest.mark.proves(
    "properties.boiling_point_c",
    by="published",
    source="IAPWS-IF97, saturation temperature by pressure (values computed from it)",
)
@pytest.mark.parametrize(
    ("pressure_kpa", "boils_c"),
    [
        (101.325, 99.97),
        (100, 99.61),
        (95, 98.18),
        (90, 96.69),
        (70, 89.93),
        (740 * 0.1333223874, 99.23),  # 740 mmHg
        (720 * 0.1333223874, 98.47),
        (95.461, 98.31),  # 500 m in the standard atmosphere
        (89.875, 96.65),
        (84.556, 94.98),
        (79.495, 93.32),
    ],
)
def test_boiling_point_by_pressure(pressure_kpa, boils_c):
    """To two decimals."""
    assert properties.boiling_point_c(pressure_kpa) == pytest.approx(boils_c, abs=0.0051)


@pytest.mark.proves(
    "properties.boiling_point_c",
    by="published",
    source="IAPWS-IF97, table 36: 372.755919, 453.035632, 584.149488 K at 0.1, 1, 10 MPa (from memory)",
)
@pytest.mark.proves(
    "properties.vapor_pressure_kpa",
    by="published",
    source="IAPWS-IF97, table 35: 0.00353658941, 2.63889776, 12.3443146 MPa at 300, 500, 600 K (from memory)",
)
def test_check_values_of_the_saturation_line():
    """The check values of the release, nine digits."""
    boils = [properties.boiling_point_c(pressure) + 273.15 for pressure in (100, 1000, 10_000)]
    assert boils == pytest.approx([372.755919, 453.035632, 584.149488], abs=1e-6)
    pressures = [properties.vapor_pressure_kpa(kelvin - 273.15) for kelvin in (300, 500, 600)]
    assert pressures == pytest.approx([3.53658941, 2638.89776, 12344.3146], rel=5e-9)


@pytest.mark.proves(
    "properties.boiling_point_c",
    by="published",
    source="trade table, 94.9 °C and 202.75 °F at 5000 ft "
    "(https://blog.etundra.com/get-equipped/calibrate-thermometer/amp/); standard atmosphere",
)
def test_boiling_point_at_five_thousand_feet():
    """94.90 °C, 202.8 °F. The same table's row of 6000 ft contradicts itself (201 °F is 93.9 °C, it prints 93.6)."""
    pressure = 101.325 * (1 - 2.25577e-5 * 5000 * 0.3048) ** 5.25588
    boils = properties.boiling_point_c(pressure)
    assert boils == pytest.approx(94.9, abs=0.05)
    assert boils * 1.8 + 32 == pytest.approx(202.75, abs=0.1)


@pytest.mark.proves("properties.boiling_point_c", by="independent", source="iapws library, IAPWS-IF97")
@pytest.mark.proves("properties.vapor_pressure_kpa", by="independent", source="iapws library, IAPWS-IF97")
def test_saturation_line_agrees_with_the_library():
    """The same equations written by others."""
    for kpa in (1, 25, 60, 101.325, 300, 5000):
        assert properties.boiling_point_c(kpa) + 273.15 == pytest.approx(IAPWS97(P=kpa / 1000, x=0).T, abs=1e-6)
    for kelvin in (280, 345.15, 400):
        assert math.isclose(
            properties.vapor_pressure_kpa(kelvin - 273.15), IAPWS97(T=kelvin, x=0).P * 1000, rel_tol=1e-8
        )
