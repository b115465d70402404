"""Freezing of a mix: the laws that its curve keeps, its ends, and what it refuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import freezing
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.freezing import CornSyrup, Mix

pytestmark = pytest.mark.once

MIX = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)
mixes = st.builds(
    Mix,
    water=st.floats(50, 75),
    msnf=st.floats(0.5, 12),
    whey_solids=st.floats(0, 3),
    sucrose=st.floats(0, 6),
    corn_syrup_solids=st.floats(0, 4),
    dextrose_equivalent=st.floats(20, 70),
    hfcs=st.just(0),
    monosaccharides=st.just(0),
    other_equivalents=st.just(0),
    corn_syrup=st.sampled_from(CornSyrup),
)


@settings(max_examples=50, deadline=None)
@given(mixes, st.floats(0, 1))
def test_share_and_temperature_are_each_others_inverse(mix, part):
    """From frozen share to temperature and back, over the whole curve."""
    share = part * freezing.frozen_limit(mix)[0]
    assert freezing.frozen_at(mix, freezing.temperature_at(mix, share)) == pytest.approx(share, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(mixes, st.floats(0, 1), st.floats(0, 1))
def test_colder_means_more_ice(mix, one, other):
    """The curve falls with every bit of ice."""
    most, coldest = freezing.frozen_limit(mix)
    low, high = sorted((one * coldest, other * coldest))
    assert freezing.frozen_at(mix, low) >= freezing.frozen_at(mix, high)
    assert 0 <= freezing.frozen_at(mix, low) <= most + 1e-9


@settings(max_examples=50, deadline=None)
@given(mixes, st.floats(0.3, 0.9))
def test_fat_does_not_count(mix, factor):
    """The same skim in a richer mix, all its parts in proportion, freezes the same."""
    names = ("water", "msnf", "whey_solids", "sucrose", "corn_syrup_solids")
    richer = replace(mix, **{name: getattr(mix, name) * factor for name in names})
    assert freezing.freezing_point(richer).temperature_c == pytest.approx(freezing.freezing_point(mix).temperature_c)


@settings(max_examples=50, deadline=None)
@given(mixes, st.sampled_from(["msnf", "whey_solids", "sucrose", "corn_syrup_solids", "monosaccharides", "hfcs"]))
def test_whatever_is_dissolved_lowers_the_start(mix, name):
    """A percent more of it makes it colder."""
    more = replace(mix, **{name: getattr(mix, name) + 1})
    assert freezing.freezing_point(more).temperature_c < freezing.freezing_point(mix).temperature_c


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 180), st.floats(0, 180))
def test_more_sugar_freezes_colder(one, other):
    """The table rises all the way."""
    low, high = sorted((one, other))
    assert freezing.sucrose_depression_c(low) <= freezing.sucrose_depression_c(high)


def test_freezing_water_leaves_the_rest_as_strong_as_a_mix_with_less_water():
    """Half of 60 % frozen: as if the mix had 30 % of water."""
    thicker = replace(MIX, water=30)
    assert freezing.temperature_at(MIX, 50) == pytest.approx(freezing.freezing_point(thicker).temperature_c)


def test_above_the_start_nothing_is_frozen():
    """Neither at it nor in the cold room."""
    assert freezing.frozen_at(MIX, freezing.freezing_point(MIX).temperature_c) == 0
    assert freezing.frozen_at(MIX, 4) == 0


def test_conventions_for_corn_syrup_differ_and_both_are_said():
    """Twice the sucrose at 42 DE, so 0.15 °C colder."""
    other = replace(MIX, corn_syrup=CornSyrup.MOLAR_MASS)
    apart = freezing.freezing_point(MIX).temperature_c - freezing.freezing_point(other).temperature_c
    assert apart == pytest.approx(0.154, abs=0.001)


def test_curve_runs_from_the_start_to_the_end_of_the_table():
    """Even in percent frozen, colder with each point."""
    temperatures, frozen = freezing.freezing_curve(MIX, 30)
    most, coldest = freezing.frozen_limit(MIX)
    assert temperatures.shape == frozen.shape == (30,)
    assert (frozen[0], temperatures[0]) == (0, freezing.freezing_point(MIX).temperature_c)
    assert (frozen[-1], temperatures[-1]) == pytest.approx((most, coldest))
    assert np.ptp(np.diff(frozen)) == pytest.approx(0, abs=1e-9)
    assert (np.diff(temperatures) < 0).all()


@pytest.mark.parametrize(
    ("low", "high", "met", "margin"),
    [
        (45, 55, True, 4.82),
        (51, 55, False, -0.82),
        (40, 50, False, -0.18),
        (None, 60, True, 9.82),
        (50, None, True, 0.18),
    ],
)
def test_draw_is_held_against_the_wanted_range(low, high, met, margin):
    """50.2 % at -5.5 °C; the margin is the distance to the nearest end."""
    found = freezing.draw(MIX, -5.5, low, high)
    assert found.met is met
    assert found.margin == pytest.approx(margin, abs=0.005)


def test_draw_without_a_wanted_range_is_not_judged():
    """No range, no verdict; the ice is a share of the mix as well."""
    found = freezing.draw(MIX, -5.5)
    assert (found.met, found.margin) == (None, None)
    assert found.ice_percent == pytest.approx(found.frozen_percent * 0.6)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: freezing.sucrose_depression_c(180.01),
        lambda: freezing.sucrose_depression_c(-0.01),
        lambda: freezing.sucrose_depression_c(float("nan")),
        lambda: freezing.frozen_at(MIX, -16.2),
        lambda: freezing.frozen_at(MIX, 61),
        lambda: freezing.temperature_at(MIX, 80.9),
        lambda: freezing.temperature_at(MIX, -0.1),
        lambda: freezing.freezing_point(Mix(20, sucrose=40)),
        lambda: freezing.frozen_at(Mix(20, sucrose=36), -15),
        lambda: freezing.corn_syrup_factor(4),
        lambda: freezing.corn_syrup_factor(101, CornSyrup.MOLAR_MASS),
        lambda: freezing.equivalence_by_molar_mass(0),
        lambda: freezing.molal_depression_c(40, 342.3),
        lambda: freezing.freezing_curve(MIX, 1),
        lambda: freezing.draw(MIX, -5, 101),
        lambda: Mix(0),
        lambda: Mix(60, sucrose=-1),
        lambda: Mix(60, dextrose_equivalent=0),
    ],
)
def test_outside_its_range_it_refuses(wrong):
    """Never beyond the table: above 180 g in 100 g of water there is no answer."""
    with pytest.raises(OutsideRange):
        wrong()


def test_parts_above_the_whole_are_refused():
    """110 % is no mix."""
    with pytest.raises(CalculationError, match="110 %, more than 100 %"):
        Mix(60, sucrose=50)


def test_pure_water_has_no_curve():
    """It freezes at one temperature, all of it or none."""
    assert freezing.freezing_point(Mix(100)).temperature_c == 0
    with pytest.raises(CalculationError, match="nothing is dissolved"):
        freezing.frozen_at(Mix(100), -5)


def test_wanted_range_upside_down_is_infeasible():
    """From 55 up to 45 %."""
    with pytest.raises(Infeasible, match="lower end"):
        freezing.draw(MIX, -5, 55, 45)
