"""Shifts, closures and the plant calendar of a written plan: do they make sense? Pure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import available_timezones

from plant.hazard_plan.content import Plan, PlanError
from plant.hazard_plan.planned import calendar_of
from plant.hazard_plan.problem import Findings
from plant.process.plant_calendar import PlantCalendar, parse_rule

# A Monday far from every clock change: two weeks from here show every weekday of the shifts.
A_WEEK = datetime(2026, 6, 1, tzinfo=UTC)


def calendar_or_none(plan: Plan) -> PlantCalendar | None:
    """The plan's calendar, or None when it cannot be made (check_times says why)."""
    try:
        return calendar_of(plan)
    except ValueError:
        return None


def check_times(plan: Plan, found: Findings) -> None:
    """Refuse shifts without weekdays, of no length, that overlap, and closures that cannot be read."""
    for at, shift in enumerate(plan.shifts):
        if not shift.weekdays:
            found.refuse(f"shifts[{at}].weekdays", "names no day")
        if shift.starts == shift.ends:
            found.refuse(f"shifts[{at}].ends", "is the time it starts: a shift has a length")
    for at, closure in enumerate(plan.closures):
        if closure.rule:
            try:
                parse_rule(closure.rule, A_WEEK.replace(tzinfo=None))
            except ValueError as error:
                found.refuse(f"closures[{at}].rule", str(error))
        elif closure.last and closure.last < closure.first:
            found.refuse(f"closures[{at}].last", "is before the first day")
    try:
        calendar = calendar_of(plan)
    except PlanError as error:
        found.refuse(error.path, error.sentence)
        return
    except ValueError as error:
        if plan.plant.time_zone not in available_timezones():
            return  # named by the header's own check
        found.refuse("shifts", str(error))
        return
    _overlaps(calendar, found)


def _overlaps(calendar: PlantCalendar, found: Findings) -> None:
    instances = [one for one in calendar.shift_instances(A_WEEK, A_WEEK + timedelta(days=14)) if not one.closed]
    for before, after in zip(instances, instances[1:], strict=False):
        if after.start_at < before.end_at:
            found.refuse("shifts", f"{before.shift.name} and {after.shift.name} overlap")
            return
