"""A wash's steps and verdict, as pages say them."""

from __future__ import annotations

from fractions import Fraction

from django.utils.translation import gettext as _

from plant.hazard_plan.content import WashStepDef
from plant.process.units import plain
from records.flow.words import in_words
from records.washes.models import WashStep
from records.washes.state import gives, limits_of


def step_words(step: str) -> str:
    """The name of a step in the reader's language."""
    return {
        "pre-rinse": _("pre-rinse"),
        "alkaline wash": _("alkaline wash"),
        "rinse": _("rinse"),
        "acid wash": _("acid wash"),
        "final rinse": _("final rinse"),
        "sanitize": _("sanitize"),
    }.get(step, step)


def gives_words(steps: list[WashStepDef]) -> str:
    """The states that a program gives: 'washed, sanitized'."""
    return ", ".join(in_words(one) for one in gives(steps))


def limits_words(one: WashStepDef) -> str:
    """What the program asks of a step."""
    return ", ".join(limit.words() for limit in limits_of(one)) or _("recorded, without a limit")


def figures(row: WashStep) -> str:
    """A step's figures as typed, with units."""
    minutes = plain(Fraction(int((row.ended_at - row.started_at).total_seconds()), 60), 1)
    parts = [_("%(minutes)s min") % {"minutes": minutes}]
    for name in ("temperature", "strength", "flow"):
        if typed := getattr(row, f"{name}_typed"):
            parts.append(f"{typed} {getattr(row, f'{name}_unit')}")
    return ", ".join(parts)
