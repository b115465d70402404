"""Charts that add up small shifts: the exponentially weighted moving average, and the tabular cumulative sum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.control_charts.data import one_row
from plant.process.control_charts.shewhart import Chart
from plant.process.errors import within
from plant.process.said import say as _


@dataclass(frozen=True, slots=True, eq=False)
class Ewma:
    """The averages with the limits that hold for each of them, and the limits that those settle at."""

    chart: Chart
    steady_lower: float
    steady_upper: float


@dataclass(frozen=True, slots=True, eq=False)
class Cusum:
    """The two sums (n,), both >= 0, in the unit of the values, and the numbers of the points that signal.

    `upper_run` and `lower_run` (n,): how many points in a row the sum has been above 0, so that a shift which signals
    at point i began after point i - run.
    """

    upper: FloatArray
    lower: FloatArray
    upper_run: tuple[int, ...]
    lower_run: tuple[int, ...]
    upper_signals: tuple[int, ...]
    lower_signals: tuple[int, ...]


def ewma(values: ArrayLike, target: float, sigma: float, weight: float = 0.2, width: float = 3.0) -> Ewma:
    """Exponentially weighted moving average z_i = weight x_i + (1 - weight) z_(i-1), beginning at the target.

    `values` (n,) single values or sample means; `target`; `sigma` the standard deviation of one of `values`, so that of
    a mean for means [one unit]; `weight` (lambda) of the newest value [-]; `width` of the limits in sigmas [-]. Limits
    of point i: target +/- width sigma sqrt(weight/(2 - weight) (1 - (1 - weight)^(2i))); steady: without the last
    factor.

    Range: 0 < weight <= 1, sigma > 0, 0 < width <= 10.
    Raises: OutsideRange, CalculationError.
    Source: NIST/SEMATECH e-Handbook 6.3.2.4; Montgomery, Statistical Quality Control, 9.2 (both from memory).

    >>> chart = ewma([52.0, 47.0], 50, 2.0539, weight=0.3)
    >>> [round(float(z), 2) for z in chart.chart.points], round(chart.steady_upper, 4)
    ([50.6, 49.52], 52.5884)
    """
    row = one_row(values)
    center, spread = within(_("target"), target), within(_("standard deviation"), sigma, math.ulp(0.0))
    share = within(_("weight"), weight, math.ulp(0.0), 1)
    sides = within(_("width of the limits"), width, math.ulp(0.0), 10)
    averages, last = np.empty(len(row)), center
    for place, value in enumerate(row):
        last = share * float(value) + (1 - share) * last
        averages[place] = last
    steady = spread * math.sqrt(share / (2 - share))
    errors = steady * np.sqrt(1 - (1 - share) ** (2 * np.arange(1, len(row) + 1)))
    centers = np.full(len(row), center)
    chart = Chart(averages, centers, centers - sides * errors, centers + sides * errors, errors)
    return Ewma(chart, center - sides * steady, center + sides * steady)


def cusum(values: ArrayLike, target: float, allowance: float, decision: float, headstart: float = 0.0) -> Cusum:
    """Tabular cumulative sums: upper max(0, x - (target + allowance) + before), lower max(0, (target - allowance) - x +
    before); a sum above the decision interval signals.

    `values` (n,), `target`, `allowance` K (usually half the shift to be found), `decision` interval H (usually 4 or 5
    sigma), `headstart` that both sums begin with (usually 0 or H/2) [one unit]. The sums go on after a signal.

    Range: allowance >= 0, decision > 0, headstart 0 to decision.
    Raises: OutsideRange, CalculationError.
    Source: NIST/SEMATECH e-Handbook 6.3.2.3; Montgomery and Runger, Applied Statistics and Probability for Engineers,
    16-10 (from memory; its example consulted: https://issuhub.com/view/index?id=5218&pageIndex=752).

    >>> sums = cusum([102.0, 94.8, 98.3], 99, 1, 10)
    >>> [round(float(one), 1) for one in sums.upper], [round(float(one), 1) for one in sums.lower]
    ([2.0, 0.0, 0.0], [0.0, 3.2, 2.9])
    """
    row = one_row(values)
    center, slack = within(_("target"), target), within(_("allowance"), allowance, 0)
    bound = within(_("decision interval"), decision, math.ulp(0.0))
    start = within(_("head start"), headstart, 0, bound)
    upper, upper_run = _sums(row - center - slack, start)
    lower, lower_run = _sums(center - slack - row, start)
    return Cusum(upper, lower, upper_run, lower_run, _above(upper, bound), _above(lower, bound))


def _sums(steps: FloatArray, start: float) -> tuple[FloatArray, tuple[int, ...]]:
    sums, runs, last, run = np.empty(len(steps)), [], start, 0
    for place, step in enumerate(steps):
        last = max(0.0, last + float(step))
        run = run + 1 if last > 0 else 0
        sums[place] = last
        runs.append(run)
    return sums, tuple(runs)


def _above(sums: FloatArray, bound: float) -> tuple[int, ...]:
    return tuple(int(place) + 1 for place in np.flatnonzero(sums > bound))
