"""Pt100 sensors, and errors with their uncertainty, against what others publish."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from plant.process.calibration import (
    Stored,
    as_found_error,
    doubtful_intervals,
    doubtful_readings,
    judge_tolerance,
    lead_error_c,
    pt100_resistance_ohm,
    pt100_sensitivity_ohm_per_c,
    pt100_temperature_c,
    pt100_tolerance_c,
)
from plant.process.limits import Limit, Outcome

pytestmark = pytest.mark.once

# °C, ohm to four decimals: IEC 60751 coefficients, worked out (printed tables round to two: 138.51 at 100 °C).
WORKED = [
    (-50, 80.3063), (-20, 92.1599), (0, 100.0000), (4, 101.5624), (4.4, 101.7185), (7, 102.7330), (20, 107.7935),
    (37, 114.3817), (60, 123.2419), (63, 124.3931), (66, 125.5432), (72, 127.8404), (75, 128.9874), (80, 130.8968),
    (85, 132.8033), (90, 134.7069), (100, 138.5055), (-100, 60.2558), (200, 175.856),
]  # fmt: skip
# IEC 60751, table of resistances (from memory).
TABLE = [
    (-200, 18.52), (-150, 39.72), (-100, 60.26), (-50, 80.31), (-10, 96.09), (10, 103.90), (50, 119.40), (150, 157.33),
    (250, 194.10), (300, 212.05), (400, 247.09), (500, 280.98), (600, 313.71), (700, 345.28), (800, 375.70),
    (850, 390.48),
]  # fmt: skip


@pytest.mark.proves(
    "calibration.pt100_resistance_ohm",
    by="published",
    source="IEC 60751 coefficients; values of http://www.dwmai.com/productInformation/referenceTables.php and of "
    "open-source test suites",
)
@pytest.mark.proves(
    "calibration.pt100_temperature_c",
    by="published",
    source="IEC 60751 coefficients; values of http://www.dwmai.com/productInformation/referenceTables.php and of "
    "open-source test suites",
)
@pytest.mark.parametrize(("celsius", "ohm"), WORKED)
def test_resistance_and_temperature_of_the_worked_values(celsius, ohm):
    """Four decimals of an ohm, and back to a thousandth of a degree."""
    assert pt100_resistance_ohm(celsius) == pytest.approx(ohm, abs=0.000051)
    assert pt100_temperature_c(ohm) == pytest.approx(celsius, abs=0.001)


@pytest.mark.proves(
    "calibration.pt100_resistance_ohm", by="published", source="IEC 60751:2008, table of resistances (from memory)"
)
@pytest.mark.parametrize(("celsius", "ohm"), TABLE)
def test_resistance_is_that_of_the_standards_table(celsius, ohm):
    """Two decimals as printed, from -200 to 850 °C."""
    assert pt100_resistance_ohm(celsius) == pytest.approx(ohm, abs=0.00501)


@pytest.mark.proves(
    "calibration.pt100_temperature_c",
    by="independent",
    source="numpy.roots of the quartic below and the quadratic above",
)
@pytest.mark.parametrize("ohm", [18.6, 45.0, 80.0, 99.9, 100.0, 100.1, 138.5, 250.0, 390.4])
def test_temperature_is_a_root_of_the_standards_polynomial(ohm):
    """A polynomial solver finds the same temperature."""
    a, b, c = 3.9083e-3, -5.775e-7, -4.183e-12
    terms = [b, a, 1 - ohm / 100] if ohm >= 100 else [c, -100 * c, b, a, 1 - ohm / 100]
    real = [root.real for root in np.roots(terms) if abs(root.imag) < 1e-6]
    found = pt100_temperature_c(ohm)
    assert min(abs(root - found) for root in real) < 1e-6


@pytest.mark.proves(
    "calibration.pt100_tolerance_c",
    by="published",
    source="IEC 60751: class A 0.15 + 0.002 |t|, class B 0.30 + 0.005 |t| "
    "(http://www.dwmai.com/productInformation/referenceTables.php)",
)
@pytest.mark.parametrize(("tolerance_class", "celsius"), [("A", 0.294), ("B", 0.660)])
def test_tolerance_at_72_c(tolerance_class, celsius):
    """Three decimals as worked out."""
    assert pt100_tolerance_c(72, tolerance_class) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.proves(
    "calibration.pt100_sensitivity_ohm_per_c",
    by="published",
    source="IEC 60751 coefficients, slope at 72 °C worked out",
)
@pytest.mark.proves(
    "calibration.lead_error_c", by="published", source="IEC 60751 coefficients, 0.2 ohm of lead at 72 °C worked out"
)
def test_slope_and_lead_error_at_72_c():
    """0.3825 ohm for each degree, so 0.2 ohm of lead reads 0.523 °C too high."""
    assert pt100_sensitivity_ohm_per_c(72) == pytest.approx(0.3825, abs=0.000051)
    assert lead_error_c(72, 0.2) == pytest.approx(0.523, abs=0.00051)


@pytest.mark.proves("calibration.pt100_sensitivity_ohm_per_c", by="independent", source="central difference")
@pytest.mark.parametrize("celsius", [-199, -100, -1, 1, 72, 400, 849])
def test_slope_is_the_difference_quotient(celsius):
    """Two points close by give the same slope."""
    quotient = (pt100_resistance_ohm(celsius + 0.01) - pt100_resistance_ohm(celsius - 0.01)) / 0.02
    assert pt100_sensitivity_ohm_per_c(celsius) == pytest.approx(quotient, rel=1e-7)


# GUM, JCGM 100:2008, 4.4.3 and table 1: twenty temperatures in °C (from memory).
GUM_TABLE_1 = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


@pytest.mark.proves(
    "calibration.as_found_error",
    by="published",
    source="GUM, JCGM 100:2008, 4.4.3 and table 1: mean 100.145, s 1.489, s of the mean 0.333 °C (from memory)",
)
def test_repeatability_is_that_of_the_guides_twenty_readings():
    """Three decimals as printed."""
    found = as_found_error(GUM_TABLE_1, 100, reference_expanded=0, resolution=1e-6)
    assert found.error == pytest.approx(0.145, abs=1e-9)
    assert found.repeatability_u * math.sqrt(20) == pytest.approx(1.489, abs=0.00051)
    assert found.repeatability_u == pytest.approx(0.333, abs=0.00051)
    assert found.degrees == pytest.approx(19)


@pytest.mark.proves(
    "calibration.as_found_error",
    by="published",
    source="GUM, JCGM 100:2008, F.2.2.1: a display's step gives u = 0.29 of it (from memory)",
)
def test_resolution_gives_0_29_of_a_step():
    """Two digits as printed."""
    assert as_found_error([5.0, 5.0], 5, reference_expanded=0, resolution=1).resolution_u == pytest.approx(
        0.29, abs=0.0051
    )


@pytest.mark.proves(
    "calibration.as_found_error",
    by="published",
    source="GUM, JCGM 100:2008, table G.2: t for the fraction 95.45 % (from memory)",
)
@pytest.mark.parametrize(("readings", "factor"), [(3, 4.53), (6, 2.65), (11, 2.28), (21, 2.13), (51, 2.05)])
def test_confidence_of_k_2_follows_from_the_degrees(readings, factor):
    """For n readings alone, 95.45 % would need the printed factor: at 2 the level is less, and t gives back the 2."""
    values = [0.0, 1.0] * (readings // 2) + [0.5] * (readings % 2)
    found = as_found_error(values, 0, reference_expanded=0, resolution=1e-9)
    assert found.degrees == pytest.approx(readings - 1, rel=1e-6)
    assert stats.t.ppf(0.5 + 0.9545 / 2, found.degrees) == pytest.approx(factor, abs=0.00501)
    assert stats.t.ppf(0.5 + found.confidence / 2, found.degrees) == pytest.approx(2)


@pytest.mark.proves(
    "calibration.as_found_error", by="independent", source="Monte Carlo of the three parts (JCGM 101, 200,000 draws)"
)
def test_combined_uncertainty_agrees_with_drawing():
    """Normal reference, rectangular resolution, normal repeatability: the spread of the drawn errors."""
    draw = np.random.default_rng(7)
    count = 200_000
    errors = (
        draw.normal(0, 0.04, (count, 4)).mean(axis=1)
        + draw.uniform(-0.05, 0.05, count)
        - draw.normal(0, 0.05 / 2, count)
    )
    found = as_found_error([72.0] * 4, 72, reference_expanded=0.05, resolution=0.1, repeatability=0.04)
    assert found.combined_u == pytest.approx(float(errors.std()), rel=0.01)
    assert found.expanded == 2 * found.combined_u


@pytest.mark.proves(
    "calibration.judge_tolerance",
    by="published",
    source="Ala. Admin. Code 420-3-17-.05: indicating thermometer within 0.5 °F (text consulted in a copy of the code)",
)
@pytest.mark.parametrize(
    ("reading", "simple"), [(161.4, True), (161.5, True), (161.6, False), (160.5, True), (160.4, False)]
)
def test_half_a_degree_belongs_to_the_tolerance(reading, simple):
    """Just inside, at, and just outside 0.5 °F."""
    found = as_found_error([reading], 161.0, reference_expanded=0, resolution=1e-6, repeatability=0)
    assert judge_tolerance(found, 0.5).simple is simple


@pytest.mark.proves(
    "calibration.judge_tolerance",
    by="independent",
    source="JCGM 106:2012: error +/- U wholly inside or outside the tolerance (from memory), compared directly",
)
def test_outcome_is_where_the_whole_interval_lies():
    """Met inside, not met outside, else not proven, for a row of errors."""
    for tenths in range(-12, 13):
        found = as_found_error([tenths / 10 + 0.01], 0, reference_expanded=0.2, resolution=1e-6, repeatability=0)
        ends = found.error - found.expanded, found.error + found.expanded
        inside = ends[0] >= -0.5 and ends[1] <= 0.5
        outside = ends[0] > 0.5 or ends[1] < -0.5
        wanted = Outcome.MET if inside else Outcome.NOT_MET if outside else Outcome.NOT_PROVEN
        assert judge_tolerance(found, 0.5).outcome is wanted


DAY = datetime(2026, 3, 1, tzinfo=UTC)
HTST = (Limit("htst", "temperature", "°C", low=Decimal(72)),)


def run(key: str, value: str, hours: int) -> Stored:
    """A reading of a thermometer so many hours after the first of March."""
    return Stored(key, DAY + timedelta(hours=hours), Decimal(value), "°C", HTST)


@pytest.mark.proves(
    "calibration.doubtful_readings",
    by="published",
    source="two-point check worked by hand: +0.55 found at 72, so an indicated 72.0 was really 71.45",
)
def test_runs_judged_by_an_indicated_72_are_judged_again():
    """72.0 and 72.4 fall below 72, 72.55 does not."""
    readings = [run("c", "72.55", 30), run("b", "72.4", 20), run("a", "72.0", 10)]
    doubt = doubtful_readings(readings, Decimal("0.55"), DAY, DAY + timedelta(days=2))
    assert [one.stored.key for one in doubt.now_not_met] == ["a", "b"]
    assert float(doubt.now_not_met[0].corrected) == pytest.approx(71.45)
    assert [one.stored.key for one in doubt.unchanged] == ["c"]


@pytest.mark.proves(
    "calibration.doubtful_readings",
    by="independent",
    source="plain comparison of read and read - error, 300 drawn readings",
)
def test_doubtful_readings_are_those_between_the_limit_and_the_limit_plus_the_error():
    """Whole-number tenths, compared without any of the judging."""
    draw = np.random.default_rng(3)
    tenths = [int(one) for one in draw.integers(700, 740, 300)]
    readings = [run(f"{place:03}", f"{value / 10:.1f}", place) for place, value in enumerate(tenths)]
    doubt = doubtful_readings(readings, Decimal("0.5"), DAY + timedelta(hours=40), DAY + timedelta(hours=250))
    wanted = [f"{place:03}" for place, value in enumerate(tenths) if 40 <= place <= 250 and 720 <= value < 725]
    assert [one.stored.key for one in doubt.now_not_met] == wanted


@pytest.mark.proves(
    "calibration.doubtful_intervals", by="independent", source="the trace sampled each 0.05 s with numpy.interp"
)
@pytest.mark.parametrize("seed", range(5))
def test_doubtful_time_agrees_with_fine_sampling(seed):
    """The total time of the stretches, against a count of fine samples in doubt."""
    draw = np.random.default_rng(seed)
    times = np.cumsum(draw.uniform(1, 5, 40))
    values = 72 + draw.normal(0, 0.7, 40)
    error, low, high = 0.4, 71.8, 73.0
    found = doubtful_intervals(times, values, error, times[5], times[30], low=low, high=high)
    fine = np.arange(times[5], times[30], 0.05)
    shown = np.interp(fine, times, values)
    doubted = (shown >= low) & (shown <= high) & ((shown - error < low) | (shown - error > high))
    assert sum(end - start for start, end in found) == pytest.approx(0.05 * doubted.sum(), abs=0.05 * 40)
    assert list(found) == sorted(found)
