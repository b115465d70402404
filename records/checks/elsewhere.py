"""Checks that are answered in a form of their own: a later feature's record says what was seen, and answers the check.

The Round sends there. A plain good answer that comes all the same, from a page opened before, off paper or by an
amendment, is kept, and proves nothing: nobody said what was looked at.
"""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef
from records.judging.judge import GOOD, Judgement
from records.people.plans import InForce

# (check, place, event of the due check, plan): the address of its form; empty where it has none.
Finder = Callable[[MonitoringDef, str, str, InForce], str]
_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """`finder` says which form answers a check at a place."""
    if finder not in _finders:
        _finders.append(finder)


def form_of(check: MonitoringDef, place: str, event: str, in_force: InForce) -> str:
    """The address of the form that answers a check; empty where the Round asks it itself."""
    return next((found for finder in _finders if (found := finder(check, place, event, in_force))), "")


def bare(judgement: Judgement, monitoring_key: str, place: str, in_force: InForce) -> Judgement:
    """The judgement of a plain answer: a good one to a check with a form of its own is not proven."""
    check = in_force.plan.monitoring_by_key(monitoring_key)
    if judgement.outcome not in GOOD or check is None or not form_of(check, place, "", in_force):
        return judgement
    with in_force.speaking():
        reason = _("Only an answer: what was looked at, and what was seen, is not recorded.")
    return Judgement(
        outcome="not proven",
        reason=reason,
        numbers=judgement.numbers,
        monitoring_key=judgement.monitoring_key,
        limit_key=judgement.limit_key,
        rule=judgement.rule,
        clause=judgement.clause,
        basis=judgement.basis,
    )


__all__ = ["Finder", "bare", "form_of", "register"]
