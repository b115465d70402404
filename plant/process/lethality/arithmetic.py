"""Lethal rate, D and z, equal holds: the log-linear model of heat inactivation and nothing more."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.storage import fit_line

TEMPERATURE_C = (-50.0, 200.0)
REFERENCE_C = (40.0, 150.0)
Z = (1.0, 100.0)
D_S = (1e-4, 1e6)
TIME_S = (1e-3, 1e7)
# A temperature may be this many z away from the reference before the straight line is no answer: a factor of 100,000.
MOST_Z_AWAY = 5.0

# No trial begins with more than about a hundred million cells in a milliliter, so none has shown more than that.
MOST_LOGS = 8.0


@dataclass(frozen=True, slots=True)
class LogReductions:
    """Decimal reductions, cut at MOST_LOGS: `more` says that the arithmetic gives more than any trial has shown."""

    logs: float
    more: bool

    def words(self) -> Said:
        """The number in words, rounded down to a tenth: "4.3 log", "more than 8 log"."""
        if self.more:
            return _("more than %(most)s log", most=f"{MOST_LOGS:g}")
        # A hair is added so that 4.3 computed as 4.2999999999 stays 4.3.
        return _("%(logs)s log", logs=f"{math.floor(self.logs * 10 + 1e-9) / 10:.1f}")


@dataclass(frozen=True, slots=True)
class ZFit:
    """A z fitted to `points` pairs of temperature and time, and its standard error, in the temperatures' degrees."""

    z: float
    z_error: float
    points: int


def lethal_rate(temperatures_c: ArrayLike, reference_c: float, z_c: float) -> FloatArray:
    """Seconds at the reference that one second at each temperature is worth [-]: 10^((T - Tref)/z).

    `temperatures_c` [°C], any shape; `reference_c` [°C]; `z_c` [°C].

    Range: temperatures -50 to 200 °C and at most 5 z above the reference; reference 40 to 150 °C; z 1 to 100 °C.
    Raises: OutsideRange outside it.
    Source: general method, e.g. Toledo, Fundamentals of Food Process Engineering, ch. 9 (from memory).

    >>> lethal_rate([60.0, 72.0], 60.0, 7.0).round(2)
    array([ 1.  , 51.79])
    """
    levels = np.asarray(temperatures_c, dtype=np.float64)
    slope = checked_slope(levels, reference_c, z_c)
    return np.asarray(np.exp(slope * (levels - reference_c)), dtype=np.float64)


def checked_slope(levels: FloatArray, reference_c: float, z_c: float) -> float:
    """ln 10 / z [1/°C], after all have been found in range (see lethal_rate)."""
    within(_("z"), z_c, *Z, unit="°C")
    within(_("reference temperature"), reference_c, *REFERENCE_C, unit="°C")
    if levels.size:
        within(_("temperature"), float(levels.min()), *TEMPERATURE_C, unit="°C")
        top = min(TEMPERATURE_C[1], reference_c + MOST_Z_AWAY * z_c)
        within(_("temperature"), float(levels.max()), None, top, "°C")
    return math.log(10) / z_c


def d_at_s(temperature_c: float, d_s: float, at_c: float, z_c: float) -> float:
    """Decimal reduction time D [s] at `temperature_c` [°C], from D `d_s` [s] at `at_c` [°C] and z `z_c` [°C].

    Range: 0.0001 <= d_s <= 1,000,000; temperature at most 5 z from at_c; the rest as lethal_rate.
    Raises: OutsideRange outside it.
    Source: by definition, D(T) = D0 10^((T0 - T)/z).

    >>> round(d_at_s(68, 0.9, 71.7, 6.3), 3)
    3.48
    """
    within(_("D value"), d_s, *D_S, unit="s")
    within(_("temperature"), temperature_c, at_c - MOST_Z_AWAY * within(_("z"), z_c, *Z, unit="°C"), unit="°C")
    return d_s / float(lethal_rate(temperature_c, at_c, z_c))


def log_reductions(f_s: float, d_s: float) -> LogReductions:
    """Decimal reductions by an F of `f_s` [s] for a D of `d_s` [s], both at one reference temperature and one z.

    Range: f_s >= 0, 0.0001 <= d_s <= 1,000,000. More than MOST_LOGS is said as more, never as a number.
    Raises: OutsideRange outside it.
    Source: by definition, log = F/D; the cap is this project's.

    >>> log_reductions(15, 3.480).words(), log_reductions(1800, 21.64).words()
    ('4.3 log', 'more than 8 log')
    """
    logs = within(_("F value"), f_s, 0, unit="s") / within(_("D value"), d_s, *D_S, unit="s")
    return LogReductions(min(logs, MOST_LOGS), logs > MOST_LOGS)


def time_for_reductions_s(logs: float, d_s: float) -> float:
    """Time [s] at the temperature of `d_s` [s] for so many decimal reductions [-].

    Range: 0 <= logs <= 12 (the "12-D" of low-acid canned food), 0.0001 <= d_s <= 1,000,000.
    Raises: OutsideRange outside it.
    Source: by definition, t = n D.

    >>> round(time_for_reductions_s(12, 0.0063 * 60), 3)
    4.536
    """
    return within(_("log reductions"), logs, 0, 12) * within(_("D value"), d_s, *D_S, unit="s")


def equivalent_hold_s(hold_s: float, temperature_c: float, other_c: float, z_c: float) -> float:
    """Hold [s] at `other_c` [°C] of the same lethality as `hold_s` [s] at `temperature_c` [°C], for a z of `z_c` [°C].

    It never stands in for a row of the legal table, whose rows are not on one line.

    Range: 0.001 <= hold_s <= 1e7; both temperatures 40 to 150 °C and at most 5 z apart; z 1 to 100 °C.
    Raises: OutsideRange outside it.
    Source: by definition, t2 = t1 10^((T1 - T2)/z).

    >>> round(equivalent_hold_s(1800, 63, 72, 4.34), 2)
    15.19
    """
    within(_("holding time"), hold_s, *TIME_S, unit="s")
    within(_("z"), z_c, *Z, unit="°C")
    within(_("other temperature"), other_c, *REFERENCE_C, unit="°C")
    within(_("temperature"), temperature_c, *REFERENCE_C, unit="°C")
    within(_("temperature"), temperature_c, other_c - MOST_Z_AWAY * z_c, other_c + MOST_Z_AWAY * z_c, "°C")
    return float(hold_s * 10 ** ((temperature_c - other_c) / z_c))


def z_between(temperature_1: float, time_1_s: float, temperature_2: float, time_2_s: float) -> float:
    """The z that two pairs of temperature and time of equal lethality imply, in the degrees of the temperatures.

    `temperature_1`, `temperature_2` [°C or °F, both alike]; `time_1_s`, `time_2_s` [s], holds or D values.

    Range: times 0.001 to 1e7 s; the higher temperature has the shorter time.
    Raises: OutsideRange for a time outside it, CalculationError where no z follows.
    Source: by definition, z = (T2 - T1)/log10(t1/t2).

    >>> round(z_between(145, 1800, 161, 15), 2)
    7.7
    """
    within(_("time"), time_1_s, *TIME_S, unit="s")
    within(_("time"), time_2_s, *TIME_S, unit="s")
    apart = within(_("temperature"), temperature_2) - within(_("temperature"), temperature_1)
    decades = math.log10(time_1_s / time_2_s)
    if apart * decades <= 0:
        raise CalculationError(_("the higher temperature must have the shorter time"))
    return apart / decades


def fit_z(temperatures: Sequence[float], times_s: Sequence[float]) -> ZFit:
    """The z of a straight line through log10 time against temperature, by least squares, with its standard error.

    `temperatures` [°C or °F, all alike], `times_s` [s], holds of equal lethality or D values, three or more.

    Range: times 0.001 to 1e7 s; temperatures not all alike; the line falls.
    Raises: OutsideRange for a time outside it, CalculationError where no z follows.
    Source: Bigelow's thermal death time line, e.g. Stumbo, Thermobacteriology in Food Processing (from memory); error
    by propagation through z = -1/slope.

    >>> round(fit_z([62.8, 65.6, 68.3], [3.6, 1.1, 0.28]).z, 2)
    4.96
    """
    if len(temperatures) != len(times_s) or len(temperatures) < 3 or len(set(temperatures)) < 2:
        raise CalculationError(_("a fit needs three pairs or more, at different temperatures"))
    for level, time in zip(temperatures, times_s, strict=True):
        within(_("temperature"), level)
        within(_("time"), time, *TIME_S, unit="s")
    line = fit_line(list(temperatures), [math.log10(one) for one in times_s])
    if line.slope >= 0:
        raise CalculationError(_("the higher temperature must have the shorter time"))
    z = -1 / line.slope
    if not math.isfinite(z):
        raise OutsideRange(_("z"), z, *Z)
    return ZFit(z, line.slope_error * z**2, line.points)
