"""After an outage the first round asks every tank: each that holds product gets a temperature check, due at its end."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from datetime import datetime, timedelta

from plant.hazard_plan.content import MonitoringDef
from plant.process.facts import Event, Facts, Holding
from plant.process.schedule import Due
from records.checks.models import Reading
from records.flow.queries import OUTAGE_END
from records.people.plans import InForce

PREFIX = "after outage "
TEMPERATURES = frozenset({"°F", "°C"})
# No plan says when such a check is missed: twice its own grace, and an hour at least (rule of this book).
PATIENCE = timedelta(hours=1)


def asked_after(
    in_force: InForce, facts: Facts, start: datetime, end: datetime, wanted: Collection[str] | None = None
) -> Iterator[tuple[MonitoringDef, Due]]:
    """The checks that the outages which ended in [start, end) make due, by the version in force then."""
    ends = [one for one in facts.events if one.kind == OUTAGE_END and start <= one.at < end]
    for event in ends:
        if any(_holds_at(one, event) for one in facts.holdings):
            for monitoring in temperature_checks(in_force, event.subject):
                if wanted is None or monitoring.key in wanted:
                    yield monitoring, _due(monitoring, event)


def _holds_at(one: Holding, event: Event) -> bool:
    return one.subject == event.subject and one.since <= event.at and (one.until is None or event.at < one.until)


def is_temperature_of(monitoring: MonitoringDef, subject: str) -> bool:
    """Whether a check reads a temperature at this place."""
    number = monitoring.answer.kind in ("number", "pair") and monitoring.answer.unit in TEMPERATURES
    return number and subject in monitoring.subjects


def temperature_checks(in_force: InForce, subject: str) -> list[MonitoringDef]:
    """One temperature check for each control point of a vessel; one made while it holds product comes first."""
    by_point: dict[str, list[MonitoringDef]] = defaultdict(list)
    for one in in_force.plan.monitoring:
        if is_temperature_of(one, subject) and one.weight != "quality":
            by_point[one.control_point].append(one)
    return [min(found, key=lambda one: one.frequency.kind != "while_holding") for found in by_point.values()]


def _due(monitoring: MonitoringDef, event: Event) -> Due:
    grace = timedelta(minutes=monitoring.grace_min)
    return Due(
        key=monitoring.key,
        subject=event.subject,
        event=f"{PREFIX}{event.id}",
        due_at=event.at,
        opens_at=event.at,
        late_after=event.at + grace,
        missed_at=event.at + max(2 * grace, PATIENCE),
        shift=None,
    )


def answer_of(due: Due, readings: Sequence[Reading]) -> Reading | None:
    """The first reading of this check at this place since the outage, whatever it was taken for."""
    same = (one for one in readings if (one.monitoring_key, one.subject) == (due.key, due.subject))
    return min(
        (one for one in same if one.observed_at >= due.opens_at),
        key=lambda one: (one.observed_at, one.number),
        default=None,
    )
