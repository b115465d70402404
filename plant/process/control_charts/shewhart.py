"""Shewhart's charts: individuals with their moving range, means with ranges or standard deviations."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.control_charts.data import finite, one_row
from plant.process.control_charts.factors import factors
from plant.process.errors import CalculationError, Infeasible, within
from plant.process.said import say as _

ROUNDING = 1e-12  # of the values: decimals kept as floats differ by less though they are one value


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """One chart: `points` (n,), and the limits that go with each, (n,) each; all in the unit of the values.

    `sigma` (n,): the standard deviation of a point, a third of the distance to an unclipped limit unless a factor of
    one's own draws that elsewhere. Points are counted from 1; a moving range has none for the first value (nan).
    """

    points: FloatArray
    center: FloatArray
    lower: FloatArray
    upper: FloatArray
    sigma: FloatArray

    @property
    def beyond(self) -> tuple[int, ...]:
        """The numbers of the points outside their limits; a point on a limit is inside."""
        outside = (self.points > self.upper) | (self.points < self.lower)
        return tuple(int(place) + 1 for place in np.flatnonzero(outside))


@dataclass(frozen=True, slots=True, eq=False)
class Shewhart:
    """The chart of location and the chart of spread, and the process standard deviation behind both.

    `sigma` is that of single values; `mean` the center of the location chart; `spread_mean` the mean moving range,
    range or standard deviation; `baseline` how many points the limits come from (0: from given standards).
    """

    location: Chart
    spread: Chart
    mean: float
    spread_mean: float
    sigma: float
    baseline: int


def individuals(values: ArrayLike, baseline: ArrayLike | None = None, factor: float | None = None) -> Shewhart:
    """Individuals and moving range of two: limits mean +/- factor MR-bar, MR upper limit D4(2) MR-bar.

    `values` (n,) [any unit], in order of time. `baseline` (m,): earlier values, from a time known to be steady, that
    the limits are computed from; None: from `values` themselves, which hides changes within them. `factor` [-] of the
    mean moving range, for the limits alone; None: 3/d2(2) = 2.6587 in full, where books round to 3/1.128 = 2.6596 or
    to 2.66. The standard deviation is MR-bar/d2(2) whatever the factor.

    Range: n at least 1 with a baseline; the values that limits come from at least 2, not all equal but for rounding;
    factor 0.1 to 10.
    Raises: OutsideRange, CalculationError; Infeasible when the values do not scatter.
    Source: NIST/SEMATECH e-Handbook 6.3.2.2; ISO 7870-2 (both from memory).

    >>> data = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    >>> chart = individuals(data)
    >>> round(float(chart.location.lower[0]), 3), round(float(chart.location.upper[0]), 3)
    (45.818, 55.802)
    >>> round(float(individuals(data, factor=3 / 1.128).location.upper[0]), 3)
    55.804
    """
    plotted = one_row(values)
    source = plotted if baseline is None else one_row(baseline)
    if len(source) < 2:
        raise CalculationError(_("Limits need at least two values."))
    two = factors(2)
    sides = 3 / two.d2 if factor is None else within(_("factor"), factor, 0.1, 10)
    mean, moving = float(source.mean()), float(np.abs(np.diff(source)).mean())
    sigma = _scatter(moving / two.d2, source)
    ranges = np.concatenate(([np.nan], np.abs(np.diff(plotted))))
    return Shewhart(
        location=_flat(plotted, mean, mean - sides * moving, mean + sides * moving, sigma),
        spread=_flat(ranges, moving, two.D3 * moving, two.D4 * moving, two.d3 / two.d2 * moving),
        mean=mean,
        spread_mean=moving,
        sigma=sigma,
        baseline=len(source),
    )


def xbar_r(
    samples: ArrayLike, baseline: ArrayLike | None = None, standards: tuple[float, float] | None = None
) -> Shewhart:
    """Means and ranges of samples: limits X-bar +/- A2 R-bar, and D3 R-bar to D4 R-bar.

    `samples` (k, n) [any unit]: k samples of n values. `baseline` (m, n): the samples that the limits are computed
    from; None: `samples` themselves. `standards`: a given process mean and standard deviation instead; then the limits
    are mean +/- A sigma, and D1 sigma to D2 sigma.

    Range: n 2 to 25, equal in both; at least two samples for the limits, not all without scatter; sigma > 0.
    Raises: OutsideRange, CalculationError, Infeasible.
    Source: NIST/SEMATECH e-Handbook 6.3.2.1; ISO 7870-2 (both from memory).

    >>> chart = xbar_r([[1, 3], [2, 4], [3, 3], [2, 2]])
    >>> round(chart.mean, 3), round(chart.spread_mean, 3), round(float(chart.location.upper[0]), 3)
    (2.5, 1.0, 4.38)
    """
    plotted, source = _tables(samples, baseline, standards)
    size = factors(plotted.shape[1])
    ranges = np.ptp(plotted, axis=1)
    if standards is not None:
        mean, sigma = within(_("mean"), standards[0]), within(_("standard deviation"), standards[1], math.ulp(0.0))
        center, low, high = size.d2 * sigma, size.D1 * sigma, size.D2 * sigma
    else:
        mean, center = float(source.mean()), float(np.ptp(source, axis=1).mean())
        sigma = _scatter(center / size.d2, source)
        low, high = size.D3 * center, size.D4 * center
    return _pair(plotted, mean, sigma, _flat(ranges, center, low, high, size.d3 * sigma), _counted(source, standards))


def xbar_s(
    samples: ArrayLike, baseline: ArrayLike | None = None, standards: tuple[float, float] | None = None
) -> Shewhart:
    """Means and standard deviations of samples: limits X-bar +/- A3 s-bar, and B3 s-bar to B4 s-bar.

    `samples` (k, n) [any unit], `baseline` (m, n) and `standards` as in xbar_r; with standards mean +/- A sigma, and
    B5 sigma to B6 sigma.

    Range: n 2 to 25, equal in both; at least two samples for the limits, not all without scatter; sigma > 0.
    Raises: OutsideRange, CalculationError, Infeasible.
    Source: NIST/SEMATECH e-Handbook 6.3.2.1; ISO 7870-2 (both from memory).

    >>> round(xbar_s([[1, 3], [2, 4], [3, 3], [2, 2]]).spread_mean, 4)
    0.7071
    """
    plotted, source = _tables(samples, baseline, standards)
    size = factors(plotted.shape[1])
    if standards is not None:
        mean, sigma = within(_("mean"), standards[0]), within(_("standard deviation"), standards[1], math.ulp(0.0))
        center, low, high = size.c4 * sigma, size.B5 * sigma, size.B6 * sigma
    else:
        mean, center = float(source.mean()), float(source.std(axis=1, ddof=1).mean())
        sigma = _scatter(center / size.c4, source)
        low, high = size.B3 * center, size.B4 * center
    spread = _flat(plotted.std(axis=1, ddof=1), center, low, high, math.sqrt(1 - size.c4**2) * sigma)
    return _pair(plotted, mean, sigma, spread, _counted(source, standards))


def _pair(plotted: FloatArray, mean: float, sigma: float, spread: Chart, baseline: int) -> Shewhart:
    error = sigma / math.sqrt(plotted.shape[1])
    location = _flat(plotted.mean(axis=1), mean, mean - 3 * error, mean + 3 * error, error)
    return Shewhart(location, spread, mean, float(spread.center[0]), sigma, baseline)


def _counted(source: FloatArray, standards: tuple[float, float] | None) -> int:
    return len(source) if standards is None else 0


def _flat(points: FloatArray, center: float, low: float, high: float, sigma: float) -> Chart:
    every = np.ones(len(points))
    return Chart(points, every * center, every * low, every * high, every * sigma)


def _scatter(sigma: float, source: FloatArray) -> float:
    """A standard deviation that is more than what rounding makes of equal values."""
    if not sigma > ROUNDING * float(np.abs(source).max()):
        raise Infeasible(_("The values that the limits come from do not scatter, so there are no limits."))
    return sigma


def _tables(
    samples: ArrayLike, baseline: ArrayLike | None, standards: tuple[float, float] | None
) -> tuple[FloatArray, FloatArray]:
    plotted = finite(samples)
    source = plotted if baseline is None else finite(baseline)
    for table in (plotted, source):
        if table.ndim != 2 or not len(table):
            raise CalculationError(_("The samples must be rows of one length."))
    if plotted.shape[1] != source.shape[1]:
        raise CalculationError(_("Samples and baseline samples must have the same size."))
    if standards is None and len(source) < 2:
        raise CalculationError(_("Limits need at least two samples."))
    return plotted, source
