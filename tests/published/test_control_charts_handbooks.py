"""Control charts against worked examples of handbooks."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import pytest
from statsmodels.tsa.api import SimpleExpSmoothing

from plant.process.control_charts import cusum, ewma, factors, individuals, run_rules, xbar_r, xbar_s

pytestmark = pytest.mark.once

# NIST/SEMATECH e-Handbook 6.3.2.2 (from memory).
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# NIST/SEMATECH e-Handbook 6.3.2.4 (from memory), doi 10.18434/M32189.
EWMA_DATA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW]
EWMA_PRINTED = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip
# NIST/SEMATECH e-Handbook 6.3.2.3 (from memory): target 325, k 0.3175, h 4.1959.
NIST_CUSUM = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
# Montgomery, Statistical Quality Control, table 9.1 (from memory): target 10, sigma 1.
MONTGOMERY = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
    9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
]  # fmt: skip
# Montgomery and Runger, table 16-8: https://issuhub.com/view/index?id=5218&pageIndex=752
RUNGER = [
    102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4,
    97.2, 101.0,
]  # fmt: skip
RUNGER_UPPER = [2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0]
RUNGER_LOWER = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0]
# Bag weights: https://github.com/cran/vMask (man/vMask-package.Rd), sixteen samples of four.
BAG_MEANS = [
    40.1975, 39.7225, 40.4150, 39.9825, 40.0625, 39.7550, 39.6475, 40.4050, 40.3150, 39.8425, 40.4925, 40.4025, 40.6050,
    39.9825, 40.2275, 40.3350,
]  # fmt: skip
BAG_RANGES = [1.65, 1.43, 0.86, 1.50, 1.94, 1.16, 0.62, 1.65, 1.28, 1.84, 0.81, 0.77, 0.28, 1.32, 1.00, 0.49]


@pytest.mark.proves(
    "control_charts.individuals", by="published", source="NIST/SEMATECH e-Handbook 6.3.2.2 (data from memory)"
)
def test_individuals_of_the_handbook():
    """Mean 50.81, MR-bar 1.8778, limits 45.816 and 55.804 with the handbook's 3/1.128; 45.815 and 55.805 with 2.66.

    d2 in full is 1.12838, not 1.128: then the limits are 45.818 and 55.802, a difference in the third decimal.
    """
    made = individuals(FLOW, factor=3 / 1.128)
    assert (made.mean, made.spread_mean) == pytest.approx((50.81, 1.8778), abs=5.1e-5)
    assert (made.location.lower[0], made.location.upper[0]) == pytest.approx((45.816, 55.804), abs=5.1e-4)
    rounded = individuals(FLOW, factor=2.66).location
    assert (rounded.lower[0], rounded.upper[0]) == pytest.approx((45.815, 55.805), abs=5.1e-4)
    exact = individuals(FLOW).location
    assert (exact.lower[0], exact.upper[0]) == pytest.approx((45.816, 55.804), abs=0.002)
    assert made.location.beyond == ()


@pytest.mark.proves(
    "control_charts.individuals",
    by="published",
    source="factor 3.267 of the moving range: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
def test_upper_limit_of_the_moving_range():
    """3.267 times the mean moving range, none below."""
    spread = individuals(FLOW).spread
    assert spread.upper[0] == pytest.approx(3.267 * 1.87778, abs=0.001)
    assert spread.lower[0] == 0


@pytest.mark.proves(
    "control_charts.ewma",
    by="published",
    source="NIST/SEMATECH e-Handbook 6.3.2.4, doi 10.18434/M32189 (data from memory)",
)
def test_moving_average_of_the_handbook():
    """Twenty averages to two decimals, limits 52.5884 and 47.4116, no signal.

    The lower limit is quoted as 47.4115 as well; arithmetic gives 47.41157.
    """
    made = ewma(EWMA_DATA, 50, 2.0539, weight=0.3)
    assert made.chart.points.tolist() == pytest.approx(EWMA_PRINTED, abs=0.00501)
    assert (made.steady_lower, made.steady_upper) == pytest.approx((47.4116, 52.5884), abs=5.1e-5)
    assert made.chart.beyond == ()


@pytest.mark.proves(
    "control_charts.ewma",
    by="published",
    source="Montgomery, Statistical Quality Control, table 9.10: lambda 0.1, L 2.7 (from memory)",
)
def test_moving_average_of_the_textbook():
    """The first averages and the last; limits 9.73 to 10.27, 9.64 to 10.36, and 9.38 to 10.62 in the end."""
    made = ewma(MONTGOMERY, 10, 1, weight=0.1, width=2.7)
    assert made.chart.points[:4].tolist() == pytest.approx([9.945, 9.7495, 9.70355, 9.8992], abs=5.1e-5)
    assert made.chart.points[-2:].tolist() == pytest.approx([10.6468, 10.6341], abs=5.1e-5)
    assert made.chart.upper[:2].tolist() == pytest.approx([10.27, 10.36], abs=0.0051)
    assert (made.steady_lower, made.steady_upper) == pytest.approx((9.38, 10.62), abs=0.0051)
    assert made.chart.beyond == (29, 30)


@pytest.mark.proves(
    "control_charts.ewma", by="independent", source="statsmodels SimpleExpSmoothing; variance of the weights summed"
)
@pytest.mark.parametrize("weight", [0.05, 0.3, 1.0])
def test_moving_average_agrees_with_a_library(weight):
    """Levels of exponential smoothing, and the limit of each from the squares of the weights."""
    made = ewma(MONTGOMERY, 10, 1, weight=weight)
    theirs = SimpleExpSmoothing(np.array(MONTGOMERY), initialization_method="known", initial_level=10.0)
    assert made.chart.points.tolist() == pytest.approx(
        theirs.fit(smoothing_level=weight, optimized=False).level.tolist()
    )
    for point in (1, 2, 10):
        squares = sum((weight * (1 - weight) ** back) ** 2 for back in range(point))
        assert made.chart.upper[point - 1] == pytest.approx(10 + 3 * squares**0.5)


@pytest.mark.proves(
    "control_charts.cusum",
    by="published",
    source="Montgomery and Runger, table 16-8: https://issuhub.com/view/index?id=5218&pageIndex=752",
)
def test_sums_of_the_engineers_example():
    """Target 99, K 1, H 10: both columns to one decimal, no signal."""
    made = cusum(RUNGER, 99, 1, 10)
    assert made.upper.tolist() == pytest.approx(RUNGER_UPPER, abs=1e-9)
    assert made.lower.tolist() == pytest.approx(RUNGER_LOWER, abs=1e-9)
    assert made.upper_signals == made.lower_signals == ()


@pytest.mark.proves("control_charts.cusum", by="published", source="NIST/SEMATECH e-Handbook 6.3.2.3 (from memory)")
def test_sums_of_the_handbook():
    """Upper sums from group 13 on to two decimals, signals from group 14 on; the lower sum never signals."""
    made = cusum(NIST_CUSUM, 325, 0.3175, 4.1959)
    assert made.upper[12:].tolist() == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.0051)
    assert made.lower[6:9].tolist() == pytest.approx([0.56, 0.72, 0.17], abs=0.0051)
    assert made.upper_signals == tuple(range(14, 21))
    assert made.lower_signals == ()


@pytest.mark.proves(
    "control_charts.cusum",
    by="published",
    source="Montgomery, Statistical Quality Control, table 9.2: K 0.5, H 5 (from memory)",
)
def test_sums_of_the_textbook():
    """The upper sum reaches 5.28 at 29, seven points after it left zero: the shift came between 22 and 23."""
    made = cusum(MONTGOMERY, 10, 0.5, 5)
    assert made.upper[3:8].tolist() == pytest.approx([1.16, 2.82, 2.50, 0.04, 1.00], abs=1e-9)
    assert made.upper[-2:].tolist() == pytest.approx([5.28, 5.30], abs=1e-9)
    assert made.lower[:3].tolist() == pytest.approx([0.05, 1.56, 1.77], abs=1e-9)
    assert made.upper_signals == (29, 30)
    assert made.upper_run[28] == 7


@pytest.mark.proves(
    "control_charts.cusum", by="independent", source="closed form: a running sum less its running minimum"
)
def test_sums_agree_with_the_running_minimum():
    """max(0, recursion) is the sum since its lowest point."""
    draw = np.random.default_rng(2).normal(0.2, 1, 200)
    made = cusum(draw, 0, 0.5, 4)
    total = np.concatenate(([0.0], np.cumsum(draw - 0.5)))
    assert made.upper == pytest.approx((total - np.minimum.accumulate(total))[1:], abs=1e-9)


def bags() -> list[list[float]]:
    """Four values with the sample's printed mean and range: only those two matter to the chart."""
    return [[mean - r / 2, mean, mean, mean + r / 2] for mean, r in zip(BAG_MEANS, BAG_RANGES, strict=True)]


@pytest.mark.proves(
    "control_charts.xbar_r", by="published", source="bag weights, R package vMask: https://github.com/cran/vMask"
)
def test_means_and_ranges_of_the_bags():
    """40.1494 and 1.1625; limits 39.302 to 40.997 and 0 to 2.653; with standards 40 and 0.5: 39.25 to 40.75.

    The first pair was worked out with A2 rounded to 0.729; in full, 0.72860, it is 39.302 to 40.996.
    """
    made = xbar_r(bags())
    assert (made.mean, made.spread_mean) == pytest.approx((40.1494, 1.1625), abs=5.1e-5)
    assert (made.location.lower[0], made.location.upper[0]) == pytest.approx((39.302, 40.997), abs=0.001)
    assert made.mean + 0.729 * made.spread_mean == pytest.approx(40.997, abs=5.1e-4)
    assert (made.spread.lower[0], made.spread.upper[0]) == pytest.approx((0, 2.653), abs=5.1e-4)
    given = xbar_r(bags(), standards=(40, 0.5))
    assert (given.location.lower[0], given.location.upper[0]) == pytest.approx((39.25, 40.75))


@pytest.mark.proves(
    "control_charts.xbar_r",
    by="published",
    source="Montgomery, Statistical Quality Control, example 6.1, flow width of a resist: X-double-bar 1.5056, R-bar "
    "0.32521, n 5 (from memory)",
)
def test_means_and_ranges_of_the_textbook():
    """Limits 1.31795 to 1.69325 and 0 to 0.68749, as printed with A2 = 0.577 and D4 = 2.114: to 0.0002."""
    half = 0.32521 / 2
    made = xbar_r([[1.5056 - half, 1.5056, 1.5056, 1.5056, 1.5056 + half]] * 25)
    assert (made.location.lower[0], made.location.upper[0]) == pytest.approx((1.31795, 1.69325), abs=2e-4)
    assert made.spread.upper[0] == pytest.approx(0.68749, abs=2e-4)


@pytest.mark.proves(
    "control_charts.xbar_s",
    by="published",
    source="Montgomery, Statistical Quality Control, example 6.3, piston rings: X-double-bar 74.001, s-bar 0.0094, n 5 "
    "(from memory)",
)
def test_means_and_standard_deviations_of_the_textbook():
    """Limits 73.988 to 74.014 and 0 to 0.0196, sigma 0.01."""
    offset = 0.0094 * 2**0.5  # of two values out of five that differ from the mean
    made = xbar_s([[74.001 - offset, 74.001, 74.001, 74.001, 74.001 + offset]] * 25)
    assert made.spread_mean == pytest.approx(0.0094)
    assert (made.location.lower[0], made.location.upper[0]) == pytest.approx((73.988, 74.014), abs=5.1e-4)
    assert made.spread.upper[0] == pytest.approx(0.0196, abs=5.1e-5)
    assert made.sigma == pytest.approx(0.01, abs=1e-5)


@pytest.mark.proves(
    "control_charts.xbar_s", by="independent", source="simulation: points beyond 3 sigma, 200,000 samples"
)
@pytest.mark.proves(
    "control_charts.xbar_r", by="independent", source="simulation: points beyond 3 sigma, 200,000 samples"
)
def test_both_charts_find_the_sigma_of_drawn_samples_and_alarm_rarely():
    """Normal samples of sigma 2: found to a percent, and 0.27 % of the means beyond their limits."""
    samples = np.random.default_rng(1).normal(10, 2, (200_000, 5))
    for chart in (xbar_r, xbar_s):
        made = chart(samples)
        assert made.sigma == pytest.approx(2, rel=0.005)
        assert len(made.location.beyond) / 200_000 == pytest.approx(0.0027, abs=0.0005)
        assert made.spread.sigma[0] == pytest.approx(float(made.spread.points.std()), rel=0.01)


# Worked by hand from the rules: values in sigmas, set, rule, first point that signals.
PATTERNS = [
    ([0.3, -0.5, 3.2, 0.1], "western electric", "one beyond 3", 3),
    ([0.2, 2.1, 0.4, 2.3, -0.2], "western electric", "2 of 3 beyond 2", 4),
    ([1.2, 0.4, 1.5, 1.1, 1.3, 0.2], "western electric", "4 of 5 beyond 1", 5),
    ([0.1, 0.4, 0.2, 0.9, 0.3, 0.6, 0.2, 0.5, 0.1, -0.3], "western electric", "8 one side", 8),
    ([0.1, 0.4, 0.2, 0.9, 0.3, 0.6, 0.2, 0.5, 0.1, -0.3], "nelson", "9 one side", 9),
    ([-0.9, -0.6, -0.2, 0.1, 0.5, 0.9, 0.2], "nelson", "6 trend", 6),
    ([0.5, -0.5] * 7, "nelson", "14 alternating", 14),
    ([0.2, -0.4, 0.6, -0.1, 0.3, 0.3, -0.7, 0.5, -0.2, 0.1, 0.4, -0.6, -0.1, 0.2, 0.8], "nelson", "15 within 1", 15),
    ([1.2, -1.4, 1.3, -1.1, -1.6, 1.5, 1.2, -1.3], "nelson", "8 beyond 1", 8),
]


@pytest.mark.proves(
    "control_charts.run_rules",
    by="published",
    source="Western Electric, Statistical Quality Control Handbook, 1956; Nelson, J. Quality Technology 16:237, 1984 "
    "(from memory; patterns worked by hand)",
)
@pytest.mark.parametrize(("values", "rules", "key", "point"), PATTERNS)
def test_first_signal_of_each_rule(values, rules, key, point):
    """Only that rule, first at that point."""
    found = run_rules(values, rules=rules)
    assert {one.rule.key for one in found} == {key}
    assert found[0].point == point


def counted_runs(z: list[float]) -> dict[str, set[int]]:
    """The points that signal by runs, counted with run lengths instead of windows."""
    found: dict[str, set[int]] = {"8 one side": set(), "9 one side": set(), "15 within 1": set(), "8 beyond 1": set()}

    def mark(names: list[tuple[str, int]], states: list[object]) -> None:
        place = 0
        for state, run in groupby(states):
            length = len(list(run))
            for name, least in names:
                if state:
                    found[name] |= {place + one for one in range(least, length + 1)}
            place += length

    mark([("8 one side", 8), ("9 one side", 9)], [(value > 0) - (value < 0) for value in z])
    mark([("15 within 1", 15)], [abs(value) < 1 for value in z])
    mark([("8 beyond 1", 8)], [abs(value) > 1 for value in z])
    return found


@pytest.mark.proves(
    "control_charts.run_rules", by="independent", source="run lengths by itertools.groupby, on 400 drawn points"
)
@pytest.mark.parametrize(("scale", "shift"), [(0.6, 0.0), (1.0, 0.8), (2.5, 0.0)])
def test_runs_agree_with_counting(scale, shift):
    """The same points signal by both ways of counting."""
    z = (np.random.default_rng(5).normal(shift, scale, 400)).round(3).tolist()
    wanted = counted_runs(z)
    for rules in ("western electric", "nelson"):
        found = run_rules(z, rules=rules)
        for key in {one.rule.key for one in found} | set(wanted):
            if key in wanted and any(rule == key for rule in keys_of(rules)):
                assert {one.point for one in found if one.rule.key == key} == wanted[key], key


def keys_of(rules: str) -> tuple[str, ...]:
    """The rules of a set that are counted by runs."""
    return ("8 one side",) if rules == "western electric" else ("9 one side", "15 within 1", "8 beyond 1")


def test_factor_of_individuals_is_that_of_samples_of_two():
    """A2 of two values is 3/(d2 sqrt 2), so 3/d2 is A2 sqrt 2: 2.66 as printed."""
    assert pytest.approx(2.66, abs=0.002) == factors(2).A2 * 2**0.5
