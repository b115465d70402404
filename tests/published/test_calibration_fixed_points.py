"""Fixed points and two-point corrections against what others publish.

Values called "worked out" follow from the formula that is named beside them, not from a printed table.
"""

from __future__ import annotations

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from iapws.iapws97 import _TSat_P

from plant.process.calibration import (
    boiling_point_at_altitude_c,
    boiling_point_c,
    standard_pressure_kpa,
    two_point,
)

pytestmark = pytest.mark.once

MMHG_KPA = 0.133322387415  # conventional millimeter of mercury, 13595.1 kg/m3 x 9.80665 m/s2


@pytest.mark.proves(
    "calibration.boiling_point_c",
    by="published",
    source="IAPWS R7-97(2012), table 36: verification values of the saturation temperature (from memory)",
)
@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1, 453.035632), (10, 584.149488)])
def test_boiling_point_is_the_formulations(mpa, kelvin):
    """Nine digits as printed."""
    assert boiling_point_c(mpa * 1000) + 273.15 == pytest.approx(kelvin, abs=5.1e-7)


@pytest.mark.proves(
    "calibration.boiling_point_c", by="published", source="IAPWS-IF97, equation 31, worked out to 0.01 °C"
)
@pytest.mark.parametrize(
    ("kpa", "celsius"),
    [(101.325, 99.97), (100, 99.61), (95, 98.18), (90, 96.69), (70, 89.93), (740 * MMHG_KPA, 99.23),
     (720 * MMHG_KPA, 98.47)],
)  # fmt: skip
def test_boiling_point_at_pressures_of_a_plant(kpa, celsius):
    """Two decimals as listed."""
    assert boiling_point_c(kpa) == pytest.approx(celsius, abs=0.00501)


@pytest.mark.proves("calibration.boiling_point_c", by="independent", source="iapws (Python library), _TSat_P")
@pytest.mark.parametrize("kpa", [0.6117, 5, 54.02, 101.325, 1000, 22_063])
def test_boiling_point_agrees_with_a_library(kpa):
    """An independent implementation of the same equation."""
    assert boiling_point_c(kpa) == pytest.approx(_TSat_P(kpa / 1000) - 273.15, abs=1e-8)


@pytest.mark.proves(
    "calibration.standard_pressure_kpa",
    by="published",
    source="standard atmosphere, p = 101.325 (1 - 2.25577e-5 h)^5.25588, worked out to 1 Pa",
)
@pytest.mark.proves(
    "calibration.boiling_point_at_altitude_c",
    by="published",
    source="standard atmosphere with IAPWS-IF97, worked out to 0.01 °C",
)
@pytest.mark.parametrize(
    ("meters", "kpa", "celsius"),
    [(500, 95.461, 98.31), (1000, 89.875, 96.65), (1500, 84.556, 94.98), (2000, 79.495, 93.32)],
)
def test_altitude_gives_pressure_and_boiling_point(meters, kpa, celsius):
    """Three and two decimals as listed."""
    assert standard_pressure_kpa(meters) == pytest.approx(kpa, abs=0.00051)
    assert boiling_point_at_altitude_c(meters) == pytest.approx(celsius, abs=0.00501)


@pytest.mark.proves(
    "calibration.standard_pressure_kpa",
    by="published",
    source="ISO 2533:1975, table by geopotential altitude, hPa (from memory)",
)
@pytest.mark.parametrize(
    ("meters", "hpa"), [(0, 1013.25), (1000, 898.75), (2000, 794.95), (3000, 701.09), (5000, 540.20)]
)
def test_pressure_is_that_of_the_standards_table(meters, hpa):
    """To 0.02 hPa: the printed constants of the short formula are rounded."""
    assert standard_pressure_kpa(meters) * 10 == pytest.approx(hpa, abs=0.02)


@pytest.mark.proves(
    "calibration.standard_pressure_kpa", by="independent", source="fluids (Python library), ATMOSPHERE_1976"
)
@pytest.mark.parametrize("geometric_m", [0, 300, 1600, 4000, 10_000])
def test_pressure_agrees_with_a_library(geometric_m):
    """The 1976 standard atmosphere, which takes geometric altitude; ours is geopotential."""
    geopotential = 6_356_766.0 * geometric_m / (6_356_766.0 + geometric_m)
    assert standard_pressure_kpa(geopotential) == pytest.approx(ATMOSPHERE_1976(geometric_m).P / 1000, rel=5e-5)


@pytest.mark.proves(
    "calibration.boiling_point_at_altitude_c",
    by="published",
    source="trade table of boiling points by altitude, https://blog.etundra.com/get-equipped/calibrate-thermometer/amp/",
)
@pytest.mark.parametrize(
    ("feet", "printed_c", "printed_f"),
    # At 6000 ft the table prints 93.6 °C beside 201 °F, which is 93.9 °C: the Fahrenheit is right.
    [(5000, 94.9, 202.75), (6000, 93.9, 201)],
)
def test_trade_table_agrees(feet, printed_c, printed_f):
    """One decimal of a degree Celsius; the Fahrenheit column is rounded to a quarter."""
    celsius = boiling_point_at_altitude_c(feet * 0.3048)
    assert celsius == pytest.approx(printed_c, abs=0.051)
    assert celsius * 1.8 + 32 == pytest.approx(printed_f, abs=0.13)


def test_boiling_point_at_5000_ft_to_two_decimals():
    """94.90 °C, 202.8 °F, worked out from both formulas."""
    celsius = boiling_point_at_altitude_c(1524)
    assert celsius == pytest.approx(94.90, abs=0.00501)
    assert celsius * 1.8 + 32 == pytest.approx(202.8, abs=0.0501)


@pytest.mark.proves(
    "calibration.two_point",
    by="published",
    source="two-point correction worked by hand: ice 0.4, steam 98.9 read at 98.30 °C",
)
def test_two_point_correction_of_the_worked_example():
    """Slope 0.99797; 71.5 means 70.96; errors +0.4, +0.6 and +0.54; an indicated 72.0 was really 71.45."""
    check = two_point(0.4, 0.0, 98.9, 98.30)
    assert check.slope == pytest.approx(0.99797, abs=5.1e-6)
    assert check.corrected(71.5) == pytest.approx(70.96, abs=0.00501)
    assert (check.error_low, check.error_high) == pytest.approx((0.4, 0.6))
    assert check.error(71.5) == pytest.approx(0.54, abs=0.00501)
    # 71.455 by the same line: printed cut, so 0.006.
    assert check.corrected(72.0) == pytest.approx(71.45, abs=0.006)


@pytest.mark.proves(
    "calibration.two_point", by="independent", source="numpy.polyfit, straight line through the two points"
)
@pytest.mark.parametrize("points", [(0.4, 0.0, 98.9, 98.3), (31.1, 32.0, 213.0, 211.2), (-0.2, 0.0, 99.5, 100.0)])
def test_two_point_correction_is_the_line_through_both(points):
    """The line by least squares through two points is the same line."""
    import numpy as np

    line = np.polyfit([points[0], points[2]], [points[1], points[3]], 1)
    check = two_point(*points)
    for reading in np.linspace(points[0], points[2], 7):
        assert check.corrected(float(reading)) == pytest.approx(float(np.polyval(line, reading)), abs=1e-9)
