"""Growth over a trace: its laws, its bounds, and what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import growth
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.growth import LISTERIA_IN_MILK, SquareRootModel, growth_over, square_root_model

pytestmark = pytest.mark.once

DAY = 86_400
levels = st.lists(st.floats(-1, 20), min_size=2, max_size=12)


def over(temperatures, model=LISTERIA_IN_MILK, every=3600, **more):
    return growth_over(
        [place * every for place in range(len(temperatures))], temperatures, model, longest_gap_s=every, **more
    )


@settings(max_examples=50, deadline=None)
@given(levels)
def test_estimate_lies_between_lowest_and_highest(temperatures):
    """Each interval at its colder and at its warmer end bounds the straight line."""
    found = over(temperatures)
    assert found.lowest - 1e-12 <= found.log_increase <= found.highest + 1e-12


@settings(max_examples=50, deadline=None)
@given(levels, st.floats(0, 5))
def test_warmer_never_grows_less(temperatures, more):
    """Each reading warmer, no less growth."""
    warmer = [min(one + more, 20) for one in temperatures]
    assert over(warmer).log_increase >= over(temperatures).log_increase - 1e-12


@settings(max_examples=50, deadline=None)
@given(levels, st.integers(1, 10))
def test_growth_adds_over_the_parts_of_a_trace(temperatures, cut):
    """What grows before a reading and after it is what grows altogether."""
    cut = min(cut, len(temperatures) - 1)
    parts = [one for one in (temperatures[: cut + 1], temperatures[cut:]) if len(one) > 1]
    assert sum(over(one).log_increase for one in parts) == pytest.approx(over(temperatures).log_increase, abs=1e-12)


@settings(max_examples=50, deadline=None)
@given(levels)
def test_a_reading_on_the_line_changes_nothing(temperatures):
    """The mean put between every two readings leaves the estimate as it is, also across Tmin."""
    model = square_root_model(0.3, 5, 4.0, -1, 20)
    between = [(one + other) / 2 for one, other in zip(temperatures, temperatures[1:], strict=False)]
    denser = [temperatures[0]]
    for middle, end in zip(between, temperatures[1:], strict=True):
        denser += [middle, end]
    assert over(denser, model, 1800).log_increase == pytest.approx(over(temperatures, model).log_increase, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(levels)
def test_growth_is_the_same_backwards(temperatures):
    """The order of the temperatures does not matter without a maximum."""
    assert over(temperatures[::-1]).log_increase == pytest.approx(over(temperatures).log_increase, abs=1e-12)


def test_nothing_grows_at_or_below_tmin():
    """A trace wholly below Tmin has no growth, and no doubling."""
    found = over([-1, 0, 0.6], square_root_model(0.257, 5, 0.6, -1, 20))
    assert (found.log_increase, found.highest, found.doublings) == (0, 0, 0)


def test_growth_stops_at_the_maximum_and_says_so():
    """From 6 to 7.8 log10 per mL, no further; the course stays there."""
    found = over([15] * 48, start_log=6, maximum_log=7.8)
    assert (found.capped, found.final_log) == (True, pytest.approx(7.8))
    assert found.log_increase == found.highest == pytest.approx(1.8)
    assert found.cumulative_log.max() == pytest.approx(1.8)
    assert found.lowest <= found.log_increase


def test_maximum_out_of_reach_changes_nothing():
    """Below it the growth is what it is without."""
    assert over([5] * 24, start_log=0, maximum_log=7.8).log_increase == over([5] * 24).log_increase
    assert not over([5] * 24, start_log=0, maximum_log=7.8).capped


def test_course_begins_at_nothing_and_never_falls():
    """One value for each reading."""
    found = over([5, -1, 10, 3])
    assert found.cumulative_log[0] == 0
    assert len(found.cumulative_log) == len(found.times_s) == 4
    assert (np.diff(found.cumulative_log) >= 0).all()


def test_a_gap_is_refused_with_where_it_lies():
    """No line is drawn over 61 minutes when 60 are allowed."""
    with pytest.raises(Infeasible, match="61 min after minute 60") as refused:
        growth_over([0, 3600, 7260], [5, 5, 5], LISTERIA_IN_MILK, longest_gap_s=3600)
    assert refused.value.target == "gap"
    assert growth_over([0, 3600, 7200], [5, 5, 5], LISTERIA_IN_MILK, longest_gap_s=3600).log_increase > 0


@pytest.mark.parametrize("wrong", [-1.2, 20.1, math.nan])
def test_a_reading_outside_the_model_is_refused(wrong):
    """Neither frozen milk nor what is warmer than the model knows."""
    with pytest.raises(OutsideRange):
        over([5, wrong, 5])


@pytest.mark.parametrize("wrong", [{"start_log": 8, "maximum_log": 7}, {"start_log": -4}, {"start_log": math.nan}])
def test_wrong_levels_are_refused(wrong):
    """A start above the maximum, or no count at all."""
    with pytest.raises(OutsideRange):
        over([5, 5], **wrong)


def test_a_maximum_without_a_start_is_refused():
    """Nobody knows how much room there is."""
    with pytest.raises(Infeasible, match="start"):
        over([5, 5], maximum_log=7.8)


@pytest.mark.parametrize("times", [[0], [0, 0], [1, 0], [0, math.nan]])
def test_a_wrong_trace_is_refused(times):
    """Two moments at least, rising."""
    with pytest.raises(CalculationError):
        growth_over(times, [5.0] * len(times), LISTERIA_IN_MILK, longest_gap_s=DAY)


@pytest.mark.parametrize(
    "wrong",
    [(0, 5, -1), (0.3, -1, -1), (0.3, 5, 11), (0.3, 5, -21), (0.3, 31, -1), (math.nan, 5, -1), (0.3, math.nan, -1)],
)
def test_a_model_of_no_sense_is_refused(wrong):
    """A rate above nothing, at a temperature above Tmin and below the optimum."""
    with pytest.raises(OutsideRange):
        square_root_model(*wrong, 0, 20)


@pytest.mark.parametrize("wrong", [(0.1, -1, 10, 5), (0.1, -1, 0, 31), (0.0, -1, 0, 20), (0.1, 12, 0, 20)])
def test_a_model_made_by_hand_is_checked_too(wrong):
    """Its range upright, below 30 °C, with a slope."""
    with pytest.raises(OutsideRange):
        SquareRootModel(*wrong)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.01, 5), st.floats(0, 25), st.floats(0, 25), st.floats(-15, -0.5))
def test_converting_there_and_back_is_the_same_rate(rate, first, second, tmin):
    """A rate carried to another temperature and back."""
    there = growth.converted_rate(rate, first, second, tmin)
    assert growth.converted_rate(there, second, first, tmin) == pytest.approx(rate, rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 20), st.floats(1, 20), st.floats(-10, 0))
def test_q10_carries_the_rate_between_its_two_temperatures(first, second, tmin):
    """r2 = r1 Q10^((T2 - T1)/10); the same Q10 from either end."""
    if abs(first - second) < 0.1:
        second = first + 1
    value = growth.q10(first, second, tmin)
    assert value ** ((second - first) / 10) == pytest.approx(growth.converted_rate(1, first, second, tmin), rel=1e-9)
    assert growth.q10(second, first, tmin) == pytest.approx(value, rel=1e-9)


def test_q10_grows_without_bound_near_tmin():
    """The colder the pair, the larger it is: no Q10 may be carried from a warmer range."""
    values = [growth.q10(low, low + 3, -1.18) for low in (10, 5, 2, 0, -1)]
    assert values == sorted(values)
    assert values[-1] > 1000 > values[0]


@pytest.mark.parametrize("wrong", [(4, 4, -1.18), (-1.18, 4, -1.18), (4, 31, -1.18), (4, math.nan, -1.18)])
def test_q10_of_no_pair_is_refused(wrong):
    """Equal temperatures, one at Tmin, one beyond the optimum."""
    with pytest.raises(CalculationError):
        growth.q10(*wrong)


def test_q10_beyond_any_number_is_refused():
    """Two hairs above Tmin the ratio has no use."""
    with pytest.raises(OutsideRange, match="power of ten"):
        growth.q10(-1.169, -1.159, -1.18)


@pytest.mark.parametrize("wrong", [(-1, 4, 7, 2), (1, 4, 7, 0.9), (1, 4, 7, 21), (1, 4, 25, 2), (1, -21, -5, 2)])
def test_q10_times_outside_their_range_are_refused(wrong):
    """Q10 from 1 to 20, temperatures at most 20 °C apart."""
    with pytest.raises(OutsideRange):
        growth.time_by_q10(*wrong)


@pytest.mark.parametrize("wrong", [-0.1, 15.1, math.nan])
def test_relative_spoilage_outside_its_range_is_refused(wrong):
    """0 to 15 °C."""
    with pytest.raises(OutsideRange):
        growth.relative_spoilage_rate(wrong)


@pytest.mark.parametrize("wrong", [0, -1, 1001, math.nan])
def test_generation_time_of_no_growth_is_refused(wrong):
    """What does not grow never doubles."""
    with pytest.raises(OutsideRange):
        growth.generation_time_h(wrong)


def test_no_time_is_long_enough_where_nothing_grows():
    """At Tmin the wish for an increase cannot be met."""
    with pytest.raises(Infeasible, match="does not grow"):
        growth.days_to_increase(LISTERIA_IN_MILK, -1.18, 3)
    with pytest.raises(OutsideRange):
        growth.days_to_increase(LISTERIA_IN_MILK, 4, 13)
