"""Washes by a program as they stand: their steps judged by the plan in force when the wash began. Writes nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from plant.hazard_plan.content import WashStepDef
from plant.process.limits import Judged, Limit, Outcome, not_proven
from plant.process.washing import Finding, Measured, PlannedStep, WashedStep, WashResult, judge_wash
from records.flow import finding as of_flow
from records.flow.choices import SANITIZED, WASHED, vessel_of
from records.flow.common import plan_at
from records.flow.effective import asked_at_once, standing
from records.flow.finding import SANITATION
from records.flow.history import History
from records.flow.lines import first_run_since
from records.flow.models import Movement, MovementEnd, Wash
from records.flow.programs import INSPECT, parts_at
from records.flow.programs import SANITIZE as SANITIZE
from records.flow.programs import gives as gives
from records.flow.programs import program as program
from records.flow.programs import programs_at as programs_at
from records.people.plans import InForce
from records.washes import along
from records.washes.models import WashStep
from records.washes.naming import step_words

# No movement is taken to have gone on for longer: how far back those are looked for that may run into a wash.
LONGEST = timedelta(days=7)
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
        [WashedStep(one.step, measured(one), _beside(one, planned, in_force)) for one in done],
    )
    return JudgedWash(wash, name, tuple(done), result, in_force.number)


def _beside(row: WashStep, planned: list[WashStepDef], in_force: InForce) -> tuple[Finding, ...]:
    """What else bears on a step: the traces of its recorders, its test strips, the look at it."""
    step = planned[row.place_in - 1] if row.place_in <= len(planned) else None
    if step is None:
        return ()
    found = _traced(row, step, in_force)
    if step.strips and row.strength is not None:
        found += (Finding("test strips", _strips(row, step, in_force)),)
    if step.step == INSPECT:
        found += (Finding("inspection", _looked(row, step)),)
    return found


def _strips(row: WashStep, step: WashStepDef, in_force: InForce) -> Judged:
    """Strips past their last day, or of which nothing is known, prove no strength (their maker's own directions)."""
    limit = Limit(f"{step.key}-strips", "test strips", clause=step.clause)
    if not row.strip_lot or row.strip_expires is None:
        return not_proven(_("The lot and the last day of the test strips are not recorded."), limit)
    words = {"lot": row.strip_lot, "day": row.strip_expires.isoformat()}
    if in_force.calendar.local(row.ended_at).date() > row.strip_expires:
        return not_proven(_("Test strips lot %(lot)s were good until %(day)s: they prove no strength.") % words, limit)
    return Judged(Outcome.MET, (_("Test strips lot %(lot)s, good until %(day)s.") % words,), limit)


def _looked(row: WashStep, step: WashStepDef) -> Judged:
    limit = Limit(f"{step.key}-look", "inspection", clause=step.clause)
    if row.looked == "yes":
        return Judged(Outcome.MET, (_("Looked at, and found clean."),), limit)
    if row.looked == "no":
        return Judged(Outcome.NOT_MET, (_("Looked at, and not found clean."),), limit)
    return not_proven(_("Nobody said whether it was found clean."), limit)


def _traced(row: WashStep, step: WashStepDef, in_force: InForce) -> tuple[Finding, ...]:
    if not step.recorders:
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
            found.append(f"{step_words(step.name)}: {reason}")
    if one.result.order.outcome == Outcome.NOT_MET:
        found.extend(str(reason) for reason in one.result.order.reasons)
    return found


def unproven_among(
    places: Collection[str], before: History, moment: datetime, in_force: InForce, without: int | None = None
) -> dict[str, list[tuple[int, str]]]:
    """By place: its last wash and its last sanitizing at a moment that their programs do not prove, in a sentence.

    `without`: the movement that another is about to replace.
    """
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
    for place, more in parts_unproven(places, moment, in_force, without=without).items():
        found.setdefault(place, []).extend(more)
    return found


def parts_unproven(
    places: Collection[str],
    moment: datetime,
    in_force: InForce,
    *,
    met: Mapping[str, datetime] | None = None,
    without: int | None = None,
) -> dict[str, list[tuple[int, str]]]:
    """By vessel or line: its parts that were not washed since product last met them, or not as their program asks.

    A wash begun before product ended proves nothing. `met`: by place, until when product met its parts by records
    other than movements; `without`: the movement that another is about to replace. The number is that of their last
    wash; 0 without any. Three queries where the plan names parts.
    """
    named = [(part, place) for place in places for part in parts_at(in_force.plan, place)]
    washes = _last_washes({part for part, _place in named}, moment)
    asked: dict[str, Any] = {}
    for at, (part, place) in enumerate(named):
        if (last := washes.get((part, WASHED))) is not None:
            asked[f"u{at}"] = Exists(_met_after(place, last.started_at, moment, without))
    told = asked_at_once(asked) if asked else {}
    proofs = {one.wash.number: why_not_proven(one) for one in judged(list(washes.values()), apart=True)}
    found: dict[str, list[tuple[int, str]]] = {}
    for at, (part, place) in enumerate(named):
        last, until = washes.get((part, WASHED)), (met or {}).get(place)
        words = {"parts": in_force.names.get(part, part)}
        if last is None or told[f"u{at}"] or (until is not None and until > last.started_at):
            sentence = _("%(parts)s: nothing recorded says that they were washed since product last met them") % words
            found.setdefault(place, []).append((last.number if last is not None else 0, sentence))
            continue
        sanitized = washes.get((part, SANITIZED))
        if programs_at(in_force.plan, part, SANITIZED) and (
            sanitized is None or sanitized.ended_at <= last.started_at
        ):
            sentence = _("%(parts)s: nothing recorded says that they were sanitized when they were washed") % words
            found.setdefault(place, []).append((last.number, sentence))
            continue
        for one in (last, sanitized):
            if one is not None and (why := proofs[one.number]):
                found.setdefault(place, []).append((one.number, unproven_words(one, why, in_force)))
    return found


def _last_washes(parts: Collection[str], moment: datetime) -> dict[tuple[str, str], Wash]:
    """The last wash and the last sanitizing of parts that had ended at a moment, by part and what it was. One query."""
    wanted = Q()
    for part in sorted(parts):
        for what in (WASHED, SANITIZED):
            rows = standing(Wash.objects.filter(vessel=part, what=what, ended_at__lte=moment))
            wanted |= Q(number=Subquery(rows.order_by("-ended_at", "-number").values("number")[:1]))
    return {(one.vessel, one.what): one for one in Wash.objects.filter(wanted)} if parts else {}


def _met_after(place: str, washing: datetime, moment: datetime, without: int | None) -> QuerySet[Movement]:
    """Movements begun before a moment by which product met a place after the wash of its parts began.

    One that nobody ended runs on, at the latest until one of its own places was washed: as History.end_of has it.
    """
    rows = Movement.objects.filter(
        Q(via=place) | Q(target=place) | Q(source=place), started_at__gte=washing - LONGEST, started_at__lt=moment
    )
    if without is not None:
        rows = rows.exclude(number=without)
    ends = MovementEnd.objects.filter(movement=OuterRef("number"))
    at_its_places = Q(vessel=OuterRef("via")) | Q(vessel=OuterRef("target")) | Q(vessel=OuterRef("source"))
    stopped = standing(
        Wash.objects.filter(at_its_places, what=WASHED, started_at__gt=OuterRef("started_at"), started_at__lte=washing)
    )
    open_still = Q(ended_at=None) & ~Exists(ends) & ~Exists(stopped)
    return standing(rows).filter(Q(ended_at__gt=washing) | Exists(ends.filter(ended_at__gt=washing)) | open_still)


def unproven(
    place: str, before: History, moment: datetime, in_force: InForce, without: int | None = None
) -> str:
    """Why the last wash, or sanitizing, of a place proves nothing at a moment; empty where no program asks."""
    told = unproven_among([place], before, moment, in_force, without).get(place, [])
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
        if vessel is None or vessel.storage_class == "none":
            continue
        if not programs_at(in_force.plan, code) and not parts_at(in_force.plan, code):
            continue
        if code == row.via:
            washes = [one.ended_at for one in before.washes_of(code, WASHED) if one.ended_at <= moment]
            used = first_run_since(before, code, max(washes, default=None))
            if used is not None and used < moment:
                continue
        elif before.book.contents(code, moment).holds:
            continue
        if why := unproven(code, before, moment, in_force, row.amends):
            touches = vessel.stage in ("pasteurized", "frozen", "press")
            found.append(of_flow.Finding(SANITATION, code, why, "legal rule", bars=True, holds=touches))
    return found
