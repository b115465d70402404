"""The plan's wash programs: which a place has, and which states each gives. Pure, from the plan alone."""

from __future__ import annotations

from collections.abc import Iterable

from plant.hazard_plan.content import Plan, WashStepDef
from records.flow.choices import SANITIZED, WASHED

SANITIZE = "sanitize"


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
    return ((WASHED,) if names - {SANITIZE} else ()) + ((SANITIZED,) if SANITIZE in names else ())
