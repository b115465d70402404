"""Faults of sensors and clocks, and exact bounds: what is told apart, at the last digit."""

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Outcome
from plant.process.trace_blocks import Samples
from plant.process.trace_judging import (
    Cause,
    ClockCheck,
    FaultRules,
    Indicated,
    Run,
    compare_recorder,
    greatest_passing,
    judge_clock,
    least_passing,
    samples_of,
    sensor_faults,
)
from plant.process.units import UnitError, exact
from tests.trace_makers import channel, other

pytestmark = pytest.mark.once
few = settings(max_examples=50, deadline=None)
NAN = float("nan")


def found(levels, rules, **changes):
    """The faults as (cause, from, to [s], extreme)."""
    return [
        (one.cause.value, one.start_ms // 1000, one.end_ms // 1000, None if one.extreme is None else float(one.extreme))
        for one in sensor_faults(channel(levels, faults=rules, **changes))
    ]


FAST = FaultRules(fastest_per_s=10)


def test_a_sample_away_and_back_is_a_spike():
    """Faster than the process can, either way; its own value is said."""
    assert found([162, 162, 40, 162], FAST) == [("spike", 2, 2, 40.0)]
    assert found([162, 900, 162, 162], FAST) == [("spike", 1, 1, 900.0)]


def test_the_fastest_change_itself_is_the_process():
    """Ten degrees in a second are allowed, a tenth more is not."""
    assert found([162, 152, 162, 162], FAST) == []
    assert found([162, 151.9, 162, 162], FAST) == [("spike", 1, 1, 151.9)]


def test_a_change_that_stays_is_a_jump_until_it_goes_back():
    """Or for good: then nobody knows what the sensor shows."""
    assert found([162, 162, 182, 182, 182, 162, 162], FAST) == [("jump", 2, 4, 182.0)]
    assert found([162, 162, 182, 182, 182], FAST) == [("jump", 2, 4, 182.0)]
    assert found([162, 182, 182, 182, 177, 176], FAST) == [("jump", 1, 5, 182.0)]


def test_a_jump_goes_back_by_half_of_it_or_more():
    """Thirty up and fifteen down ends it; a tenth less does not."""
    assert found([162, 192, 192, 177, 177], FAST) == [("jump", 1, 2, 192.0)]
    assert found([162, 192, 192, 177.1, 177.1], FAST) == [("jump", 1, 4, 192.0)]


def test_how_long_a_spike_may_be_is_the_plants_rule():
    """Two samples of a wire shaken loose."""
    levels = [162, 40, 45, 162, 162]
    assert found(levels, replace(FAST, spike_ms=1000)) == [("spike", 1, 2, 40.0)]
    assert found(levels, FAST) == [("jump", 1, 2, 40.0)]


def test_a_comparison_ends_the_doubt_of_a_jump():
    """From that moment on somebody knows what the sensor shows."""
    assert found([162, 182, 182, 182, 182], FAST, vouched_ms=(3000,)) == [("jump", 1, 2, 182.0)]
    assert found([162, 182, 182, 182, 182], FAST, vouched_ms=(0,)) == [("jump", 1, 4, 182.0)]


def test_a_change_over_a_long_gap_is_the_process():
    """It had the time."""
    assert found([162, 60, 60], FAST, at=[0, 20_000, 21_000]) == []


def test_after_a_spike_the_next_event_is_seen_anew():
    """A spike, then a jump; two spikes in a row."""
    assert found([162, 40, 162, 190, 190], FAST) == [("spike", 1, 1, 40.0), ("jump", 3, 4, 190.0)]
    assert found([162, 40, 162, 40, 162], FAST) == [("spike", 1, 1, 40.0), ("spike", 3, 3, 40.0)]


def test_a_flat_line_is_as_long_as_the_rule_says():
    """Three seconds from the first sample of it to the last; a tenth of a degree ends it."""
    assert found([1, 5, 5, 5, 5, 1], FaultRules(flat_ms=3000)) == [("flat line", 1, 4, 5.0)]
    assert found([1, 5, 5, 5, 5.1, 5.1], FaultRules(flat_ms=3000)) == []


def test_failed_samples_are_faults_without_a_value():
    """And the value after them is compared with the one before."""
    assert found([162, NAN, NAN, 162], FAST) == [("sensor reported a failure", 1, 2, None)]
    assert found([], FAST) == [] and found([NAN], FAST) == [("sensor reported a failure", 0, 0, None)]


def test_without_rules_only_failures_are_seen():
    """What is not asked is not guessed."""
    assert found([162, 40, NAN], None) == [("sensor reported a failure", 2, 2, None)]


def test_numbers_of_any_size_are_compared_exactly():
    """Beyond 64 bits too."""
    assert found([0, 1, 3], FaultRules(fastest_per_s=Fraction(10**18 + 1, 10**18))) == [("jump", 2, 2, 3.0)]


RANGE = FaultRules(lowest=32, highest=300)


def test_what_an_instrument_cannot_measure_is_a_fault():
    """A broken wire reads far up or far down; the ends of the range are measured."""
    assert found([32, 300, 162], RANGE) == []
    assert found([162, 300.1, 850, 162, 31.9], RANGE) == [
        ("outside the instrument's range", 1, 2, 850.0), ("outside the instrument's range", 4, 4, 31.9),
    ]  # fmt: skip
    assert found([850.0], FaultRules(lowest=32)) == [] == found([-200.0], FaultRules(highest=300))


def test_of_two_values_one_that_can_be_measured_counts():
    """850 beside 160: the 160 is believed. 850 beside -200: neither is."""
    assert found([850.0], RANGE, contradicting=other([0], [1600])) == []
    assert [one[0] for one in found([850.0], RANGE, contradicting=other([0], [-2000]))] == [Cause.OUT_OF_RANGE]


@pytest.mark.parametrize(
    "rules",
    [FaultRules(flat_ms=0), FaultRules(fastest_per_s=0), FaultRules(1, 1, -1), FaultRules(lowest=2, highest=1)],
)
def test_rules_that_ask_nothing_are_refused(rules):
    """No time, no speed, less than no time, an upper end below the lower one."""
    with pytest.raises(OutsideRange):
        sensor_faults(channel([1, 2, 3], faults=rules))


@pytest.mark.proves("trace_judging.sensor_faults", by="independent", source="steps looked at one by one, in fractions")
@pytest.mark.parametrize("seed", range(20))
def test_steps_looked_at_one_by_one_come_to_the_same(seed):
    """Spikes of one sample and flat lines, on a trace that has only those."""
    draw = random.Random(seed)
    level, levels, spikes = 1620, [], []
    while len(levels) < 120:
        if draw.random() < 0.05 and len(levels) > 1 and len(levels) - 2 > max(spikes, default=0):
            spikes.append(len(levels))
            levels += [level + draw.choice([-1, 1]) * draw.randint(301, 999), level]
        level += draw.choice([-3, 0, 0, 0, 3])
        levels.append(level)
    values = [one / 10 for one in levels]
    flats, first = [], 0
    for place in range(1, len(values) + 1):
        if place == len(values) or values[place] != values[first]:
            if place - 1 - first >= 4:
                flats.append(("flat line", first, place - 1, values[first]))
            first = place
    wanted = sorted([("spike", one, one, values[one]) for one in spikes] + flats, key=lambda one: one[1:3])
    assert sorted(found(values, FaultRules(4000, 10)), key=lambda one: one[1:3]) == wanted


def test_a_clock_within_its_bound_is_good():
    """A minute itself is allowed; its drift is said."""
    state = judge_clock([ClockCheck(0, 0), ClockCheck(10**8, 60_000)], 60_000, 0, 10**8)
    assert (state.outcome, state.spans, state.least_ms, state.most_ms, state.drift_ppm) == (
        Outcome.MET,
        (),
        0,
        60000,
        600,
    )


def test_a_clock_off_is_in_doubt_from_the_last_good_check_to_the_next():
    """A millisecond beyond its bound, late as well as ahead."""
    checks = [ClockCheck(1000, 0), ClockCheck(2000, -60_001), ClockCheck(3000, 10), ClockCheck(4000, 0)]
    assert judge_clock(checks, 60_000, 0, 9000).spans == ((1000, 3000),)
    assert judge_clock(checks[1:2], 60_000, 0, 9000).spans == ((0, 9000),)


def test_without_a_check_no_clock_is_proven():
    """Nobody looked."""
    state = judge_clock([], 60_000, 5, 9)
    assert (state.outcome, state.spans, state.most_ms, state.drift_ppm) == (Outcome.NOT_PROVEN, ((5, 9),), None, None)


def test_a_clock_asked_wrongly_is_refused():
    """A bound below zero, two checks at once, an end before the start."""
    for checks, most, start, end in ([[], -1, 0, 1], [[ClockCheck(1, 0), ClockCheck(1, 5)], 0, 0, 1], [[], 0, 1, 0]):
        with pytest.raises(CalculationError):
            judge_clock(checks, most, start, end)


@pytest.mark.proves("trace_judging.judge_clock", by="independent", source="numpy.polyfit through the checks")
@pytest.mark.parametrize("seed", range(5))
def test_drift_is_the_slope_of_the_line_through_the_checks(seed):
    """Of a clock that drifts evenly, by least squares."""
    draw = random.Random(seed)
    ppm, at = draw.randint(-50, 50) * 10, sorted(draw.sample(range(10**5), 6))
    checks = [ClockCheck(one * 10**5, ppm * one // 10) for one in at]
    state = judge_clock(checks, 10**9, 0, 10**10)
    slope = np.polyfit([one.at_ms for one in checks], [one.ahead_ms for one in checks], 1)[0]
    assert float(state.drift_ppm) == pytest.approx(slope * 1e6, abs=1e-6)


@pytest.mark.proves(
    "trace_judging.compare_recorder", by="independent", source="the trace's step function, read by hand"
)
@pytest.mark.parametrize("at", range(0, 5500, 250))
def test_the_sample_in_force_is_the_last_one_before(at):
    """At each quarter of a second; the higher of two values."""
    levels = [160.0, 161.0, 162.0, 163.0, 164.0, 165.0]
    given = channel(levels, contradicting=other([2000], [1700]))
    level = 170 if at // 1000 == 2 else 160 + at // 1000
    one = compare_recorder(given, Run(0, 5000, (Indicated(at, 150, "°F"),)))
    assert (one is None) == (at > 5000)
    assert one is None or one.difference == level - 150


def test_a_comparison_in_another_unit_is_exact():
    """70 °C on the indicating thermometer beside 158 °F on the recorder: no difference."""
    assert compare_recorder(channel([158.0]), Run(0, 1, (Indicated(0, 70, "°C"),))).difference == 0


@few
@given(
    st.decimals(-50, 300, places=3), st.sampled_from(["°C", "°F"]), st.sampled_from(["°C", "°F"]), st.integers(0, 4),
    st.booleans(), st.decimals(-2, 2, places=2),
)  # fmt: skip
def test_the_least_and_the_greatest_that_pass_are_the_last_ones_that_do(bound, unit, to, places, strict, correction):
    """Each meets the bound as read and as corrected; the next one does not."""

    def meets(value, sign):
        both = (exact(Fraction(value, 10**places) + more, to, unit) for more in (Fraction(0), Fraction(correction)))
        return all(sign * (one - Fraction(bound)) > 0 or (one == bound and not strict) for one in both)

    least = least_passing(bound, unit, to, places, strict=strict, correction=correction)
    assert meets(least, 1) and not meets(least - 1, 1)
    most = greatest_passing(bound, unit, to, places, strict=strict, correction=correction)
    assert meets(most, -1) and not meets(most + 1, -1)


@pytest.mark.proves("trace_judging.samples_of", by="independent", source="decimal.Decimal of the printed float")
@few
@given(st.lists(st.decimals(-1000, 1000, places=3), max_size=30))
def test_floats_are_the_decimals_that_they_print(values):
    """And back again."""
    floats = [float(one) for one in values]
    made = samples_of(range(len(floats)), floats, 3)
    assert made.values.tolist() == [int(Decimal(repr(one)) * 1000) for one in floats]


@pytest.mark.parametrize(
    ("at", "values", "places"),
    [
        ([0], [1.25], 1),
        ([0], [float("inf")], 1),
        ([0, 0], [1, 1], 1),
        ([0], [1, 2], 1),
        ([0], [1e15], 3),
        ([0], [2e12], 0),
        ([0], [1], 7),
        ([0.5, 1.5], [1, 1], 0),
        ([0, NAN], [1, 1], 0),
        (np.array(["2026-03-03"], "datetime64[s]"), [1], 0),
    ],
)
def test_samples_that_are_none_are_refused(at, values, places):
    """More places than said, no number, one moment twice, lengths that differ, too large; parts of a millisecond."""
    with pytest.raises(CalculationError):
        samples_of(at, values, places)


def test_a_value_with_six_places_is_compared_however_large():
    """The largest that a file may hold, beside one with fewer places: nothing wraps round."""
    most = 10**12 - 1
    given = channel([float(most)], places=0, contradicting=other([0], [most * 10**6 + 999_999], 6))
    one = compare_recorder(given, Run(0, 1, (Indicated(0, 0, "°F"),)))
    assert one.recording == most + Fraction(999_999, 10**6)
    with pytest.raises(OutsideRange):
        sensor_faults(replace(channel([1]), samples=other([0], [10**13], 0)))


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.uint64, np.int16, np.int32])
def test_small_numbers_of_numpy_do_not_wrap_round(kind):
    """The step from 200 down to 3 is 197, whatever type says so."""
    levels = Samples(np.array([0, 1, 2], kind), np.array([200, 3, 200], kind), np.zeros(3, np.bool_), 0)
    given = replace(channel([1]), samples=levels, slowest_ms=1, faults=FaultRules(fastest_per_s=100_000))
    assert [one.cause.value for one in sensor_faults(given)] == ["spike"]
    assert least_passing(kind(161), "°F", "°F", 1) == 1610


def test_a_float_of_a_rule_is_the_decimal_that_it_prints():
    """0.1 is a tenth."""
    assert least_passing(0.1, "psi", "psi", 1) == greatest_passing(0.1, "psi", "psi", 1) == 1
    with pytest.raises(OutsideRange):
        least_passing(NAN, "psi", "psi", 1)


def test_masked_samples_and_broken_numbers_are_refused():
    """What is masked has to be left out: it makes a gap. Samples are whole numbers."""
    masked = np.ma.masked_array([1, 2], [False, True])
    with pytest.raises(CalculationError, match="masked"):
        samples_of([0, 1], masked, 0)
    for values in (masked, np.array([1.5, 2.0])):
        with pytest.raises(CalculationError):
            sensor_faults(replace(channel([1]), samples=Samples(np.array([0, 1]), values, np.zeros(2, np.bool_), 0)))
    with pytest.raises(CalculationError, match="mark"):
        sensor_faults(replace(channel([1]), samples=Samples(np.array([0, 1]), np.array([1]), np.zeros(2, np.bool_), 0)))


@pytest.mark.parametrize("function", [least_passing, greatest_passing])
def test_units_of_another_kind_are_refused(function):
    """A pressure is no temperature; and seven places are too many."""
    with pytest.raises(UnitError):
        function(1, "psi", "°F", 1)
    with pytest.raises(OutsideRange):
        function(1, "psi", "psi", 7)
