"""When a warming tank reaches its limit: a line through its readings, with its interval."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from scipy.special import stdtrit

from plant.process.errors import CalculationError, within
from plant.process.said import say as _

HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line fitted by least squares.

    Y = mean_y + slope (x - mean_x), residuals with n - 2 degrees.
    """

    slope: float
    mean_x: float
    mean_y: float
    spread_x: float  # sum of (x - mean_x) squared
    residual_sd: float
    points: int

    @property
    def intercept(self) -> float:
        return self.mean_y - self.slope * self.mean_x

    @property
    def slope_error(self) -> float:
        """Standard error of the slope."""
        return self.residual_sd / math.sqrt(self.spread_x)

    @property
    def intercept_error(self) -> float:
        """Standard error of the intercept."""
        return self.residual_sd * math.sqrt(1 / self.points + self.mean_x**2 / self.spread_x)


def fit_line(x: Sequence[float], y: Sequence[float], least_sd: float = 0.0) -> Line:
    """The straight line through points by least squares, with the scatter about it.

    x, y: as many of each, n >= 3, not all x the same [any units].
    least_sd: a floor for the scatter, for values that were read in steps [unit of y].

    Range: finite values; least_sd 0 and more.
    Raises: OutsideRange for what is not finite; CalculationError (a ValueError) for fewer than three points, lists of
        different length, and points that all have the same x.
    Source: least squares, NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 (from memory).

    >>> line = fit_line([0, 1, 2], [38, 39, 41])
    >>> round(line.slope, 3), round(line.intercept, 3), round(line.residual_sd, 3)
    (1.5, 37.833, 0.408)
    """
    points = len(x)
    if points < 3 or points != len(y):
        raise CalculationError(
            _("a line with its scatter needs at least three points, not %(points)s", points=str(min(points, len(y))))
        )
    within("least scatter", least_sd, 0)
    for value in (*x, *y):
        within("value", value)
    mean_x, mean_y = math.fsum(x) / points, math.fsum(y) / points
    spread_x = math.fsum((one - mean_x) ** 2 for one in x)
    if spread_x == 0:
        raise CalculationError(_("all points have the same x"))
    slope = math.fsum((one - mean_x) * (other - mean_y) for one, other in zip(x, y, strict=True)) / spread_x
    residuals = math.fsum((other - mean_y - slope * (one - mean_x)) ** 2 for one, other in zip(x, y, strict=True))
    residual_sd = max(math.sqrt(residuals / (points - 2)), least_sd)
    return Line(slope, mean_x, mean_y, spread_x, residual_sd, points)


def t_quantile(confidence: float, degrees: int) -> float:
    """The two-sided Student t factor [1].

    confidence: the probability between plus and minus the factor [1].
    degrees: degrees of freedom [1].

    Range: confidence 0.5 to 0.9999; degrees 1 and more.
    Raises: OutsideRange.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2 (from memory).

    >>> round(t_quantile(0.95, 10), 3)
    2.228
    """
    within("confidence", confidence, 0.5, 0.9999)
    return float(stdtrit(within("degrees of freedom", degrees, 1), (1 + confidence) / 2))


def confidence_band(line: Line, x: float, confidence: float = 0.95) -> tuple[float, float, float]:
    """Where the line itself lies at an x: (lower end, middle, upper end) of its confidence interval [unit of y].

    Single readings scatter more widely than the line.

    line: from fit_line.
    x: [unit of the line's x].
    confidence: [1].

    Range: finite x; confidence 0.5 to 0.9999.
    Raises: OutsideRange.
    Source: Working and Hotelling; NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.2 (from memory), at one x.

    >>> tuple(round(end, 2) for end in confidence_band(fit_line([0, 1, 2], [38, 39, 41]), 1))
    (36.34, 39.33, 42.33)
    """
    ahead = within("x", x) - line.mean_x
    middle = line.mean_y + line.slope * ahead
    half = t_quantile(confidence, line.points - 2) * line.residual_sd
    half *= math.sqrt(1 / line.points + ahead**2 / line.spread_x)
    return middle - half, middle, middle + half


def crossing(line: Line, level: float, confidence: float = 0.95) -> tuple[float, float, float] | None:
    """Where the line reaches a level: (lowest, expected, highest) x, or None when the slope may be nothing.

    The interval holds the x at which the confidence band of the line meets the level. It has ends only when the
    slope itself differs from zero at the same confidence.

    line: from fit_line.
    level: [unit of the line's y].
    confidence: [1].

    Range: finite level; confidence 0.5 to 0.9999.
    Raises: OutsideRange.
    Source: Fieller, J. R. Statist. Soc. B 16:175, 1954, interval of a ratio of normal estimates (from memory).

    >>> tuple(round(x, 2) for x in crossing(fit_line([0, 1, 2, 3], [38, 39, 40.1, 40.9]), 45))
    (6.21, 7.11, 8.42)
    """
    within("level", level)
    factor = t_quantile(confidence, line.points - 2) * line.residual_sd
    certainty = line.slope**2 - factor**2 / line.spread_x
    if certainty <= 0:
        return None
    ahead = level - line.mean_y
    middle = line.slope * ahead / certainty
    half = factor / certainty * math.sqrt(certainty / line.points + ahead**2 / line.spread_x)
    return (
        line.mean_x + middle - half,
        line.mean_x + ahead / line.slope,
        line.mean_x + middle + half,
    )


class NoForecast(StrEnum):
    """Why a tank gets no forecast."""

    TOO_FEW = "fewer than three readings"
    TOO_SHORT = "the readings lie too close together"
    REACHED = "the limit is already reached"
    NOT_WARMING = "not warming beyond the scatter of its readings"
    TOO_FAR = "not within a day at this rate"


@dataclass(frozen=True, slots=True)
class Warming:
    """When a warming tank reaches its limit if it goes on at this rate. `per_hour` in the readings' unit.

    An estimate from past readings, never a promise: a tank may warm faster. `earliest` is not before the last
    reading.
    """

    earliest: datetime
    expected: datetime
    latest: datetime
    per_hour: float
    per_hour_low: float
    per_hour_high: float
    readings: int
    confidence: float


def warming_stretch(readings: Iterable[tuple[datetime, Decimal]]) -> list[tuple[datetime, Decimal]]:
    """The readings since the coldest one, the last of equals, in order of time: those that speak for the warming.

    readings: (moment, temperature) in any order [one unit].

    Range: finite temperatures; no readings give none.
    Raises: OutsideRange.
    Source: common practice, no source.

    >>> at = datetime(2026, 6, 8, 11)
    >>> read = [(at, Decimal(39)), (at + HOUR, Decimal(38)), (at + 2 * HOUR, Decimal(40))]
    >>> [str(value) for _, value in warming_stretch(read)]
    ['38', '40']
    """
    ordered = _in_order(readings)
    coldest = min((value for _, value in ordered), default=None)
    place = max((place for place, one in enumerate(ordered) if one[1] == coldest), default=0)
    return ordered[place:]


def _in_order(readings: Iterable[tuple[datetime, Decimal]]) -> list[tuple[datetime, Decimal]]:
    given = list(readings)
    for _at, value in given:
        within(_("temperature"), value)
    return sorted(given)


def time_to_limit(
    readings: Iterable[tuple[datetime, Decimal]],
    limit: Decimal,
    confidence: float = 0.95,
    resolution: Decimal = Decimal(0),
    least_span: timedelta = timedelta(minutes=20),
    horizon: timedelta = timedelta(hours=24),
) -> Warming | NoForecast:
    """When a line through the readings reaches an upper limit, or why no forecast is made.

    An estimate from past readings, never a promise: a tank may warm faster, and it is no ground to skip a reading.

    readings: (moment, temperature) in any order [one unit].
    limit, resolution: upper limit, and the step that the thermometer reads in [the same unit]. The scatter is never
        taken as less than resolution / sqrt(12).
    confidence: of the interval [1].
    least_span, horizon: the readings must span so long, and no forecast goes further ahead.

    Range: finite values; confidence 0.5 to 0.9999; resolution 0 and more; at least three readings (else the answer says
        why not).
    Raises: OutsideRange.
    Source: Fieller, 1954 (see crossing); step of a reading: JCGM 100:2008 (GUM), F.2.2.1 (from memory).

    >>> at = datetime(2026, 6, 8, 11)
    >>> found = time_to_limit([(at + place * HOUR, Decimal(38 + place)) for place in range(4)], Decimal(45))
    >>> found.expected.hour, round(found.per_hour, 2)
    (18, 1.0)
    """
    within(_("limit"), limit)
    within(_("resolution"), resolution, 0)
    ordered = _in_order(readings)
    if len(ordered) < 3:
        return NoForecast.TOO_FEW
    last, value = ordered[-1]
    if value >= limit:
        return NoForecast.REACHED
    if last - ordered[0][0] < least_span:
        return NoForecast.TOO_SHORT
    hours = [(at - last) / HOUR for at, _ in ordered]
    line = fit_line(hours, [float(one) for _, one in ordered], float(resolution) / math.sqrt(12))
    reached = crossing(line, float(limit), confidence)
    if reached is None or line.slope <= 0:
        return NoForecast.NOT_WARMING
    earliest, expected, latest = reached
    if expected > horizon / HOUR:
        return NoForecast.TOO_FAR
    half = t_quantile(confidence, line.points - 2) * line.slope_error
    return Warming(
        earliest=last + max(earliest, 0.0) * HOUR,
        expected=last + max(expected, 0.0) * HOUR,
        # Beyond ten years a moment says nothing more, and datetime ends.
        latest=last + min(max(latest, 0.0), 87_600.0) * HOUR,
        per_hour=line.slope,
        per_hour_low=line.slope - half,
        per_hour_high=line.slope + half,
        readings=line.points,
        confidence=confidence,
    )
