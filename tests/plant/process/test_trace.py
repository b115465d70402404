"""A recorded trace beside a legal limit: what counts as met, below, not proven."""

import doctest
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import trace
from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Limit, Outcome
from plant.process.trace import STATES, below_limit, least_reading, longer_steps

pytestmark = pytest.mark.once

MILK = Limit("htst-milk", "temperature", "°F", low=Decimal(161))
few = settings(max_examples=50, deadline=None)
LEVELS = st.lists(st.sampled_from([71.0, 71.6, 71.66, 71.67, 71.7, 72.0, 75.0]), min_size=2, max_size=60)


def judged(*levels, times=None, step_s=None):
    return below_limit(range(len(levels)) if times is None else times, levels, MILK, step_s=step_s)


def test_examples_of_the_docstrings_run():
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(trace)
    assert (found.attempted >= 3, found.failed) == (True, 0)


def test_trace_at_the_limit_throughout_is_met():
    """161 °F is 71.67 °C: 71.7 meets it all the way."""
    found = judged(71.7, 71.7, 72.0)
    assert (found.outcome, found.seconds_met, found.longest_met_s) == (Outcome.MET, 2.0, 2.0)
    assert [one.outcome for one in found.segments()] == [Outcome.MET]


def test_interval_with_one_end_below_does_not_count():
    """A single sample below takes the interval before and after it out, however short it may have been."""
    found = judged(72.0, 72.0, 71.6, 72.0, 72.0, 72.0)
    assert (found.seconds_met, found.seconds_below, found.samples_below) == (3.0, 2.0, 1)
    assert (found.longest_met_s, found.longest_below_s) == (2.0, 2.0)
    assert [(one.outcome.value, one.first, one.last, one.seconds) for one in found.segments()] == [
        ("met", 0, 1, 1.0),
        ("not met", 1, 3, 2.0),
        ("met", 3, 5, 2.0),
    ]


def test_gap_is_not_proven_however_warm_its_ends():
    """A lost sample leaves a step of two seconds: nothing is interpolated across it."""
    found = judged(72.0, 72.0, 72.0, 72.0, times=[0, 1, 3, 4])
    assert (found.outcome, found.seconds_met, found.seconds_not_proven) == (Outcome.NOT_PROVEN, 2.0, 2.0)
    assert found.longest_met_s == 1.0


def test_sample_below_between_two_gaps_is_not_lost():
    """Its intervals are not proven, yet it is below: the trace is not met."""
    found = judged(72.0, 72.0, 71.0, 72.0, 72.0, times=[0, 1, 10, 19, 20], step_s=1)
    assert (found.seconds_below, found.samples_below, found.outcome) == (0.0, 1, Outcome.NOT_MET)
    assert (found.lowest, found.lowest_at_s) == (71.0, 10.0)


def test_jitter_of_a_clock_is_no_gap():
    """Without a step of its own the trace allows half of its median step more, never a whole sample."""
    assert judged(72, 72, 72, 72, times=[0, 1, 2.4, 3.4]).seconds_not_proven == 0
    assert judged(72, 72, 72, 72, times=[0, 1, 3, 4]).seconds_not_proven == 2
    assert judged(72, 72, 72, 72, times=[0, 1, 2.4, 3.4], step_s=1).seconds_not_proven == pytest.approx(1.4)


def test_moments_since_1970_do_not_turn_into_gaps():
    """A tenth of a second at 1.77e9 s is not exact; a microsecond of rounding is no gap."""
    times = 1_770_000_000 + np.arange(100) / 10
    assert below_limit(times, np.full(100, 72.0), MILK, step_s=0.1).seconds_not_proven == 0


def test_limit_in_its_own_unit_decides():
    """185 °F is 85 °C exactly and met there; a trace in °F is compared as it is."""
    cream = Limit("cream", "temperature", "°F", low=Decimal(185))
    assert below_limit([0, 1], [85.0, 85.0], cream).outcome == Outcome.MET
    assert below_limit([0, 1], [84.99, 85.0], cream).outcome == Outcome.NOT_MET
    assert below_limit([0, 1], [185.0, 184.9], cream, "°F").samples_below == 1


@few
@given(st.decimals(30, 250, places=2), st.sampled_from(["°C", "°F"]), st.sampled_from(["°C", "°F"]))
def test_least_reading_is_the_first_float_that_meets(low, unit, to):
    """The float itself meets the limit exactly, as the decimal that it prints, and the one before it does not."""
    limit = Limit("any", "temperature", unit, low=low)
    least = least_reading(limit, to)
    assert Decimal(repr(least)) >= (Decimal(low) if unit == to else _other(low, to)) - Decimal("1e-20")
    before = Decimal(repr(float(np.nextafter(least, -np.inf))))
    assert before < (Decimal(low) if unit == to else _other(low, to))


def _other(low, to):
    return (low - 32) * 5 / 9 if to == "°C" else low * 9 / 5 + 32


@few
@given(LEVELS, st.lists(st.floats(0.2, 5), min_size=59, max_size=59))
def test_seconds_of_all_states_add_up_to_the_trace(levels, steps):
    """Met, below and not proven are all there is, and the segments touch and cover everything."""
    times = np.concatenate(([0.0], np.cumsum(steps)))[: len(levels)]
    found = below_limit(times, levels, MILK)
    assert found.seconds_met + found.seconds_below + found.seconds_not_proven == pytest.approx(times[-1])
    segments = list(found.segments())
    assert (segments[0].first, segments[-1].last) == (0, len(levels) - 1)
    for one, after in zip(segments, segments[1:], strict=False):
        assert one.last == after.first
        assert one.outcome != after.outcome


@few
@given(LEVELS)
def test_warmer_trace_never_meets_less(levels):
    """Half a degree more everywhere never shortens the time that counts."""
    low, high = judged(*levels), judged(*(one + 0.5 for one in levels))
    assert high.seconds_met >= low.seconds_met
    assert high.longest_met_s >= low.longest_met_s


@few
@given(LEVELS)
def test_read_backwards_the_trace_comes_to_the_same(levels):
    """Nothing depends on the direction of time."""
    forth, back = judged(*levels), judged(*levels[::-1])
    assert (forth.seconds_met, forth.longest_below_s) == (back.seconds_met, back.longest_below_s)


@few
@given(LEVELS, st.integers(0, 59))
def test_sample_left_out_never_helps(levels, place):
    """Without one of its samples a trace counts no more time as met."""
    if len(levels) < 4 or not 0 < place < len(levels) - 1:
        return
    times = list(range(len(levels)))
    whole = below_limit(times, levels, MILK, step_s=1)
    less = below_limit(times[:place] + times[place + 1 :], levels[:place] + levels[place + 1 :], MILK, step_s=1)
    assert less.seconds_met <= whole.seconds_met


def test_the_sentence_names_limit_and_times():
    """The words carry the longest run, the limit, and what was below or not proven."""
    words = judged(72.0, 72.0, 71.0, 72.0, 72.0, times=[0, 1, 2, 3, 9]).words()
    assert words == "1 s on end at 161 °F or above at most; 2 s below it, 6 s not proven."


@pytest.mark.parametrize(
    "limit",
    [
        Limit("cold", "temperature", "°F", high=Decimal(45)),
        Limit("pressure", "pressure", "psi", low=Decimal(1)),
        Limit("none", "temperature", "°F"),
    ],
)
def test_limit_that_is_no_lowest_temperature_is_refused(limit):
    """Only a lowest temperature can be compared from below."""
    with pytest.raises(CalculationError, match="lowest temperature"):
        below_limit([0, 1], [72, 72], limit)


def test_unknown_unit_is_refused():
    """A trace in kelvin has no comparison here."""
    with pytest.raises(CalculationError, match="lowest temperature"):
        below_limit([0, 1], [345, 345], MILK, "K")


@pytest.mark.parametrize("levels", [[72, float("nan")], [72, -300], [72, 2000], [float("inf"), 72]])
def test_impossible_temperature_is_refused(levels):
    """A sensor at fault is left out by the caller, never judged."""
    with pytest.raises(OutsideRange):
        below_limit([0, 1], levels, MILK)


@pytest.mark.parametrize("step_s", [0, -1, float("nan")])
def test_step_must_be_longer_than_nothing(step_s):
    """A sampling step of nothing would make every interval a gap."""
    with pytest.raises(OutsideRange, match="sampling step"):
        longer_steps(np.array([1.0]), step_s)


def test_states_are_kept_by_their_place():
    """The places are part of what a later judgement reads."""
    assert [one.value for one in STATES] == ["met", "not met", "not proven"]
