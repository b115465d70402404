"""From when on a record bears on the holding time of a pasteurizer: what has to be judged again once it is there."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from plant.process.limits import Outcome
from records.checks.models import Reading
from records.judging.queries import governing as verdicts_of
from records.ledger.models import Record
from records.people.plans import plan_in_force
from records.workshop.consequences import beginning, last_seen_whole, not_whole, seal_check
from records.workshop.models import Kept, SealAct, WorkDone


def bears_since(row: Record) -> datetime | None:
    """Since when; None for a record that bears on its own time alone.

    An amended record counts with its successor. A seal that was not whole, by an act or by the plan's check, reaches to
    where it was last seen whole, and so does one that is taken back.
    """
    if isinstance(row, Reading):
        return _of_check(row)
    if not isinstance(row, Kept):
        return None
    both = _with_old(row)
    first = min(at for one in both for at in (one.observed_at, _began(one)))
    if isinstance(row, SealAct) and (len(both) > 1 or not_whole(row)):
        return _whole_before(row.place, row.seal_place, first)
    return first


def _of_check(row: Reading) -> datetime | None:
    in_force = plan_in_force(row.observed_at)
    check = seal_check(row.subject, in_force) if in_force is not None else None
    if check is None or row.monitoring_key != check.key:
        return None
    verdict = verdicts_of(Reading.KIND, [row.number]).get(row.number)
    if row.amends is None and (verdict is None or verdict.outcome != Outcome.NOT_MET.value):
        return None
    return _whole_before(row.subject, "", min(one.observed_at for one in _with_old(row)))


def _with_old(row: Any) -> list[Any]:
    old = type(row).objects.filter(number=row.amends).first() if row.amends is not None else None
    return [row] if old is None else [row, old]


def _began(row: Kept) -> datetime:
    return row.started_at if isinstance(row, WorkDone) else row.observed_at


def _whole_before(press: str, seal_place: str, at: datetime) -> datetime:
    in_force = plan_in_force(at)
    found = last_seen_whole(press, seal_place, at, in_force) if in_force is not None else None
    return found or beginning()
