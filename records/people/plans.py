"""The plan in force at a moment, read from its approval and kept ready."""

from __future__ import annotations

import json
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from uuid import UUID

from dateutil.relativedelta import relativedelta
from django.db import connection
from django.utils import translation

from plant.hazard_plan.content import MonitoringDef, Plan, from_json
from plant.hazard_plan.planned import calendar_of, planned_checks
from plant.process.schedule import Planned, PlantCalendar
from plant.rework_places import PlaceNames
from records.people.models import PlanApproval

_NEWEST = f"SELECT id FROM {PlanApproval._meta.db_table} ORDER BY version_number DESC LIMIT 1"


@dataclass(frozen=True, slots=True)
class InForce:
    """An approved version and what is made of it once."""

    number: int
    content_hash: str
    in_force_from: datetime
    plan: Plan
    calendar: PlantCalendar
    planned: tuple[Planned, ...]
    names: dict[str, str] = field(default_factory=dict)  # code -> printed name, vessels and equipment

    @property
    def zone(self) -> str:
        return self.plan.plant.time_zone

    def speaking(self) -> AbstractContextManager[None]:
        """Within it sentences are in the plant's language: what goes into records is, whoever is at the screen."""
        return translation.override(self.plan.plant.language)

    def what_of(self, monitoring: MonitoringDef) -> str:
        """What a check is about, in the plant's language where the plan says it; for records."""
        spanish = self.plan.plant.language.startswith("es") and monitoring.what_es
        return monitoring.what_es if spanish else monitoring.what

    def kept_until(self, prepared_at: datetime) -> date:
        """The day to which a record prepared at that moment must be kept at least: the plan's years, to the day.

        Records under part 117 are kept two years from the date they were prepared (21 CFR 117.315(a); a secondary text
        and the twin 121.315(a) were read). A state may ask for longer. Nothing is removed then either.
        """
        day = self.calendar.local(prepared_at).date()
        return day + relativedelta(years=self.plan.settings.record_years)


def plan_in_force(at: datetime) -> InForce | None:
    """The version in force at `at`; None before the first approval. One small query; the content is cached."""
    found = [key for key, since in _approvals() if since <= at]
    return approved(found[-1]) if found else None


def versions_between(start: datetime, end: datetime) -> list[tuple[InForce, datetime, datetime]]:
    """Each version in force within [start, end) with the part of it in which it was, in order of time."""
    starts = [one for one in _approvals() if one[1] < end]
    parts = []
    for at, (key, since) in enumerate(starts):
        until = starts[at + 1][1] if at + 1 < len(starts) else end
        first, last = max(since, start), min(until, end)
        if first < last:
            parts.append((approved(key), first, last))
    return parts


def _approvals() -> tuple[tuple[UUID, datetime], ...]:
    """Every approval and from when it is in force, in this order; one small query asks whether there is a newer one."""
    with connection.cursor() as cursor:
        cursor.execute(_NEWEST)
        newest = cursor.fetchone()
    return _approvals_up_to(str(newest[0])) if newest else ()


@lru_cache(maxsize=1)
def _approvals_up_to(_newest: str) -> tuple[tuple[UUID, datetime], ...]:
    rows = PlanApproval.objects.order_by("in_force_from", "version_number")
    return tuple(rows.values_list("id", "in_force_from"))


@lru_cache(maxsize=64)
def approved(approval_id: UUID) -> InForce:
    """An approval's content, built once; approvals never change."""
    row = PlanApproval.objects.get(id=approval_id)
    plan = from_json(json.loads(row.plan))
    names = PlaceNames({one.code: one.name for one in plan.vessels} | {one.code: one.name for one in plan.equipment})
    return InForce(
        row.version_number, row.content_hash, row.in_force_from, plan, calendar_of(plan), planned_checks(plan), names
    )
