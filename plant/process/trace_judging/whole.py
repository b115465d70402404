"""Exact comparison of whole numbers: the smallest and the greatest that meet a bound written in another unit.

A float stands for the shortest decimal that prints like it; a bound is converted as a fraction, never rounded first.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plant.process.errors import CalculationError, within
from plant.process.pasteurization.numbers import exactly
from plant.process.said import say as _
from plant.process.trace_blocks import MOST_PLACES, Samples
from plant.process.trace_judging.values import Exact
from plant.process.units import exact

Whole = NDArray[np.int64]
Codes = NDArray[np.int8]

# Beyond every value and moment, and small enough that differences of two stay in 64 bits.
FAR = 2**61
_MOST = 10**15
_MOST_UNITS = 10**12  # of a value: with six places it still is far below FAR


def samples_of(times_ms: ArrayLike, values: ArrayLike, places: int) -> Samples:
    """Samples for a channel from floats: times_ms [ms] shape (n,); values [any unit] shape (n,), nan for a failed one.

    places: decimal places that the values have.

    Range: 0 to 6 places; |value| up to 1e12, and 10^places of it up to 1e15; whole moments that rise.
    Raises: OutsideRange; CalculationError for a value with more places, for infinity, for arrays that do not fit.
    Source: by definition (a float stands for the shortest decimal that prints like it).

    >>> samples_of([0, 1000], [71.66, float("nan")], 2).values.tolist()
    [7166, 0]
    """
    within(_("decimal places"), places, 0, MOST_PLACES)
    if np.ma.isMaskedArray(times_ms) or np.ma.isMaskedArray(values):
        raise CalculationError(_("leave out masked samples of a trace: they make a gap"))
    times, levels = np.asarray(times_ms), np.asarray(values, dtype=np.float64)
    if times.ndim != 1 or times.shape != levels.shape:
        raise CalculationError(_("each sample needs a moment and a value"))
    if times.dtype.kind not in "iuf" or (times.dtype.kind == "f" and (np.rint(times) != times).any()):
        raise CalculationError(_("moments and values of samples are whole numbers"))
    failed = np.isnan(levels)
    filled = np.where(failed, 0.0, levels)
    scaled = np.rint(filled * 10**places)
    if not np.isfinite(filled).all():
        raise CalculationError(_("a value of a trace is not a number"))
    within(_("value"), float(np.abs(scaled).max(initial=0.0)) / 10**places, 0, _MOST / 10**places)
    if (scaled / 10**places != filled).any():
        raise CalculationError(_("a value of the trace has more than %(places)s decimal places", places=str(places)))
    return checked(Samples(times.astype(np.int64), scaled.astype(np.int64), failed, places))


def checked(samples: Samples, *, again: bool = False) -> Samples:
    """The samples in 64 bits, when they fit together and their moments rise. Raises CalculationError, OutsideRange.

    again: a moment may come several times.
    """
    times, values = _whole(samples.times_ms), _whole(samples.values)
    if times.ndim != 1 or not values.shape == samples.failed.shape == times.shape:
        raise CalculationError(_("each sample needs a moment, a value and a mark"))
    within(_("decimal places"), samples.places, 0, MOST_PLACES)
    if (times[1:] < times[:-1]).any() or (not again and (times[1:] == times[:-1]).any()):
        raise CalculationError(_("the moments of a trace must rise"))
    if len(times):
        within(_("moment"), float(max(-times[0], times[-1])), None, _MOST, "ms")
        size = 10 ** int(samples.places)
        within(_("value"), max(abs(int(values.max())), abs(int(values.min()))) / size, None, _MOST_UNITS)
    return Samples(times, values, samples.failed.astype(np.bool_), int(samples.places))


def _whole(numbers: NDArray[np.generic]) -> Whole:
    # The arithmetic of smaller or unsigned numbers wraps round.
    if np.ma.isMaskedArray(numbers):
        raise CalculationError(_("leave out masked samples of a trace: they make a gap"))
    if numbers.dtype.kind not in "iu":
        raise CalculationError(_("moments and values of samples are whole numbers"))
    return numbers.astype(np.int64, copy=False)


def number(value: Exact) -> Fraction:
    """The value as a fraction; a float counts as the decimal that it prints. Raises OutsideRange when it is none."""
    return exactly(_("value"), value)


def least_passing(bound: Exact, unit: str, to: str, places: int, *, strict: bool = False, correction: Exact = 0) -> int:
    """The smallest whole number of 10^-places of `to` that meets a bound from below written in `unit`.

    correction: added to what was recorded for the corrected value [to]; both have to meet the bound.
    strict: the bound itself does not meet it.

    Range: 0 to 6 places; units that measure the same.
    Raises: OutsideRange, UnitError.
    Source: by definition (comparison in the unit that the clause is written in; the worse of as read and corrected).

    >>> least_passing(161, "°F", "°C", 2), least_passing(0, "psi", "psi", 1, strict=True)
    (7167, 1)
    """
    within(_("decimal places"), places, 0, MOST_PLACES)
    edge: Fraction = (exact(number(bound), unit, to) - min(number(correction), Fraction(0))) * 10**places
    return int(math.floor(edge) + 1 if strict else math.ceil(edge))


def greatest_passing(
    bound: Exact, unit: str, to: str, places: int, *, strict: bool = False, correction: Exact = 0
) -> int:
    """The greatest whole number of 10^-places of `to` that meets a bound from above written in `unit`.

    Parameters, Range, Raises and Source as least_passing.

    Range: 0 to 6 places; units that measure the same.
    Raises: OutsideRange, UnitError.
    Source: by definition (comparison in the unit that the clause is written in; the worse of as read and corrected).

    >>> from decimal import Decimal
    >>> greatest_passing(45, "°F", "°C", 2), greatest_passing(45, "°F", "°F", 1, correction=Decimal("0.25"))
    (722, 447)
    """
    within(_("decimal places"), places, 0, MOST_PLACES)
    edge: Fraction = (exact(number(bound), unit, to) - max(number(correction), Fraction(0))) * 10**places
    return int(math.ceil(edge) - 1 if strict else math.floor(edge))


def governing(value: int, places: int, shift: Fraction, unit: str, to: str) -> Fraction:
    """A whole number of 10^-places of `unit`, `shift` [unit] added, exactly in `to`."""
    return exact(Fraction(value, 10**places) + shift, unit, to)


__all__ = [
    "FAR",
    "Codes",
    "Whole",
    "checked",
    "governing",
    "greatest_passing",
    "least_passing",
    "number",
    "samples_of",
]
