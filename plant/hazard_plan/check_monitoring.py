"""The checks of a plan: whom and what they name, how often, and whether limits fit the kind of answer."""

from __future__ import annotations

from decimal import Decimal

from plant.hazard_plan.check_limits import numbers_of
from plant.hazard_plan.check_times import A_WEEK, calendar_or_none
from plant.hazard_plan.content import AnswerDef, LimitDef, MonitoringDef, Plan, PlanError
from plant.hazard_plan.planned import frequency
from plant.hazard_plan.problem import Findings
from plant.hazard_plan.tidy import number
from plant.people.models import Role
from plant.process.occurrences import offset_in_shift
from plant.process.plant_calendar import parse_rule
from plant.process.schedule import EachShift, PlantCalendar, Timing
from plant.process.units import UnitError, exact

ANSWERS = ("number", "pair", "yes_no", "choice", "count", "text", "code", "places", "photo")
WEIGHTS = ("safety", "legal", "quality")
_OF_A_PLACE = ("while_holding", "before_use", "during_run", "run_ends")


def check_monitoring(plan: Plan, found: Findings) -> None:
    """Refuse what cannot be asked, judged or expanded; warn of what is never due or says too little."""
    calendar = calendar_or_none(plan)
    limits = {one.key: one for one in plan.limits}
    kinds = {one.key: one.kind for one in plan.control_points}
    for at, one in enumerate(plan.monitoring):
        path = f"monitoring[{at}]"
        if one.control_point not in kinds:
            found.refuse(f"{path}.control_point", f"{one.control_point!r} is no control point of this plan")
        found.one_of(f"{path}.role", one.role, Role.values, "role")
        found.one_of(f"{path}.weight", one.weight, WEIGHTS, "weight")
        if not one.what.strip():
            found.refuse(f"{path}.what", "must not be empty")
        _subjects(plan, one, path, found)
        if found.one_of(f"{path}.answer.kind", one.answer.kind, ANSWERS, "kind of answer"):
            _answer(one.answer, f"{path}.answer", found)
            mine = [limits[key] for key in one.limits if key in limits]
            for key in one.limits:
                if key not in limits:
                    found.refuse(f"{path}.limits", f"{key!r} is no limit of this plan")
            _fits(one, mine, path, found)
        _instruments(plan, one, path, found)
        _frequency(one, calendar, path, found)
        if one.limits and not one.corrective_action.strip():
            tell = found.refuse if kinds.get(one.control_point) == "ccp" else found.warn
            tell(f"{path}.corrective_action", f"{one.key} has a limit and no written corrective action")


def _subjects(plan: Plan, one: MonitoringDef, path: str, found: Findings) -> None:
    holders = {vessel.code for vessel in plan.vessels if vessel.holds_product}
    places = {vessel.code for vessel in plan.vessels} | {tool.code for tool in plan.equipment}
    kind = one.frequency.kind
    for subject in one.subjects:
        if subject not in places:
            found.refuse(f"{path}.subjects", f"{subject!r} is no vessel or equipment of this plan")
        elif kind == "while_holding" and subject not in holders:
            found.refuse(f"{path}.subjects", f"{subject} holds no product, so this is never due there")
        elif kind in ("during_run", "run_ends") and subject in holders:
            found.warn(f"{path}.subjects", f"{subject} holds product; a run goes through a line")
    if not one.subjects and kind in _OF_A_PLACE:
        found.refuse(f"{path}.subjects", "names no vessel or equipment")
    if len(set(one.subjects)) != len(one.subjects):
        found.refuse(f"{path}.subjects", "names a place twice")
    if one.agitator_min and not set(one.subjects) <= holders:
        found.warn(f"{path}.agitator_min", "asks for an agitator where nothing is held")


def _answer(answer: AnswerDef, path: str, found: Findings) -> None:
    if answer.kind in ("number", "pair") and not answer.unit:
        found.refuse(f"{path}.unit", "a number needs its unit")
    if answer.kind == "choice" and len(set(answer.choices)) < 2:
        found.refuse(f"{path}.choices", "a choice needs two answers or more")
    if answer.kind == "places" and not answer.places:
        found.refuse(f"{path}.places", "a list of places needs its places")
    for name in ("low", "high"):
        try:
            if getattr(answer, name):
                number(getattr(answer, name), f"{path}.{name}")
        except PlanError as error:
            found.refuse(error.path, error.sentence)


def _fits(one: MonitoringDef, limits: list[LimitDef], path: str, found: Findings) -> None:
    for limit in limits:
        numeric = bool(numbers_of(limit))
        kind = one.answer.kind
        if kind in ("number", "pair", "count") and not numeric:
            found.refuse(f"{path}.limits", f"{limit.key} bounds no number, and this asks for one")
        elif kind in ("number", "pair"):
            if not _converts(one.answer.unit, limit.unit):
                found.refuse(f"{path}.limits", f"{limit.key} is in {limit.unit}; this asks in {one.answer.unit}")
        elif kind not in ("number", "pair", "count") and numeric:
            found.refuse(f"{path}.limits", f"{limit.key} bounds a number, and this asks for none")
        else:
            _wanted(one.answer, limit, path, found)
    if one.answer.kind == "pair" and not limits:
        found.refuse(f"{path}.limits", "a pair of thermometers needs a limit")


def _wanted(answer: AnswerDef, limit: LimitDef, path: str, found: Findings) -> None:
    if answer.kind == "count":
        return
    possible = ("yes", "no") if answer.kind == "yes_no" else answer.choices
    if answer.kind in ("yes_no", "choice") and not set(limit.wanted) <= set(possible):
        found.refuse(f"{path}.limits", f"{limit.key} wants {' or '.join(limit.wanted)}, which cannot be answered")
    if answer.kind == "places" and answer.choices and not set(limit.wanted) & set(answer.choices):
        found.refuse(f"{path}.limits", f"{limit.key} wants {' or '.join(limit.wanted)}, which cannot be answered")


def _converts(unit: str, to: str) -> bool:
    try:
        exact(Decimal(1), unit, to)
    except UnitError:
        return False
    return True


def _instruments(plan: Plan, one: MonitoringDef, path: str, found: Findings) -> None:
    known = {tool.code: tool for tool in plan.instruments}
    for code in one.instruments:
        if code not in known:
            found.refuse(f"{path}.instruments", f"{code!r} is no instrument of this plan")
    measured = one.answer.kind in ("number", "pair")
    ranged = bool(one.instruments) or (one.answer.low and one.answer.high)
    if measured and not ranged:
        found.warn(path, f"{one.key} names no instrument and no plausible range: nonsense will not be noticed")


def _frequency(one: MonitoringDef, calendar: PlantCalendar | None, path: str, found: Findings) -> None:
    path_f = f"{path}.frequency"
    try:
        Timing(one.early_min, one.grace_min, one.missed_after)
    except ValueError as error:
        found.refuse(f"{path}.missed_after", str(error))
    try:
        built = frequency(one.frequency, path_f)
        if one.frequency.kind == "calendar":
            parse_rule(one.frequency.rule, A_WEEK.replace(tzinfo=None))
    except PlanError as error:
        found.refuse(error.path, error.sentence)
        return
    except ValueError as error:
        found.refuse(f"{path_f}.rule", str(error))
        return
    if one.frequency.kind in ("each_event", "after_event") and not one.frequency.event:
        found.refuse(f"{path_f}.event", "names no event")
    if isinstance(built, EachShift):
        _each_shift(built, calendar, path_f, found)


def _each_shift(built: EachShift, calendar: PlantCalendar | None, path: str, found: Findings) -> None:
    if not built.at:
        found.refuse(f"{path}.at", "names no time")
    if calendar is None:
        return
    names = {shift.key for shift in calendar.shifts}
    for key in built.shifts:
        if key not in names:
            found.refuse(f"{path}.shifts", f"{key!r} is no shift of this plan")
    shifts = [one for one in calendar.day_shifts(A_WEEK.date()) if one.key in (built.shifts or names)]
    for text in built.at:
        try:
            times = [offset_in_shift(text, one, calendar) for one in shifts]
        except ValueError as error:
            found.refuse(f"{path}.at", str(error))
            continue
        if shifts and all(time is None for time in times):
            found.refuse(f"{path}.at", f"{text} lies in no shift")
