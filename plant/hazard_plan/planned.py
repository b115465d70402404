"""From a plan's written monitoring to what plant.process.schedule expands. Pure: no Django."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation

from plant.hazard_plan.content import FrequencyDef, MonitoringDef, Plan, PlanError
from plant.process.schedule import (
    AfterEvent,
    BeforeUse,
    Calendar,
    Closure,
    DuringRun,
    EachEvent,
    EachShift,
    Frequency,
    Planned,
    PlantCalendar,
    RepeatedClosure,
    RunEnds,
    Shift,
    Timing,
    WhileHolding,
)

FREQUENCY_KINDS = (
    "each_shift",
    "while_holding",
    "before_use",
    "during_run",
    "run_ends",
    "after_event",
    "each_event",
    "calendar",
)


def calendar_of(plan: Plan) -> PlantCalendar:
    """The plant calendar that a plan describes; PlanError when a part of it makes no sense."""
    shifts = tuple(Shift(one.key, one.name, one.starts, one.ends, one.weekdays) for one in plan.shifts)
    if not shifts:
        raise PlanError("shifts", "a plant needs at least one shift")
    closures: list[Closure | RepeatedClosure] = []
    for at, one in enumerate(plan.closures):
        path = f"closures[{at}]"
        if one.rule:
            closures.append(RepeatedClosure(one.name, one.rule, _date(one.first, f"{path}.first")))
        else:
            first = _date(one.first, f"{path}.first")
            closures.append(Closure(one.name, first, _date(one.last, f"{path}.last") if one.last else first))
    return PlantCalendar(
        plan.plant.time_zone, shifts, plan.plant.day_starts or shifts[0].starts, tuple(closures)
    )


def frequency(one: FrequencyDef, path: str = "frequency") -> Frequency:
    """The frequency of plant.process.schedule that a plan writes so; PlanError names what is wrong."""
    try:
        return _frequency(one, path)
    except PlanError:
        raise
    except (ValueError, InvalidOperation) as error:
        raise PlanError(path, str(error)) from error


def _frequency(one: FrequencyDef, path: str) -> Frequency:
    match one.kind:
        case "each_shift":
            return EachShift(one.at, one.shifts)
        case "while_holding":
            return WhileHolding(one.every_min, one.first_min)
        case "before_use":
            return BeforeUse(one.valid_min)
        case "during_run":
            return DuringRun(one.every_min or None, Decimal(one.every_units) if one.every_units else None)
        case "run_ends":
            return RunEnds(one.first, one.last)
        case "after_event":
            return AfterEvent(one.event, one.minutes)
        case "each_event":
            return EachEvent(one.event)
        case "calendar":
            if one.on_closed not in ("skip", "keep"):
                raise PlanError(f"{path}.on_closed", "write skip or keep")
            return Calendar(
                one.rule,
                one.at[0] if one.at else "",
                "keep" if one.on_closed == "keep" else "skip",
                _date(one.start, f"{path}.start"),
            )
    raise PlanError(f"{path}.kind", f"{one.kind!r} is not one of {', '.join(FREQUENCY_KINDS)}")


def planned_checks(plan: Plan) -> tuple[Planned, ...]:
    """Every check that the plan monitors, one for each subject."""
    holders = {one.code for one in plan.vessels if one.holds_product}
    return tuple(
        _planned(one, subject, subject in holders) for one in plan.monitoring for subject in one.subjects or ("",)
    )


def _planned(one: MonitoringDef, subject: str, holds: bool) -> Planned:
    timing = Timing(one.early_min, one.grace_min, one.missed_after)
    # Times of a shift and hours of holding matter on a vessel only while product is in it; a gate or a date does not.
    while_full = holds and one.frequency.kind in ("each_shift", "while_holding")
    return Planned(one.key, subject, frequency(one.frequency), timing, while_full)


def _date(text: str, path: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise PlanError(path, f"{text!r} is no date; write it as 2026-03-01") from error
