"""Numbers of the pasteurization rules: kept exact, because a tenth of a degree decides; and how they are said."""

from __future__ import annotations

import math
import numbers
from decimal import Decimal
from fractions import Fraction

from plant.process.errors import OutsideRange, within
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import CELSIUS, FAHRENHEIT, exact, plain

Number = int | float | Decimal | Fraction

# No dairy product is heated beyond these; our own bounds, against a unit or a decimal mark mistaken.
COLDEST_C, HOTTEST_C = 0.0, 200.0
LONGEST_S = 86400.0


def exactly(
    quantity: str, value: Number, low: float | None = None, high: float | None = None, unit: str = ""
) -> Fraction:
    """The value as an exact fraction, held within its range. A float counts as the decimal that it prints.

    Raises OutsideRange.
    """
    try:
        within(quantity, float(value), low, high, unit)
    except (OverflowError, ValueError) as error:
        if isinstance(error, OutsideRange):
            raise
        raise OutsideRange(quantity, math.nan, low, high, unit) from error
    number = _fraction(value)
    # Once more without rounding: as a float, a value just outside may fall onto its bound.
    if (low is not None and number < low) or (high is not None and number > high):
        raise OutsideRange(quantity, float(number), low, high, unit)
    return number


def _fraction(value: Number) -> Fraction:
    # Numbers of numpy too: their own arithmetic wraps round or rounds.
    if isinstance(value, numbers.Integral):
        return Fraction(int(value))
    return Fraction(value) if isinstance(value, (Decimal, Fraction)) else Fraction(str(value))


def temperature(value: Number, unit: str, to: str) -> Fraction:
    """A product temperature in another unit, exactly. Raises OutsideRange outside 0 to 200 °C, UnitError."""
    low, high = (exact(Decimal(int(bound)), CELSIUS, unit) for bound in (COLDEST_C, HOTTEST_C))
    return exact(exactly(_("temperature"), value, float(low), float(high), unit), unit, to)


def hold(value: Number) -> Fraction:
    """A time at temperature [s], exactly. Raises OutsideRange outside 0 to 24 h."""
    return exactly(_("holding time"), value, 0, LONGEST_S, "s")


def said_time(seconds: Number) -> Said:
    """Seconds in words: "25 s", "30 min", "1 min 5 s".

    >>> str(said_time(1800)), str(said_time(Decimal("0.05"))), str(said_time(1799))
    ('30 min', '0.05 s', '29 min 59 s')
    """
    whole = exactly(_("time"), seconds)
    if whole < 0:
        return _("-%(time)s", time=said_time(-whole))
    minutes, rest = divmod(whole, 60)
    if not minutes:
        return _("%(seconds)s s", seconds=_digits(rest))
    if not rest:
        return _("%(minutes)s min", minutes=str(minutes))
    return _("%(minutes)s min %(seconds)s s", minutes=str(minutes), seconds=_digits(rest))


def said_temperature(value: Number, unit: str) -> Said:
    """A temperature or a difference of temperatures with its unit.

    >>> str(said_temperature(Fraction(8053, 50), "°F"))
    '161.06 °F'
    """
    return _("%(value)s %(unit)s", value=_digits(exactly(_("temperature"), value)), unit=unit)


def _digits(value: Fraction) -> str:
    """Six decimals, more where six would show nothing of a value that is not zero."""
    return next((text for text in (plain(value, places) for places in (6, 12, 24)) if text != "0"), "0")


__all__ = [
    "CELSIUS",
    "COLDEST_C",
    "FAHRENHEIT",
    "HOTTEST_C",
    "LONGEST_S",
    "Number",
    "exactly",
    "hold",
    "said_temperature",
    "said_time",
    "temperature",
]
