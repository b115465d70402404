"""A plan's set-ups of pasteurizers and what recorders write by themselves: references, words, numbers. Pure."""

from __future__ import annotations

from decimal import Decimal

from plant.equipment.models import VesselKind
from plant.hazard_plan.check_rules import laxer_cooling
from plant.hazard_plan.content import LimitDef, Plan, PlanError, SetUpDef, TracedDef
from plant.hazard_plan.problem import Findings
from plant.hazard_plan.tidy import number
from plant.process.pasteurization import Homogenizer, Method, ProductClass
from plant.process.units import CELSIUS, FAHRENHEIT, UnitError, exact

METHODS = (Method.HTST.value, Method.HHST.value)
TIMINGS = ("sealed pump", "meter")
HOMOGENIZERS = tuple(one.value for one in Homogenizer)
CLASSES = tuple(one.value for one in ProductClass)
TEMPERATURES = (CELSIUS, FAHRENHEIT)
CLOCK = "recorder clock"  # a limit's quantity, of minutes or seconds that it is ahead
SIGNALS = ("forward flow", "pump running")
TRACED = (
    "hold temperature",
    *SIGNALS,
    "flow",
    "cooled product",
    "pressure difference",
    "tank temperature",
    "wash temperature",
    "wash strength",
    "wash flow",
    "other",
)
# One of each at a press: two would be two answers to one question.
ONCE = ("hold temperature", "forward flow", "pump running", "flow")


def clock_checks(plan: Plan, place: str) -> list[str]:
    """The keys of the checks that compare a recorder's clock at a place: those with a limit on the recorder clock."""
    limits = {one.key for one in plan.limits if one.quantity == CLOCK}
    return [one.key for one in plan.monitoring if place in one.subjects and limits & set(one.limits)]


def check_traces(plan: Plan, found: Findings) -> None:
    """Refuse what refers to nothing or cannot be read; warn of a press whose recorder does not say enough."""
    for at, one in enumerate(plan.set_ups):
        _set_up(plan, one, f"set_ups[{at}]", found)
    for at, traced in enumerate(plan.traced):
        _traced(plan, traced, f"traced[{at}]", found)
    _at_each_press(plan, found)


def _set_up(plan: Plan, one: SetUpDef, path: str, found: Findings) -> None:
    presses = [vessel.code for vessel in plan.vessels if vessel.kind == VesselKind.PASTEURIZER]
    if one.press not in presses:
        found.refuse(f"{path}.press", f"{one.press!r} is no pasteurizer of this plan")
    _positive(one.set_point, f"{path}.set_point", found)
    found.one_of(f"{path}.unit", one.unit, TEMPERATURES, "unit of temperature")
    found.one_of(f"{path}.method", one.method, METHODS, "method")
    found.one_of(f"{path}.timing", one.timing, TIMINGS, "way of timing")
    found.one_of(f"{path}.homogenizer", one.homogenizer, HOMOGENIZERS, "state of the homogenizer")
    if not one.classes:
        found.refuse(f"{path}.classes", "names no class: nothing could run on it")
    for name in one.classes:
        found.one_of(f"{path}.classes", name, CLASSES, "class of the tables")
    if one.top_rate:
        _positive(one.top_rate, f"{path}.top_rate", found)
        if not one.top_rate_unit:
            found.refuse(f"{path}.top_rate_unit", "a rate needs its unit")
    elif one.timing == "meter":
        found.refuse(f"{path}.top_rate", "a meter is judged by flow: say the fastest flow that was tested")


def _traced(plan: Plan, one: TracedDef, path: str, found: Findings) -> None:
    places = {vessel.code for vessel in plan.vessels} | {tool.code for tool in plan.equipment}
    if one.place not in places:
        found.refuse(f"{path}.place", f"{one.place!r} is no vessel or equipment of this plan")
    if one.control_point not in {point.key for point in plan.control_points}:
        found.refuse(f"{path}.control_point", f"{one.control_point!r} is no control point of this plan")
    found.one_of(f"{path}.what", one.what, TRACED, "thing that is traced")
    tool = next((tool for tool in plan.instruments if tool.code == one.key), None)
    if one.what in SIGNALS:
        if one.unit:
            found.refuse(f"{path}.unit", "a signal of 1 and 0 has no unit")
    elif not one.unit:
        found.refuse(f"{path}.unit", "a number needs its unit")
    elif tool is not None and tool.unit != one.unit:
        found.refuse(f"{path}.unit", f"{one.key} reads {tool.unit}")
    elif tool is None:
        found.warn(f"{path}.key", f"{one.key} is no instrument of this plan: no correction and no accuracy is known")
    limits = {limit.key: limit for limit in plan.limits}
    for key in one.limits:
        if key not in limits:
            found.refuse(f"{path}.limits", f"{key!r} is no limit of this plan")
        elif one.unit and not _convertible(limits[key].unit, one.unit):
            found.refuse(f"{path}.limits", f"{key} is in {limits[key].unit or 'words'}, and {one.key} in {one.unit}")
    _positive(one.slowest_s, f"{path}.slowest_s", found)
    if one.fastest_per_s:
        _positive(one.fastest_per_s, f"{path}.fastest_per_s", found)
    _number(one.spike_s, f"{path}.spike_s", found)
    if one.wash_min and not one.wash_at:
        found.refuse(f"{path}.wash_at", "say from which temperature a wash shows")
    if one.wash_at:
        _positive(one.wash_at, f"{path}.wash_at", found)
        if one.unit not in TEMPERATURES:
            found.refuse(f"{path}.wash_at", "a wash shows in a temperature alone")
    _cooling(plan, one, path, limits, found)
    if one.wash_point and one.wash_point not in {point.key for point in plan.control_points}:
        found.refuse(f"{path}.wash_point", f"{one.wash_point!r} is no control point of this plan")
    if one.clock_s and not clock_checks(plan, one.place):
        found.warn(f"{path}.clock_s", f"no check of {one.place} is held against a limit on {CLOCK}: no time is proven")
    for name in ("silent_min", "flat_min", "clock_s", "wash_min", "cool_min"):
        if getattr(one, name) < 0:
            found.refuse(f"{path}.{name}", "must not be below zero")


def _cooling(plan: Plan, one: TracedDef, path: str, limits: dict[str, LimitDef], found: Findings) -> None:
    """The time to cool after filling: its limits have an upper bound, and no more time than their rows give."""
    for name in ("cool_limit", "blend_limit"):
        key = getattr(one, name)
        if not key:
            continue
        limit = limits.get(key)
        if limit is None:
            found.refuse(f"{path}.{name}", f"{key!r} is no limit of this plan")
        elif not limit.high or (one.unit and not _convertible(limit.unit, one.unit)):
            found.refuse(f"{path}.{name}", f"{key} says no highest temperature")
    if bool(one.cool_limit) != bool(one.cool_min):
        found.refuse(f"{path}.cool_min", "a limit to cool to and the minutes for it are said together")
    if one.blend_limit and not one.cool_limit:
        found.refuse(f"{path}.blend_limit", "a blend has a limit while a fill is cooled: say the time for that")
    if one.cool_limit and one.what != "tank temperature":
        found.refuse(f"{path}.cool_limit", "what is poured in cools in a tank alone")
    limit = limits.get(one.cool_limit)
    if limit is not None and one.cool_min:
        laxer_cooling(plan, limit, one.cool_min, path, found)


def _convertible(unit: str, other: str) -> bool:
    try:
        exact(Decimal(1), unit, other)
    except UnitError:
        return False
    return True


def _at_each_press(plan: Plan, found: Findings) -> None:
    for vessel in plan.vessels:
        if vessel.kind != VesselKind.PASTEURIZER:
            continue
        mine = [(at, one) for at, one in enumerate(plan.traced) if one.place == vessel.code]
        for what in ONCE:
            several = [at for at, one in mine if one.what == what]
            if len(several) > 1:
                found.refuse(f"traced[{several[1]}].what", f"{vessel.code} has two traces of {what}")
        kinds = {one.what for _at, one in mine}
        if "hold temperature" in kinds and "forward flow" not in kinds:
            found.warn("traced", f"{vessel.code} records no forward flow: nothing of its trace can be proven")
        if mine and not any(one.press == vessel.code for one in plan.set_ups):
            found.warn("set_ups", f"{vessel.code} is recorded and has no set-up: nothing of its trace can be proven")


def _positive(text: str, path: str, found: Findings) -> None:
    value = _number(text, path, found)
    if value is not None and value <= 0:
        found.refuse(path, "must be more than zero")


def _number(text: str, path: str, found: Findings) -> Decimal | None:
    try:
        return number(text, path)
    except PlanError as error:
        found.refuse(error.path, error.sentence)
        return None
