"""Washes by a program as they stand: their steps judged by the plan in force when the wash began. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from plant.hazard_plan.content import Plan, WashStepDef
from plant.process.limits import Limit, Outcome
from plant.process.washing import Measured, PlannedStep, WashedStep, WashResult, judge_wash
from records.flow.choices import SANITIZED, WASHED, vessel_of
from records.flow.findings import SANITATION, Finding
from records.flow.history import History
from records.flow.lines import first_run_since
from records.flow.models import Movement, Wash
from records.people.plans import InForce, plan_in_force
from records.washes.models import WashStep

SANITIZE = "sanitize"


@dataclass(frozen=True, slots=True)
class JudgedWash:
    """A wash with what its steps prove. `plan_number` 0 and no result: no program was recorded."""

    wash: Wash
    program: str
    steps: tuple[WashStep, ...]
    result: WashResult | None
    plan_number: int = 0

    @property
    def proven(self) -> bool:
        """Whether every step meets its program: of the record, never of the surface."""
        return self.result is not None and self.result.outcome == Outcome.MET


def program(plan: Plan, name: str) -> list[WashStepDef]:
    """The steps of a program, in order."""
    return [one for one in plan.wash_steps if one.program == name]


def programs_at(plan: Plan, place: str, what: str = "") -> list[str]:
    """The programs of a place; a program of sanitizing alone is of `what` sanitized, every other of washed."""
    names = dict.fromkeys(one.program for one in plan.wash_steps if place in one.places)
    return [one for one in names if what in ("", kind_of(program(plan, one)))]


def kind_of(steps: Iterable[WashStepDef]) -> str:
    """Whether a program washes, or sanitizes alone."""
    return SANITIZED if all(one.step == SANITIZE for one in steps) else WASHED


def limits_of(one: WashStepDef) -> tuple[Limit, ...]:
    """What the program bounds of a step, each with where its number comes from."""
    found = []
    if one.minutes:
        found.append(Limit(f"{one.key}-time", "time", "min", low=Decimal(one.minutes), clause=one.clause))
    for name, unit in (("temperature", one.unit), ("strength", one.strength_unit)):
        low, high = getattr(one, f"{name}_low"), getattr(one, f"{name}_high")
        if low or high:
            least, most = (Decimal(each) if each else None for each in (low, high))
            found.append(Limit(f"{one.key}-{name}", name, unit, low=least, high=most, clause=one.clause))
    return tuple(found)


def steps_of(washes: Iterable[int]) -> dict[int, list[WashStep]]:
    """The steps that stand of these washes, in the order in which they were done. One query."""
    found: dict[int, list[WashStep]] = {}
    replaced = WashStep.objects.filter(amends=OuterRef("number"))
    rows = WashStep.objects.filter(~Exists(replaced), void=False, wash__in=list(washes))
    for one in sorted(rows, key=lambda row: (row.started_at, row.ended_at, row.place_in)):
        found.setdefault(one.wash, []).append(one)
    return found


def judged(washes: Sequence[Wash]) -> list[JudgedWash]:
    """These washes with their steps judged. The steps of an amended wash hang at its first record."""
    roots = {one.number: root(one) for one in washes}
    steps = steps_of(roots.values())
    return [_judged(one, steps.get(roots[one.number], [])) for one in washes]


def root(wash: Wash) -> int:
    """The number of the first record of a wash, at which its steps hang."""
    number, before = wash.number, wash.amends
    while before is not None:
        number = before
        before = Wash.objects.filter(number=number).values_list("amends", flat=True).first()
    return number


def _judged(wash: Wash, steps: list[WashStep]) -> JudgedWash:
    if not steps:
        return JudgedWash(wash, "", (), None)
    in_force = plan_in_force(min(wash.started_at, steps[0].started_at))
    name = steps[0].program
    planned = program(in_force.plan, name) if in_force else []
    result = judge_wash(
        [PlannedStep(one.step, limits_of(one)) for one in planned],
        [WashedStep(one.step, measured(one)) for one in steps],
    )
    return JudgedWash(wash, name, tuple(steps), result, in_force.number if in_force else 0)


def measured(row: WashStep) -> dict[str, Measured | None]:
    """What a step measured, with units; its time by its two ends."""
    seconds = Decimal(int((row.ended_at - row.started_at).total_seconds()))
    given = {"temperature": (row.temperature, row.temperature_unit), "strength": (row.strength, row.strength_unit)}
    found: dict[str, Measured | None] = {"time": Measured(seconds, "s")}
    for name, (value, unit) in given.items():
        found[name] = None if value is None else Measured(value, unit)
    return found


def why_not_proven(one: JudgedWash) -> list[str]:
    """What a wash lacks of its program, a sentence each; empty when its record meets it."""
    if one.result is None:
        return [_("no steps recorded")]
    found = []
    for step in one.result.steps:
        if step.outcome != Outcome.MET:
            reason = next((str(f.judged.reasons[0]) for f in step.findings if f.judged.outcome == step.outcome), "")
            found.append(f"{step.name}: {reason}")
    if one.result.order.outcome == Outcome.NOT_MET:
        found.extend(str(reason) for reason in one.result.order.reasons)
    return found


def unproven(place: str, before: History, moment: datetime, in_force: InForce) -> str:
    """Why the last wash, or sanitizing, of a place proves nothing at a moment; empty where no program asks."""
    last: list[Wash] = []
    for what in (WASHED, SANITIZED):
        if programs_at(in_force.plan, place, what):
            last += [one for one in before.washes_of(place, what) if one.ended_at <= moment][-1:]
    for one in judged(last):
        if why := why_not_proven(one):
            words = {"vessel": in_force.names.get(place, place), "number": one.wash.number, "why": "; ".join(why)}
            return _("%(vessel)s: washed, not proven by its program (wash %(number)d): %(why)s") % words
    return ""


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """First product into what a program washes, whose wash is not proven."""
    if not in_force.plan.wash_steps:
        return []
    moment, found = row.started_at, []
    for code in dict.fromkeys((row.via, row.target)):
        vessel = vessel_of(in_force, code)
        if vessel is None or vessel.storage_class == "none" or not programs_at(in_force.plan, code):
            continue
        if code == row.via:
            washes = [one.ended_at for one in before.washes_of(code, WASHED) if one.ended_at <= moment]
            used = first_run_since(before, code, max(washes, default=None))
            if used is not None and used < moment:
                continue
        elif before.book.contents(code, moment).holds:
            continue
        if why := unproven(code, before, moment, in_force):
            touches = vessel.stage in ("pasteurized", "frozen", "press")
            found.append(Finding(SANITATION, code, why, "legal rule", bars=True, holds=touches))
    return found
