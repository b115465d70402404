"""What a live message says: a number, or JSON with value, moment and unit. Pure parsing; nothing is kept here.

A value is kept as it came. A moment is ISO 8601 with its offset, or seconds or milliseconds since 1970; without one the
time at which it was received stands for it, but not where the message may have waited: then it is refused.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from plant.process.trace_blocks import MOST_PLACES

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
AHEAD = timedelta(minutes=2)
LONGEST_VALUE = 40
MOST_IN_ONE = 20_000
LARGEST = 10**12
FAILED = re.compile(r"nan|null|none|open|short|fail|failed|error|err|bad|---+", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d{1,15}(?:\.\d{1,15})?", re.ASCII)


class Unreadable(ValueError):
    """A message, or a row of one, cannot be read; the text says why, in English, for whoever set the sender up."""


@dataclass(frozen=True, slots=True)
class Said:
    """One sample as it was sent. `value` is a whole number of 10^-places of `unit` (empty: the feed's own)."""

    name: str
    at_ms: int
    text: str
    value: int
    places: int
    failed: bool
    unit: str = ""


def of_payload(name: str, payload: bytes, received_at: datetime, *, waited: bool = False) -> list[Said]:
    """The samples of an MQTT message: a plain number, an object, or a list of objects. Raises Unreadable.

    `waited`: it may have lain at the broker or have come before, so the time of receipt says nothing of it.
    """
    try:
        text = payload.decode("utf-8").strip()
    except UnicodeDecodeError:
        raise Unreadable("no text in UTF-8") from None
    if not text.startswith(("{", "[")):
        return [sample(name, text, None, received_at, waited=waited)]
    rows = of_json(text)
    return [of_row(row, received_at, name, waited=waited) for row in rows]


def of_json(text: str) -> list[Any]:
    """The rows of a JSON text: a list, an object, or an object on each line. Raises Unreadable."""
    if not text.strip():
        raise Unreadable("nothing in it")
    try:
        found = json.loads(text, parse_float=str, parse_int=str, parse_constant=str)
    except RecursionError:
        raise Unreadable("nested too deeply") from None
    except ValueError:
        found = list(_lines(text))
    rows = found if isinstance(found, list) else [found]
    if len(rows) > MOST_IN_ONE:
        raise Unreadable(f"more than {MOST_IN_ONE} samples in one message")
    return rows


def _lines(text: str) -> Iterator[Any]:
    for at, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            try:
                yield json.loads(line, parse_float=str, parse_int=str, parse_constant=str)
            except (ValueError, RecursionError):
                raise Unreadable(f"line {at} is no JSON") from None


def of_row(row: Any, received_at: datetime, name: str = "", *, waited: bool = False) -> Said:
    """One object {"channel", "at", "value", "unit"}; `name` where the message has it already. Raises Unreadable."""
    if not isinstance(row, dict):
        raise Unreadable("each sample is an object with channel, at and value")
    given = name or row.get("channel")
    if not isinstance(given, str) or not given or len(given) > 200 or "\0" in given:
        raise Unreadable("the channel is missing")
    if "value" not in row:
        raise Unreadable("the value is missing")
    value, unit = row["value"], row.get("unit", "")
    if value is None:
        value = "null"
    if isinstance(value, bool):
        value = "1" if value else "0"
    if not isinstance(value, str):
        raise Unreadable("the value is no number")
    if not isinstance(unit, str) or len(unit) > 12:
        raise Unreadable("the unit is no text")
    return sample(given, value, row.get("at"), received_at, unit, waited=waited)


def sample(name: str, text: str, at: Any, received_at: datetime, unit: str = "", *, waited: bool = False) -> Said:
    """A value and its moment. Raises Unreadable."""
    text = text.strip()
    if waited and at in (None, ""):
        raise Unreadable("it has no time of its own and may have waited or come before: nobody knows when it was read")
    at_ms = _moment(at, received_at)
    if FAILED.fullmatch(text):
        return Said(name, at_ms, text, 0, 0, True, unit)
    if not _NUMBER.fullmatch(text) or len(text) > LONGEST_VALUE:
        raise Unreadable("the value is no number")
    try:
        number = Decimal(text)
    except InvalidOperation:  # pragma: no cover - the pattern lets no such text through
        raise Unreadable("the value is no number") from None
    places = max(0, -int(number.as_tuple().exponent))
    if places > MOST_PLACES:
        raise Unreadable(f"the value has more than {MOST_PLACES} decimals")
    if abs(number) > LARGEST:
        raise Unreadable("the value is too large")
    return Said(name, at_ms, text, int(number.scaleb(places)), places, False, unit)


def _moment(at: Any, received_at: datetime) -> int:
    moment = received_at if at in (None, "") else _read(at)
    if moment > received_at + AHEAD:
        raise Unreadable("its time is still to come")
    if moment < EARLIEST:
        raise Unreadable("its time lies before 2000")
    return (moment - EPOCH) // timedelta(milliseconds=1)


def _read(at: Any) -> datetime:
    if not isinstance(at, str):
        raise Unreadable("its time is no text and no number")
    try:
        if _NUMBER.fullmatch(at):
            seconds = Decimal(at)
            if abs(seconds) >= 10**11:  # milliseconds: as seconds it would be the year 5138
                seconds /= 1000
            if not math.isfinite(seconds):  # pragma: no cover - the pattern lets no such text through
                raise ValueError
            return EPOCH + timedelta(milliseconds=int(seconds * 1000))
        moment = datetime.fromisoformat(at)
    except (ValueError, OverflowError):
        raise Unreadable("its time cannot be read") from None
    if moment.tzinfo is None:
        raise Unreadable("its time has no offset from UTC")
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise Unreadable("its time cannot be read") from None
