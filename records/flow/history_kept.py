"""The story of a place, kept in memory until the flow changes: judging a trace and drawing it ask for it many times.

Known by the plan's content and the leaf of the flow's newest entry (see facts_kept), so another process's entries are
seen at once. The window kept is a day wider on each side than was asked for: it tells what a narrower one would, and
what came of it since.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from datetime import datetime, timedelta

from records.flow.facts_kept import last_of_the_flow
from records.flow.history import History, load
from records.people.plans import InForce

WIDER = timedelta(days=1)
MOST_PLACES = 32


@dataclass(frozen=True, slots=True)
class _Kept:
    known_by: tuple[str, str | None]
    start: datetime
    end: datetime
    history: History


_kept: OrderedDict[str, _Kept] = OrderedDict()


def history_kept(place: str, start: datetime, end: datetime, in_force: InForce) -> History:
    """The history of one place from before `start` until `end` or later; read it, do not change it."""
    known_by = (in_force.content_hash, last_of_the_flow())
    kept = _kept.get(place)
    if kept is None or kept.known_by != known_by or not (kept.start <= start and end <= kept.end):
        first, last = start - WIDER, end + WIDER
        kept = _kept[place] = _Kept(known_by, first, last, load(in_force.plan, first, last, [place]))
        if len(_kept) > MOST_PLACES:
            _kept.popitem(last=False)
    return kept.history


def forget() -> None:
    """Begin with nothing in memory, as a process that has just started."""
    _kept.clear()
