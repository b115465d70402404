"""Lethality: its laws, its caution, its refusals."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plant.process import lethality
from plant.process.errors import CalculationError, OutsideRange
from plant.process.lethality import arithmetic, organisms, recorded, reductions

pytestmark = pytest.mark.once

few = settings(max_examples=50, deadline=None)
ZS = st.floats(3, 20)
TRACES = st.lists(st.floats(50, 75), min_size=2, max_size=40)
NAMES = sorted(key for key, one in lethality.ORGANISMS.items() if one.z_low_c is not None)
# A vat record of readings each five minutes: [s], [°C].
VAT = np.arange(10) * 300.0, np.array([55, 60, 62.5, 63.2, 63.4, 63.5, 63.3, 63.1, 60, 50])


def times(levels, step=10.0):
    return np.arange(len(levels)) * step


@pytest.mark.parametrize("module", [arithmetic, recorded, organisms, reductions])
def test_examples_of_the_docstrings_run(module):
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_public_function_says_its_range_and_source():
    """Each public function's docstring has a line with its range and one with its source."""
    functions = [getattr(lethality, name) for name in lethality.__all__ if name[0].islower()]
    assert len(functions) >= 12
    assert [one.__name__ for one in functions if "Source:" not in one.__doc__ or "Range:" not in one.__doc__] == []


@few
@given(TRACES, ZS)
def test_trapezium_never_says_less_than_straight_lines(levels, z):
    """The lethal rate is convex, so chords lie above it; both lie between the lower and the higher ends."""
    found = lethality.f_value(times(levels), levels, 72, z)
    hair = 1e-12 * found.trapezium_s
    assert found.lower_ends_s - hair <= found.exact_s <= found.trapezium_s + hair <= found.higher_ends_s + 2 * hair


@few
@given(TRACES, ZS)
def test_excess_of_the_trapezium_rule_keeps_its_bound(levels, z):
    """In each step it is at most dt x^2/12 of the higher rate, x = ln 10 dT/z."""
    found = lethality.f_value(times(levels), levels, 72, z)
    rates = lethality.lethal_rate(levels, 72, z)
    bound = np.sum(10 * (math.log(10) * np.diff(levels) / z) ** 2 / 12 * np.maximum(rates[:-1], rates[1:]))
    assert found.trapezium_s - found.exact_s <= bound * (1 + 1e-9) + 1e-12 * found.exact_s


@few
@given(TRACES, TRACES, ZS)
def test_parts_of_a_trace_add_up(before, after, z):
    """F of a trace is F up to any reading and F from there."""
    levels, cut = before + after, len(before)
    moments = times(levels)
    whole = lethality.exact_f_s(moments, levels, 72, z)
    first = lethality.exact_f_s(moments[: cut + 1], levels[: cut + 1], 72, z)
    assert first + lethality.exact_f_s(moments[cut:], levels[cut:], 72, z) == pytest.approx(whole, rel=1e-12)


@few
@given(TRACES, ZS)
def test_reading_put_on_the_straight_line_changes_nothing(levels, z):
    """Twice as many readings on the same lines have the same exact F; the trapezium rule comes closer to it."""
    moments = times(levels)
    fine = np.linspace(moments[0], moments[-1], 2 * len(levels) - 1)
    between = np.interp(fine, moments, levels)
    exact = lethality.exact_f_s(moments, levels, 72, z)
    assert lethality.exact_f_s(fine, between, 72, z) == pytest.approx(exact, rel=1e-12)
    coarse = lethality.trapezium_f_s(moments, levels, 72, z)
    assert lethality.trapezium_f_s(fine, between, 72, z) <= coarse * (1 + 1e-12)


@few
@given(TRACES, ZS, st.floats(-2, 2))
def test_colder_is_never_more_lethal(levels, z, shift):
    """All readings shifted by u are worth 10^(u/z) as much; so is the reference shifted the other way."""
    moments = times(levels)
    base = lethality.exact_f_s(moments, levels, 72, z)
    shifted = lethality.exact_f_s(moments, np.add(levels, shift), 72, z)
    assert shifted == pytest.approx(base * 10 ** (shift / z), rel=1e-9)
    assert lethality.exact_f_s(moments, levels, 72 - shift, z) == pytest.approx(shifted, rel=1e-9)


@few
@given(TRACES, ZS)
def test_backwards_in_time_is_as_lethal(levels, z):
    """Only how long at what temperature matters."""
    forth, back = (lethality.exact_f_s(times(levels), one, 72, z) for one in (levels, levels[::-1]))
    assert forth == pytest.approx(back, rel=1e-12)


@pytest.mark.parametrize("rise", [0.0, 1e-300, 1e-15, 1e-9, 1e-6, 1e-3, 0.1, 0.999, 1.0, 1.001, 5.0])
def test_nearly_level_step_is_stable(rise):
    """However little the temperature moves, the step lies between its ends and near their middle."""
    z = 2 * math.log(10)  # the series ends at a rise of 1.2
    start, end = lethality.lethal_rate([72.0, 72.0 + rise], 72, z)
    found = lethality.exact_f_s([0, 1], [72.0, 72.0 + rise], 72, z)
    assert start <= found <= end
    assert found == pytest.approx(math.sqrt(start * end), rel=rise**2 / 40 + 1e-15)


def test_series_and_quotient_meet_without_a_step():
    """On both sides of the place where one formula takes over from the other, F goes on smoothly."""
    z = 2 * math.log(10)
    below, above = (lethality.exact_f_s([0, 1], [72.0, 72.6 + hair], 72, z) for hair in (-1e-12, 1e-12))
    assert above == pytest.approx(below, rel=1e-11)


def test_coarse_trace_says_so_with_the_numbers():
    """Five minutes between readings of a heating vat are too much: the sentence carries both F and the bounds."""
    found = lethality.f_value(*VAT, 63, 4.3)
    assert found.coarse
    assert "too far apart (up to 300 s)" in found.sentences[0]
    assert "4.3 % more" in found.sentences[0]


def test_fine_trace_is_not_called_coarse():
    """The same record interpolated to each ten seconds needs no sentence."""
    fine = np.arange(0, 2700.1, 10)
    found = lethality.f_value(fine, np.interp(fine, *VAT), 63, 4.3)
    assert (found.coarse, found.sentences) == (False, ())


@few
@given(TRACES, ZS, st.floats(0, 1), st.floats(0, 0.5))
def test_doubt_of_the_sensor_widens_both_sides(levels, z, bias, scatter):
    """F(T - u) and F(T + u) bound it, scatter widens it further, more doubt never narrows it."""
    moments = times(levels)
    plain = lethality.f_value(moments, levels, 72, z)
    assert plain.low_s == plain.exact_s == plain.high_s
    biased = lethality.f_value(moments, levels, 72, z, bias_c=bias)
    assert biased.low_s == pytest.approx(lethality.exact_f_s(moments, np.subtract(levels, bias), 72, z), rel=1e-9)
    assert biased.high_s == pytest.approx(lethality.exact_f_s(moments, np.add(levels, bias), 72, z), rel=1e-9)
    both = lethality.f_value(moments, levels, 72, z, bias_c=bias, random_c=scatter)
    assert 0 <= both.low_s <= biased.low_s
    assert both.high_s >= biased.high_s


def test_low_end_is_without_the_gaps():
    """A straight line across a gap of the record proves nothing: the low end does not count it, and it is said."""
    found = lethality.f_value([0, 1, 2, 102, 103], [72.0] * 5, 72, 4.3)
    assert (found.exact_s, found.low_s, found.gaps_s) == pytest.approx((103, 3, 100))
    assert "prove nothing" in found.sentences[-1]


def test_a_trace_that_is_coarse_throughout_is_all_gaps_unless_somebody_said_how_coarse():
    """Five minutes between readings, each as long as the next: what was between them nobody saw, and it is said."""
    found, said = (lethality.f_value(*VAT, 63, 4.3, step_s=step) for step in (None, 300))
    assert (found.low_s, found.gaps_s, found.gaps_f_s) == pytest.approx((0, 2700, found.exact_s))
    assert "longer than 60 s counts as a gap" in found.sentences[-1]
    assert (said.low_s, said.gaps_s) == pytest.approx((said.exact_s, 0))
    assert not any("counts as a gap" in one for one in said.sentences)
    killed, shown = (lethality.reduction([0, 70, 140], [63.0] * 3, "listeria", step_s=step) for step in (None, 70))
    assert (killed.least.logs, killed.most.logs, killed.left_out_s) == (0, 0, 140)
    assert "longer than 60 s counts as a gap" in killed.sentences[-1]
    assert shown.least.logs > 0 and shown.left_out_s == 0


@pytest.mark.parametrize("answer", ["f_value", "reduction"])
def test_every_answer_says_that_it_is_no_verdict(answer):
    """It supports an evaluation, never replaces the legal verdict, and releases nothing."""
    found = lethality.f_value(*VAT, 63, 4.3) if answer == "f_value" else lethality.reduction(*VAT, "listeria")
    assert "never replaces the legal verdict" in found.notice
    assert "releases no product" in found.notice


def test_absurd_number_of_reductions_is_said_as_more():
    """Half an hour at 63 °C is 83 log by the line; nobody ever showed that, so nobody reads it here."""
    found = lethality.reduction([0, 1800], [63.0, 63.0], "listeria", step_s=1800)
    assert found.most.more
    assert found.most.logs == lethality.MOST_LOGS
    assert "83" not in found.words()
    assert "more than 8 log" in found.words()


def test_reductions_are_rounded_down_in_words():
    """4.38 log is said as 4.3, never as 4.4."""
    assert lethality.log_reductions(4.38, 1).words() == "4.3 log"
    assert lethality.log_reductions(8, 1).words() == "8.0 log"
    assert lethality.log_reductions(8.000001, 1).words() == "more than 8 log"


@few
@given(st.sampled_from(NAMES), st.floats(-4.9, 4.9), st.floats(0.5, 60), st.floats(0, 1), st.floats(0, 0.3))
def test_least_never_exceeds_most(name, beyond, hold, bias, scatter):
    """Over the spread of D, z and the sensor the least is no more than the most, and doubt widens both."""
    known = lethality.ORGANISMS[name]
    level = known.measured_high_c + beyond
    moments, levels = np.linspace(0, hold, 30), np.full(30, level)
    sure = lethality.reduction(moments, levels, name)
    doubtful = lethality.reduction(moments, levels, name, bias_c=bias, random_c=scatter)
    assert doubtful.least.logs <= sure.least.logs + 1e-9
    assert sure.least.logs <= sure.most.logs + 1e-9
    assert sure.most.logs <= doubtful.most.logs + 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_temperature_far_from_the_trials_is_refused(name):
    """More than five degrees beyond the measured range there is no answer, at either side."""
    known = lethality.ORGANISMS[name]
    for level in (known.measured_high_c + 5.1, known.measured_low_c - 5.1):
        with pytest.raises(OutsideRange, match="hottest reading"):
            lethality.reduction([0, 15], [level, level], name)
        with pytest.raises(OutsideRange, match="temperature for"):
            lethality.d_range_s(name, level)
    edge = known.measured_high_c + 5
    assert lethality.reduction([0, 15], [edge, edge], name).most.logs > 0
    assert "hotter than the trials" in lethality.reduction([0, 15], [edge, edge], name).sentences[1]


def test_cold_part_of_a_trace_counts_as_nothing():
    """Readings colder than an answer is given for add no reductions, and the seconds are said."""
    warm = lethality.reduction([100, 110, 120], [72.0] * 3, "salmonella")
    ramp = lethality.reduction([0, 50, 100, 110, 120], [4.0, 57.0, 72.0, 72.0, 72.0], "salmonella", step_s=60)
    assert ramp.most.logs == pytest.approx(warm.most.logs)
    assert (ramp.left_out_s, ramp.counted_s) == (100, 20)
    assert any("below 57.8 °C count as nothing" in one for one in ramp.sentences)


def test_gap_of_a_trace_counts_as_nothing():
    """What a recorder was silent about reduces nothing."""
    whole = lethality.reduction([0, 1, 2, 3], [68.3] * 4, "salmonella")
    gap = lethality.reduction([0, 1, 2, 40, 41], [68.3] * 5, "salmonella")
    assert gap.most.logs == pytest.approx(whole.most.logs)
    assert any("gaps" in one for one in gap.sentences)


def test_organism_without_a_z_is_only_answered_where_it_was_measured():
    """D at 71.7 °C, nothing at another temperature and nothing for a trace."""
    found = lethality.d_range_s("listeria-heat-shocked", 71.7)
    assert (found.low_s, found.high_s) == (3.0, 4.6)
    with pytest.raises(OutsideRange):
        lethality.d_range_s("listeria-heat-shocked", 71.8)
    with pytest.raises(CalculationError, match="no z is published"):
        lethality.reduction([0, 15], [71.7, 71.7], "listeria-heat-shocked")


def test_each_organism_says_where_it_was_read():
    """Source, basis and note stand beside each, and its numbers are in order."""
    for key, one in lethality.ORGANISMS.items():
        assert one.key == key
        assert one.source and one.basis and one.note
        assert one.d_low_s <= one.d_high_s
        assert one.measured_low_c <= one.reference_c <= one.measured_high_c


@few
@given(st.floats(0.001, 1000), ZS, st.floats(-12, 12))
def test_d_falls_tenfold_each_z(d, z, apart):
    """D there and back is D; one z hotter it is a tenth."""
    assume(abs(apart) < 4.9 * z and 1e-4 < d * 10 ** (-apart / z) < 1e6)
    there = lethality.d_at_s(72 + apart, d, 72, z)
    assert lethality.d_at_s(72, there, 72 + apart, z) == pytest.approx(d)
    assert lethality.d_at_s(72 + z, d, 72, z) == pytest.approx(d / 10)


@few
@given(st.floats(1, 3600), st.floats(60, 80), st.floats(60, 80), st.floats(4, 12))
def test_equal_holds_imply_their_z(hold, first, second, z):
    """The z between a hold and its equivalent is the one that it was computed with."""
    assume(abs(first - second) > 0.5)
    other = lethality.equivalent_hold_s(hold, first, second, z)
    assume(1e-3 <= other <= 1e7)
    assert lethality.z_between(first, hold, second, other) == pytest.approx(z)


def test_fit_of_an_exact_line_has_no_error():
    """Holds computed from one z give it back."""
    levels = [62, 64, 66, 69]
    found = lethality.fit_z(levels, [1000 * 10 ** ((62 - one) / 5) for one in levels])
    assert (found.z, found.points) == (pytest.approx(5), 4)
    assert found.z_error == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: lethality.lethal_rate([72], 72, 0.5), "z 0.5"),
        (lambda: lethality.lethal_rate([72], 30, 5), "reference temperature"),
        (lambda: lethality.lethal_rate([98], 72, 5), "temperature 98 °C is above 97"),
        (lambda: lethality.lethal_rate([float("nan")], 72, 5), "temperature"),
        (lambda: lethality.exact_f_s([0, 1], [72, float("inf")], 72, 5), "temperature"),
        (lambda: lethality.f_value([0, 1], [72, 72], 72, 5, bias_c=-0.1), "bias"),
        (lambda: lethality.f_value([0, 1], [72, 72], 72, 5, random_c=9), "scatter"),
        (lambda: lethality.f_value([0, 1], [72, 72], 72, 5, step_s=0), "sampling step"),
        (lambda: lethality.pasteurization_units([0, 1], [96, 96]), "temperature"),
        (lambda: lethality.d_at_s(30, 1, 72, 5), "temperature"),
        (lambda: lethality.d_at_s(72, 0, 72, 5), "D value"),
        (lambda: lethality.log_reductions(-1, 1), "F value"),
        (lambda: lethality.time_for_reductions_s(13, 1), "log reductions"),
        (lambda: lethality.equivalent_hold_s(15, 72, 100, 4.3), "temperature"),
        (lambda: lethality.z_between(63, 0, 72, 15), "time"),
        (lambda: lethality.reduction([0, 15], [90, 90], "listeria"), "hottest reading"),
    ],
)
def test_value_outside_the_range_is_refused_by_name(call, named):
    """Each quantity outside its range is refused with its name."""
    with pytest.raises(OutsideRange, match=named):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: lethality.reduction([0, 15], [72, 72], "everything"),
        lambda: lethality.exact_f_s([0, 0], [72, 72], 72, 5),
        lambda: lethality.exact_f_s([0], [72], 72, 5),
        lambda: lethality.z_between(63, 15, 72, 1800),
        lambda: lethality.z_between(72, 15, 72, 15),
        lambda: lethality.fit_z([63, 72], [1800, 15]),
        lambda: lethality.fit_z([72, 72, 72], [15, 15, 16]),
        lambda: lethality.fit_z([62, 63, 64], [1, 2, 3]),
    ],
)
def test_what_gives_no_answer_is_refused_with_a_sentence(call):
    """Unknown organisms, traces that go nowhere and lines that do not fall give a sentence."""
    with pytest.raises(CalculationError):
        call()
