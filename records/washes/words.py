"""A wash's steps and verdict, as pages say them."""

from __future__ import annotations

from fractions import Fraction

from django.utils.translation import gettext as _

from plant.hazard_plan.content import WashStepDef
from plant.process.said import again
from plant.process.units import plain
from records.flow.programs import INSPECT
from records.flow.words import in_words
from records.washes.models import WashStep
from records.washes.naming import step_words as step_words
from records.washes.state import gives, limits_of


def gives_words(steps: list[WashStepDef]) -> str:
    """The states that a program gives: 'washed, sanitized'; what is not washed in place says how: 'by hand: washed'."""
    states = ", ".join(in_words(one) for one in gives(steps))
    way = way_words(steps[0].way) if steps else ""
    return f"{way}: {states}" if way else states


def way_words(way: str) -> str:
    """How a program washes: in place, by hand, or parts out of place."""
    return {"by hand": _("by hand"), "out of place": _("out of place (COP)")}.get(way, "")


def limits_words(one: WashStepDef) -> str:
    """What the program asks of a step."""
    if one.step == INSPECT:
        return _("looked at, and found clean")
    return ", ".join(again(limit.words(), _) for limit in limits_of(one)) or _("recorded, without a limit")


def figures(row: WashStep) -> str:
    """A step's figures as typed, with units."""
    minutes = plain(Fraction(int((row.ended_at - row.started_at).total_seconds()), 60), 1)
    parts = [_("%(minutes)s min") % {"minutes": minutes}]
    for name in ("temperature", "strength", "flow"):
        if typed := getattr(row, f"{name}_typed"):
            parts.append(f"{typed} {getattr(row, f'{name}_unit')}")
    if row.strip_lot or row.strip_expires:
        told = {"lot": row.strip_lot or "—", "day": row.strip_expires or "—"}
        parts.append(_("test strips lot %(lot)s, good until %(day)s") % told)
    if row.looked:
        parts.append(_("found clean") if row.looked == "yes" else _("not found clean"))
    return ", ".join(parts)
