"""Levels, events, days without production, vessels in and out of service."""

from __future__ import annotations

import uuid
from datetime import date

from django.utils.translation import gettext as _

from plant import clock
from records.flow import choices
from records.flow.common import (
    FILL,
    history_at,
    name_of,
    not_ahead,
    plan_at,
    same_or_different,
    typed_number,
)
from records.flow.consequences import follow
from records.flow.data import UNITS, EventData, LevelData
from records.flow.effective import standing
from records.flow.errors import DifferentContent, Refused
from records.flow.levels import about_level, level_of
from records.flow.models import LevelSeen, Movement, NoProduction, PlantEvent, ServiceState
from records.ledger.actions import Actor, act
from records.lots.models import Lot
from records.people.plans import InForce

_LEVEL_SAID = ("vessel", "quantity_typed", "unit", "note", "observed_at")
_EVENT_SAID = ("event", "subject", "reference", "note", "observed_at")


def see_level(by: Actor, data: LevelData) -> LevelSeen:
    """Keep a level seen: always. The difference from the book is a gain or a loss; a large one opens a deviation."""
    not_ahead(data.seen_at, "seen_at")
    in_force = plan_at(data.seen_at)
    vessel = choices.vessel_of(in_force, data.vessel)
    if vessel is None or not vessel.holds_product:
        raise Refused(_("The plan knows no such vessel that holds product."), "vessel")
    quantity = typed_number(data.quantity_typed, in_force, "quantity")
    if quantity is None:
        raise Refused(_("Enter a number."), "quantity")
    if data.unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    with act(by) as a:
        saved = LevelSeen.objects.filter(form_id=data.form_id).first()
        before = history_at(in_force, data.seen_at, [data.vessel])
        row = level_of(
            in_force, data.vessel, data.seen_at, data.form_id, data.quantity_typed, quantity, data.unit, before
        )
        row.note, row.observed_at = data.note, data.seen_at
        if saved is not None:
            return same_or_different(saved, row, _LEVEL_SAID, by)
        a.write(row, observed_at=data.seen_at)
        if quantity > 0 and before.lot_at(data.vessel, data.seen_at) is None:
            # Product that the book did not know of gets a lot, so that it can be held and followed.
            found = Lot(id=uuid.uuid4(), origin=FILL, vessel=data.vessel, vessel_name=row.vessel_name)
            a.write(found, observed_at=data.seen_at)
        follow(a, about_level(row, in_force), row, in_force, since_at=data.seen_at, vessel=data.vessel)
    return row


def record_event(by: Actor, data: EventData) -> PlantEvent:
    """Keep an event that a plan may ask a check for."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    if data.event not in dict(choices.events(in_force.plan)):
        raise Refused(_("That is not an event of this plan."), "event")
    if data.subject not in dict(choices.event_places(in_force.plan)):
        raise Refused(_("The plan knows no such place."), "subject")
    row = PlantEvent(
        form_id=data.form_id,
        event=data.event,
        subject=data.subject,
        subject_name=name_of(in_force, data.subject) if data.subject else "",
        reference=data.reference,
        note=data.note,
        observed_at=data.happened_at,
    )
    with act(by) as a:
        saved = PlantEvent.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _EVENT_SAID, by)
        return a.write(row, observed_at=data.happened_at)


def no_production(by: Actor, plant_day: date, shift: str, reason: str) -> NoProduction:
    """Sign a plant day (shift empty) or shift as without production, once. Refused where the records say otherwise."""
    now = clock.now()
    in_force = plan_at(now)
    if shift and shift not in {one.key for one in in_force.plan.shifts}:
        raise Refused(_("The plan knows no such shift."), "shift")
    if not reason.strip():
        raise Refused(_("Write why nothing is made."), "reason")
    if plant_day > in_force.calendar.plant_day(now):
        raise Refused(_("That day is still to come. Closures to come stand in the plan."), "day")
    row = NoProduction(plant_day=plant_day, shift=shift, reason=reason.strip())
    with act(by) as a:
        saved = NoProduction.objects.filter(plant_day=plant_day, shift=shift).first()
        if saved is not None:
            if (saved.reason, saved.by_id) != (row.reason, by.person_id):
                raise DifferentContent(saved)
            return saved
        if ran := _ran_then(in_force, plant_day, shift):
            words = {"number": ran.number, "product": ran.product_name, "target": ran.target_name}
            sentence = _("Something was made then: movement %(number)d, %(product)s into %(target)s.")
            raise Refused(sentence % words, "day")
        return a.write(row)


def _ran_then(in_force: InForce, plant_day: date, shift: str) -> Movement | None:
    begin, end = in_force.calendar.day_bounds(plant_day)
    for one in in_force.calendar.day_shifts(plant_day):
        if one.key == shift:
            begin, end = one.start_at, one.end_at

    rows = Movement.objects.filter(started_at__gte=begin, started_at__lt=end).exclude(via="")
    return standing(rows).order_by("number").first()


def set_service(by: Actor, vessel: str, out: bool, reason: str) -> ServiceState:
    """Take a vessel or line out of service, or back. Saying again what is so already is answered with what stands."""
    in_force = plan_at(clock.now())
    if choices.vessel_of(in_force, vessel) is None:
        raise Refused(_("The plan knows no such vessel."), "vessel")
    if not reason.strip():
        raise Refused(_("Write why."), "reason")
    with act(by) as a:
        last = ServiceState.objects.filter(vessel=vessel).order_by("-observed_at", "-number").first()
        if last is not None and last.out == out:
            if (last.reason, last.by_id) == (reason.strip(), by.person_id):
                return last
            raise Refused(_("It is out of service already.") if out else _("It is in service already."))
        if last is None and not out:
            raise Refused(_("It is in service already."))
        return a.write(
            ServiceState(vessel=vessel, vessel_name=name_of(in_force, vessel), out=out, reason=reason.strip())
        )


