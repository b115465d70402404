"""Every cross-reference of a plan, and what makes no sense in it. check_rules compares with the rule set."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Any
from zoneinfo import available_timezones

from plant.equipment.models import InstrumentRole, Stage, StorageClass, VesselKind
from plant.hazard_plan.check_limits import check_limits
from plant.hazard_plan.check_monitoring import check_monitoring
from plant.hazard_plan.check_rules import check_rules
from plant.hazard_plan.check_samples import check_samples
from plant.hazard_plan.check_times import check_times
from plant.hazard_plan.check_traces import check_traces
from plant.hazard_plan.check_trainings import check_trainings
from plant.hazard_plan.check_washes import check_washes
from plant.hazard_plan.content import Plan, PlanError
from plant.hazard_plan.problem import Findings, Problem
from plant.hazard_plan.tidy import number, tidy
from plant.people.models import Role
from plant.products.models import Family
from plant.rules import keys
from plant.rules.pasteurization import rows_by_class

__all__ = ["Problem", "barring", "problems"]

HAZARD_KINDS = ("biological", "chemical", "physical", "allergen")
CONTROL_POINT_KINDS = ("ccp", "allergen", "sanitation", "supply-chain", "prerequisite", "operating")
BARS = ("", "pasteurization", "residue")
ESCALATED = ("late", "missed", "deviation")
_CODE = re.compile(r"[-a-zA-Z0-9_]{1,40}")
_KEYED = (
    "shifts",
    "closures",
    "steps",
    "hazards",
    "control_points",
    "limits",
    "monitoring",
    "programmes",
    "verification",
    "set_ups",
    "traced",
    "sampled",
    "wash_steps",
    "pipes",
    "trainings",
)


def problems(plan: Plan) -> list[Problem]:
    """Everything wrong with a plan, refusals and warnings, in the order of the plan."""
    found = Findings()
    try:
        plan = tidy(plan)
    except PlanError as error:
        found.refuse(error.path, error.sentence)
        return found.found
    _header(plan, found)
    check_times(plan, found)
    _keys(plan, found)
    _plant(plan, found)
    _chain(plan, found)
    check_limits(plan, found)
    check_monitoring(plan, found)
    check_rules(plan, found)
    check_traces(plan, found)
    check_samples(plan, found)
    check_washes(plan, found)
    check_trainings(plan, found)
    _people(plan, found)
    return found.found


def barring(plan: Plan) -> list[Problem]:
    """The problems that bar approval: refusals, and what still waits for a confirmation."""
    return [one for one in problems(plan) if one.bars_approval]


def _header(plan: Plan, found: Findings) -> None:
    head = plan.plant
    for name in ("name", "ordinance"):
        if not getattr(head, name).strip():
            found.refuse(f"plant.{name}", "must not be empty")
    if head.time_zone not in available_timezones():
        found.refuse("plant.time_zone", f"{head.time_zone!r} is no time zone; write it as America/Chicago")
    found.one_of("plant.rule_set", head.rule_set, keys(), "rule set")
    found.one_of("plant.temperature_unit", head.temperature_unit, ("F", "C"), "temperature unit")
    found.one_of("plant.volume_unit", head.volume_unit, ("gal", "L"), "volume unit")
    found.one_of("plant.language", head.language, ("en", "es"), "language")
    found.one_of("plant.decimal_mark", head.decimal_mark, (".", ","), "decimal mark")
    settings = plan.settings
    for name in ("sanitized_valid_h", "run_hours_between_washes", "record_years"):
        if getattr(settings, name) < 1:
            found.refuse(f"settings.{name}", "must be 1 or more")
    if settings.line_clearance_h < 0:
        found.refuse("settings.line_clearance_h", "must be 0 (none is asked) or more")
    try:
        if settings.label_difference and not 0 < number(settings.label_difference, "settings.label_difference") <= 100:
            found.refuse("settings.label_difference", "must be above 0 to 100 percent, or empty")
    except PlanError as error:
        found.refuse(error.path, error.sentence)
    if settings.rework_h < 0:
        found.refuse("settings.rework_h", "must be 0 (each portion names its own hours) or more")
    if settings.pickup_h < 0:
        found.refuse("settings.pickup_h", "must be 0 (none is asked) or more")
    if not 0 <= settings.wash_unrecorded_min <= 1440:
        found.refuse("settings.wash_unrecorded_min", "must be 0 (three hours) to 1440 minutes")
    for name in ("ferrous_piece_mm", "non_ferrous_piece_mm", "stainless_piece_mm"):
        try:
            if getattr(settings, name) and not 0 < number(getattr(settings, name), f"settings.{name}") <= 100:
                found.refuse(f"settings.{name}", "must be above 0 to 100 mm, or empty")
        except PlanError as error:
            found.refuse(error.path, error.sentence)
    try:
        if number(settings.large_book_difference, "settings.large_book_difference") <= 0:
            found.refuse("settings.large_book_difference", "must be more than zero")
    except PlanError as error:
        found.refuse(error.path, error.sentence)


def _keys(plan: Plan, found: Findings) -> None:
    for name in _KEYED:
        _once((one.key for one in getattr(plan, name)), name, "key", found)
    places = [("vessels", one.code) for one in plan.vessels] + [("equipment", one.code) for one in plan.equipment]
    seen: set[str] = set()
    at = {"vessels": 0, "equipment": 0}
    for name, code in places:  # one space of codes: a check's subject is a vessel or equipment
        path = f"{name}[{at[name]}].code"
        at[name] += 1
        _code(code, path, found)
        if code in seen:
            found.refuse(path, f"{code!r} is used twice")
        seen.add(code)
    for name in ("instruments", "products"):
        _once((one.code for one in getattr(plan, name)), name, "code", found)
        for place, one in enumerate(getattr(plan, name)):
            _code(one.code, f"{name}[{place}].code", found)


def _once(values: Iterable[str], name: str, field: str, found: Findings) -> None:
    seen: set[str] = set()
    for at, value in enumerate(values):
        if not value:
            found.refuse(f"{name}[{at}].{field}", "must not be empty")
        if value in seen:
            found.refuse(f"{name}[{at}].{field}", f"{value!r} is used twice")
        seen.add(value)


def _code(code: str, path: str, found: Findings) -> None:
    if not _CODE.fullmatch(code):
        found.refuse(path, f"{code!r}: a code has up to 40 letters a to z, digits and hyphens, and no blanks")


def _plant(plan: Plan, found: Findings) -> None:
    places = {one.code for one in plan.vessels} | {one.code for one in plan.equipment}
    for at, vessel in enumerate(plan.vessels):
        path = f"vessels[{at}]"
        found.one_of(f"{path}.kind", vessel.kind, VesselKind.values, "kind of vessel")
        found.one_of(f"{path}.stage", vessel.stage, Stage.values, "stage")
        found.one_of(f"{path}.storage_class", vessel.storage_class, StorageClass.values, "wash clock")
        if vessel.capacity and number(vessel.capacity, path) <= 0:
            found.refuse(f"{path}.capacity", "must be more than zero")
        if vessel.holds_product and not vessel.capacity and vessel.kind != VesselKind.ROOM:
            found.warn(path, f"{vessel.code} holds product and has no capacity: how full it is cannot be drawn")
    for at, tool in enumerate(plan.instruments):
        path = f"instruments[{at}]"
        found.one_of(f"{path}.role", tool.role, InstrumentRole.values, "role of an instrument")
        if tool.place_code and tool.place_code not in places:
            found.refuse(f"{path}.place_code", f"{tool.place_code!r} is no vessel or equipment of this plan")
        if number(tool.low, path) >= number(tool.high, path):
            found.refuse(f"{path}.high", "must be more than the lowest it reads")
        if number(tool.resolution, path) <= 0 or number(tool.accuracy, path) <= 0:
            found.refuse(path, "resolution and accuracy must be more than zero")
        _date(tool.calibration_due, f"{path}.calibration_due", found)
    for at, product in enumerate(plan.products):
        found.one_of(f"products[{at}].family", product.family, Family.values, "product family")
        if not product.product_class:
            found.refuse(f"products[{at}].product_class", "must not be empty: limits are chosen by it")
        elif not rows_by_class(plan.plant.rule_set, [product.product_class])[product.product_class]:
            found.warn(
                f"products[{at}].product_class",
                f"{product.product_class!r} is no class of the rule set's pasteurization rows: no verdict names a row",
            )


def _chain(plan: Plan, found: Findings) -> None:
    steps = {one.key for one in plan.steps}
    points = {one.key: one for one in plan.control_points}
    programmes = {one.key for one in plan.programmes}
    places = {one.code for one in plan.vessels} | {one.code for one in plan.equipment}
    for at, step in enumerate(plan.steps):
        for place in step.places:
            _known(place, places, f"steps[{at}].places", "vessel or equipment", found)
    for at, hazard in enumerate(plan.hazards):
        path = f"hazards[{at}]"
        _known(hazard.step, steps, f"{path}.step", "step", found)
        found.one_of(f"{path}.kind", hazard.kind, HAZARD_KINDS, "kind of hazard")
        if hazard.control_point:
            _known(hazard.control_point, set(points), f"{path}.control_point", "control point", found)
        elif hazard.significant:
            found.refuse(path, "a significant hazard needs a control point")
    for at, point in enumerate(plan.control_points):
        path = f"control_points[{at}]"
        found.one_of(f"{path}.kind", point.kind, CONTROL_POINT_KINDS, "kind of control point")
        found.one_of(f"{path}.bars_release", point.bars_release, BARS, "bar to release")
        if point.step:
            _known(point.step, steps, f"{path}.step", "step", found)
        if point.programme:
            _known(point.programme, programmes, f"{path}.programme", "programme", found)
        _watched(plan, point.key, point.kind, path, found)
    for at, way in enumerate(plan.verification):
        if way.control_point:
            _known(way.control_point, set(points), f"verification[{at}].control_point", "control point", found)


def _watched(plan: Plan, key: str, kind: str, path: str, found: Findings) -> None:
    mine = [one for one in plan.monitoring if one.control_point == key]
    if kind == "ccp" and not any(one.limits for one in mine):
        found.refuse(path, f"{key} is critical and no check with a limit watches it")
    elif not mine and not any(one.control_point == key for one in plan.sampled):
        found.warn(path, f"no check watches {key}")


def _known(value: str, known: set[str], path: str, what: str, found: Findings) -> None:
    if value not in known:
        found.refuse(path, f"{value!r} is no {what} of this plan")


def _people(plan: Plan, found: Findings) -> None:
    if not plan.reviewers:
        found.warn("reviewers", "nobody is named who reviews the records")
    for at, reviewer in enumerate(plan.reviewers):
        path = f"reviewers[{at}]"
        first = _date(reviewer.from_date, f"{path}.from_date", found)
        last = _date(reviewer.until_date, f"{path}.until_date", found)
        if first and last and last < first:
            found.refuse(f"{path}.until_date", "is before from_date")
        if reviewer.self_review_allowed:
            found.warn(path, f"{reviewer.sign_in} may review records they made; every day sheet will say so")
    for at, one in enumerate(plan.escalation):
        found.one_of(f"escalation[{at}].what", one.what, ESCALATED, "thing to tell of")
        found.one_of(f"escalation[{at}].role", one.role, Role.values, "role")
        if one.minutes < 0:
            found.refuse(f"escalation[{at}].minutes", "must not be below zero")
    limits = {one.key for one in plan.limits}
    for at, said in enumerate(plan.confirmations):
        path = f"confirmations[{at}]"
        _known(said.get("limit", ""), limits, f"{path}.limit", "limit", found)
        for name in ("reason", "by"):
            if not said.get(name, "").strip():
                found.refuse(f"{path}.{name}", "must not be empty")


def _date(text: str, path: str, found: Findings) -> Any:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        found.refuse(path, f"{text!r} is no date; write it as 2026-03-01")
        return None
