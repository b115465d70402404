"""Washes by a program as they stand: their steps judged by the plan in force when the wash began. Writes nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID, uuid5

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from plant.hazard_plan.content import WashStepDef
from plant.process.limits import Limit, Outcome
from plant.process.washing import Finding, Measured, PlannedStep, WashedStep, WashResult, judge_wash
from records.flow import finding as of_flow
from records.flow.choices import SANITIZED, WASHED, vessel_of
from records.flow.common import plan_at
from records.flow.finding import SANITATION
from records.flow.history import History
from records.flow.lines import first_run_since
from records.flow.models import Movement, Wash
from records.flow.programs import SANITIZE as SANITIZE
from records.flow.programs import gives as gives
from records.flow.programs import program as program
from records.flow.programs import programs_at as programs_at
from records.people.plans import InForce
from records.washes import along
from records.washes.models import WashStep

# By quantity: how a step's verdict names the trace of it.
TRACES = {"temperature": "trace", "strength": "trace of the strength", "flow": "trace of the flow"}


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


def kind_of(steps: Iterable[WashStepDef]) -> str:
    """Whether a program washes, or sanitizes alone."""
    return WASHED if WASHED in gives(steps) else SANITIZED


def limits_of(one: WashStepDef) -> tuple[Limit, ...]:
    """What the program bounds of a step, each with where its number comes from."""
    found = []
    if one.minutes:
        found.append(Limit(f"{one.key}-time", "time", "min", low=Decimal(one.minutes), clause=one.clause))
    for name, unit in (("temperature", one.unit), ("strength", one.strength_unit), ("flow", one.flow_unit)):
        low, high = getattr(one, f"{name}_low"), getattr(one, f"{name}_high", "")
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


def judged(washes: Sequence[Wash], *, apart: bool = False) -> list[JudgedWash]:
    """These washes with their steps judged. The steps of an amended wash hang at its first record.

    A sanitizing within a program is judged by the sanitizing of that program, its wash by all of it; `apart`: the wash
    by what washes alone, as a later sanitizing may make good one that failed.
    """
    roots = {one.number: root(one) for one in washes}
    steps = steps_of(roots.values())
    within = _within([one for one in washes if one.what == SANITIZED and roots[one.number] not in steps], roots)
    of_these = steps_of(within.values()) if within else {}
    found = []
    for one in washes:
        if one.number in within:
            mine, part = of_these.get(within[one.number], []), SANITIZED
        else:
            mine, part = steps.get(roots[one.number], []), WASHED if apart and one.what == WASHED else ""
        found.append(_judged(one, mine, part))
    return found


def sanitizing_form(wash: UUID) -> UUID:
    """The form id of the sanitizing within a wash of this form id: so the one finds the other."""
    return uuid5(wash, "sanitized")


def _within(sanitizings: Sequence[Wash], roots: Mapping[int, int]) -> dict[int, int]:
    """By the number of a sanitizing without steps of its own: the first record of the wash in whose program it was."""
    if not sanitizings:
        return {}
    firsts = [roots[one.number] for one in sanitizings if one.amends is not None]
    forms = dict(Wash.objects.filter(number__in=firsts).values_list("number", "form_id")) if firsts else {}
    long = timedelta(days=2)  # no wash lasts longer with its sanitizing
    rows = Wash.objects.filter(
        what=WASHED,
        amends=None,
        vessel__in={one.vessel for one in sanitizings},
        started_at__gte=min(one.started_at for one in sanitizings) - long,
        started_at__lte=max(one.started_at for one in sanitizings) + long,
    )
    washes = {sanitizing_form(form): number for number, form in rows.values_list("number", "form_id")}
    mine = {one.number: washes.get(forms.get(roots[one.number], one.form_id)) for one in sanitizings}
    return {number: wash for number, wash in mine.items() if wash is not None}


def root(wash: Wash) -> int:
    """The number of the first record of a wash, at which its steps hang."""
    number, before = wash.number, wash.amends
    while before is not None:
        number = before
        before = Wash.objects.filter(number=number).values_list("amends", flat=True).first()
    return number


def _judged(wash: Wash, steps: list[WashStep], part: str) -> JudgedWash:
    """`part`: judge what washes, or what sanitizes, alone; empty: the whole program."""
    done = [one for one in steps if part in ("", _gives(one.step))]
    if not steps:
        return JudgedWash(wash, "", (), None)
    in_force = plan_at(min(wash.started_at, steps[0].started_at))
    name = steps[0].program
    planned = program(in_force.plan, name)
    result = judge_wash(
        [PlannedStep(one.step, limits_of(one)) for one in planned if part in ("", _gives(one.step))],
        [WashedStep(one.step, measured(one), _traced(one, planned, in_force)) for one in done],
    )
    return JudgedWash(wash, name, tuple(done), result, in_force.number)


def _traced(row: WashStep, planned: list[WashStepDef], in_force: InForce) -> tuple[Finding, ...]:
    """What the traces of a step's recorders prove; none where the program names none."""
    step = planned[row.place_in - 1] if row.place_in <= len(planned) else None
    if step is None or not step.recorders:
        return ()
    bounds = {one.quantity: one for one in limits_of(step)}
    return tuple(
        Finding(
            TRACES[quantity],
            along.judged(key, bounds[quantity], bounds["time"], row.started_at, row.ended_at, in_force),
        )
        for quantity, key in step.recorders.items()
    )


def _gives(step: str) -> str:
    return SANITIZED if step == SANITIZE else WASHED


def measured(row: WashStep) -> dict[str, Measured | None]:
    """What a step measured, with units; its time by its two ends."""
    seconds = Decimal(int((row.ended_at - row.started_at).total_seconds()))
    given = {
        "temperature": (row.temperature, row.temperature_unit),
        "strength": (row.strength, row.strength_unit),
        "flow": (row.flow, row.flow_unit),
    }
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


def unproven_among(
    places: Collection[str], before: History, moment: datetime, in_force: InForce
) -> dict[str, list[tuple[int, str]]]:
    """By place: its last wash and its last sanitizing at a moment that their programs do not prove, in a sentence."""
    last: list[Wash] = []
    for place in places if in_force.plan.wash_steps else ():
        for what in (WASHED, SANITIZED):
            if programs_at(in_force.plan, place, what):
                last += [one for one in before.washes_of(place, what) if one.ended_at <= moment][-1:]
    found: dict[str, list[tuple[int, str]]] = {}
    for one in judged(last, apart=True):
        if why := why_not_proven(one):
            told = (one.wash.number, unproven_words(one.wash, why, in_force))
            found.setdefault(one.wash.vessel, []).append(told)
    return found


def unproven(place: str, before: History, moment: datetime, in_force: InForce) -> str:
    """Why the last wash, or sanitizing, of a place proves nothing at a moment; empty where no program asks."""
    told = unproven_among([place], before, moment, in_force).get(place, [])
    return told[0][1] if told else ""


def unproven_words(wash: Wash, why: list[str], in_force: InForce) -> str:
    """'Silo A: washed, not proven by its program (wash 12): …'."""
    words = {"vessel": in_force.names.get(wash.vessel, wash.vessel), "number": wash.number, "why": "; ".join(why)}
    if wash.what == SANITIZED:
        return _("%(vessel)s: sanitized, not proven by its program (wash %(number)d): %(why)s") % words
    return _("%(vessel)s: washed, not proven by its program (wash %(number)d): %(why)s") % words


def about(row: Movement, before: History, in_force: InForce) -> list[of_flow.Finding]:
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
            found.append(of_flow.Finding(SANITATION, code, why, "legal rule", bars=True, holds=touches))
    return found
