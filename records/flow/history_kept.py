"""The story of a place, kept in memory until the flow changes: judging a trace and drawing it ask for it many times.

Known by the plan's content and the leaf of the flow's newest entry (see facts_kept), so another process's entries are
seen at once. The window kept is a day wider on each side than was asked for: it tells what a narrower one would, and
what came of it since.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from records.flow.facts_kept import last_of_the_flow
from records.flow.history import History, load
from records.lots.models import Lot
from records.people.plans import InForce

WIDER = timedelta(days=1)
MOST_PLACES = 32


@dataclass(slots=True)
class PlaceKept:
    """A place's story in a window of time, and the lots of it that were asked for. Read it, do not change it."""

    known_by: tuple[str, str | None]
    start: datetime
    end: datetime
    history: History
    _lots: dict[UUID, Lot] = field(default_factory=dict)

    def lots(self, wanted: Iterable[UUID]) -> dict[UUID, Lot]:
        """These lots by their ids; a lot never changes."""
        ids = set(wanted)
        if missing := ids - self._lots.keys():
            self._lots |= {one.id: one for one in Lot.objects.filter(id__in=missing)}
        return {one: self._lots[one] for one in ids if one in self._lots}


_kept: OrderedDict[str, PlaceKept] = OrderedDict()


def history_kept(place: str, start: datetime, end: datetime, in_force: InForce) -> History:
    """The history of one place from before `start` until `end` or later; read it, do not change it."""
    return place_kept(place, start, end, in_force).history


def place_kept(place: str, start: datetime, end: datetime, in_force: InForce) -> PlaceKept:
    """The story of one place from before `start` until `end` or later."""
    known_by = (in_force.content_hash, last_of_the_flow())
    kept = _kept.get(place)
    if kept is None or kept.known_by != known_by or not (kept.start <= start and end <= kept.end):
        first, last = start - WIDER, end + WIDER
        history = load(in_force.plan, first, last, [place])
        kept = _kept[place] = PlaceKept(known_by, first, last, history)
        if len(_kept) > MOST_PLACES:
            _kept.popitem(last=False)
    return kept


def forget() -> None:
    """Begin with nothing in memory, as a process that has just started."""
    _kept.clear()
