"""The least-squares line and its interval against what others publish.

Norris: NIST Statistical Reference Datasets, linear regression, lower level of difficulty (calibration of
ozone monitors). Data and certified values from memory; that they agree to ten digits says that they were
remembered right. Student t: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2, table of
critical values (from memory).
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from plant.process.storage import confidence_band, crossing, fit_line, t_quantile, time_to_limit

pytestmark = pytest.mark.once

# (y, x)
NORRIS = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5),
    (668.5, 666.3), (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4),
    (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6),
    (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2), (0.3, 0.3),
    (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0),
    (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
]  # fmt: skip
X, Y = [x for _, x in NORRIS], [y for y, _ in NORRIS]


@pytest.mark.proves(
    "storage.fit_line",
    by="published",
    source="NIST Statistical Reference Datasets, Norris, certified values (from memory)",
)
def test_line_agrees_with_the_certified_values():
    """Intercept, slope, their standard deviations and the residual one, to ten digits."""
    line = fit_line(X, Y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.intercept_error == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)


@pytest.mark.proves(
    "storage.t_quantile",
    by="published",
    source="NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of t (from memory)",
)
@pytest.mark.parametrize(
    ("degrees", "printed"), [(1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228), (30, 2.042), (100, 1.984)]
)
def test_t_factor_is_the_tables(degrees, printed):
    """Two-sided 95 % (upper 0.975), three decimals as printed."""
    assert t_quantile(0.95, degrees) == pytest.approx(printed, abs=5e-4)


@pytest.mark.proves("storage.fit_line", by="independent", source="scipy.stats.linregress")
def test_line_agrees_with_the_reference_library():
    """scipy.stats.linregress, an independent implementation, on a warming tank."""
    x, y = [0, 0.5, 1, 1.5, 2.5], [38.0, 39.3, 39.8, 41.2, 42.9]
    line, theirs = fit_line(x, y), stats.linregress(x, y)
    assert (line.slope, line.intercept) == pytest.approx((theirs.slope, theirs.intercept))
    assert (line.slope_error, line.intercept_error) == pytest.approx((theirs.stderr, theirs.intercept_stderr))


@pytest.mark.proves(
    "storage.crossing", by="independent", source="scipy.stats.linregress and scipy.stats.t: the line's band"
)
def test_interval_ends_where_the_librarys_confidence_band_meets_the_limit():
    """At each end of the interval the band of the line, from linregress and scipy's t, touches the limit."""
    x, y = [0, 0.5, 1, 1.5, 2.5], [38.0, 39.3, 39.8, 41.2, 42.9]
    theirs, factor = stats.linregress(x, y), stats.t.ppf(0.975, 3)
    mean = sum(x) / 5
    level_error = (theirs.intercept_stderr**2 - (theirs.stderr * mean) ** 2) ** 0.5
    earliest, expected, latest = crossing(fit_line(x, y), 45.0)
    for moment, side in ((earliest, 1), (expected, 0), (latest, -1)):
        band = factor * (level_error**2 + (theirs.stderr * (moment - mean)) ** 2) ** 0.5
        assert theirs.intercept + theirs.slope * moment + side * band == pytest.approx(45.0)


# H. Working and H. Hotelling's band at one x, from the covariance of the coefficients: numpy.polyfit gives it.
@pytest.mark.proves(
    "storage.confidence_band", by="independent", source="numpy.polyfit with its covariance, scipy.stats.t"
)
@pytest.mark.parametrize("at", [-1.0, 0.0, 1.1, 4.0])
def test_band_is_that_of_the_coefficients_covariance(at):
    """Variance of the line at x: v00 x^2 + 2 v01 x + v11."""
    x, y = [0, 0.5, 1, 1.5, 2.5], [38.0, 39.3, 39.8, 41.2, 42.9]
    (slope, level), covariance = np.polyfit(x, y, 1, cov=True)
    half = stats.t.ppf(0.975, 3) * np.sqrt(np.array([at, 1]) @ covariance @ np.array([at, 1]))
    expected = slope * at + level
    assert confidence_band(fit_line(x, y), at) == pytest.approx((expected - half, expected, expected + half))


@pytest.mark.proves(
    "storage.confidence_band",
    by="published",
    source="NIST Statistical Reference Datasets, Norris: intercept and its standard deviation are the line at 0 "
    "(from memory)",
)
def test_band_at_zero_is_the_certified_intercept():
    """-0.262323 plus and minus t times 0.232818."""
    half = stats.t.ppf(0.975, 34) * 0.232818234301152
    assert confidence_band(fit_line(X, Y), 0) == pytest.approx(
        (-0.262323073774029 - half, -0.262323073774029, -0.262323073774029 + half), rel=1e-8
    )


@pytest.mark.proves(
    "storage.crossing",
    by="published",
    source="NIST Statistical Reference Datasets, Norris: the line's root (from memory)",
)
def test_line_reaches_a_level_where_the_certified_line_does():
    """x at y = 500 by the certified coefficients."""
    _low, expected, _high = crossing(fit_line(X, Y), 500.0)
    assert expected == pytest.approx((500 + 0.262323073774029) / 1.00211681802045, rel=1e-10)


@pytest.mark.proves(
    "storage.time_to_limit",
    by="independent",
    source="scipy.optimize.brentq on the band of numpy.polyfit, scipy.stats.t",
)
def test_forecast_is_where_the_band_meets_the_limit():
    """A warming tank, half-hourly readings in tenths: earliest, expected and latest as the root finder says."""
    start = datetime(2026, 6, 8, 11, tzinfo=UTC)
    x, y = [0, 0.5, 1, 1.5, 2.0], ["38.0", "39.3", "39.8", "41.2", "41.9"]
    found = time_to_limit(
        [(start + timedelta(hours=at), Decimal(value)) for at, value in zip(x, y, strict=True)], Decimal(45)
    )
    (slope, level), covariance = np.polyfit(x, [float(value) for value in y], 1, cov=True)

    def side(at, sign):
        half = stats.t.ppf(0.975, 3) * np.sqrt(np.array([at, 1]) @ covariance @ np.array([at, 1]))
        return slope * at + level + sign * half - 45

    expected = [brentq(side, 2, 20, args=(sign,)) for sign in (1, 0, -1)]
    hours = [(at - start) / timedelta(hours=1) for at in (found.earliest, found.expected, found.latest)]
    assert hours == pytest.approx(expected, abs=1e-6)
    assert (found.per_hour, found.readings) == (pytest.approx(slope), 5)


@pytest.mark.proves(
    "storage.time_to_limit",
    by="published",
    source="JCGM 100:2008 (GUM), F.2.2.1: a step of reading d has the standard uncertainty d/sqrt(12) (from memory)",
)
def test_readings_on_a_line_still_have_the_scatter_of_their_step():
    """38, 39, 40, 41 on a thermometer of whole degrees: half-width t s sqrt(1/n + ...) / slope with s = 1/sqrt(12)."""
    start = datetime(2026, 6, 8, 11, tzinfo=UTC)
    found = time_to_limit(
        [(start + timedelta(hours=at), Decimal(38 + at)) for at in range(4)], Decimal(45), resolution=Decimal(1)
    )
    sd, factor = 0.288675, 4.303  # both printed values
    certainty = 1 - (factor * sd) ** 2 / 5
    half = factor * sd / certainty * (certainty / 4 + (45 - 39.5) ** 2 / 5) ** 0.5
    middle = (45 - 39.5) / certainty
    hours = [(at - start) / timedelta(hours=1) for at in (found.earliest, found.latest)]
    assert hours == pytest.approx([max(1.5 + middle - half, 3), 1.5 + middle + half], rel=1e-3)
