"""Re-checks: out of limits makes one due after the plan's minutes, until two readings in a row are met."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from plant.hazard_plan.content import MonitoringDef
from plant.process import excursion as pure
from plant.process.limits import Outcome
from plant.process.schedule import Due, Holding
from records.checks.models import Reading
from records.judging import queries as verdicts
from records.people.plans import InForce

PREFIX = "recheck "
MOMENT = timedelta(microseconds=1)


def rechecks(
    readings: Sequence[Reading],
    in_force: InForce,
    holdings: Sequence[Holding],
    start: datetime,
    end: datetime,
    wanted: Collection[str] | None = None,
) -> list[tuple[Due, datetime | None, Reading | None]]:
    """Re-checks due in [start, end), each with the time and the reading that answered it.

    `readings` are the governing ones around the window. A vessel that has been emptied since asks for none.
    """
    asked = {one.key: one for one in in_force.plan.monitoring if one.recheck_min}
    groups: dict[tuple[str, str], list[Reading]] = defaultdict(list)
    for one in readings:
        if one.monitoring_key in asked and (wanted is None or one.monitoring_key in wanted):
            groups[one.monitoring_key, one.subject].append(one)
    if not groups:
        return []
    outcomes = verdicts.governing(Reading.KIND, [one.number for rows in groups.values() for one in rows])
    holders = {one.code for one in in_force.plan.vessels if one.holds_product}
    found = []
    for (key, subject), rows in groups.items():
        rows.sort(key=lambda one: (one.observed_at, one.number))
        for due, answer in _of_group(asked[key], subject, rows, {n: v.outcome for n, v in outcomes.items()}):
            if start <= due.due_at < end and (subject not in holders or _holds(subject, due.due_at, holdings)):
                found.append((due, answer.observed_at if answer else None, answer))
    return found


def _of_group(
    monitoring: MonitoringDef, subject: str, rows: list[Reading], outcomes: dict[int, str]
) -> list[tuple[Due, Reading | None]]:
    line = [(one.observed_at, Outcome(outcomes[one.number]), one.number) for one in rows if one.number in outcomes]
    # Of two at one moment (times are typed to the minute) neither answers the other.
    after = {
        one.number: next((later for later in rows[at + 1 :] if later.observed_at > one.observed_at), None)
        for at, one in enumerate(rows)
    }
    asking = {one.number: one for one in rows}
    wait = timedelta(minutes=monitoring.recheck_min)
    grace = timedelta(minutes=monitoring.grace_min)
    found = []
    for due_at, number in pure.rechecks(line, monitoring.recheck_min):
        due = Due(
            key=monitoring.key,
            subject=subject,
            event=f"{PREFIX}{number}",
            due_at=due_at,
            opens_at=asking[number].observed_at + MOMENT,
            late_after=due_at + grace,
            missed_at=due_at + max(wait, grace),
            shift=None,
        )
        found.append((due, after[number]))
    return found


def _holds(subject: str, at: datetime, holdings: Sequence[Holding]) -> bool:
    return any(one.subject == subject and one.since <= at and (one.until is None or at < one.until) for one in holdings)
