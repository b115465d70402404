"""Canonical JSON (RFC 8785) of the restricted values that records use, and how a column's value becomes one of them.

Numbers are whole and within ±(2^53 − 1); everything measured is text. Pure: no Django.
"""

from __future__ import annotations

import json
import uuid
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

_LARGEST = 2**53 - 1
# The places of a digit in a decimal column of records: SQLite keeps floats, which give 15 digits back.
DECIMAL_DIGITS = 15
_UNITS = [Decimal(1).scaleb(-places) for places in range(DECIMAL_DIGITS)]


class NotCanonical(ValueError):
    """A value that canonical JSON of this ledger cannot hold; the message says which and what to do."""


# Names are compared by UTF-16 units (RFC 8785 section 3.2.3): for names without characters beyond U+FFFF that is
# Python's own order. Text is escaped as section 3.2.2.2 has it: only what must be, \b \t \n \f \r, the rest \u00xx.
_encode = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
).encode


def canonical(value: Any) -> str:
    """The RFC 8785 text of a JSON value without fractions; NotCanonical for anything else."""
    check(value)
    return canonical_of_checked(value)


def canonical_of_checked(value: Any) -> str:
    """canonical() for values whose parts have been through `check`; still refuses NUL and lone surrogates."""
    text = _encode(value)
    # An escaped backslash before "u0000" is no NUL; the exact look is dear and seldom needed.
    if "\\u0000" in text:
        _refuse_nul(value)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise NotCanonical("a lone surrogate cannot be recorded: take the character out") from error
    return text


def check(value: Any) -> None:
    """Refuse, with NotCanonical, what a record's JSON may not hold: fractions, large numbers, odd types and names."""
    kind = type(value)
    if value is None or kind is str or kind is bool:
        return
    if kind is int:
        if not -_LARGEST <= value <= _LARGEST:
            raise NotCanonical(f"{value} is beyond 2^53: write it as text")
    elif kind is list:
        for one in value:
            check(one)
    elif kind is dict:
        for key, one in value.items():
            if type(key) is not str or (not key.isascii() and max(key) > "\uffff"):
                raise NotCanonical(f"{key!r} cannot be a name: use text of characters up to U+FFFF")
            check(one)
    else:
        raise NotCanonical(f"{kind.__name__} is not a value that a record may hold: {value!r}")


def _refuse_nul(value: Any) -> None:
    if isinstance(value, str):
        if "\x00" in value:
            raise NotCanonical("a NUL character cannot be recorded: take it out")
    elif isinstance(value, list):
        for one in value:
            _refuse_nul(one)
    elif isinstance(value, dict):
        for key, one in value.items():
            _refuse_nul(key)
            _refuse_nul(one)


def plain(value: Any, decimal_places: int | None = None) -> Any:
    """A column's value as canonical JSON takes it: decimals to fixed places, times in UTC with six decimals."""
    if isinstance(value, Decimal):
        if decimal_places is None:
            raise NotCanonical("a decimal needs its column's places")
        return fixed(value, decimal_places)
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, uuid.UUID):
        return str(value)
    return value


def fixed(value: Decimal, places: int) -> str:
    """38.4 → 38.4000 (places=4), halves to even as the column rounds; zero has no sign."""
    whole = DECIMAL_DIGITS - places
    if value.is_finite() and (not value or value.adjusted() < whole):
        rounded = value.quantize(_UNITS[places])
        if not rounded:
            return format(abs(rounded), "f")
        if rounded.adjusted() < whole:
            return format(rounded, "f")
    raise NotCanonical(f"{value} does not fit: at most {whole} digits before the point")


def moment(value: datetime) -> str:
    """2026-03-03T14:05:00.000000Z; NotCanonical for a time without its zone."""
    if value.tzinfo is not UTC:
        if value.utcoffset() is None:
            raise NotCanonical(f"{value.isoformat()} has no time zone")
        value = value.astimezone(UTC)
    return value.isoformat(timespec="microseconds")[:26] + "Z"
