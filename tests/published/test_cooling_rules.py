"""Cooling and cold storage: the rules' own numbers, and independent ways to the same times.

PMO Table 1 as a textbook prints it: https://issuhub.com/view/index/5299?pageIndex=392. 1 NYCRR 2.49:
https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/ (a state rule that mirrors it).
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from iapws import IAPWS95
from scipy.optimize import brentq, linprog

from plant.process.cooling import (
    CoolingRule,
    blend_temperature_c,
    first_in_limit,
    judge_cooling,
    judge_time_out,
    most_warm_milk_kg,
    time_out_of_limits,
)
from plant.process.limits import Outcome
from plant.process.units import exact

pytestmark = pytest.mark.once

HOUR, MINUTE = 3600.0, 60.0
FARM_2H = CoolingRule(high=45, within_s=2 * HOUR, then_high=50, clause="PMO Table 1")
FARM_4H = CoolingRule(high=50, within_s=4 * HOUR, clause="PMO Table 1")


@pytest.mark.proves(
    "cooling.judge_cooling",
    by="published",
    source="PMO Table 1: 45 °F within 2 h of the end of milking, blends 50 °F or below "
    "(textbook copy, https://issuhub.com/view/index/5299?pageIndex=392)",
)
@pytest.mark.parametrize(
    ("at_two_hours", "later", "expected"),
    [
        (45.0, 50.0, Outcome.MET),
        (45.1, 40.0, Outcome.NOT_MET),
        (45.0, 50.1, Outcome.NOT_MET),
        (38.0, 38.0, Outcome.MET),
    ],
)
def test_milk_on_the_farm_is_at_45_f_in_two_hours_and_blends_at_50_f(at_two_hours, later, expected):
    """At the limit and at the moment itself it is met, a tenth warmer it is not."""
    times = [0, HOUR, 2 * HOUR, 2.5 * HOUR]
    found = judge_cooling(times, [95, 60, at_two_hours, later], FARM_2H, longest_gap_s=HOUR)
    assert found.outcome is expected


@pytest.mark.proves(
    "cooling.judge_cooling",
    by="published",
    source="PMO Table 1: 50 °F within 4 h of the start of the first milking "
    "(textbook copy, https://issuhub.com/view/index/5299?pageIndex=392)",
)
@pytest.mark.parametrize(("minutes", "expected"), [(240, Outcome.MET), (241, Outcome.NOT_MET)])
def test_milk_on_the_farm_is_at_50_f_in_four_hours(minutes, expected):
    """At four hours in time, a minute later not: it was still warm at four hours."""
    times = [0, 2 * HOUR, 240 * MINUTE, 241 * MINUTE]
    levels = [95, 70, 50 if minutes == 240 else 51, 50]
    assert judge_cooling(times, levels, FARM_4H, longest_gap_s=2 * HOUR).outcome is expected


@pytest.mark.proves(
    "cooling.judge_time_out",
    by="published",
    source="1 NYCRR 2.49(a), (b): 45 °F or below until processed, held there "
    "(https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/)",
)
@pytest.mark.proves(
    "cooling.time_out_of_limits",
    by="published",
    source="1 NYCRR 2.49(a): 45 °F or below; 7 °C as printed there is 44.6 °F "
    "(https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/)",
)
@pytest.mark.parametrize(
    ("reading", "unit", "expected"),
    [
        ("45.0", "°F", Outcome.MET),
        ("45.1", "°F", Outcome.NOT_MET),
        ("7.0", "°C", Outcome.MET),
        ("7.2", "°C", Outcome.MET),  # 44.96 °F: the rule is written in °F
        ("7.3", "°C", Outcome.NOT_MET),  # 45.14 °F
    ],
)
def test_cold_storage_is_at_45_f_or_below(reading, unit, expected):
    """Judged in °F, the unit of the rule, exactly."""
    level = float(exact(Fraction(reading), unit, "°F"))
    found = time_out_of_limits([0, 15 * MINUTE, 30 * MINUTE], [40, level, 40], high=45, longest_gap_s=15 * MINUTE)
    assert judge_time_out(found) is expected


@pytest.mark.proves(
    "cooling.time_out_of_limits", by="independent", source="counting on a grid of tenths of a second, numpy.interp"
)
@pytest.mark.parametrize("seed", range(5))
def test_estimate_is_what_a_fine_grid_counts(seed):
    """Two limits, readings at uneven times: total and longest as counted on the straight lines between them."""
    chance = np.random.default_rng(seed)
    times = np.cumsum(chance.integers(60, 900, 30)).astype(float)
    levels = chance.uniform(30, 50, 30)
    found = time_out_of_limits(times, levels, high=45, low=34, longest_gap_s=900)
    grid = np.arange(times[0], times[-1], 0.1) + 0.05
    values = np.interp(grid, times, levels)
    out = (values > 45) | (values < 34)
    assert found.total_s == pytest.approx(out.sum() * 0.1, abs=0.1 * 60)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], out.astype(int), [0]))))
    assert found.longest_s == pytest.approx((edges[1::2] - edges[::2]).max() * 0.1, abs=0.2)


@pytest.mark.proves(
    "cooling.judge_time_out", by="independent", source="every way that an interval can go, tried one by one"
)
def test_verdict_is_that_of_the_worst_way_between_the_readings():
    """Each interval with an end out wholly out: allowed time met exactly at that sum, not below."""
    times, levels = [0, 10, 30, 60, 100, 150], [44, 46, 44, 44, 45.1, 45.2]
    worst = sum(
        end - start
        for start, end, one, other in zip(times, times[1:], levels, levels[1:], strict=False)
        if max(one, other) > 45
    )
    found = time_out_of_limits(times, levels, high=45, longest_gap_s=60)
    assert judge_time_out(found, worst) is Outcome.MET
    assert judge_time_out(found, worst - 1) is Outcome.NOT_MET


@pytest.mark.proves("cooling.first_in_limit", by="independent", source="scipy.optimize.brentq on numpy.interp")
def test_estimated_crossing_is_the_root_of_the_line():
    """The trace on straight lines meets the limit where the root finder says."""
    times, levels = [0, 600, 1500, 3000, 5400], [95, 80, 61, 47, 41]
    root = brentq(lambda at: np.interp(at, times, levels) - 45, 0, 5400, xtol=1e-9)
    found = first_in_limit(times, levels, 45, longest_gap_s=2400)
    assert found.estimate_s == pytest.approx(root, abs=1e-6)
    assert (found.seen_s, found.last_out_s) == (5400, 3000)


@pytest.mark.proves(
    "cooling.first_in_limit",
    by="published",
    source="PMO Table 1, 45 °F (textbook copy, https://issuhub.com/view/index/5299?pageIndex=392)",
)
def test_first_reading_at_45_f_is_the_first_in_limits():
    """At 45.0 °F it is in limits."""
    assert first_in_limit([0, 60, 120, 180], [46, 45.1, 45.0, 44], 45, longest_gap_s=60).seen_s == 120


@pytest.mark.proves(
    "cooling.blend_temperature_c", by="independent", source="iapws library: enthalpy of water, IAPWS-95"
)
def test_blend_of_water_has_the_enthalpy_of_its_parts():
    """300 kg at 4 °C, 200 at 10 and 100 at 34: to 0.05 °C, for water's specific heat changes a little."""
    parts = ((300, 4), (200, 10), (100, 34))
    enthalpy = sum(mass * IAPWS95(T=at + 273.15, P=0.101325).h for mass, at in parts) / 600
    expected = IAPWS95(h=enthalpy, P=0.101325).T - 273.15
    found = blend_temperature_c([mass for mass, _at in parts], [at for _mass, at in parts])
    assert found == pytest.approx(expected, abs=0.05)


@pytest.mark.proves("cooling.blend_temperature_c", by="published", source="heat balance, common practice, no source")
def test_blend_of_two_milkings():
    """1000 kg at 4 °C and 500 kg at 10 °C come to 6 °C; 250 kg of milk at 34 °C take 1000 kg at 4 °C to 10 °C."""
    assert blend_temperature_c([1000, 500], [4, 10]) == pytest.approx(6)
    assert blend_temperature_c([1000, 250], [4, 34]) == pytest.approx(10)


@pytest.mark.proves("cooling.most_warm_milk_kg", by="independent", source="scipy.optimize.linprog")
@pytest.mark.parametrize(("mass", "tank", "added"), [(1000, 4, 34), (350, 2.5, 20), (5000, 9.5, 36)])
def test_most_warm_milk_is_the_optimum(mass, tank, added):
    """The largest amount that keeps the heat above the limit of 50 °F (10 °C) at nothing."""
    best = linprog(c=[-1], A_ub=[[added - 10]], b_ub=[mass * (10 - tank)], bounds=[(0, None)])
    assert most_warm_milk_kg(mass, tank, added, 10) == pytest.approx(best.x[0])
