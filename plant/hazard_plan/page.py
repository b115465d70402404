"""The plan page's view of a plan: steps, hazards, control points, limits with their origin, checks, verification."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from plant.hazard_plan import words
from plant.hazard_plan.content import (
    ControlPointDef,
    HazardDef,
    LimitDef,
    MonitoringDef,
    Plan,
    ProgrammeDef,
    SampledDef,
    StepDef,
    VerificationDef,
)
from plant.process.pasteurization import Row
from plant.process.said import again
from plant.rules import READ, Rule, RuleSet, keys, rule_set
from plant.rules.pasteurization import rows_by_class

# (table, key) -> the address where a draft's row is edited; empty when nothing may be edited.
Links = dict[tuple[str, str], str]


@dataclass(frozen=True, slots=True)
class SharedNote:
    """A note that several limits have in the same words: it is said once, and they refer to its number."""

    number: int
    text: str
    point: str  # the only control point with limits that have it; empty where several have


@dataclass(frozen=True, slots=True)
class LimitView:
    """A limit in words, and where it comes from."""

    limit: LimitDef
    bounds: str
    operating: str
    basis: str
    rule: Rule | None
    edit: str = ""
    note: SharedNote | None = None

    @property
    def unread(self) -> bool:
        """Whether it stands on a row whose wording nobody read."""
        return bool(self.limit.rule) and self.limit.basis != READ


@dataclass(frozen=True, slots=True)
class CheckView:
    """A check in words."""

    check: MonitoringDef
    often: str
    where: str
    instruments: str
    edit: str = ""


@dataclass(frozen=True, slots=True)
class PointView:
    """A control point with everything that hangs on it."""

    point: ControlPointDef
    limits: list[LimitView]
    checks: list[CheckView]
    verification: list[VerificationDef]
    edit: str = ""
    notes: tuple[SharedNote, ...] = ()


@dataclass(frozen=True, slots=True)
class StepView:
    """A step with its hazards (each with its edit address) and control points."""

    step: StepDef
    where: str
    hazards: list[tuple[HazardDef, str]]
    points: list[PointView]
    edit: str = ""


@dataclass(frozen=True, slots=True)
class ProgrammeView:
    """A programme and the control points under it that stand at no step."""

    programme: ProgrammeDef | None
    points: list[PointView]
    edit: str = ""


@dataclass(frozen=True, slots=True)
class ClassRows:
    """A pasteurization class with the plan's products of it, and the rows of the rule set that apply: (row, words)."""

    name: str
    products: tuple[str, ...]
    rows: tuple[tuple[Row, str], ...]


@dataclass(frozen=True, slots=True)
class PlanView:
    """What the page shows, in its order."""

    plan: Plan
    steps: list[StepView]
    programmes: list[ProgrammeView]
    unread: list[LimitView]
    origins: list[tuple[str, int]]
    rules: RuleSet | None
    links: Links = field(default_factory=dict)
    notes: tuple[SharedNote, ...] = ()
    classes: tuple[ClassRows, ...] = ()


def view_of(plan: Plan, links: Links) -> PlanView:
    """Arrange a plan for its page."""
    rules = rule_set(plan.plant.rule_set) if plan.plant.rule_set in keys() else None
    notes = _shared_notes(plan)
    limits = {one.key: _limit(one, rules, links, notes.get(one.note)) for one in plan.limits}
    things: tuple[Any, ...] = (*plan.vessels, *plan.equipment, *plan.instruments)
    names = {one.code: one.name for one in things}
    points = [_point(plan, one, limits, names, links) for one in plan.control_points]
    steps = [
        StepView(
            one,
            _listed(one.places, names),
            [(hazard, links.get(("hazards", hazard.key), "")) for hazard in plan.hazards if hazard.step == one.key],
            [point for point in points if point.point.step == one.key],
            links.get(("steps", one.key), ""),
        )
        for one in plan.steps
    ]
    counted = Counter(one.basis for one in plan.limits)
    return PlanView(
        plan,
        steps,
        _programmes(plan, points, links),
        [one for one in limits.values() if one.unread],
        [(words.basis(name), count) for name, count in counted.most_common()],
        rules,
        links,
        tuple(one for one in notes.values() if not one.point),
        _classes(plan),
    )


def _classes(plan: Plan) -> tuple[ClassRows, ...]:
    found = rows_by_class(plan.plant.rule_set, (one.product_class for one in plan.products if one.product_class))
    return tuple(
        ClassRows(
            name,
            tuple(one.name for one in plan.products if one.product_class == name),
            tuple((row, again(row.words, _)) for row in rows),
        )
        for name, rows in found.items()
    )


def _shared_notes(plan: Plan) -> dict[str, SharedNote]:
    """The notes that more than one limit has, by their words, numbered in the order of the limits."""
    counted = Counter(one.note for one in plan.limits if one.note)
    points: dict[str, set[str]] = defaultdict(set)
    noted = {one.key: one.note for one in plan.limits}
    checks: tuple[MonitoringDef | SampledDef, ...] = (*plan.monitoring, *plan.sampled)
    for check in checks:
        for key in check.limits:
            points[noted.get(key, "")].add(check.control_point)
    shared = [note for note, count in counted.items() if count > 1]
    return {
        note: SharedNote(number, note, next(iter(points[note])) if len(points[note]) == 1 else "")
        for number, note in enumerate(shared, 1)
    }


def _limit(one: LimitDef, rules: RuleSet | None, links: Links, note: SharedNote | None) -> LimitView:
    return LimitView(
        one,
        words.bounds(one),
        words.operating(one),
        words.basis(one.basis),
        rules.rows.get(one.rule) if rules else None,
        links.get(("limits", one.key), ""),
        note,
    )


def _point(
    plan: Plan, one: ControlPointDef, limits: dict[str, LimitView], names: dict[str, str], links: Links
) -> PointView:
    checks = [check for check in plan.monitoring if check.control_point == one.key]
    tests = [test for test in plan.sampled if test.control_point == one.key]
    used = dict.fromkeys(
        [key for check in checks for key in check.limits] + [key for test in tests for key in test.limits]
    )
    shifts = {shift.key: shift.name for shift in plan.shifts}
    shown = [limits[key] for key in used if key in limits]
    notes = {view.note for view in shown if view.note and view.note.point == one.key}
    return PointView(
        one,
        shown,
        [
            CheckView(
                check,
                words.often(check.frequency, shifts),
                _listed(check.subjects, names),
                _listed(check.instruments, names),
                links.get(("monitoring", check.key), ""),
            )
            for check in checks
        ],
        [way for way in plan.verification if way.control_point == one.key],
        links.get(("control_points", one.key), ""),
        tuple(sorted(notes, key=lambda note: note.number)),
    )


def _programmes(plan: Plan, points: list[PointView], links: Links) -> list[ProgrammeView]:
    """Each programme with its points; points that belong to no programme and no step come last."""
    steps = {one.key for one in plan.steps}
    known = {one.key for one in plan.programmes}
    loose = [one for one in points if one.point.step not in steps]
    views = [
        ProgrammeView(
            one,
            [point for point in loose if point.point.programme == one.key],
            links.get(("programmes", one.key), ""),
        )
        for one in plan.programmes
    ]
    without = [one for one in loose if one.point.programme not in known]
    return [*views, ProgrammeView(None, without)] if without else views


def _listed(codes: tuple[str, ...], names: dict[str, Any]) -> str:
    return ", ".join(names.get(code, code) for code in codes)
