"""The facts of the flow, kept in memory until the flow changes: a round asks for them many times in a second.

They are known by the last entry of any record of the flow (its leaf binds its content and its number), so that another
process's entries are seen at once, and by the plan in force at the window's end (no version is approved into the past).
A wider window than asked for holds every fact of it, uncut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import connection

from plant.process.facts import Facts
from records.deviations.models import OutageEnd
from records.flow.models import LevelSeen, Movement, MovementEnd, NoProduction, PlantEvent, ServiceState, Wash
from records.ledger.models import Entry

OF_THE_FLOW = (Movement, MovementEnd, Wash, LevelSeen, PlantEvent, NoProduction, ServiceState)
KINDS = [one.KIND for one in (*OF_THE_FLOW, OutageEnd)]
_TABLE = Entry._meta.db_table
_EACH = " UNION ALL ".join([f"SELECT max(number) AS last FROM {_TABLE} WHERE kind = %s"] * len(KINDS))
_NEWEST = f"SELECT leaf FROM {_TABLE} WHERE number = (SELECT max(last) FROM ({_EACH}) AS of_kinds)"
WIDER = timedelta(days=1)
FARTHEST = timedelta(days=60)  # a window this far from the kept one is another story


@dataclass(frozen=True, slots=True)
class _Kept:
    known_by: Any
    start: datetime
    end: datetime
    facts: Facts

    def covers(self, start: datetime, end: datetime) -> bool:
        return self.start <= start and end <= self.end


_kept: _Kept | None = None


def facts_kept(plan: Any, start: datetime, end: datetime, told: Callable[[datetime, datetime], Facts]) -> Facts:
    """What `told(start, end)` says, or said of a window around it with nothing recorded since.

    `plan` says which version is in force at the window's end.
    """
    global _kept
    key = (plan, last_of_the_flow())
    kept = _kept
    if kept is not None and kept.known_by == key and kept.covers(start, end):
        return kept.facts
    wide_start, wide_end = start - WIDER, end + WIDER
    if kept is not None and kept.known_by[0] == plan and abs(kept.start - start) < FARTHEST > abs(kept.end - end):
        # As wide as was asked for before: the same questions come again.
        wide_start, wide_end = min(wide_start, kept.start), max(wide_end, min(kept.end, end + FARTHEST))
    facts = told(wide_start, wide_end)
    _kept = _Kept(key, wide_start, wide_end, facts)
    return facts


def forget() -> None:
    """Begin with nothing in memory, as a process that has just started."""
    global _kept
    _kept = None


def last_of_the_flow() -> str | None:
    """The leaf of the flow's newest entry, in one query: a step in an index for each kind."""
    with connection.cursor() as cursor:
        cursor.execute(_NEWEST, KINDS)
        row = cursor.fetchone()
    return row[0] if row else None
