"""F of a recorded trace: exactly for straight lines between the readings, by the trapezium rule, and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray, trace
from plant.process.errors import within
from plant.process.lethality.arithmetic import checked_slope
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace import JITTER, LONGEST_UNSAID_S, longer_steps

COARSE = 0.01  # the trapezium rule may exceed straight lines by this share of F before the trace is called too coarse
COVERAGE = 2.0  # standard uncertainties on each side, about 95 % (JCGM 100, the GUM; from memory)
MOST_DOUBT_C = 5.0
_SINH = tuple(1 / math.factorial(power) for power in (11, 9, 7, 5, 3))  # sinh(y)/y as a polynomial in y squared, less 1


@dataclass(frozen=True, slots=True)
class FValue:
    """F of a trace: the seconds at `reference_c` [°C] that it is worth for a z of `z_c` [°C].

    `exact_s` [s] with straight lines between the readings; `trapezium_s` [s] by the trapezium rule on the lethal rates,
    never less; `lower_ends_s` and `higher_ends_s` [s] bound it as long as the temperature moves one way only between
    two readings. `coarse`: the readings are too far apart. `low_s` and `high_s` [s] are `exact_s` with the sensor's
    doubt: a bias up to `bias_c` [°C] either way and two standard uncertainties `random_s` [s] from a scatter of
    `random_c` [°C]. `gaps_s` [s] of the trace are steps longer than the sampling step, `gaps_f_s` [s] of `exact_s` come
    from them; `low_s` is without. `longest_step_s` [s] between two readings. `notice` belongs to every answer.
    """

    reference_c: float
    z_c: float
    exact_s: float
    trapezium_s: float
    lower_ends_s: float
    higher_ends_s: float
    coarse: bool
    bias_c: float
    random_c: float
    random_s: float
    low_s: float
    high_s: float
    gaps_s: float
    gaps_f_s: float
    longest_step_s: float
    sentences: tuple[Said, ...]
    notice: Said


def notice() -> Said:
    """What every answer about lethality says."""
    return _(
        "This supports an evaluation by a qualified person. It never replaces the legal verdict, which counts only the "
        "time at or above the legal temperature, and it releases no product."
    )


def exact_f_s(times_s: ArrayLike, temperatures_c: ArrayLike, reference_c: float, z_c: float) -> float:
    """F [s] of a trace with straight lines between its readings: the integral in closed form, each step by itself.

    `times_s` [s] and `temperatures_c` [°C], shape (n,), n >= 2, times rising; `reference_c` [°C]; `z_c` [°C]. A step
    from rate L1 to L2 is worth dt (L2 - L1)/ln(L2/L1), computed so that it stays right when both are nearly equal.

    Range: as lethal_rate.
    Raises: CalculationError for what is no trace, OutsideRange outside the range.
    Source: general method; integral of an exponential by definition.

    >>> round(exact_f_s([0, 60], [63.0, 63.0], 63.0, 4.3), 9), round(exact_f_s([0, 60], [58.7, 63.0], 63.0, 4.3), 4)
    (60.0, 23.4519)
    """
    times, levels = trace(times_s, temperatures_c)
    slope = checked_slope(levels, reference_c, z_c)
    worth = mean_rates(levels, rate_roots(levels, reference_c, slope), slope)
    worth *= np.diff(times)
    return float(worth.sum())


def trapezium_f_s(times_s: ArrayLike, temperatures_c: ArrayLike, reference_c: float, z_c: float) -> float:
    """F [s] of a trace by the trapezium rule on its lethal rates, as handbooks do it. Parameters as exact_f_s.

    It says more than straight lines between the readings do, the more the farther they are apart.

    Range: as lethal_rate.
    Raises: CalculationError for what is no trace, OutsideRange outside the range.
    Source: general method with the trapezium rule, FAO Fisheries Technical Paper 285 (reprint consulted).

    >>> round(trapezium_f_s([0, 300], [58.7, 63.0], 63.0, 4.3), 6)
    165.0
    """
    times, levels = trace(times_s, temperatures_c)
    slope = checked_slope(levels, reference_c, z_c)
    rates = np.exp(slope * (levels - reference_c))
    return float(np.sum(np.diff(times) * (rates[:-1] + rates[1:]))) / 2


def f_value(
    times_s: ArrayLike,
    temperatures_c: ArrayLike,
    reference_c: float,
    z_c: float,
    *,
    bias_c: float = 0.0,
    random_c: float = 0.0,
    step_s: float | None = None,
) -> FValue:
    """F of a trace with all that belongs to it; see FValue. Parameters as exact_f_s, and of the sensor:

    `bias_c` the most it may be off all the time [°C], either way: F(T - u) to F(T + u); `random_c` the standard
    deviation of each reading by itself [°C]. Scatter also lifts F on the average, by exp((random ln 10/z)^2/2): the low
    end is taken down by that. `step_s` the longest step that counts as unbroken [s], as in trace.longer_steps: without
    it a minute at the most, however coarse the whole trace is. The low end is without what lies in longer ones.

    Range: as lethal_rate; bias_c and random_c 0 to 5 °C; step_s above 0.
    Raises: CalculationError for what is no trace, OutsideRange outside the range.
    Source: general method; bias by definition, scatter by first-order propagation (JCGM 100, from memory).

    >>> found = f_value([0, 15], [72.0, 72.0], 72.0, 4.3, bias_c=0.3)
    >>> round(found.low_s, 2), round(found.exact_s, 2), round(found.high_s, 2), found.coarse
    (12.77, 15.0, 17.61, False)
    """
    times, levels = trace(times_s, temperatures_c)
    slope = checked_slope(levels, reference_c, z_c)
    steps = np.diff(times)
    roots = rate_roots(levels, reference_c, slope)
    rates, means = roots * roots, mean_rates(levels, roots, slope)
    exact = float(np.sum(steps * means))
    trapezium = float(np.sum(steps * (rates[:-1] + rates[1:]))) / 2
    gaps = longer_steps(steps, step_s)
    gaps_s, gaps_f = float(steps[gaps].sum()), float(np.sum(steps[gaps] * means[gaps]))
    lower = float(np.sum(steps * np.minimum(rates[:-1], rates[1:])))
    higher = float(np.sum(steps * np.maximum(rates[:-1], rates[1:])))
    random_s, low, high = doubted(steps, rates, (exact - gaps_f, exact), slope, bias_c, random_c)
    coarse = trapezium > exact * (1 + COARSE)
    longest = float(steps.max())
    sentences = [_coarseness(exact, trapezium, lower, higher, longest)] if coarse else []
    if gaps_s:
        sentences.append(_gap(gaps_s, gaps_f))
    sentences += unsaid_step(steps, step_s)
    return FValue(
        reference_c=float(reference_c),
        z_c=float(z_c),
        exact_s=exact,
        trapezium_s=trapezium,
        lower_ends_s=min(lower, exact),  # equal for a level trace, where rounding may set them apart
        higher_ends_s=max(higher, exact),
        coarse=coarse,
        bias_c=float(bias_c),
        random_c=float(random_c),
        random_s=random_s,
        low_s=low,
        high_s=high,
        gaps_s=gaps_s,
        gaps_f_s=gaps_f,
        longest_step_s=longest,
        sentences=tuple(sentences),
        notice=notice(),
    )


def pasteurization_units(times_s: ArrayLike, temperatures_c: ArrayLike) -> float:
    """Pasteurization units of a trace [PU]: minutes at 60 °C for a z of 7 °C. A brewery's measure, not one for milk.

    `times_s` [s] and `temperatures_c` [°C], shape (n,), n >= 2, times rising; straight lines between the readings.

    Range: as lethal_rate, so up to 95 °C.
    Raises: CalculationError for what is no trace, OutsideRange outside the range.
    Source: reference 60 °C and z 7 °C, http://sciref.net/o11066.html (text consulted).

    >>> round(pasteurization_units([0, 60], [65.0, 65.0]), 3)
    5.179
    """
    return exact_f_s(times_s, temperatures_c, 60.0, 7.0) / 60


def rate_roots(levels: FloatArray, reference_c: float, slope: float) -> FloatArray:
    """Square roots of the lethal rates [-] at `levels` [°C], same shape; `slope` ln 10 / z [1/°C]."""
    exponents = levels - reference_c
    exponents *= slope / 2
    return np.asarray(np.exp(exponents, out=exponents), dtype=np.float64)


def mean_rates(levels: FloatArray, roots: FloatArray, slope: float) -> FloatArray:
    """Mean lethal rate of each step [-], shape (n - 1,), with a straight line of temperature in between.

    `levels` [°C] and the `roots` of their rates, shape (n,); `slope` ln 10 / z [1/°C]. With y = slope dT/2 the mean is
    sqrt(L1 L2) sinh(y)/y, and that is (L2 - L1)/(2 y). The quotient loses its digits where y is small, so there the
    series of sinh(y)/y is taken: up to |y| = 0.3 its next term is below 1e-16. A day has 86,400 samples: sinh and
    expm1 are slow, and so is every new array, hence the work in place.
    """
    halves = np.diff(levels)
    halves *= slope / 2
    square = halves * halves
    means = square * _SINH[0]
    for coefficient in _SINH[1:]:
        means += coefficient
        means *= square
    means += 1
    means *= roots[:-1]
    means *= roots[1:]
    steep = np.flatnonzero(square > 0.09)
    if steep.size:
        means[steep] = (roots[steep + 1] ** 2 - roots[steep] ** 2) / (2 * halves[steep])
    return means


def doubted(
    steps: FloatArray, rates: FloatArray, f_s: tuple[float, float], slope: float, bias_c: float, random_c: float
) -> tuple[float, float, float]:
    """Standard uncertainty from scatter, low and high end of F [s]; see f_value. Raises OutsideRange.

    `steps` [s], shape (n - 1,), and `rates` [-], shape (n,); `f_s` [s] what the low and the high end start from.
    """
    within(_("bias of the sensor"), bias_c, 0, MOST_DOUBT_C, "°C")
    within(_("scatter of the readings"), random_c, 0, MOST_DOUBT_C, "°C")
    shift, scatter = math.exp(slope * bias_c), slope * random_c
    random_s = 0.0
    if scatter:
        # Each reading's weight is half of the steps beside it; dF/dT = slope x weight x rate.
        weights = np.zeros_like(rates)
        weights[:-1] += steps / 2
        weights[1:] += steps / 2
        random_s = scatter * math.sqrt(float(np.sum((weights * rates) ** 2)))
    low = f_s[0] / shift * math.exp(-(scatter**2) / 2) - COVERAGE * random_s
    return random_s, max(0.0, low), f_s[1] * shift + COVERAGE * random_s


def unsaid_step(steps: FloatArray, step_s: float | None) -> list[Said]:
    """What is said where a trace is coarse throughout and nobody said that it may be; `steps` [s]."""
    if step_s is not None or float(steps.max()) <= LONGEST_UNSAID_S:
        return []
    usual = JITTER * float(np.median(steps))
    if not ((steps > LONGEST_UNSAID_S) & (steps <= usual)).any():
        return []
    return [
        _(
            "Nobody said how far apart the readings may lie: what is longer than %(most)s s counts as a gap. Give the "
            "longest step only where the temperature cannot have fallen and come back within it.",
            most=f"{LONGEST_UNSAID_S:g}",
        )
    ]


def _gap(gaps_s: float, gaps_f_s: float) -> Said:
    return _(
        "Nothing is recorded within %(gaps)s s of gaps; the %(share)s s of F that straight lines across them would "
        "give prove nothing.",
        gaps=f"{gaps_s:.6g}",
        share=f"{gaps_f_s:.4g}",
    )


def _coarseness(exact: float, trapezium: float, lower: float, higher: float, longest: float) -> Said:
    return _(
        "The readings are too far apart (up to %(step)s s) for the temperature's changes: the trapezium rule gives "
        "%(trapezium)s s, %(percent)s %% more than straight lines between the readings (%(exact)s s). If the "
        "temperature moved one way only from reading to reading, F lies between %(lower)s and %(higher)s s.",
        step=f"{longest:.4g}",
        trapezium=f"{trapezium:.4g}",
        percent=f"{100 * (trapezium / exact - 1):.2g}" if exact else "",
        exact=f"{exact:.4g}",
        lower=f"{lower:.4g}",
        higher=f"{higher:.4g}",
    )
