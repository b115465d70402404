"""Times in which a seal of a pasteurizer was not whole, or nobody had seen it whole: no holding time rests on them.

Known afterwards: a seal found broken was so at some moment since it was last seen whole, and the time between counts as
open (side of caution; ATCP 65.68(3)(c), text consulted, asks for the holding time again after any breaking).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from plant import clock
from records.people.plans import InForce
from records.workshop import seals
from records.workshop.consequences import beginning, last_seen_whole, not_whole_by_check
from records.workshop.keeping import standing
from records.workshop.models import SealAct

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Open:
    """A seal was last seen whole at `since`, found not whole or broken for work at `found`, set again at `until`."""

    since: datetime
    found: datetime
    until: datetime | None


def open_seals(press: str, in_force: InForce) -> list[Open]:
    """Each time, in order. Acts on seals and the plan's check on them both count, all that are in the book by now."""
    acts = list(standing(SealAct.objects.filter(place=press)).order_by("observed_at", "number"))
    return sorted([*_by_acts(press, acts, in_force), *_by_check(press, in_force)], key=lambda one: one.found)


def _by_acts(press: str, acts: list[SealAct], in_force: InForce) -> list[Open]:
    for_work = {(one.seal_place, one.observed_at) for one in acts if one.what == seals.FOR_WORK}
    found = []
    for key, story in seals.fold(acts).items():
        for at, end in story.open_times:
            known = (key, at) in for_work
            since = at if known else last_seen_whole(press, key, at, in_force) or beginning()
            found.append(Open(since, at, end))
    return found


def _by_check(press: str, in_force: InForce) -> list[Open]:
    times = not_whole_by_check(press, clock.now() + DAY, in_force)
    return [Open(last_seen_whole(press, "", at, in_force) or beginning(), at, end) for at, end in times]
