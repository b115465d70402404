"""What a form asks for: one check at one place, due or not, with what the page shows beside it. No writes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.utils.translation import get_language

from plant.hazard_plan.content import InstrumentDef, LimitDef, MonitoringDef
from plant.process.units import CELSIUS, FAHRENHEIT, exact
from records.checks import queries
from records.checks.entry import usual_instrument
from records.checks.matching import FARTHEST
from records.checks.models import Reading
from records.checks.queries import DueCheck
from records.judging.judge import applying_limits
from records.people.plans import InForce, plan_in_force

KEY_TIME = "%Y-%m-%dT%H:%M:%S.%fZ"
OTHER_UNIT = {FAHRENHEIT: CELSIUS, CELSIUS: FAHRENHEIT}


@dataclass(frozen=True, slots=True)
class Asking:
    """A check as a form asks it. `check`: the due check it stands for; None when the plan asks no such check now."""

    monitoring: MonitoringDef
    in_force: InForce
    subject: str
    event: str
    due_at: datetime | None
    check: DueCheck | None = None

    @property
    def subject_name(self) -> str:
        """Where: the printed name of the place, else of the plant."""
        return self.in_force.names.get(self.subject, self.subject) or self.in_force.plan.plant.name

    @property
    def what(self) -> str:
        return what_words(self.monitoring)

    @property
    def kind(self) -> str:
        return self.monitoring.answer.kind

    @property
    def unit(self) -> str:
        return self.monitoring.answer.unit

    @property
    def units(self) -> tuple[str, ...]:
        """The units that may be typed: the check's own, and for temperatures the other scale."""
        other = OTHER_UNIT.get(self.unit)
        return (self.unit, other) if other else (self.unit,)

    @property
    def usual(self) -> InstrumentDef | None:
        """The instrument that is read unless a person says another."""
        code = usual_instrument(self.monitoring, self.subject, self.in_force)
        return next((one for one in self.in_force.plan.instruments if one.code == code), None)

    @property
    def instruments(self) -> list[InstrumentDef]:
        """What could be read instead: those of this check first, then every other that can show its unit."""
        if self.kind not in ("number", "pair"):
            return []
        every = self.in_force.plan.instruments
        named = [one for one in every if one.code in self.monitoring.instruments]
        measures = OTHER_UNIT.keys() if self.unit in OTHER_UNIT else {self.unit}
        return named + [one for one in every if one not in named and one.unit in measures]

    def limits(self, product_class: str) -> list[LimitDef]:
        """The limits that would judge it now."""
        return applying_limits(self.monitoring, self.in_force, product_class)


def what_words(monitoring: MonitoringDef) -> str:
    """What is checked, in the reader's language where the plan says it."""
    spanish = (get_language() or "").startswith("es")
    return monitoring.what_es if spanish and monitoring.what_es else monitoring.what


def parse_key(key: str) -> tuple[str, str, str, datetime] | None:
    """monitoring, subject, event and due time of a key as `queries.due_key` writes it; None for anything else."""
    parts = key.split("|")
    if len(parts) != 4 or not parts[0] or any("\0" in part for part in parts):
        return None
    try:
        due_at = datetime.strptime(parts[3], KEY_TIME).replace(tzinfo=UTC)
    except ValueError:
        return None
    return parts[0], parts[1], parts[2], due_at


def asked(key: str, now: datetime) -> Asking | None:
    """The check of a key; None when no version of the plan around it knows such a check."""
    parsed = parse_key(key)
    if parsed is None or abs(parsed[3] - now) > FARTHEST:
        return None
    name, subject, event, due_at = parsed
    for one in queries.due_between(due_at, due_at + timedelta(microseconds=1), now, keys=[name]):
        if one.due.subject == subject and one.due.event == event:
            return Asking(one.monitoring, one.in_force, subject, event, due_at, one)
    for in_force in (plan_in_force(now), plan_in_force(due_at)):
        monitoring = in_force.plan.monitoring_by_key(name) if in_force else None
        if in_force and monitoring and subject in (monitoring.subjects or ("", *in_force.names)):
            return Asking(monitoring, in_force, subject, event, due_at)
    return None


def of_check(check: DueCheck) -> Asking:
    """The form of a due check."""
    due = check.due
    return Asking(check.monitoring, check.in_force, due.subject, due.event, due.due_at, check)


def of_reading(reading: Reading) -> Asking | None:
    """The check that a reading was made for, by the version in force when it was observed; None for a free one."""
    in_force = plan_in_force(reading.observed_at)
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key) if in_force else None
    if in_force is None or monitoring is None:
        return None
    return Asking(monitoring, in_force, reading.subject, reading.event, reading.due_at)


def in_unit(reading: Reading, unit: str) -> float | None:
    """A reading's value in another unit, for drawing; None when it has none there."""
    if reading.value is None:
        return None
    try:
        return float(exact(reading.value, reading.unit, unit))
    except ValueError:
        return None
