"""What a scanner types of a GS1 symbol, read back: identifiers, lengths, dates and check digits.

A scanner sends the element string with the group separator (hexadecimal 1D) where the symbol has an FNC1 behind data
without a fixed length, and before all of it, where it is told to, the symbology identifier of ISO/IEC 15424. People
type the line beneath the symbol: identifiers in brackets.

Source: GS1 General Specifications, sections 3.2 to 3.5 (identifiers 01, 10, 11, 15, 17, 21), 7.8.4 (concatenation,
predefined lengths), 7.9 (check digit), 7.11 (characters) and 7.12 (two-digit years), from memory.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass, field
from datetime import date

from plant.process.gs1 import CSET_82, LONGEST_LOT, Gs1Error, gtin_14

SEPARATOR = "\x1d"
# Of GS1-128, DataBar, DataMatrix, QR and DotCode with the FNC1 of GS1; another identifier stands before plain text.
SYMBOLOGIES = ("]C1", "]e0", "]d2", "]Q3", "]J1")
GTIN, LOT, SERIAL, PRODUCED, BEST_BEFORE, USE_BY = "01", "10", "21", "11", "15", "17"
DATES = (PRODUCED, BEST_BEFORE, USE_BY)
# Identifiers by their first two digits whose data need no separator: characters with the identifier.
PREDEFINED = {
    "00": 20, "01": 16, "02": 16, "03": 16, "04": 18, **dict.fromkeys(("11", "12", "13", "14", "15", "16", "17"), 8),
    "18": 8, "19": 8, "20": 4, **dict.fromkeys(("31", "32", "33", "34", "35", "36"), 10), "41": 16,
}  # fmt: skip
# All others that are assigned have data of variable length, up to a separator or the end.
VARIABLE = frozenset(
    ("10", "21", "22", "23", "24", "25", "30", "37", "39", "40", "42", "43", "70", "71", "72", "80", "81", "82")
) | {f"{one}" for one in range(90, 100)}
_SYMBOLOGY = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_BRACKET = re.compile(r"\(([0-9]{2,4})\)")


class ScanError(Gs1Error):
    """What is no element string; `identifier`: where it went wrong, '' before any.

    `fault`: those of Gs1Error, or 'short', 'identifier', 'date', 'twice', 'characters', 'no lot'.
    """

    def __init__(self, fault: str, identifier: str = "") -> None:
        super().__init__(fault)
        self.identifier = identifier


@dataclass(frozen=True, slots=True)
class Scanned:
    """An element string in parts: empty or None for what it does not carry; `more`: other identifiers as they stand."""

    lot: str
    gtin: str = ""
    serial: str = ""
    produced: date | None = None
    best_before: date | None = None
    use_by: date | None = None
    more: tuple[str, ...] = field(default=())


def plain_of(text: str) -> str:
    """A scan of plain text without the symbology identifier before it; other text as it is, its ends trimmed."""
    found = text.strip()
    if _SYMBOLOGY.match(found) and not found.startswith(SYMBOLOGIES):
        return found[3:].strip()
    return found


def is_marked(text: str) -> bool:
    """Whether text is marked as an element string: by its symbology, a separator, an identifier in brackets."""
    found = text.strip(" \t\r\n")
    return found.startswith((*SYMBOLOGIES, SEPARATOR)) or SEPARATOR in found or bool(_BRACKET.match(found))


def is_bare(text: str) -> bool:
    """Whether text without any mark begins as one: a GTIN's identifier with its fourteen digits."""
    return bool(re.match(r"01[0-9]{14}", text.strip(" \t\r\n")))


def read_scan(text: str, year: int) -> Scanned:
    """An element string, its symbology identifier or brackets or neither, in parts. `year`: now, for two-digit years.

    Raises ScanError for what is none, and for one without a lot.
    """
    found = text.strip(" \t\r\n")
    found = found[3:] if found.startswith(SYMBOLOGIES) else found
    if any(not one.isprintable() and one != SEPARATOR for one in found):
        raise ScanError("characters")
    parts = _in_brackets(found) if _BRACKET.match(found) else _in_a_row(found)
    values: dict[str, str] = {}
    more: list[str] = []
    for identifier, value in parts:
        if identifier not in (GTIN, LOT, SERIAL, *DATES):
            more.append(identifier + value)
        elif values.setdefault(identifier, value) != value:
            raise ScanError("twice", identifier)
    if GTIN in values:
        try:
            gtin_14(values[GTIN])
        except Gs1Error as error:
            raise ScanError(error.fault, GTIN) from error
    for identifier in (LOT, SERIAL):
        _check_text(values.get(identifier), identifier)
    days = {one: _date(values[one], one, year) for one in DATES if one in values}
    if LOT not in values:
        raise ScanError("no lot", LOT)
    return Scanned(
        values[LOT], values.get(GTIN, ""), values.get(SERIAL, ""), days.get(PRODUCED), days.get(BEST_BEFORE),
        days.get(USE_BY), tuple(more),
    )  # fmt: skip


def _in_a_row(text: str) -> list[tuple[str, str]]:
    """Identifiers and data as a symbol carries them. Separators are allowed between any two (7.8.4)."""
    found, rest = [], text.lstrip(SEPARATOR)
    while rest:
        first = rest[:2]
        if first in PREDEFINED:
            whole = rest[: PREDEFINED[first]]
            if len(whole) < PREDEFINED[first] or SEPARATOR in whole:
                raise ScanError("short", first)
        elif first in VARIABLE:
            whole = rest.split(SEPARATOR, 1)[0]
        else:
            raise ScanError("identifier", first)
        found.append((first, whole[2:]))
        rest = rest[len(whole) :].lstrip(SEPARATOR)
    return found


def _in_brackets(text: str) -> list[tuple[str, str]]:
    """The same from the line beneath a symbol; spaces in it are there for the eye."""
    pieces = _BRACKET.split(text.replace(SEPARATOR, ""))
    found = []
    for identifier, value in zip(pieces[1::2], pieces[2::2], strict=True):
        data = "".join(value.split())
        first, wanted = identifier[:2], PREDEFINED.get(identifier[:2])
        if wanted is None and first not in VARIABLE:
            raise ScanError("identifier", identifier)
        if wanted is not None and len(identifier + data) < wanted:
            raise ScanError("short", identifier)
        if wanted is not None and len(identifier + data) > wanted:
            raise ScanError("length", identifier)
        found.append((first, (identifier + data)[2:]))
    return found


def _check_text(value: str | None, identifier: str) -> None:
    if value is None:
        return
    if len(value) > LONGEST_LOT:
        raise ScanError("long", identifier)
    if not value or not set(value) <= CSET_82:
        raise ScanError("lot" if identifier == LOT else "characters", identifier)


def _date(text: str, identifier: str, year: int) -> date:
    """YYMMDD; a day of 00 is the last of its month, the century the one that lies nearest (7.12)."""
    if not (text.isascii() and text.isdecimal()):
        raise ScanError("date", identifier)
    short = int(text[:2])
    ahead = short - year % 100
    full = year - year % 100 + short + (-100 if ahead >= 51 else 100 if ahead <= -50 else 0)
    try:
        last = calendar.monthrange(full, int(text[2:4]))[1]
        return date(full, int(text[2:4]), int(text[4:]) or last)
    except ValueError:  # no such month or day
        raise ScanError("date", identifier) from None
