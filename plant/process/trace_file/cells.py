"""What a row's cells say: fields (RFC 4180), numbers as they are written, the words of a failed sensor."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_blocks import MOST_PLACES
from plant.process.trace_file.refusals import CellRefused, shortened
from plant.process.units import CELSIUS, FAHRENHEIT

BLANKS = " "  # the delimiter that stands for runs of blanks and tabs
DELIMITERS = (",", ";", "\t", "|", BLANKS)
_LONGEST_NUMBER = 100
_MOST_KNOWN = 4096  # cells of a channel that are remembered
MOST_WHOLE_DIGITS = 12  # with six decimal places a value still fits into 64 bits

# Words that instruments write instead of a value (common practice, no source). A plant adds its own.
FAIL_TEXTS = (
    "OPEN", "SHORT", "FAIL", "FAILED", "FAILURE", "FAULT", "ERR", "ERROR", "BAD", "BREAK", "BURNOUT", "NAN", "NULL",
    "NONE", "N/A", "NA", "#N/A", "INF", "-INF", "+INF", "OL", "OVER", "UNDER", "OVERRANGE", "UNDERRANGE", "OVERFLOW",
    "-", "--", "---", "----", "-----", "--.-", "---.-", "*", "**", "***", "****", "*****", "?", "??", "???", "####",
)  # fmt: skip

_QUOTED_OR_BARE = re.compile(r'[ \t]*(?:"((?:[^"]|"")*)"(?=[ \t]|\Z)|([^ \t]+))')
_PADDING = " \t\xa0"
_NUMBER = {
    mark: re.compile(rf"([+-]?)(\d+(?:[{mark}]\d*)?|[{mark}]\d+)(?:[eE]([+-]?\d\d?))?", re.ASCII) for mark in (".", ",")
}
UNIT_TAIL = re.compile(r"\s*(?:°|deg\.?|º)?\s*([CF])\Z", re.IGNORECASE)
_FORMULA = re.compile(r"[=@]|[+-][A-Za-z(]")


def fields(text: str, delimiter: str) -> list[str] | None:
    """The cells of a record, padding taken off; None where a quoted cell is not closed yet.

    Raises CellRefused where the quotation marks make no sense.
    Source: RFC 4180 section 2; runs of blanks as delimiter are this project's.

    >>> fields('a,"b, ""c"" ",', ","), fields(" 1  2.5 ", " "), fields('a,"b', ",")
    (['a', 'b, "c"', ''], ['1', '2.5'], None)
    """
    if '"' not in text:
        cells = text.replace("\t", " ").split(BLANKS) if delimiter == BLANKS else text.split(delimiter)
        return [one for one in cells if one] if delimiter == BLANKS else [one.strip(_PADDING) for one in cells]
    if delimiter == BLANKS:
        found = _QUOTED_OR_BARE.finditer(text)
        return [(one[2] if one[1] is None else one[1].replace('""', '"')).strip(_PADDING) for one in found]
    more = False

    def lines() -> Iterator[str]:
        nonlocal more
        yield from (f"{one}\n" for one in text.split("\n"))
        more = True  # asked for a line more: the last one ends within quotation marks

    try:
        cells = next(csv.reader(lines(), delimiter=delimiter, skipinitialspace=True))
    except csv.Error as error:
        raise CellRefused(_("the quotation marks of this row make no sense")) from error
    return None if more else [one.strip(_PADDING) for one in cells]


@dataclass(frozen=True, slots=True)
class Number:
    """`value` whole numbers of 10^-`places`, exactly as written."""

    value: int
    places: int

    @property
    def unit(self) -> int:
        """How many of its whole numbers make one."""
        return int(10**self.places)

    def same(self, other: Number) -> bool:
        """Whether both are one number, whatever the zeros at the end."""
        return self.value * other.unit == other.value * self.unit

    def at(self, places: int) -> int | None:
        """The same number in whole numbers of 10^-places; None where it needs more places or 64 bits."""
        value, rest = divmod(self.value * 10**places, self.unit)
        return value if rest == 0 and abs(value) < 2**63 else None


def number(text: str, mark: str) -> Number | None:
    """The number that a cell holds, `mark` being its decimal mark; None where it holds none. No thousands marks.

    >>> number("-71.60", "."), number("7.166E+01", "."), number("1,234.5", ".")
    (Number(value=-7160, places=2), Number(value=7166, places=2), None)
    """
    found = _NUMBER[mark].fullmatch(text.replace("\N{MINUS SIGN}", "-"))
    if found is None or len(text) > _LONGEST_NUMBER:
        return None
    whole, _mark, part = found[2].partition(mark)
    value, places = int(whole + part), len(part)
    if found[3]:
        places -= int(found[3])
        if places < 0:
            value, places = value * 10**-places, 0
    return Number(-value if found[1] == "-" else value, places)


@dataclass(frozen=True, slots=True)
class Reading:
    """A channel's cell: a value in whole numbers of 10^-places (places at most 6), or a failed sensor."""

    value: int
    places: int
    failed: bool = False
    rounded: bool = False


FAILED = Reading(0, 0, failed=True)


class Cells:
    """Reads the cells of one channel: `unit`, decimal `mark`, the words and numbers of a failed sensor."""

    def __init__(self, unit: str, mark: str, fail_texts: tuple[str, ...], fail_numbers: tuple[str, ...]) -> None:
        self.unit, self.mark = unit, mark
        codes = [number(one.strip(), ".") for one in fail_numbers] + [number(one, mark) for one in fail_texts]
        self.fail_numbers = tuple(one for one in codes if one is not None)
        self.fail_texts = frozenset(one.strip().casefold() for one in fail_texts if number(one, mark) is None)
        self.blank_fails = "" in self.fail_texts
        self._known: dict[str, Reading | None | CellRefused] = {}

    def read(self, text: str) -> Reading | None:
        """What a cell says; None where it is empty. Raises CellRefused for anything else."""
        try:
            known = self._known[text]
        except KeyError:
            known = self._read(text)
            if len(self._known) < _MOST_KNOWN and len(text) <= _LONGEST_NUMBER:
                self._known[text] = known
        if isinstance(known, CellRefused):
            raise CellRefused(known.why)
        return known

    def _read(self, text: str) -> Reading | None | CellRefused:
        if text.casefold() in self.fail_texts:
            return FAILED
        if not text:
            return None
        found, tail = number(text, self.mark), UNIT_TAIL.search(text)
        if found is None and tail is not None and self.unit in (CELSIUS, FAHRENHEIT):
            found = number(text[: tail.start()], self.mark)
            if found is not None and f"°{tail[1].upper()}" != self.unit:
                return CellRefused(
                    _("'%(text)s' is not in %(unit)s as its column is", text=shortened(text), unit=self.unit)
                )
        if found is None:
            return CellRefused(self._no_number(text))
        if any(found.same(code) for code in self.fail_numbers):
            return FAILED
        return _kept(found, text)

    def _no_number(self, text: str) -> Said:
        named = shortened(text)
        if _FORMULA.match(text):
            return _("'%(text)s' is a formula; save the file with its values", text=named)
        other = "," if self.mark == "." else "."
        if number(text, other) is not None:
            return _("'%(text)s' is no number when the decimal mark is '%(mark)s'", text=named, mark=self.mark)
        return _("'%(text)s' is neither a number nor a word for a failed sensor", text=named)


def _kept(found: Number, text: str) -> Reading | CellRefused:
    if abs(found.value) >= 10 ** (MOST_WHOLE_DIGITS + found.places):
        return CellRefused(_("'%(text)s' is larger than any measured value", text=shortened(text)))
    more = found.places - MOST_PLACES
    if more <= 0:
        return Reading(found.value, found.places)
    whole, rest = divmod(abs(found.value), 10**more)
    whole += 2 * rest >= 10**more  # half a millionth goes away from zero
    return Reading(whole if found.value >= 0 else -whole, MOST_PLACES, rounded=rest > 0)


def decimal(value: int, places: int) -> Decimal:
    """The value with its places."""
    return Decimal(value).scaleb(-places)
