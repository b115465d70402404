"""Time out of limits, cooling in time, blends: bounds, verdicts, gaps, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.cooling import (
    CoolingRule,
    blend_temperature_c,
    first_in_limit,
    judge_cooling,
    judge_time_out,
    most_warm_milk_kg,
    time_out_of_limits,
)
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.limits import Outcome

pytestmark = pytest.mark.once

QUARTER = 900.0
HOUR = 3600.0
RULE = CoolingRule(high=45, within_s=2 * HOUR, then_high=45)
levels = st.lists(st.floats(30, 60), min_size=2, max_size=15)


def out(values, gap=QUARTER, every=QUARTER, **limits):
    limits = limits or {"high": 45}
    return time_out_of_limits([place * every for place in range(len(values))], values, longest_gap_s=gap, **limits)


def cooled(values, every=HOUR / 2, gap=HOUR / 2, rule=RULE, **more):
    return judge_cooling([place * every for place in range(len(values))], values, rule, longest_gap_s=gap, **more)


@settings(max_examples=50, deadline=None)
@given(levels, st.sampled_from([0.0, QUARTER]))
def test_least_estimate_and_most_stand_in_this_order(values, gap):
    """For the sum and for the longest, with and without gaps."""
    found = out(values, gap, high=45, low=34)
    assert 0 <= found.least_s <= found.total_s + 1e-9
    assert found.total_s <= found.most_s + 1e-9
    assert found.longest_s <= found.longest_most_s + 1e-9
    assert found.longest_most_s <= found.longest_unproven_s + 1e-9
    assert found.most_s + found.unproven_s <= QUARTER * (len(values) - 1) + 1e-6


@settings(max_examples=50, deadline=None)
@given(levels)
def test_units_do_not_change_the_time_out(values):
    """The same trace in °C against the limit in °C."""
    celsius = [(one - 32) / 1.8 for one in values]
    other = out(celsius, high=(45 - 32) / 1.8)
    if any(abs(one - 45) < 1e-6 for one in values):
        return
    found = out(values)
    assert (other.most_s, other.least_s) == (found.most_s, found.least_s)
    assert other.total_s == pytest.approx(found.total_s, abs=1e-3)


@settings(max_examples=50, deadline=None)
@given(levels, st.floats(0, 5))
def test_a_stricter_limit_never_shortens_the_time_out(values, stricter):
    """A lower ceiling: no less out, by estimate and at most."""
    loose, strict = out(values), out(values, high=45 - stricter)
    assert strict.total_s >= loose.total_s - 1e-6
    assert strict.most_s >= loose.most_s - 1e-6


@settings(max_examples=50, deadline=None)
@given(levels, st.floats(0, 3 * HOUR))
def test_a_shorter_allowed_time_never_turns_a_verdict_good(values, allowed):
    """What is not met with more time allowed is not met with less."""
    found = out(values)
    if judge_time_out(found, allowed) is not Outcome.MET:
        assert judge_time_out(found, allowed / 2) is not Outcome.MET


def test_one_reading_out_counts_half_by_the_line_and_twice_its_interval_at_most():
    """44, 46, 44: crossings at half of each interval."""
    found = out([44, 46, 44])
    assert (found.least_s, found.total_s, found.most_s) == (0, QUARTER, 2 * QUARTER)
    assert (found.readings_out, found.spans) == (1, ((0, 2 * QUARTER),))


def test_a_reading_at_the_limit_is_in_limits():
    """45 °F is not out of 45 °F or below; nor is the lower limit out of itself."""
    assert out([45, 45, 45]).most_s == 0
    assert out([34, 40, 34], high=45, low=34).most_s == 0
    assert out([33.9, 40, 34], high=45, low=34).most_s == QUARTER


def test_line_from_below_to_above_the_limits_is_out_at_both_ends():
    """From 24 to 56 with limits 34 and 46: 20 of 32 degrees out; it may have been out for all of it or hardly."""
    found = out([24, 56], high=46, low=34)
    assert found.total_s == pytest.approx(QUARTER * 22 / 32 - QUARTER * 2 / 32)
    assert (found.least_s, found.most_s) == (0, QUARTER)


def test_longest_is_without_a_break():
    """Two times out: the longer one, and both touch at most where one reading lies between."""
    found = out([46, 46, 44, 46, 46, 46, 44])
    assert found.longest_s == pytest.approx(3 * QUARTER)
    assert found.longest_most_s == 6 * QUARTER
    assert out([46, 44, 44, 44, 46]).longest_most_s == QUARTER


def test_a_gap_in_limits_is_not_proven_and_never_a_pass():
    """Both ends cold, 16 minutes apart where 15 are allowed."""
    found = out([40, 40], gap=QUARTER, every=QUARTER + 60)
    assert (found.total_s, found.most_s, found.unproven_s) == (0, 0, QUARTER + 60)
    assert found.gaps == ((0, QUARTER + 60),)
    assert judge_time_out(found) is Outcome.NOT_PROVEN
    assert judge_time_out(found, 2 * QUARTER) is Outcome.MET
    assert judge_time_out(found, 2 * QUARTER, most_at_once_s=QUARTER) is Outcome.NOT_PROVEN


def test_a_gap_with_an_end_out_counts_as_out_in_the_estimate_too():
    """No crossing is drawn over it."""
    found = out([40, 50], gap=60)
    assert (found.total_s, found.most_s, found.unproven_s) == (QUARTER, QUARTER, 0)
    assert judge_time_out(found, QUARTER - 1) is Outcome.NOT_MET


def test_not_met_outweighs_not_proven():
    """A reading out and a gap elsewhere: out of limits is what decides."""
    found = time_out_of_limits([0, 900, 9000], [46, 40, 40], high=45, longest_gap_s=900)
    assert judge_time_out(found) is Outcome.NOT_MET
    assert judge_time_out(found, 900) is Outcome.NOT_PROVEN


def test_time_at_once_is_judged_by_its_worst():
    """Allowed an hour in all but a quarter at once."""
    found = out([44, 46, 44, 44, 44])
    assert judge_time_out(found, HOUR, most_at_once_s=2 * QUARTER) is Outcome.MET
    assert judge_time_out(found, HOUR, most_at_once_s=2 * QUARTER - 1) is Outcome.NOT_MET


@pytest.mark.parametrize("limits", [{"high": math.nan}, {"low": math.inf}, {"high": 40, "low": 45}])
def test_limits_of_no_sense_are_refused(limits):
    """Not a number, or the lower above the upper."""
    with pytest.raises(OutsideRange):
        out([40, 40], **limits)


def test_no_limit_and_no_trace_are_refused():
    """Without a limit nothing can be out; without two readings nothing lies between."""
    with pytest.raises(CalculationError, match="limit"):
        time_out_of_limits([0, 1], [40, 40], longest_gap_s=1)
    with pytest.raises(CalculationError):
        out([40])
    with pytest.raises(OutsideRange):
        out([40, math.nan])
    with pytest.raises(OutsideRange):
        out([40, 40], gap=-1)
    with pytest.raises(OutsideRange):
        judge_time_out(out([40, 40]), -1)


def test_first_in_limit_is_a_reading_and_the_crossing_an_estimate():
    """Warm again later: it stays from the last time on."""
    found = first_in_limit([0, 60, 120, 180, 240], [50, 46, 44, 46, 44], 45, longest_gap_s=60)
    assert (found.seen_s, found.estimate_s, found.last_out_s, found.stays_from_s) == (120, 90, 60, 240)


def test_no_crossing_is_estimated_over_a_gap():
    """The reading itself is then all there is."""
    found = first_in_limit([0, 600], [50, 40], 45, longest_gap_s=599)
    assert (found.seen_s, found.estimate_s) == (600, 600)


def test_never_in_limit_and_always_in_limit():
    """Nothing to name, or the first reading."""
    never = first_in_limit([0, 60], [50, 46], 45, longest_gap_s=60)
    assert (never.seen_s, never.estimate_s, never.last_out_s, never.stays_from_s) == (None, None, 60, None)
    always = first_in_limit([0, 60], [40, 41], 45, longest_gap_s=60)
    assert (always.seen_s, always.estimate_s, always.last_out_s, always.stays_from_s) == (0, 0, None, 0)


def test_readings_before_the_start_do_not_count():
    """Cold before milking says nothing about the milk."""
    found = first_in_limit([0, 60, 120], [40, 60, 44], 45, longest_gap_s=60, from_s=60)
    assert found.seen_s == 120
    none_left = first_in_limit([0, 60], [40, 40], 45, longest_gap_s=60, from_s=61)
    assert (none_left.seen_s, none_left.last_out_s) == (None, None)


@pytest.mark.parametrize(
    ("values", "expected", "margin"),
    [
        ([90, 60, 50, 46, 45], Outcome.MET, 0),
        ([90, 60, 44, 44, 44], Outcome.MET, HOUR),
        ([90, 60, 50, 47, 46], Outcome.NOT_MET, None),
        ([90, 60, 50, 47, 46, 44], Outcome.NOT_MET, -HOUR / 2),
        ([90, 60, 44, 46, 45], Outcome.MET, 0),
        ([90, 60, 44, 44, 44, 46], Outcome.NOT_MET, HOUR),
        ([90, 60, 44, 44, 46, 44], Outcome.NOT_MET, -HOUR / 2),
        ([90, 60, 50], Outcome.NOT_PROVEN, None),
    ],
)
def test_cooling_verdicts(values, expected, margin):
    """In time; late; warm again; the trace ends too early."""
    found = cooled(values)
    assert (found.outcome, found.margin_s) == (expected, margin)
    assert found.reason


def test_a_crossing_before_the_deadline_is_no_pass():
    """46 °F ten minutes before it and 40 °F ten minutes after it: perhaps, but nobody saw it."""
    found = judge_cooling([0, 110 * 60, 130 * 60], [90, 46, 40], RULE, longest_gap_s=2 * HOUR)
    assert found.first.estimate_s is not None
    assert found.first.estimate_s < found.deadline_s
    assert found.outcome is Outcome.NOT_PROVEN


def test_warm_once_more_before_the_deadline_is_cooled_anew():
    """Cold, warm, and then no reading until after the deadline: nothing shows the second cooling in time."""
    times = [0, HOUR, 1.5 * HOUR, 2.5 * HOUR]
    found = judge_cooling(times, [90, 44, 60, 44], RULE, longest_gap_s=HOUR)
    assert (found.outcome, found.first.seen_s) == (Outcome.NOT_PROVEN, 2.5 * HOUR)


def test_a_gap_before_the_deadline_does_not_matter():
    """Cold at half an hour and at two: how it was between is not asked."""
    found = judge_cooling([0, HOUR / 2, 2 * HOUR, 2.5 * HOUR], [90, 44, 44, 44], RULE, longest_gap_s=HOUR)
    assert found.outcome is Outcome.MET


def test_cold_after_the_deadline_with_nothing_before_proves_nothing():
    """The first reading comes too late to tell."""
    found = judge_cooling([3 * HOUR, 4 * HOUR], [40, 40], RULE, longest_gap_s=HOUR)
    assert found.outcome is Outcome.NOT_PROVEN


def test_a_gap_once_cold_is_not_proven():
    """It may have been warm meanwhile."""
    found = judge_cooling([0, HOUR, 3 * HOUR], [90, 44, 44], RULE, longest_gap_s=HOUR)
    assert found.outcome is Outcome.NOT_PROVEN
    unbound = CoolingRule(high=45, within_s=2 * HOUR)
    assert judge_cooling([0, HOUR, 3 * HOUR], [90, 44, 60], unbound, longest_gap_s=HOUR).outcome is Outcome.MET


def test_time_begins_at_the_start_that_is_given():
    """Two hours from the end of milking, half an hour into the trace."""
    late = cooled([90, 88, 60, 50, 46, 44])
    assert late.outcome is Outcome.NOT_MET
    assert cooled([90, 88, 60, 50, 46, 44], start_s=HOUR / 2).outcome is Outcome.MET


def test_blend_within_its_own_limit_keeps_the_verdict():
    """45 °F by two hours, then warm milk is added: 50 °F holds for the blend."""
    rule = CoolingRule(high=45, within_s=2 * HOUR, then_high=50)
    assert cooled([90, 60, 44, 44, 43, 50, 43], rule=rule).outcome is Outcome.MET
    warm = cooled([90, 60, 44, 44, 43, 50.5, 43], rule=rule)
    assert (warm.outcome, warm.warmest_after) == (Outcome.NOT_MET, 50.5)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(30, 95), min_size=2, max_size=10), st.floats(0, 10))
def test_colder_readings_never_turn_a_cooling_bad(values, colder):
    """Each reading colder: what was met stays met."""
    if cooled(values).outcome is Outcome.MET:
        assert cooled([one - colder for one in values]).outcome is Outcome.MET


@pytest.mark.parametrize(
    "rule",
    [
        CoolingRule(high=45, within_s=0),
        CoolingRule(high=45, within_s=math.nan),
        CoolingRule(high=math.nan, within_s=HOUR),
        CoolingRule(high=45, within_s=HOUR, then_high=44),
    ],
)
def test_rules_of_no_sense_are_refused(rule):
    """No time, no number, a limit afterwards below the first."""
    with pytest.raises(OutsideRange):
        cooled([50, 44], rule=rule)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.floats(0.1, 1e4), st.floats(0, 40)), min_size=1, max_size=6))
def test_a_blend_lies_between_its_parts_in_any_order(parts):
    """Neither colder than the coldest nor warmer than the warmest."""
    masses, temperatures = [one[0] for one in parts], [one[1] for one in parts]
    found = blend_temperature_c(masses, temperatures)
    assert min(temperatures) - 1e-9 <= found <= max(temperatures) + 1e-9
    assert blend_temperature_c(masses[::-1], temperatures[::-1]) == pytest.approx(found)


def test_specific_heats_weigh_the_parts():
    """Cream holds less heat a kilogram than milk."""
    assert blend_temperature_c([100, 100], [4, 20], [3.9, 3.4]) == pytest.approx((3.9 * 4 + 3.4 * 20) / 7.3)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 1e4), st.floats(0, 9.9), st.floats(10.1, 40))
def test_the_most_warm_milk_brings_the_blend_to_the_limit(mass, tank, added):
    """Added to the tank it comes to 10 °C."""
    most = most_warm_milk_kg(mass, tank, added, 10)
    if most >= 0.001:
        assert blend_temperature_c([mass, most], [tank, added]) == pytest.approx(10)


def test_warm_tank_and_cold_addition_have_no_most():
    """Above the limit already, or nothing that could pass it."""
    with pytest.raises(Infeasible, match="already"):
        most_warm_milk_kg(100, 11, 34, 10)
    with pytest.raises(Infeasible, match="not warmer"):
        most_warm_milk_kg(100, 4, 10, 10)


@pytest.mark.parametrize(
    ("masses", "temperatures", "heats"),
    [([], [], None), ([1], [1, 2], None), ([1], [1], [1, 1]), ([0], [1], None), ([1], [-1], None), ([1], [1], [0])],
)
def test_blends_of_no_sense_are_refused(masses, temperatures, heats):
    """No part, uneven lists, no mass, ice, no specific heat."""
    with pytest.raises(CalculationError):
        blend_temperature_c(masses, temperatures, heats)
