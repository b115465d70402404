"""Units and numbers as people write them: exact conversion, and reading a typed number.

Factors are exact by definition: the US gallon is 231 cubic inches, the inch 2.54 cm, the avoirdupois pound
0.45359237 kg, standard gravity 9.80665 m/s2 (NIST Special Publication 811, appendix B; from memory). A unit
that is not listed here (ppm, rpm, %) converts only to itself.
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction

CELSIUS, FAHRENHEIT = "°C", "°F"

_POUND_KG = Fraction("0.45359237")
_INCH_M = Fraction("0.0254")
_GALLON_L = 231 * (_INCH_M * 10) ** 3

# unit -> (kind, how many of the kind's first unit it is)
_SCALES: dict[str, tuple[str, Fraction]] = {
    "L": ("volume", Fraction(1)),
    "mL": ("volume", Fraction(1, 1000)),
    "gal": ("volume", _GALLON_L),
    "qt": ("volume", _GALLON_L / 4),
    "kg": ("mass", Fraction(1)),
    "g": ("mass", Fraction(1, 1000)),
    "lb": ("mass", _POUND_KG),
    "oz": ("mass", _POUND_KG / 16),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "kPa": ("pressure", Fraction(1)),
    "bar": ("pressure", Fraction(100)),
    "psi": ("pressure", _POUND_KG * Fraction("9.80665") / _INCH_M**2 / 1000),
    "d": ("time", Fraction(86400)),
    "m": ("length", Fraction(1)),
    "cm": ("length", Fraction(1, 100)),
    "mm": ("length", Fraction(1, 1000)),
    "in": ("length", _INCH_M),
    "ft": ("length", 12 * _INCH_M),
    "L/s": ("flow", Fraction(1)),
    "L/min": ("flow", Fraction(1, 60)),
    "L/h": ("flow", Fraction(1, 3600)),
    "gal/s": ("flow", _GALLON_L),
    "gal/min": ("flow", _GALLON_L / 60),
    "gal/h": ("flow", _GALLON_L / 3600),
    "m/s": ("speed", Fraction(1)),
    "ft/s": ("speed", 12 * _INCH_M),
    "kg/m3": ("density", Fraction(1)),
    "g/L": ("density", Fraction(1)),
    "kg/L": ("density", Fraction(1000)),
    "lb/gal": ("density", _POUND_KG / _GALLON_L * 1000),
    "Pa s": ("viscosity", Fraction(1)),
    "mPa s": ("viscosity", Fraction(1, 1000)),
    "cP": ("viscosity", Fraction(1, 1000)),
}


class UnitError(ValueError):
    """Two units that do not measure the same kind of thing."""

    def __init__(self, unit: str, to: str) -> None:
        super().__init__(f"{unit or 'a bare number'} does not convert to {to or 'a bare number'}")
        self.unit, self.to = unit, to


def exact(value: Decimal | Fraction, unit: str, to: str) -> Fraction:
    """The value in another unit, exactly. Raises UnitError when the units measure different things."""
    number = Fraction(value)
    if unit == to:
        return number
    if (unit, to) == (CELSIUS, FAHRENHEIT):
        return number * 9 / 5 + 32
    if (unit, to) == (FAHRENHEIT, CELSIUS):
        return (number - 32) * 5 / 9
    return number * _ratio(unit, to)


def exact_difference(value: Decimal | Fraction, unit: str, to: str) -> Fraction:
    """A difference (a correction, a margin) in another unit, exactly: 1 °C is 1.8 °F."""
    number = Fraction(value)
    if unit == to:
        return number
    if (unit, to) == (CELSIUS, FAHRENHEIT):
        return number * 9 / 5
    if (unit, to) == (FAHRENHEIT, CELSIUS):
        return number * 5 / 9
    return number * _ratio(unit, to)


def convert(value: Decimal, unit: str, to: str, places: int) -> Decimal:
    """The value in another unit, rounded half up to so many decimal places.

    For display, never for judging.
    """
    return rounded(exact(value, unit, to), places)


def rounded(value: Fraction, places: int) -> Decimal:
    """An exact value as a Decimal with so many places, half away from zero."""
    step = Fraction(1, 10**places)
    whole, rest = divmod(abs(value), step)
    steps = int(whole) + (1 if rest * 2 >= step else 0)
    return Decimal(steps if value >= 0 else -steps).scaleb(-places)


def plain(value: Fraction | Decimal, places: int = 6) -> str:
    """A number in plain digits, as short as it is exact, else cut to `places` decimals (rounded half up)."""
    number = Fraction(value)
    digits = rounded(number, places).normalize()
    return f"{digits:f}" if digits else "0"


def quantized(value: Decimal, resolution: Decimal) -> Decimal:
    """The value to the nearest step of an instrument's resolution (half up), for display."""
    return (value / resolution).quantize(Decimal(1), ROUND_HALF_UP) * resolution


def _ratio(unit: str, to: str) -> Fraction:
    kind, size = _SCALES.get(unit, (None, Fraction(1)))
    other_kind, other = _SCALES.get(to, (None, Fraction(1)))
    if kind is None or kind != other_kind:
        raise UnitError(unit, to)
    return size / other


class NumberFault(StrEnum):
    """Why a typed number was not understood."""

    EMPTY = "empty"
    LETTERS = "letters"
    TWO_MARKS = "two marks"
    COMMA = "comma"
    AMBIGUOUS = "ambiguous"
    TOO_LONG = "too long"


SENTENCES = {
    NumberFault.EMPTY: "Enter a number.",
    NumberFault.LETTERS: "Enter the number with digits only, for example 38.4.",
    NumberFault.TWO_MARKS: "There is more than one decimal mark. Write it with one, for example 38.4.",
    NumberFault.COMMA: "Write decimals with a dot, not a comma: {suggestion}.",
    NumberFault.AMBIGUOUS: "Is the mark for thousands or decimals? Write it without, or with other decimals.",
    NumberFault.TOO_LONG: "The number is too long. At most {most} digits are kept.",
}
MOST_DIGITS = 11
MOST_PLACES = 4  # what a record's decimal column keeps


class NumberError(ValueError):
    """A typed number that was not understood: its fault, and for a comma the number with a dot."""

    def __init__(self, fault: NumberFault, suggestion: str = "") -> None:
        super().__init__(SENTENCES[fault].format(suggestion=suggestion, most=MOST_DIGITS))
        self.fault, self.suggestion = fault, suggestion


_NUMBER = re.compile("[+-]?([0-9]*)(?:[.,]([0-9]*))?")


def parse_number(typed: str, decimal_mark: str = ".") -> Decimal:
    """The number that a person typed. Raises NumberError.

    With the mark "." a comma is refused and the dot suggested. With "," both marks are read as the decimal
    mark (a tablet's number pad may offer the dot alone), except where three digits follow it and it could
    mean thousands. U+2212 is read as minus; digits other than 0 to 9 are refused.
    """
    if decimal_mark not in (".", ","):
        raise ValueError(f"the decimal mark is a dot or a comma, not '{decimal_mark}'")
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    if not text:
        raise NumberError(NumberFault.EMPTY)
    if re.fullmatch(r"[+-]?[0-9.,]*", text) and text.count(".") + text.count(",") > 1:
        raise NumberError(NumberFault.TWO_MARKS)
    found = _NUMBER.fullmatch(text)
    whole, places = (found[1], found[2] or "") if found else ("", "")
    if not whole + places:
        raise NumberError(NumberFault.LETTERS)
    if len(whole + places) > MOST_DIGITS or len(places) > MOST_PLACES:
        raise NumberError(NumberFault.TOO_LONG)
    if decimal_mark == "." and "," in text:
        raise NumberError(NumberFault.COMMA, text.replace(",", "."))
    if decimal_mark == "," and len(places) == 3 and whole.strip("0") and len(whole) <= 3:
        raise NumberError(NumberFault.AMBIGUOUS)
    return Decimal(text.replace(",", "."))
