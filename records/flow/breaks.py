"""From when a vessel's story must be told: its last clean break before a moment.

Plain SQL, one statement for all places: a round asks for it many times, and building the same question from querysets
took longer than all the rest of the round.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import connection
from django.utils.dateparse import parse_datetime

from records.flow.choices import WASHED
from records.flow.models import LevelSeen, Movement, MovementEnd, Wash

# A line that was never washed is looked at for so long.
UNWASHED_LINE = timedelta(days=8)
# A movement whose end nobody wrote down is believed to run on for so many days.
RUNS_FOR_DAYS = 8
# A break is nearly always among so many of a vessel's last washes.
LATEST_WASHES = 8

_NAMES = {
    "wash": Wash._meta.db_table,
    "move": Movement._meta.db_table,
    "ends": MovementEnd._meta.db_table,
    "level": LevelSeen._meta.db_table,
}
# 'There is one' is asked as the first by an index, never as EXISTS: PostgreSQL expects to meet one soon, reads the
# whole table from its beginning, and finds none.
# What a person saw: nothing in it when the wash began.
_SHOWN_EMPTY = """(SELECT z.number FROM {level} z WHERE z.vessel = w.vessel AND z.observed_at = w.started_at
  AND z.quantity = 0 ORDER BY z.observed_at LIMIT 1) IS NOT NULL"""
# Something went in or out while it was washed.
_MOVED_MEANWHILE = """EXISTS (SELECT 1 FROM {move} m WHERE m.{end} = w.vessel
  AND m.started_at < w.ended_at AND m.started_at >= {long_before}
  AND NOT m.void AND NOT EXISTS (SELECT 1 FROM {move} n WHERE n.amends = m.number)
  AND (m.started_at >= w.started_at OR m.ended_at > w.started_at OR (m.ended_at IS NULL AND NOT COALESCE(
    (SELECT e.ended_at FROM {ends} e WHERE e.movement = m.number) <= w.started_at, FALSE))))"""
# What was recorded after the wash about the time before it may have filled the vessel after all.
_RECORDED_LATE = """(SELECT m.number FROM {move} m WHERE m.{end} = w.vessel AND m.started_at < w.started_at
  AND m.number > w.number ORDER BY m.number DESC LIMIT 1) IS NOT NULL"""
_SEEN_LATE = """(SELECT l.number FROM {level} l WHERE l.vessel = w.vessel AND l.observed_at < w.started_at
  AND l.number > w.number ORDER BY l.number DESC LIMIT 1) IS NOT NULL"""
_SEEN_FULL = """(SELECT l.number FROM {level} l WHERE l.vessel = w.vessel AND l.quantity > 0
  AND l.observed_at >= w.started_at AND l.observed_at < w.ended_at ORDER BY l.observed_at LIMIT 1) IS NOT NULL"""
# Another wash was going on: what moved meanwhile is told at its end.
_OVERLAPPED = """(SELECT o.number FROM {wash} o WHERE o.vessel = w.vessel
  AND o.started_at < w.started_at AND o.ended_at > w.started_at ORDER BY o.ended_at DESC LIMIT 1) IS NOT NULL"""
_ENDS = ("source", "target", "via")
_LONG_BEFORE = {
    "sqlite": f"datetime(w.started_at, '-{RUNS_FOR_DAYS} days')",
    "postgresql": f"w.started_at - interval '{RUNS_FOR_DAYS} days'",
}


def breaks_before(
    codes: Sequence[str],
    moment: datetime,
    lines: Iterable[str] = (),
    unclocked: Iterable[str] = (),
    *,
    at: Mapping[str, datetime] | None = None,
) -> dict[str, datetime | None]:
    """From when each place's story must be told to know it at `moment` (or at its own moment of `at`). One query.

    The start of its last wash that began in an empty vessel and left it so, as far as anything says; for what has no
    wash clock (`unclocked`: a room) and was never washed the last time that it was seen empty; else None, the
    beginning.
    """
    if not codes:
        return {}
    moments, rooms = at or {}, set(unclocked)
    given: list[Any] = []
    for code in codes:
        when = connection.ops.adapt_datetimefield_value(moments.get(code, moment))
        given += [code, when, code in rooms]
    asked = ", ".join(["(%s, %s, %s)"] * len(codes))
    with connection.cursor() as cursor:
        cursor.execute(f"WITH asked (code, moment, is_room) AS (VALUES {asked}) {_question()}", given)
        found = {code: _moment(began) for code, began in cursor.fetchall()}
    for code in set(lines) & set(found):
        found[code] = found[code] or moment - UNWASHED_LINE
    return found


def _question() -> str:
    names = _NAMES | {"long_before": _LONG_BEFORE[connection.vendor]}
    against = [_MOVED_MEANWHILE.format(end=end, **names) for end in _ENDS]
    late = [_RECORDED_LATE.format(end=end, **names) for end in _ENDS] + [_SEEN_LATE.format(**names)]
    shown_empty = _SHOWN_EMPTY.format(**names)
    against += [_OVERLAPPED.format(**names), _SEEN_FULL.format(**names)]
    against += [f"(NOT {shown_empty} AND ({' OR '.join(late)}))"]
    washes = f"""SELECT w.* FROM {_NAMES["wash"]} w WHERE w.vessel = asked.code AND w.what = '{WASHED}'
   AND w.ended_at <= asked.moment AND NOT w.void
   AND NOT EXISTS (SELECT 1 FROM {_NAMES["wash"]} a WHERE a.amends = w.number)
   ORDER BY w.ended_at DESC"""
    told = f"WHERE NOT ({' OR '.join(against)}) ORDER BY w.ended_at DESC LIMIT 1"
    # The latest washes by themselves first: a planner that is free to begin elsewhere asks of every wash there was.
    return f"""SELECT code, COALESCE(
  (SELECT w.started_at FROM ({washes} LIMIT {LATEST_WASHES}) w {told}),
  (SELECT w.started_at FROM ({washes}) w {told}),
  CASE WHEN is_room THEN
  (SELECT observed_at FROM {_NAMES["level"]} WHERE vessel = asked.code AND quantity = 0 AND observed_at <= asked.moment
   ORDER BY observed_at DESC LIMIT 1) END) FROM asked"""


def _moment(value: Any) -> datetime | None:
    """PostgreSQL gives moments, SQLite their text in UTC."""
    if value is None or isinstance(value, datetime):
        return value
    parsed = parse_datetime(value)
    assert parsed is not None
    return parsed.replace(tzinfo=UTC)


__all__ = ["UNWASHED_LINE", "breaks_before"]
