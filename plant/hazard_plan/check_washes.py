"""What a plan must say of its wash programs to be approved."""

from __future__ import annotations

from decimal import Decimal

from plant.hazard_plan.content import Plan, PlanError, WashStepDef
from plant.hazard_plan.problem import Findings
from plant.hazard_plan.tidy import number
from plant.process.units import CELSIUS, exact
from plant.process.washing import HOTTEST_C

# The trade's names; a program may use one twice (a rinse after each chemical).
STEPS = ("pre-rinse", "alkaline wash", "rinse", "acid wash", "final rinse", "wash", "sanitize", "inspection")
BY_HAND, OUT_OF_PLACE = "by hand", "out of place"
WAYS = ("", BY_HAND, OUT_OF_PLACE)
STRENGTHS = ("%", "ppm", "mg/L", "pH", "mS/cm")
TEMPERATURES = ("°F", "°C")
FLOWS = ("gal/min", "L/min")


def check_washes(plan: Plan, found: Findings) -> None:
    """Refuse a step that no place has, that bounds nothing readable, or whose program washes now here, now there."""
    places = {vessel.code for vessel in plan.vessels} | {tool.code for tool in plan.equipment}
    _pipes(plan, places, found)
    first: dict[str, tuple[str, ...]] = {}
    ways: dict[str, tuple[str, str]] = {}
    for at, one in enumerate(plan.wash_steps):
        path = f"wash_steps[{at}]"
        found.one_of(f"{path}.step", one.step, STEPS, "step of a wash")
        found.one_of(f"{path}.unit", one.unit, TEMPERATURES, "unit of temperature")
        if not one.program or not one.places or set(one.places) - places:
            found.refuse(f"{path}.places", "names a program, and vessels or lines of this plan")
        if set(first.setdefault(one.program, one.places)) != set(one.places):
            found.refuse(f"{path}.places", f"the other steps of {one.program} name other places")
        if ways.setdefault(one.program, (one.way, one.parts_of)) != (one.way, one.parts_of):
            found.refuse(f"{path}.way", f"the other steps of {one.program} say another way, or other parts")
        _bounds(one, path, found)
        _parts(plan, one, path, found)
        _recorders(plan, one, path, found)


def _parts(plan: Plan, one: WashStepDef, path: str, found: Findings) -> None:
    found.one_of(f"{path}.way", one.way, WAYS, "way of washing")
    lines = {vessel.code for vessel in plan.vessels} | {tool.code for tool in plan.equipment}
    if one.parts_of and (one.parts_of not in lines or one.parts_of in one.places):
        found.refuse(f"{path}.parts_of", "names the vessel or line of this plan that the parts belong to")
    if one.strips and not (one.strength_low or one.strength_high):
        found.refuse(f"{path}.strips", "test strips read a strength: say its limit")
    if one.way and one.recorders:
        found.refuse(f"{path}.way", "what is washed by hand or out of place has no trace of a return line")


def _recorders(plan: Plan, one: WashStepDef, path: str, found: Findings) -> None:
    traced = {each.key: each for each in plan.traced}
    if one.recorder:
        if one.recorder not in traced or traced[one.recorder].unit not in TEMPERATURES:
            found.refuse(f"{path}.recorder", "names no trace of a temperature of this plan")
        if not one.minutes or not one.temperature_low:
            found.refuse(f"{path}.recorder", "a trace is compared with a lowest temperature and a least time")
    for name, unit in (("strength", one.strength_unit), ("flow", one.flow_unit)):
        key = getattr(one, f"{name}_recorder")
        if not key:
            continue
        if key not in traced or traced[key].unit != unit:
            found.refuse(f"{path}.{name}_recorder", f"names no trace in {unit or 'a unit'} of this plan")
        if not one.minutes or not (getattr(one, f"{name}_low") or getattr(one, f"{name}_high", "")):
            found.refuse(f"{path}.{name}_recorder", f"a trace is compared with a limit of the {name} and a least time")


def _pipes(plan: Plan, places: set[str], found: Findings) -> None:
    for at, one in enumerate(plan.pipes):
        if len(set(one.places)) != 2 or len(one.places) != 2 or set(one.places) - places:
            found.refuse(f"pipes[{at}].places", "names the two vessels or lines of this plan that it joins")
        if not one.parted_by.strip():
            found.refuse(f"pipes[{at}].parted_by", "says what keeps them apart while one of them is washed")


def _bounds(one: WashStepDef, path: str, found: Findings) -> None:
    minutes = _number(one.minutes, f"{path}.minutes", found)
    if minutes is not None and not 0 < minutes <= 1440:
        found.refuse(f"{path}.minutes", "must be more than zero, and a day at most")
    for name in ("temperature", "strength"):
        low, high = (_number(getattr(one, f"{name}_{end}"), f"{path}.{name}_{end}", found) for end in ("low", "high"))
        if low is not None and high is not None and low > high:
            found.refuse(f"{path}.{name}_high", "is below the lowest")
        for bound in (low, high):
            if name == "temperature" and bound is not None and one.unit in TEMPERATURES:
                if not 0 <= exact(bound, one.unit, CELSIUS) <= HOTTEST_C:
                    found.refuse(f"{path}.temperature_low", "is no temperature of a wash")
            elif bound is not None and bound < 0:
                found.refuse(f"{path}.strength_low", "must not be below zero")
    flow = _number(one.flow_low, f"{path}.flow_low", found)
    if flow is not None and flow <= 0:
        found.refuse(f"{path}.flow_low", "must be more than zero")
    if one.flow_low:
        found.one_of(f"{path}.flow_unit", one.flow_unit, FLOWS, "unit of flow")
    if one.strength_low or one.strength_high:
        found.one_of(f"{path}.strength_unit", one.strength_unit, STRENGTHS, "unit of strength")


def _number(text: str, path: str, found: Findings) -> Decimal | None:
    if not text:
        return None
    try:
        return number(text, path)
    except PlanError as error:
        found.refuse(error.path, error.sentence)
        return None
