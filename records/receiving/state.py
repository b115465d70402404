"""What a load's rows come to: its residue result, where it is, what stands against unloading, what a positive asks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ControlPointDef, MonitoringDef, Plan
from plant.process.residue import POSITIVE, Residue, Screen, residue_of
from records.flow.common import plan_at
from records.people.plans import InForce
from records.receiving.models import (
    DECIDED,
    OWNER_TOLD,
    REGULATOR_TOLD,
    SCREENED,
    STEPS,
    STOPPED,
    TRACED,
    UNLOADED,
    UNLOADING,
    YES,
    LoadEvent,
)
from records.run_rows.models import ENDED
from records.run_rows.queries import Run

Load = Run[LoadEvent]
State = Literal["at the bay", "unloading", "unloaded", "gone"]
RESIDUE, IN_TIME = "residue-screen", "residue-before"
RESIDUE_POINT = "residue"
# The rule's own clauses stand beside each step on the page.
WANTED_AFTER_POSITIVE = (REGULATOR_TOLD, OWNER_TOLD, DECIDED, TRACED, STOPPED)


@dataclass(frozen=True, slots=True)
class Step:
    """One step after a positive: its kind, and the row that says it was done."""

    what: str
    row: LoadEvent | None


def receivers(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of the vessels that raw milk is received into."""
    found = [one for one in plan.vessels if one.holds_product and one.stage == "raw"]
    return [(one.code, one.name) for one in sorted(found, key=lambda one: (one.flow_order, one.name))]


def state_at(load: Load, moment: datetime) -> State:
    """Where the load is by the rows until then."""
    found: State = "at the bay"
    for one in load.by(moment):
        if one.what == UNLOADING:
            found = "unloading"
        elif one.what == UNLOADED:
            found = "unloaded"
        elif one.what == ENDED and found == "at the bay":
            found = "gone"
    return found


def screens(rows: Iterable[LoadEvent], in_force: InForce | None = None) -> list[Screen]:
    """The residue tests among rows, as the calculation takes them.

    `in_force`: the plan whose clocks say the day of a test. Not given, and a day's difference would count, it is looked
    up for that test, by a small query.
    """
    return [
        Screen(
            stage=one.stage,
            result=one.result,
            controls_right=one.negative_control == YES and one.positive_control == YES,
            analyst=one.analyst.strip().casefold(),
            sample=one.sample.strip().casefold(),
            kit_in_date=_in_date(one, in_force),
            certified=bool(one.certificate.strip()),
        )
        for one in rows
        if one.what == SCREENED
    ]


def _in_date(row: LoadEvent, in_force: InForce | None) -> bool:
    """Whether a test was run by its kit's last day, on the plant's own calendar."""
    if row.kit_expires is None:
        return True
    days = (row.happened_at.date() - row.kit_expires).days
    if abs(days) > 1:  # no zone's day is further from that of UTC
        return days < 0
    return (in_force or plan_at(row.happened_at)).calendar.local(row.happened_at).date() <= row.kit_expires


def residue_at(load: Load, moment: datetime, in_force: InForce | None = None) -> Residue:
    """What the load's screens came to by then; `in_force` as of `screens`."""
    return residue_of(screens(load.by(moment), in_force))


def residue_words(residue: Residue) -> str:
    """The result in the reader's language."""
    return {
        Residue.PENDING: _("no result yet"),
        Residue.NOT_FOUND: _("not found"),
        Residue.INITIAL: _("initial positive"),
        Residue.PRESUMPTIVE: _("presumptive positive"),
        Residue.CONFIRMED: _("confirmed positive"),
        Residue.NOT_CONFIRMED: _("presumptive positive, not confirmed: the regulator decides"),
    }[residue]


def steps(load: Load, in_force: InForce | None = None) -> list[Step]:
    """What a positive asks, each with the row that did it; empty where there is no positive."""
    if residue_of(screens(load.events, in_force)) not in POSITIVE:
        return []
    return [Step(one, load.last(one)) for one in STEPS if one in WANTED_AFTER_POSITIVE or load.last(one)]


def missing(load: Load, in_force: InForce | None = None) -> list[str]:
    """What the record of a load lacks, as keys: a result, its end, steps after a positive."""
    found = []
    if residue_of(screens(load.events, in_force)) == Residue.PENDING:
        found.append(SCREENED)
    if load.of(UNLOADING) and not load.of(UNLOADED):
        found.append(UNLOADED)
    return found + [one.what for one in steps(load, in_force) if one.row is None]


def residue_point(in_force: InForce) -> ControlPointDef | None:
    """The plan's control point of drug residues."""
    points = in_force.plan.control_points
    named = next((one for one in points if one.bars_release == RESIDUE_POINT), None)
    if named is not None:
        return named
    checked = [one.control_point for rule in (RESIDUE, IN_TIME) for one in checks_of(rule, in_force)]
    return in_force.plan.control_point_by_key(checked[0]) if checked else None


def checks_of(rule: str, in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks of each load whose limit stands on a row of the rule set."""
    limits = {one.key for one in in_force.plan.limits if one.rule == rule}
    return [
        one
        for one in in_force.plan.monitoring
        if limits & set(one.limits) and one.frequency.kind == "each_event" and one.frequency.event == "tanker"
    ]
