"""The plan's wash programs: which a place has, and which states each gives. Pure, from the plan alone."""

from __future__ import annotations

from collections.abc import Iterable

from plant.hazard_plan.content import Plan, WashStepDef
from records.flow.choices import SANITIZED, WASHED

SANITIZE, INSPECT = "sanitize", "inspection"


def program(plan: Plan, name: str) -> list[WashStepDef]:
    """The steps of a program, in order."""
    return [one for one in plan.wash_steps if one.program == name]


def programs_at(plan: Plan, place: str, what: str = "") -> list[str]:
    """The programs of a place; of `what` (washed, sanitized) those that give it."""
    names = dict.fromkeys(one.program for one in plan.wash_steps if place in one.places)
    return [one for one in names if what in ("", *gives(program(plan, one)))]


def gives(steps: Iterable[WashStepDef]) -> tuple[str, ...]:
    """The states that a program gives: washed by any step of washing, sanitized by a step that sanitizes."""
    names = {one.step for one in steps}
    return ((WASHED,) if names - {SANITIZE, INSPECT} else ()) + ((SANITIZED,) if SANITIZE in names else ())


def parts_at(plan: Plan, place: str) -> list[str]:
    """The parts that have to be washed with a vessel or line, by the plan's programs."""
    return list(dict.fromkeys(part for one in plan.wash_steps if one.parts_of == place for part in one.places))


def product_place(plan: Plan, place: str) -> str:
    """Where product goes that meets what was washed: the vessel or line of parts; else the place itself."""
    return next((one.parts_of for one in plan.wash_steps if one.parts_of and place in one.places), place)
