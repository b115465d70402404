"""Control charts and their run rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.control_charts import (
    RULE_SETS,
    c4,
    cusum,
    d2,
    d3,
    ewma,
    factors,
    individuals,
    run_rules,
    xbar_r,
    xbar_s,
)
from plant.process.errors import CalculationError, Infeasible, OutsideRange

pytestmark = pytest.mark.once

values = st.lists(st.integers(-50, 50).map(float), min_size=2, max_size=30)
STEADY = [10.0, 11.0, 9.0, 10.5, 9.5, 10.0, 11.0, 9.0]


@pytest.mark.parametrize("n", [1, 26, 0, math.nan])
@pytest.mark.parametrize("constant", [c4, d2, d3, factors])
def test_sample_sizes_outside_2_to_25_are_refused(constant, n) -> None:
    """Nothing is extrapolated."""
    with pytest.raises(OutsideRange):
        constant(n)


def test_sample_size_is_whole() -> None:
    """2.5 is no sample size."""
    with pytest.raises(CalculationError, match="whole number"):
        d2(2.5)  # type: ignore[arg-type]


def test_constants_of_two_have_a_closed_form() -> None:
    """d2 = 2/sqrt(pi), d3 = sqrt(2 - 4/pi), c4 = sqrt(2/pi)."""
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), abs=1e-11)
    assert d3(2) == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-11)
    assert c4(2) == pytest.approx(math.sqrt(2 / math.pi), abs=1e-14)


def test_larger_samples_have_wider_ranges_and_tighter_limits() -> None:
    """d2 and c4 rise with n, A2, A3 and D4 fall; no lower limit is below zero."""
    made = [factors(n) for n in range(2, 26)]
    for name in ("d2", "c4"):
        assert [getattr(one, name) for one in made] == sorted(getattr(one, name) for one in made)
    for name in ("A2", "A3", "D4", "B4"):
        assert [getattr(one, name) for one in made] == sorted((getattr(one, name) for one in made), reverse=True)
    assert all(min(one.B3, one.D3, one.B5, one.D1) >= 0 for one in made)


def test_limits_come_from_the_baseline_alone() -> None:
    """A shift after it does not widen them."""
    shifted = [*STEADY, 20.0, 21.0]
    made = individuals(shifted, STEADY)
    assert made.mean == individuals(STEADY).mean
    assert (made.baseline, made.location.beyond) == (8, (9, 10))
    assert len(made.location.points) == 10


def test_moving_range_has_no_first_point() -> None:
    """It belongs to pairs; the jump into the shift is beyond its limit."""
    spread = individuals([*STEADY, 20.0], STEADY).spread
    assert math.isnan(spread.points[0])
    assert spread.points[1] == 1.0
    assert spread.beyond == (9,)


@settings(max_examples=50)
@given(values, st.floats(0.1, 10), st.floats(-100, 100))
def test_chart_of_individuals_moves_with_the_unit(row, scale, offset) -> None:
    """Unit-invariant: in °F instead of °C the same points are beyond."""
    if len(set(row)) == 1:
        return
    one, other = individuals(row), individuals([scale * value + offset for value in row])
    assert other.location.upper[0] == pytest.approx(scale * one.location.upper[0] + offset, abs=1e-6)
    assert other.sigma == pytest.approx(scale * one.sigma)


@pytest.mark.parametrize("chart", [xbar_r, xbar_s])
def test_means_are_charted_with_the_baselines_limits(chart) -> None:
    """One sample far off is beyond, the baseline is not."""
    baseline = [[9.0, 10.0, 11.0], [10.0, 10.0, 11.0], [9.0, 10.0, 10.0]]
    made = chart([*baseline, [14.0, 15.0, 16.0]], baseline)
    assert made.location.beyond == (4,)
    assert made.location.points[3] == 15.0
    assert made.location.sigma[0] == pytest.approx(made.sigma / 3**0.5)


@pytest.mark.parametrize("chart", [xbar_r, xbar_s])
def test_given_standards_need_no_baseline(chart) -> None:
    """One sample is enough then; limits are mean +/- A sigma."""
    made = chart([[1.0, 2.0, 3.0, 4.0]], standards=(2.0, 1.0))
    assert (made.location.lower[0], made.location.upper[0]) == pytest.approx((0.5, 3.5))
    assert (made.baseline, made.sigma) == (0, 1.0)


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (lambda: individuals([1.0]), CalculationError),
        (lambda: individuals([]), CalculationError),
        (lambda: individuals([1.0, math.inf]), OutsideRange),
        (lambda: individuals([1.0, 1e308]), OutsideRange),
        (lambda: ewma([-1.1e150], 0, 1), OutsideRange),
        (lambda: individuals([[1.0, 2.0]]), CalculationError),
        (lambda: individuals(["a", "b"]), CalculationError),
        (lambda: individuals([2.0, 2.0, 2.0]), Infeasible),
        (lambda: individuals([1.0, 2.0], factor=0.0), OutsideRange),
        (lambda: xbar_r([[1.0], [2.0]]), OutsideRange),
        (lambda: xbar_r([[1.0, 2.0]]), CalculationError),
        (lambda: xbar_r([1.0, 2.0]), CalculationError),
        (lambda: xbar_r([[1.0, 2.0], [1.0]]), CalculationError),
        (lambda: xbar_s([[1.0, 1.0], [1.0, 1.0]]), Infeasible),
        (lambda: xbar_s([[1.0, 2.0]] * 2, [[1.0, 2.0, 3.0]] * 2), CalculationError),
        (lambda: xbar_r([[1.0, 2.0]], standards=(1.0, 0.0)), OutsideRange),
        (lambda: ewma([1.0], 0, 0), OutsideRange),
        (lambda: ewma([1.0], 0, 1, weight=0), OutsideRange),
        (lambda: ewma([1.0], 0, 1, weight=1.1), OutsideRange),
        (lambda: cusum([1.0], 0, -1, 5), OutsideRange),
        (lambda: cusum([1.0], 0, 1, 0), OutsideRange),
        (lambda: cusum([1.0], 0, 1, 5, headstart=6), OutsideRange),
        (lambda: run_rules([1.0], rules="all"), CalculationError),
        (lambda: run_rules([1.0, 2.0], sigma=[1.0, 1.0, 1.0]), CalculationError),
        (lambda: run_rules([1.0], sigma=0.0), CalculationError),
        (lambda: run_rules([1.0], center=math.nan), OutsideRange),
    ],
)
def test_what_makes_no_chart_is_refused(wrong, error) -> None:
    """With a sentence, never a picture of nothing."""
    with pytest.raises(error):
        wrong()


def test_average_of_weight_one_is_the_values_with_their_own_limits() -> None:
    """Lambda 1 is Shewhart's chart."""
    made = ewma([1.0, 2.0, 9.0], 2, 1, weight=1)
    assert made.chart.points.tolist() == [1.0, 2.0, 9.0]
    assert set(made.chart.upper) == {5.0} == {made.steady_upper}
    assert made.chart.beyond == (3,)


def test_limits_of_the_average_widen_to_the_steady_ones() -> None:
    """Narrow at first, never wider than steady."""
    made = ewma([0.0] * 60, 0, 1, weight=0.1)
    assert all(np.diff(made.chart.upper) >= 0)
    assert made.chart.upper[0] == pytest.approx(0.3)
    assert made.chart.upper[-1] == pytest.approx(made.steady_upper, rel=1e-3)


@settings(max_examples=50)
@given(values)
def test_sums_are_mirrored_when_the_values_are(row) -> None:
    """Symmetric: turning the values over exchanges upper and lower."""
    one, other = cusum(row, 3, 1, 8), cusum([6 - value for value in row], 3, 1, 8)
    assert one.upper.tolist() == pytest.approx(other.lower.tolist())
    assert one.upper_signals == other.lower_signals
    assert (one.upper >= 0).all()


def test_run_counts_back_to_where_the_shift_began() -> None:
    """Five steady points, then a shift: the sum has grown since point 6."""
    made = cusum([0.0] * 5 + [2.0] * 6, 0, 0.5, 5)
    first = made.upper_signals[0]
    assert (first, first - made.upper_run[first - 1]) == (9, 5)
    assert made.upper[4] == 0


def test_sum_at_the_decision_interval_does_not_signal() -> None:
    """Above it does."""
    assert cusum([5.5], 0, 0.5, 5).upper_signals == ()
    assert cusum([5.6], 0, 0.5, 5).upper_signals == (1,)


def test_head_start_signals_sooner() -> None:
    """Half the decision interval at the start."""
    shift = [1.5] * 6
    assert cusum(shift, 0, 0.5, 5, headstart=2.5).upper_signals[0] < cusum(shift, 0, 0.5, 5).upper_signals[0]


def test_sets_of_rules_are_named_and_numbered() -> None:
    """Western Electric has four, Nelson eight."""
    assert {name: [one.number for one in rules] for name, rules in RULE_SETS.items()} == {
        "western electric": [1, 2, 3, 4],
        "nelson": [1, 2, 3, 4, 5, 6, 7, 8],
    }


@pytest.mark.parametrize(
    ("row", "rules"),
    [
        ([3.0], "western electric"),
        ([2.0, 2.0, 2.0], "western electric"),
        ([2.1, 0.0, 0.0, 2.1], "western electric"),
        ([2.5, -2.5, 0.1], "western electric"),
        ([1.0] * 4 + [-0.1], "western electric"),
        ([0.1] * 4 + [0.0] + [0.1] * 4, "western electric"),
        ([0.1, 0.2, 0.3, 0.4, 0.5, 0.5], "nelson"),
        ([1.0] * 7, "nelson"),
        ([0.2, 0.2] * 4, "western electric"),
    ],
)
def test_almost_a_pattern_does_not_signal_by_its_rule(row, rules) -> None:
    """Points on a bound, on both sides, or too far apart; the last is eight on one side and signals at the eighth."""
    found = run_rules(row, rules=rules)
    assert [one.point for one in found] == ([8] if row == [0.2, 0.2] * 4 else [])


def test_rounding_does_not_put_a_point_beyond_its_bound() -> None:
    """10.3 is exactly three times 0.1 above 10, though the division comes out a hair more."""
    assert (10.3 - 10.0) / 0.1 > 3
    assert run_rules([10.3], center=10.0, sigma=0.1) == ()
    assert run_rules([10.301], center=10.0, sigma=0.1)[0].rule.key == "one beyond 3"


def test_pattern_that_goes_on_signals_at_each_point() -> None:
    """Nine on one side: points 8 and 9, each with the eight that make it up."""
    found = run_rules([0.5] * 9)
    assert [(one.point, one.points) for one in found] == [(8, tuple(range(1, 9))), (9, tuple(range(2, 10)))]


@settings(max_examples=50)
@given(st.lists(st.floats(-4, 4), min_size=1, max_size=25), st.sampled_from(sorted(RULE_SETS)))
def test_rules_see_no_difference_between_up_and_down(row, rules) -> None:
    """Symmetric: the mirrored values signal by the same rules at the same points; each names points up to its own."""
    found = run_rules(row, rules=rules)
    mirrored = run_rules([-value for value in row], rules=rules)
    assert [(one.rule.key, one.point, one.points) for one in found] == [
        (one.rule.key, one.point, one.points) for one in mirrored
    ]
    for one in found:
        assert one.points[-1] == one.point
        assert one.point - one.points[0] < one.rule.span


@settings(max_examples=50)
@given(st.lists(st.floats(-4, 4), min_size=2, max_size=25), st.integers(1, 24))
def test_signals_of_the_past_stay_when_points_are_added(row, kept) -> None:
    """A later point changes nothing before it."""
    shorter = run_rules(row[:kept], rules="nelson")
    longer = run_rules(row, rules="nelson")
    assert [one.point for one in shorter] == [one.point for one in longer if one.point <= kept]
