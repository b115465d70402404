"""What a cell, a header and a column of dates look like: the parts of a guess at a file's form."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache

from plant.process.trace_file.cells import FAIL_TEXTS, UNIT_TAIL, number
from plant.process.trace_file.moments import DAY_MS, ORDERS, OrderNeeded, layout, moment, shape_of
from plant.process.trace_file.refusals import CellRefused
from plant.process.units import CELSIUS, FAHRENHEIT

EMPTY, NUMBER, FAIL, MOMENT, DAY, CLOCK, HALF, OFFSET, TEXT = (
    "empty", "number", "fail", "moment", "day", "clock", "half", "offset", "text",
)  # fmt: skip

_LONGEST = 60
_CLOCK = re.compile(r"\d\d?:\d\d(:\d\d([.,]\d{1,9})?)?( ?[AaPp]\.?[Mm]\.?)?", re.ASCII)
_HALF = re.compile(r"[AaPp]\.?[Mm]\.?")
_OFFSET = re.compile(r"[Zz]|UTC|GMT|[+-]\d\d:\d\d", re.ASCII)
_FAILS = frozenset(one.casefold() for one in FAIL_TEXTS)
_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]\s*$")
_LAST_WORD = re.compile(r"[\s_,;:/-]([^\s_,;:-]+)\s*$")
# How headers write a unit, and what it is called here (common practice, no source).
_UNITS = {
    **dict.fromkeys(("°c", "ºc", "degc", "deg c", "deg. c", "celsius", "° c"), CELSIUS),
    **dict.fromkeys(("°f", "ºf", "degf", "deg f", "deg. f", "fahrenheit", "° f"), FAHRENHEIT),
    **dict.fromkeys(("l/h", "lph", "l/hr"), "L/h"),
    **dict.fromkeys(("l/min", "lpm"), "L/min"),
    **dict.fromkeys(("gal/min", "gpm"), "gal/min"),
    **dict.fromkeys(("gal/h", "gph"), "gal/h"),
    **{one: one for one in ("bar", "psi", "%", "rpm", "ppm")},
    "kpa": "kPa",
    "ph": "pH",
}
_BARE = {"c": CELSIUS, "f": FAHRENHEIT}  # a letter alone: only in brackets or in a row of units
# Numbers that instruments write for a failed sensor (common practice, no source). Only named, never assumed.
_SUSPECTS = frozenset(
    Decimal(sign + one)
    for sign in ("", "-")
    for one in ("999", "999.9", "9999", "9999.9", "99999", "32767", "32768", "3276.7", "3276.8", "65535", "6553.5")
)
_EPOCH_S, _EPOCH_MS = (10**9, 42 * 10**8), (10**12, 42 * 10**11)  # 2001 to 2103


def kind(cell: str, mark: str) -> str:
    """What a cell looks like when its decimal mark is `mark`: one of the words above."""
    return _kind(cell, mark) if len(cell) <= _LONGEST else TEXT


@lru_cache(maxsize=1 << 14)
def _kind(cell: str, mark: str) -> str:
    if not cell:
        return EMPTY
    if number(cell, mark) is not None:
        return MOMENT if len(cell) in (12, 14) and _is_moment(cell) else NUMBER
    if _shaped(shape_of(cell)):
        return MOMENT
    if _shaped(f"{shape_of(cell)} 00:00"):
        return DAY
    for pattern, name in ((_CLOCK, CLOCK), (_HALF, HALF), (_OFFSET, OFFSET)):
        if pattern.fullmatch(cell):
            return name
    if cell.casefold() in _FAILS:
        return FAIL
    tail = UNIT_TAIL.search(cell)
    return NUMBER if tail and number(cell[: tail.start()], mark) else TEXT


def _shaped(shape: str) -> bool:
    return layout(shape, "dmy") is not None


def _is_moment(digits: str) -> bool:
    try:
        time_ms, _offset = moment(digits, "")
    except CellRefused:
        return False
    return 7_000 * DAY_MS < time_ms < 48_000 * DAY_MS  # 1989 to 2101


def epoch(cell: str, mark: str) -> str:
    """Whether a number counts "s" or "ms" since 1970, for a moment from 2001 to 2103; "" for neither."""
    found = number(cell, mark)
    if found is None:
        return ""
    whole = found.value // found.unit
    return "s" if _EPOCH_S[0] <= whole < _EPOCH_S[1] else "ms" if _EPOCH_MS[0] <= whole < _EPOCH_MS[1] else ""


def unit_in(header: str) -> str:
    """The unit that a header names, in brackets or as its last word; "" for none that is known.

    >>> unit_in("Milk out (°F)"), unit_in("TT-1 [C]"), unit_in("flow_lph"), unit_in("Probe C")
    ('°F', '°C', 'L/h', '')
    """
    brackets = _BRACKETS.search(header)
    if brackets:
        return unit_alone(brackets[1])
    words = header.strip().casefold()
    for written, unit in _UNITS.items():
        if written.startswith(("°", "º", "deg")) and words.endswith(written):
            return unit
    last = _LAST_WORD.search(f" {words}")
    return _UNITS.get(last[1], "") if last else ""


def unit_alone(text: str) -> str:
    """The unit that a cell of a row of units names; "" for none that is known."""
    plain = " ".join(text.casefold().split())
    return _UNITS.get(plain) or _BARE.get(plain, "")


def suspect(cell: str, mark: str) -> Decimal | None:
    """The number in a cell, where it is one that instruments write for a failed sensor."""
    found = number(cell, mark)
    value = None if found is None or found.places > 6 else Decimal(found.value).scaleb(-found.places).normalize()
    return value if value in _SUSPECTS else None


def needs_order(texts: Sequence[str]) -> bool:
    """Whether some of these dates can be read with the day or the month first."""
    try:
        for text in texts:
            layout(shape_of(text), "")
    except OrderNeeded:
        return True
    return False


def order_of(texts: Sequence[str], last: Sequence[str], earliest_ms: int | None, now_ms: int | None) -> str:
    """The order of day, month and year that these dates and times show, in the order of their rows; "" for none.

    An order is possible when every date exists in it and none lies outside the bounds; so for those of the `last` rows.
    Of several that one counts in which, where the date changes, it goes on by one day.

    >>> order_of(["03/04/2026 23:59", "04/04/2026 00:00"], [], None, None)
    'dmy'
    >>> order_of(["03/04/2026 23:58", "03/04/2026 23:59"], [], None, None)
    ''
    """
    possible = {}
    for order in ORDERS:
        days = _days(texts, order, earliest_ms, now_ms)
        if days is not None and _days(last, order, earliest_ms, now_ms) is not None:
            possible[order] = days
    if len(possible) > 1:
        possible = {order: days for order, days in possible.items() if _runs_on(days)}
    return next(iter(possible)) if len(possible) == 1 else ""


def _days(texts: Sequence[str], order: str, earliest_ms: int | None, now_ms: int | None) -> list[int] | None:
    days = []
    for text in texts:
        try:
            time_ms = moment(text, order)[0]
        except CellRefused:
            return None
        early = earliest_ms is not None and time_ms < earliest_ms - DAY_MS
        if early or (now_ms is not None and time_ms > now_ms + DAY_MS):
            return None
        days.append(time_ms // DAY_MS)
    return days


def _runs_on(days: list[int]) -> bool:
    steps = [later - earlier for earlier, later in zip(days, days[1:], strict=False) if later != earlier]
    return bool(steps) and (all(one == 1 for one in steps) or all(one == -1 for one in steps))
