"""Dates and times as recorders write them: where the digits stand in a text, and the moment that they say.

The place of the digits depends only on a text's shape (each digit taken for a 0), so one `Layout` serves every row of
the same shape, whether one row is read or thousands at once.

Source: ISO 8601 and RFC 3339 for dates with the year first; the other forms are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.said import say as _
from plant.process.trace_file.refusals import CellRefused, shortened

ORDERS = ("ymd", "dmy", "mdy")
Whole = NDArray[np.int64]
Digits = NDArray[np.uint8]
Span = tuple[int, int]

DAY_MS, HOUR_MS, MINUTE_MS = 86_400_000, 3_600_000, 60_000
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_CENTURY = 2000  # of a year of two digits
_LONGEST = 48

_YEAR_FIRST = r"(?P<y>\d{4})(?P<m1>[-/.])(?P<m>\d\d?)(?P=m1)(?P<d>\d\d?)"
_COMPACT = r"(?P<cy>\d{4})(?P<cm>\d\d)(?P<cd>\d\d)"
_YEAR_LAST = r"(?P<a>\d\d?)(?P<m2>[-/.])(?P<b>\d\d?)(?P=m2)(?P<c>\d{4}|\d\d)"
_DAY_NAMED = r"(?P<nd>\d\d?)(?P<m3>[- /.]?)(?P<name>[A-Za-z]{3,9})\.?(?:(?P=m3)|,? )(?P<ny>\d{4}|\d\d)"
_NAMED_DAY = r"(?P<name2>[A-Za-z]{3,9})\.?[- /](?P<nd2>\d\d?),?[- /](?P<ny2>\d{4})"
_CLOCK = r"(?P<h>\d\d?):(?P<min>\d\d)(?::(?P<s>\d\d)(?:[.,](?P<f>\d{1,9}))?)?(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?"
_COMPACT_CLOCK = r"(?P<ch>\d\d)(?P<cmin>\d\d)(?:(?P<cs>\d\d)(?:[.,](?P<cf>\d{1,9}))?)?"
_OFFSET = r"(?: ?(?P<utc>[Zz]|UTC|GMT)| ?(?P<sign>[+-])(?P<oh>\d\d):?(?P<omin>\d\d)?)?"
_MOMENT = re.compile(
    rf"(?:(?:{_YEAR_FIRST}|{_YEAR_LAST}|{_DAY_NAMED}|{_NAMED_DAY}|{_COMPACT})(?:[Tt_]|,? +){_CLOCK}"
    rf"|{_COMPACT.replace('<c', '<x')}(?:[Tt_]| *){_COMPACT_CLOCK}){_OFFSET}",
    re.ASCII,
)
_SHAPE = str.maketrans("123456789", "000000000")


@dataclass(frozen=True, slots=True)
class Layout:
    """Where a text of one shape has its digits: spans (from, until); None for what it does not say.

    `month_named` is a month written as a word (else 0), `half` "a" or "p" or "", `offset_sign` 0 for none.
    """

    year: Span
    month: Span | None
    month_named: int
    day: Span
    hour: Span
    minute: Span
    second: Span | None
    fraction: Span | None
    half: str
    offset_sign: int
    offset_hour: Span | None
    offset_minute: Span | None
    year_first: bool
    named: bool


@dataclass(frozen=True, slots=True)
class Moments:
    """Moments [ms since 1970] on the recorder's clock, shape (n,), their offsets [ms] or None; which are valid."""

    local_ms: Whole
    offset_ms: Whole | None
    valid: BoolArray


class OrderNeeded(CellRefused):
    """A date of which only a person can say whether the day or the month comes first."""


def shape_of(text: str) -> str:
    """The text with each digit a 0."""
    return text.translate(_SHAPE)


def layout(shape: str, order: str) -> Layout | None:
    """Where a date and time of this shape has its digits; None where the shape is none.

    `order` is that of day, month and year where the year is not written first, "" where it is not known: such a shape
    then raises OrderNeeded.

    >>> layout("0000-00-00 00:00", "").hour, layout("00/00/0000 00:00", "dmy").month
    ((11, 13), (3, 5))
    """
    return _layout(shape, order) if len(shape) <= _LONGEST else None


@lru_cache(maxsize=4096)
def _layout(shape: str, order: str) -> Layout | None:
    found = _MOMENT.fullmatch(shape)
    if found is None:
        return None
    have = {name: found.span(name) for name, text in found.groupdict().items() if text is not None}

    def span(*names: str) -> Span | None:
        return next((have[name] for name in names if name in have), None)

    def there(*names: str) -> Span:
        return next(have[name] for name in names if name in have)

    named, month = 0, span("m", "cm", "xm")
    if "a" in have:
        year, month, day = _ordered(have["a"], have["b"], have["c"], order)
    else:
        year, day = there("y", "cy", "xy", "ny", "ny2"), there("d", "cd", "xd", "nd", "nd2")
        if month is None:
            named = _month(found["name"] or found["name2"])
            if not named:
                return None
    sign = 1 if "utc" in have else {"+": 1, "-": -1, None: 0}[found["sign"]]
    return Layout(
        year,
        month,
        named,
        day,
        there("h", "ch"),
        there("min", "cmin"),
        span("s", "cs"),
        span("f", "cf"),
        (found["half"] or "").lower(),
        sign,
        span("oh"),
        span("omin"),
        year_first="a" not in have and not named,
        named=named > 0,
    )


def _ordered(first: Span, second: Span, third: Span, order: str) -> tuple[Span, Span, Span]:
    if order == "ymd" and third[1] - third[0] == 2 and first[1] - first[0] == 2:
        return first, second, third
    if order == "dmy":
        return third, second, first
    if order == "mdy":
        return third, first, second
    raise OrderNeeded(_("whether the day or the month comes first must be chosen"))


def _month(name: str) -> int:
    low = name.lower()
    if low in _MONTH_NAMES:
        return _MONTH_NAMES.index(low) + 1
    return _MONTHS.index(low) + 1 if low in _MONTHS else 9 if low == "sept" else 0


def moment(text: str, order: str) -> tuple[int, int | None]:
    """The moment [ms since 1970, on the clock that wrote it; parts of a millisecond cut off] and its offset [ms].

    The offset from UTC is None where none is written. Raises CellRefused with the reason; OrderNeeded where `order` is
    "" and the text leaves it open.

    >>> moment("1970-01-02T00:00:01.5+01:00", ""), moment("02/01/70 12:00:01 AM", "dmy")[0] - 36525 * 86_400_000
    ((86401500, 3600000), 86401000)
    """
    text = text.replace("\N{MINUS SIGN}", "-")
    where = layout(shape_of(text), order)
    if where is None:
        raise CellRefused(_("'%(text)s' is no date and time", text=shortened(text)))

    def part(span: Span | None) -> int:
        return int(text[span[0] : span[1]]) if span else 0

    year = part(where.year) + (_CENTURY if where.year[1] - where.year[0] == 2 else 0)
    try:
        days = date(year, part(where.month) or where.month_named, part(where.day)).toordinal() - _EPOCH_DAY
    except ValueError:
        raise CellRefused(_("'%(text)s' is no day of the calendar", text=shortened(text))) from None
    hour, minute, second = part(where.hour), part(where.minute), part(where.second)
    ms = int(text[slice(*where.fraction)].ljust(3, "0")[:3]) if where.fraction else 0
    end_of_day = hour == 24 and not (minute or second or ms or where.half)  # ISO 8601: 24:00 is the next day's 00:00
    if where.half:
        hour = hour % 12 + (12 if where.half == "p" else 0) if 1 <= hour <= 12 else 24
    if (hour > 23 and not end_of_day) or minute > 59 or second > 59:
        raise CellRefused(_("'%(text)s' is no time of day", text=shortened(text)))
    local = days * DAY_MS + hour * HOUR_MS + minute * MINUTE_MS + second * 1000 + ms
    if not where.offset_sign:
        return local, None
    if part(where.offset_hour) > 23 or part(where.offset_minute) > 59:
        raise CellRefused(_("'%(text)s' has no offset from UTC that exists", text=shortened(text)))
    offset = part(where.offset_hour) * HOUR_MS + part(where.offset_minute) * MINUTE_MS
    return local, where.offset_sign * offset


def moments(digits: Digits, where: Layout) -> Moments:
    """Many texts of one layout at once: `digits`, shape (length of the text, n), each 0 to 9 where the text has one.

    What is not valid is left to `moment`, which gives the reason (and knows 24:00).
    """
    count = digits.shape[1]

    def part(span: Span | None) -> Whole:
        return _joined(digits[span[0] : span[1]]) if span else np.zeros(count, np.int64)

    year = part(where.year) + (_CENTURY if where.year[1] - where.year[0] == 2 else 0)
    month = part(where.month) if where.month else np.full(count, where.month_named, np.int64)
    day, hour, minute, second = part(where.day), part(where.hour), part(where.minute), part(where.second)
    valid = (month >= 1) & (month <= 12) & (year >= 1) & (minute <= 59) & (second <= 59)
    if where.half:
        valid &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if where.half == "p" else 0)
    else:
        valid &= hour <= 23
    months = (year - 1970) * 12 + np.where(valid, month, 1) - 1
    first = _day_of(months)
    valid &= (day >= 1) & (day <= _day_of(months + 1) - first)
    ms = np.zeros(count, np.int64)
    if where.fraction:
        start, until = where.fraction
        until = min(until, start + 3)
        ms = part((start, until)) * 10 ** (3 - (until - start))
    local = (first + day - 1) * DAY_MS + hour * HOUR_MS + minute * MINUTE_MS + second * 1000 + ms
    if not where.offset_sign:
        return Moments(local, None, valid)
    hours, minutes = part(where.offset_hour), part(where.offset_minute)
    valid &= (hours <= 23) & (minutes <= 59)
    return Moments(local, where.offset_sign * (hours * HOUR_MS + minutes * MINUTE_MS), valid)


def _joined(rows: Sequence[Digits] | Digits) -> Whole:
    total = rows[0].astype(np.int64)
    for one in rows[1:]:
        total *= 10
        total += one
    return total


def _day_of(months: Whole) -> Whole:
    """The day [since 1970] on which a month [since January 1970] begins."""
    return months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
