"""A load and its farms' pick-ups: what stands against unloading it, and what two people have decided of it.

A load that is barred for a farm's milk is held as itself, under the id of its first row: a tank has not got it yet. Its
hold is decided like any other, by a disposition and another person's signature; released, the load may be unloaded. A
fact that comes after that signature asks for another decision. Nothing of it reaches a residue: that bar stays.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db.models import Max
from django.utils.translation import gettext as _

from plant.process.residue import POSITIVE, Residue
from records.deviations.holds import RELEASE
from records.deviations.models import Deviation, DeviationCause, Disposition, Hold, HoldLift
from records.deviations.words import in_words
from records.flow.common import plan_at
from records.flow.effective import standing
from records.flow.models import Movement
from records.flow.queries import contents_at
from records.people.plans import InForce
from records.receiving import farms, outside
from records.receiving.models import UNLOADING, LoadEvent
from records.receiving.state import Load, residue_at, residue_words


def against(load: Load, moment: datetime, in_force: InForce) -> list[str]:
    """What stands against unloading that has not begun."""
    residue = residue_at(load, moment)
    found = []
    if residue in POSITIVE:
        words = {"what": residue_words(residue)}
        found.append(_("Drug residues: %(what)s. Nothing of this load can be processed.") % words)
    elif residue == Residue.PENDING and not in_force.plan.settings.unloads_on_pending:
        found.append(_("Drug residues: no result that counts yet. The plan wants it before unloading."))
    if is_decided(load, moment):
        return found
    return [*found, *out_of_limits(load, in_force, moment), *(sentence for sentence, _deviation in not_free(load))]


def not_free(load: Load) -> list[tuple[str, int]]:
    """What holds the load itself, or was signed for it instead of a release, each with its deviation.

    An amended slip lifts nothing: two people do.
    """
    holds = Hold.objects.filter(lot=load_id(load)).exclude(deviation=None).order_by("number")
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=[one.number for one in holds])}
    signed = {one.number: one for one in Disposition.objects.filter(
        number__in=[one.disposition for one in lifts.values()])}  # fmt: skip
    found = []
    for one in holds:
        lift = lifts.get(one.number)
        if lift is None:
            words = {"number": one.number, "why": one.reason}
            sentence = _("The load is on hold (entry %(number)d): %(why)s") % words
        elif (what := signed[lift.disposition].what) != RELEASE:
            words = {"what": in_words(what), "number": lift.number}
            sentence = _("The load is not released; signed was: %(what)s (entry %(number)d)") % words
        else:
            continue
        assert one.deviation is not None  # they are found by it
        found.append((sentence, one.deviation))
    return found


def out_of_limits(load: Load, in_force: InForce, now: datetime) -> list[str]:
    """A sentence for each thing about the farms' pick-ups that is out of the rule set's limits or the plan's."""
    row = load.first
    return farms.out_of_limits(row, in_force, _in_time(load, now)) + farms.too_long(row, in_force, row.happened_at)


def by_law(load: Load, in_force: InForce, now: datetime) -> bool:
    """Whether the rule set, not the plan alone, has a limit that the farms' milk is past now."""
    return bool(farms.out_of_limits(load.first, in_force, _in_time(load, now)))


def _in_time(load: Load, now: datetime) -> farms.InTime:
    """Whether the load's milk still may be, or was, processed by a moment."""
    return lambda by: now < by or was_processed(load, by)


def is_decided(load: Load, now: datetime) -> bool:
    """Whether two people released the load, knowing all that stands against its farms' milk today."""
    holds = Hold.objects.filter(lot=load_id(load)).exclude(deviation=None).order_by("number")
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=[one.number for one in holds])}
    if not lifts or any(one.number not in lifts for one in holds):
        return False
    last = max(lifts.values(), key=lambda one: one.number)
    whats = Disposition.objects.filter(number__in=[one.disposition for one in lifts.values()]).values_list("what")
    if {what for (what,) in whats} != {RELEASE}:
        return False
    deviations = {one.deviation for one in holds if one.deviation is not None}
    newest = DeviationCause.objects.filter(deviation__in=deviations).aggregate(Max("number"))["number__max"]
    past = [by for _farm, by in farms.process_by(load.first, plan_at(load.first.happened_at)) if by <= now]
    known = max(newest or 0, load.first.number) < last.disposition  # proposed and signed after the last fact
    return known and all(by <= last.received_at for by in past)


def load_id(load: Load) -> UUID:
    """The id that a load is held under: that of its first row, whatever was amended since."""
    return LoadEvent.objects.values_list("id", flat=True).get(number=load.number)


def deviation_of(load: Load, point: str) -> Deviation | None:
    """The last deviation that the load's arrival, as it stands, led to at this control point."""
    causes = DeviationCause.objects.filter(cause_number=load.first.number).values("deviation")
    found = Deviation.objects.filter(number__in=causes, control_point=point, subject=subject_of(load))
    return found.order_by("-number").first()


def untold(load: Load, point: str, sentences: Iterable[str]) -> list[str]:
    """Of these, in the plant's language, what no deviation of the load's arrival, as it stands, names. One query."""
    mine = Deviation.objects.filter(control_point=point, subject=subject_of(load)).values("number")
    causes = DeviationCause.objects.filter(cause_number=load.first.number, deviation__in=mine)
    told = [f"{one};" for one in causes.values_list("sentence", flat=True)]
    return [one for one in sentences if not any(f"{mark} {one};" in each for each in told for mark in ":;")]


def subject_of(load: Load) -> str:
    """What a deviation of the load is about."""
    return f"load {load.number}"


def lots_of(load: Load, *, ever: bool = False) -> list[tuple[UUID, datetime, str]]:
    """(lot, from when, vessel) of what the load was unloaded into, amended movements as they stand now.

    `ever`: those of movements that were amended or did not happen too, for what waits there has to end some time.
    """
    rows: list[Movement] = []
    for one in load.of(UNLOADING):
        line = outside.line_of(one.movement) if one.movement is not None else []
        rows += line if ever else line[-1:]
    return [
        (one.target_lot, one.started_at, one.target)
        for one in rows
        if one.target_lot is not None and (ever or not one.void)
    ]


def was_processed(load: Load, by: datetime) -> bool:
    """Whether by then the load had left the vessels it was unloaded into, and went into none that holds raw milk.

    Where the book does not show it, it was not.
    """
    lots = lots_of(load)
    plan = plan_at(by).plan
    raw = [one.code for one in plan.vessels if one.holds_product and one.stage == "raw"]
    for lot, since, vessel in lots:
        held = contents_at(by, [vessel]).get(vessel)
        if held is None or (held.holds and held.lot == lot):
            return False
        moved = standing(Movement.objects.filter(source=vessel, started_at__gte=since, started_at__lt=by))
        if moved.filter(target__in=raw).exists() or not moved.exists():
            return False
    return bool(lots)
