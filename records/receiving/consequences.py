"""What follows from a load's rows: holds that wait for a result, holds that no result lifts, their deviation."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext as _

from plant.process.residue import POSITIVE, Residue
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.deviations import queries as holds
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import lift_by_result, place_on_hold
from records.deviations.models import Deviation, Hold
from records.flow.common import label, lot_by_id, plan_at
from records.flow.further import Outside
from records.flow.models import Movement
from records.ledger.actions import Act, Actor
from records.people.plans import InForce
from records.receiving import farms, outside, pickups
from records.receiving.models import UNLOADING, LoadEvent
from records.receiving.outside import PENDING_BAR, RESIDUE_BAR
from records.receiving.state import IN_TIME, RESIDUE, Load, checks_of, residue_at, residue_point, residue_words
from records.run_rows import queries as loads


def then(a: Act, row: Movement, old: Movement | None, load: int | None) -> None:
    """Hold raw milk that came in without a load; an amendment takes what waits along, and lifts nothing."""
    if load is not None:
        return  # the load's own act says what follows
    in_force = plan_at(row.started_at)
    line = outside.line_of(row.number)
    linked = outside.linked_to(line)
    if linked is not None:
        found = loads.run_of(LoadEvent, linked)
        begun = found.last(UNLOADING) if found is not None else None
        if found is not None and begun is not None and not row.void:
            follow(a, found, begun, in_force)
        return
    if not outside.brings_raw_milk(row):
        return
    if old is not None and outside.brings_raw_milk(old) and not outside.waits_of(line):
        return  # recorded before the book asked for it
    outside.wait(a, row, line[0].number, in_force)


OUTSIDE = Outside(outside.bars, then)


def follow(a: Act, load: Load, row: LoadEvent, in_force: InForce) -> None:
    """Hold what was unloaded on no result or on a positive, and open the deviation of a positive."""
    residue = residue_at(load, a.now)
    if residue == Residue.NOT_FOUND:
        return
    with in_force.speaking():
        named = load_words(load)
        positive = residue in POSITIVE
        words = {"load": named, "what": residue_words(residue)}
        sentence = _("%(load)s: drug residues, %(what)s") % words
        deviation: Deviation | None = None
        broke = bool(load.of(UNLOADING)) and not in_force.plan.settings.unloads_on_pending
        if positive or broke:
            deviation = _deviation(a, load, row, sentence, in_force, positive)
        for lot, since, vessel in pickups.lots_of(load):
            place_on_hold(
                a,
                lot=lot,
                lot_label=label(lot_by_id(lot), in_force),
                vessel=vessel,
                since_at=since,
                reason=sentence,
                deviation=deviation.number if deviation is not None and positive else None,
                bars_release=RESIDUE_BAR if positive else PENDING_BAR,
            )
        if positive and deviation is not None and Hold.objects.filter(lot=pickups.load_id(load)).exists():
            place_on_hold(  # nobody releases a load for its temperature whose milk is positive
                a, lot=pickups.load_id(load), lot_label=named[:120], vessel="", since_at=load.first.happened_at,
                reason=sentence, deviation=deviation.number, bars_release=RESIDUE_BAR,
            )  # fmt: skip


def _hold_lots(a: Act, load: Load, why: Iterable[tuple[str, int]], in_force: InForce) -> None:
    """Hold what the load was unloaded into, for reasons with their deviations."""
    for reason, deviation in why:
        for lot, since, vessel in pickups.lots_of(load):
            place_on_hold(
                a,
                lot=lot,
                lot_label=label(lot_by_id(lot), in_force),
                vessel=vessel,
                since_at=since,
                reason=reason,
                deviation=deviation,
            )


def follow_farms(a: Act, load: Load, in_force: InForce) -> None:
    """A farm's milk too warm at pick-up is a deviation of its load, and holds the load and what it was unloaded into.

    Written once for each arrival as it was said, and again once more of it is out of its limits: that is a deviation of
    its own. An amendment for the better closes nothing. What two people released, knowing all of it, is not held again.
    """
    row = load.first
    with in_force.speaking():
        told = pickups.out_of_limits(load, in_force, a.now)
        if pickups.is_decided(load, a.now):
            return
        if not told:
            _hold_lots(a, load, pickups.not_free(load)[:1], in_force)
            return
        named = load_words(load)
        sentence = f"{named}: {'; '.join(told)}"
        point = farms.point_of(in_force)
        found = pickups.deviation_of(load, point)
        if found is None or pickups.untold(load, point, told):
            found, _opened = open_or_extend(
                a,
                in_force=in_force,
                control_point=point,
                subject=pickups.subject_of(load),
                cause="legal rule" if pickups.by_law(load, in_force, a.now) else "not met",
                found=Cause(LoadEvent.KIND, row.number, row.happened_at, sentence),
                since_at=row.happened_at,
                same_excursion=None if found is None else (),  # one row is a cause of a deviation once
            )
        lots = pickups.lots_of(load)
        _hold_lots(a, load, [(sentence, found.number)], in_force)
        if not lots:
            place_on_hold(
                a,
                lot=pickups.load_id(load),
                lot_label=named[:120],
                vessel="",
                since_at=row.happened_at,
                reason=sentence,
                deviation=found.number,
                bars_release=RESIDUE_BAR if residue_at(load, a.now) in POSITIVE else "",
            )


def lift_pending(a: Act, load: Load, row: LoadEvent) -> None:
    """A result that counts, and found nothing, ends what waited for it; every other hold stands.

    Where another load in the same lot, or raw milk without a load, has no result yet, the lot goes on waiting.
    """
    if residue_at(load, a.now) != Residue.NOT_FOUND:
        return
    for lot in dict.fromkeys(lot for lot, _since, _vessel in pickups.lots_of(load, ever=True)):
        if outside.others_wait(load, lot, a.now):
            continue
        for hold in holds.open_holds_of(lot).filter(bars_release=PENDING_BAR):
            reason = _("Entry %(number)d: the screen found nothing, both controls right.") % {"number": row.number}
            lift_by_result(a, hold, reason)


def answer_plan(by: Actor, load: Load, target: str, at: datetime, in_force: InForce) -> None:
    """The plan's own checks that the load's rows answer: the screen, and whether it was done before unloading."""
    if residue_at(load, at) != Residue.NOT_FOUND:
        return  # what is not so is asked of a person, with what the plan says of it
    for rule in (RESIDUE, IN_TIME):
        for check in checks_of(rule, in_force):
            form_id = uuid.uuid5(load.first.form_id, f"{check.key} {target}")
            if Reading.objects.filter(form_id=form_id).exists():
                continue
            good = next((word for key in check.limits for word in in_force.plan.limit_by_key(key).wanted), "")
            if good:
                note = _("From load %(number)d") % {"number": load.number}
                record_reading(
                    by,
                    ReadingData(
                        form_id=form_id, subject=target, monitoring_key=check.key, typed=good, observed_at=at, note=note
                    ),
                )


def load_words(load: Load) -> str:
    """How a load is called in records."""
    first = load.first
    named = first.tanker or first.ticket or str(load.number)
    return _("Load %(number)d (%(named)s)") % {"number": load.number, "named": named}


def _deviation(
    a: Act, load: Load, row: LoadEvent, sentence: str, in_force: InForce, positive: bool
) -> Deviation:
    point = residue_point(in_force)
    found, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point.key if point is not None else "residue",
        subject=f"load {load.number}",
        cause="not met" if positive else "legal rule",
        found=Cause(LoadEvent.KIND, row.number, row.happened_at, sentence),
        since_at=load.first.happened_at,
    )
    return found
