"""The movements that a scope can reach, read step by step: never the history that it cannot.

A fill is all that a vessel held between two washes; a movement belongs to the fill of its start, and has ended at the
latest when one of its vessels was washed, as the book of contents has it. So rows are asked for by vessel and fill, in
plain SQL: one statement for all fills of a step.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, NamedTuple
from uuid import UUID

from django.db import connection

from records.flow.choices import WASHED
from records.flow.lineage import FIRST, LAST
from records.flow.models import Movement, MovementEnd, Wash

AT_ONCE = 150  # questions in one statement: SQLite takes some thousand parameters, each question has four
_MOVE, _ENDS, _WASH = (one._meta.db_table for one in (Movement, MovementEnd, Wash))


class Fill(NamedTuple):
    """What a vessel held from one wash (`begin`, FIRST for none) until before the next (`end`, LAST for none)."""

    vessel: str
    begin: datetime
    end: datetime


class Row(NamedTuple):
    """A movement as it stands, with its end whether its own or recorded later; no end: LAST."""

    number: int
    source: str
    source_name: str
    target: str
    target_name: str
    via_name: str
    started_at: datetime
    ended_at: datetime
    quantity: Decimal | None
    unit: str
    product_name: str
    target_lot: UUID | None


@dataclass(slots=True)
class Reached:
    """What one direction can reach: fills with the moment that counts, and every movement in or out of them."""

    fills: dict[Fill, datetime] = field(default_factory=dict)
    rows: dict[int, Row] = field(default_factory=dict)
    ends: dict[int, datetime] = field(default_factory=dict)  # when each movement had ended, by the washes known
    given: dict[int, Fill] = field(default_factory=dict)  # the fill that a movement left
    taken: dict[int, Fill] = field(default_factory=dict)  # the fill that it went into


def fills_at(places: Sequence[tuple[str, datetime]]) -> list[Fill]:
    """The fill of each vessel at its moment, in the order asked. One statement for each 150."""
    found: list[Fill] = []
    for first in range(0, len(places), AT_ONCE):
        some = places[first : first + AT_ONCE]
        given: list[Any] = []
        for number, (vessel, moment) in enumerate(some):
            given += [number, vessel, _bound(moment)]
        values = ", ".join(["(%s, %s, %s)"] * len(some))
        stands = f"w.vessel = code AND w.what = '{WASHED}' AND NOT w.void"
        stands += f" AND NOT EXISTS (SELECT 1 FROM {_WASH} a WHERE a.amends = w.number)"
        statement = f"""WITH asked (place, code, moment) AS (VALUES {values}) SELECT place,
 (SELECT w.started_at FROM {_WASH} w WHERE {stands} AND w.started_at <= moment ORDER BY w.started_at DESC LIMIT 1),
 (SELECT w.started_at FROM {_WASH} w WHERE {stands} AND w.started_at > moment ORDER BY w.started_at LIMIT 1)
 FROM asked"""
        with connection.cursor() as cursor:
            cursor.execute(statement, given)
            told = {place: (begin, end) for place, begin, end in cursor.fetchall()}
        for number, (vessel, _moment) in enumerate(some):
            begin, end = told[number]
            found.append(Fill(vessel, _read(begin) or FIRST, _read(end) or LAST))
    return found


def fills_between(vessel: str, since: datetime, until: datetime) -> list[Fill]:
    """Every fill of a vessel that a window touches, its ends included."""
    found = fills_at([(vessel, since)])
    while found[-1].end <= until:
        found += fills_at([(vessel, found[-1].end)])
    return found


def rows_of(fills: Iterable[Fill], end: str) -> dict[Fill, list[Row]]:
    """The movements out of (`end` 'source') or into ('target') each fill that stand. One statement for each 150."""
    wanted = list(fills)
    found: dict[Fill, list[Row]] = {one: [] for one in wanted}
    for first in range(0, len(wanted), AT_ONCE):
        some = wanted[first : first + AT_ONCE]
        given: list[Any] = []
        for number, one in enumerate(some):
            given += [number, one.vessel, _bound(one.begin), _bound(one.end)]
        values = ", ".join(["(%s, %s, %s, %s)"] * len(some))
        these = f"m.{end} = code AND m.started_at >= since AND m.started_at < until AND {_STANDS}"
        moves, where = f"{_MOVE} m", f"WHERE {these}"
        if connection.vendor == "postgresql":
            # Fill by fill through the index, in order: joined freely, it reads every movement there ever was.
            moves, where = f"LATERAL (SELECT m.* FROM {_MOVE} m WHERE {these} ORDER BY m.started_at) m", ""
        statement = f"""WITH asked (place, code, since, until) AS (VALUES {values}) SELECT place, {_COLUMNS}
 FROM asked CROSS JOIN {moves} LEFT JOIN {_ENDS} e ON e.movement = m.number {where}"""
        with connection.cursor() as cursor:
            cursor.execute(statement, given)
            for place, *values_of in cursor.fetchall():
                found[some[place]].append(_row(values_of))
    return found


def rows_into_lots(lots: Sequence[UUID]) -> list[Row]:
    """The movements into these lots that stand."""
    found: list[Row] = []
    for first in range(0, len(lots), AT_ONCE):
        some = [_uuid_bound(one) for one in lots[first : first + AT_ONCE]]
        where = f"m.target_lot IN ({', '.join(['%s'] * len(some))})"
        found += _asked(where, some)
    return found


def rows_numbered(numbers: Sequence[int]) -> list[Row]:
    """The movements of these numbers that stand."""
    found: list[Row] = []
    for first in range(0, len(numbers), AT_ONCE):
        some = list(numbers[first : first + AT_ONCE])
        found += _asked(f"m.number IN ({', '.join(['%s'] * len(some))})", some)
    return found


def rows_from_outside(name: str, since: datetime, until: datetime) -> list[Row]:
    """The movements that brought product from an outside place of that name in a window (any case of letters)."""
    where = "m.source = '' AND m.started_at >= %s AND m.started_at <= %s"
    wanted = name.strip().casefold()
    return [one for one in _asked(where, [_bound(since), _bound(until)]) if one.source_name.casefold() == wanted]


def rows_through(line: str, since: datetime, until: datetime, farthest: datetime) -> list[Row]:
    """The movements that ran through a line in a window; `farthest`: none that began earlier is asked for."""
    where = "m.via = %s AND m.started_at >= %s AND m.started_at <= %s"
    found = _asked(where, [line, _bound(farthest), _bound(until)])
    return [one for one in found if one.ended_at > since or one.started_at >= since]


def _asked(where: str, given: list[Any]) -> list[Row]:
    statement = f"""SELECT {_COLUMNS} FROM {_MOVE} m LEFT JOIN {_ENDS} e ON e.movement = m.number
 WHERE {where} AND {_STANDS} ORDER BY m.number"""
    with connection.cursor() as cursor:
        cursor.execute(statement, given)
        return [_row(one) for one in cursor.fetchall()]


_STANDS = f"NOT m.void AND NOT EXISTS (SELECT 1 FROM {_MOVE} n WHERE n.amends = m.number)"
_COLUMNS = (
    "m.number, m.source, m.source_name, m.target, m.target_name, m.via_name, m.started_at,"
    " COALESCE(e.ended_at, m.ended_at), COALESCE(e.quantity, m.quantity),"
    " CASE WHEN e.quantity IS NULL THEN m.unit ELSE e.unit END, m.product_name, m.target_lot"
)


def _row(values: Sequence[Any]) -> Row:
    number, source, source_name, target, target_name, via, started, ended, quantity, unit, product, lot = values
    started_at = _read(started)
    assert started_at is not None
    return Row(
        number, source, source_name, target, target_name, via, started_at, _read(ended) or LAST,
        None if quantity is None else Decimal(str(quantity)).normalize(), unit, product,
        lot if lot is None or isinstance(lot, UUID) else UUID(lot),
    )  # fmt: skip


def _bound(moment: datetime) -> Any:
    return connection.ops.adapt_datetimefield_value(moment)


def _uuid_bound(value: UUID) -> Any:
    return value if connection.features.has_native_uuid_field else value.hex


def _read(value: Any) -> datetime | None:
    """PostgreSQL gives moments, SQLite those of a column without their zone and computed ones as text: both in UTC."""
    if value is None:
        return None
    found: datetime = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)
