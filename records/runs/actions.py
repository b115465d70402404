"""The acts of a run: each keeps what happened, once for its form, with its movement and its consequences.

What has happened can always be recorded. Only what has not begun is refused, with what stands against it.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.utils.translation import gettext as _

from plant import clock
from plant.equipment.models import VesselKind
from plant.hazard_plan.content import ProductDef
from records.checks.consequences import hold_what_it_reaches
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.flow.actions import EndData, MovementData, begin_wash, end_if_running, record_movement, what_bars
from records.flow.actions import may_amend as may_amend_row
from records.flow.choices import product_of
from records.flow.closed_days import is_closed
from records.flow.common import not_ahead, plan_at, same_or_different
from records.flow.errors import Several
from records.flow.models import Movement
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce
from records.runs import starting
from records.runs.data import EventData, OutData, ProductData, StartData
from records.runs.models import (
    DIVERTED,
    ENDED,
    FORWARD,
    FORWARD_AGAIN,
    NOTE,
    OPENED,
    PRODUCT_CHANGE,
    PRODUCT_IN,
    PRODUCT_OUT,
    SET_UP,
    UNUSUAL,
    WASH,
    RunEvent,
)
from records.runs.queries import Run, ended_elsewhere, open_run, run_of

LEGAL_RULE = "legal rule"
SAID = (
    "run", "place", "what", "happened_at", "set_up", "product", "movement", "chart_number", "words", "amends",
    "amend_reason", "void",
)  # fmt: skip
# What a person may say of a run by itself; product has acts of its own.
PLAIN = (FORWARD, SET_UP, DIVERTED, FORWARD_AGAIN, UNUSUAL, NOTE, ENDED, WASH)
NEEDS_WORDS = (DIVERTED, UNUSUAL, NOTE)


def begin_start(by: Actor, data: StartData) -> RunEvent:
    """Begin the start of a press: from now on its start-up checks are asked. Nothing flows by this.

    Raises Refused beside the field, and where a run at this press is not recorded as ended; DifferentContent for a form
    that was saved before with other content.
    """
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    row = _row(None, data.place, OPENED, data.happened_at, data.form_id, in_force)
    vessel = next((one for one in in_force.plan.vessels if one.code == data.place), None)
    if vessel is None or vessel.kind != VesselKind.PASTEURIZER:
        raise Refused(_("The plan knows no such pasteurizer."), "place")
    _name_set_up(row, data.set_up, in_force)
    _name_product(row, _product(data.product, in_force))
    row.chart_number, row.words = data.chart_number.strip(), data.words
    with act(by) as a:
        if saved := RunEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, SAID, by)
        if (still := open_run(data.place)) is not None:
            words = {"place": row.place_name, "number": still.number}
            raise Refused(_("%(place)s: run %(number)d is not recorded as ended. End it first.") % words)
        return a.write(row, observed_at=row.happened_at)


def say(by: Actor, data: EventData) -> RunEvent:
    """Keep one thing that happened in a run, with what follows. Raises Refused, DifferentContent."""
    if data.what not in PLAIN:
        raise Refused(_("That is not on the list. Choose one of the list."), "what")
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = _run(data.run)
    row = _row(run, run.place, data.what, data.happened_at, data.form_id, in_force)
    row.words = data.words.strip()
    if data.what in NEEDS_WORDS and not row.words:
        raise Refused(_("Write a few words here."), "words")
    if data.what == SET_UP:
        _name_set_up(row, data.set_up, in_force)
        if data.product:
            _name_product(row, _product(data.product, in_force))
    with act(by) as a:
        if saved := RunEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, SAID, by)
        run = _run(data.run)
        _in_its_time(run, row)
        if data.what == ENDED:
            _may_end(run, row)
        a.write(row, observed_at=row.happened_at)
        if data.what == WASH:
            begin_wash(by, run.place, uuid.uuid5(data.form_id, WASH))
        if data.what in (FORWARD, FORWARD_AGAIN):
            _forward_again(a, run, row, in_force)
        if data.what == SET_UP:
            _changed_in_flow(a, run, row, in_force)
    return row


def product_in(by: Actor, data: ProductData) -> RunEvent:
    """Product instead of water, or instead of the product before it: the run's event and its movement in one act.

    With `begins_now` whatever stands against it refuses it (Several), and nothing is written. Product that has flowed
    is kept, and is held from its first second where something stood against it. Raises as `say`.
    """
    happened_at = clock.now() if data.begins_now else data.happened_at
    not_ahead(happened_at, "happened_at")
    in_force = plan_at(happened_at)
    run = _run(data.run)
    product = _product(data.product, in_force)
    changes = run.movement_at(happened_at) is not None
    row = _row(run, run.place, PRODUCT_CHANGE if changes else PRODUCT_IN, happened_at, data.form_id, in_force)
    _name_product(row, product)
    row.words = data.words.strip()
    with act(by) as a:
        if saved := RunEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return _again(by, data, saved, row, run, product)
        run = _run(data.run)
        _in_its_time(run, row)
        items = starting.against(_with(run, row), happened_at, in_force)
        movement = _movement(data, run, product, happened_at)
        if data.begins_now and (bars := [*(one.sentence for one in items), *what_bars(movement)]):
            raise Several(bars)
        before = run.movement_at(happened_at)
        if before is not None:
            _end(by, run, before, happened_at, data)
        moved = record_movement(by, movement)
        row.movement = moved.number
        a.write(row, observed_at=happened_at)
        _product_flowed(a, run, row, items, in_force)
    return row


def _again(
    by: Actor, data: ProductData, saved: RunEvent, row: RunEvent, run: Run, product: ProductDef
) -> RunEvent:
    """The row that the same form saved; DifferentContent when it, or the movement of it, says otherwise now."""
    row.movement, row.what = saved.movement, saved.what
    if data.begins_now:
        row.happened_at = saved.happened_at
    found = same_or_different(saved, row, SAID, by)
    record_movement(by, _movement(data, run, product, row.happened_at))
    return found


def product_out(by: Actor, data: OutData) -> RunEvent:
    """Water after the product: the movement ends with its quantity. Raises as `say`."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = _run(data.run)
    row = _row(run, run.place, PRODUCT_OUT, data.happened_at, data.form_id, in_force)
    row.words = data.words.strip()
    with act(by) as a:
        if saved := RunEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            row.movement = saved.movement
            return same_or_different(saved, row, SAID, by)
        run = _run(data.run)
        _in_its_time(run, row)
        running = run.movement_at(data.happened_at)
        if running is None:
            raise Refused(_("By this run's record no product was flowing then."), "happened_at")
        _end(by, run, running, data.happened_at, data)
        row.movement = running
        return a.write(row, observed_at=data.happened_at)


def why_not(by: Actor, row: RunEvent) -> str:
    """Empty when the person may amend this row, else the sentence that says who may."""
    closed = is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at))
    return may_amend_row(by, row, closed)


def amend(by: Actor, number: int, data: EventData, reason: str, *, void: bool = False) -> RunEvent:
    """An event as it should have been said; `void`: it did not happen. What led to a deviation closes nothing.

    Product and its times are amended in the movement. Raises Refused, DifferentContent.
    """
    old = RunEvent.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such event."))
    if old.movement is not None:
        raise Refused(_("Product, its times and its amount stand in the movement: amend that."))
    if not reason.strip():
        raise Refused(_("Write a few words here."), "reason")
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    row = RunEvent(**{name: getattr(old, name) for name in (*SAID, "place_name", *_NAMES)})
    row.form_id, row.amends, row.amend_reason, row.void = data.form_id, old.number, reason.strip(), void
    row.run = old.run or old.number
    if not void:
        row.happened_at, row.words = data.happened_at, data.words.strip()
        if old.what in (OPENED, SET_UP):
            _name_set_up(row, data.set_up, in_force)
            if data.product:
                _name_product(row, _product(data.product, in_force))
        if old.what == OPENED:
            row.chart_number = data.chart_number.strip()
    with act(by) as a:
        if saved := RunEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, SAID, by)
        if (refusal := why_not(by, old)) or RunEvent.objects.filter(amends=old.number).exists():
            raise Refused(refusal or _("It was amended already: amend the latest."))
        run = run_of(row.run)
        if void and old.what == OPENED and run is not None and len(run.events) > 1:
            raise Refused(_("Something happened in this run. Say first that it did not."))
        a.write(row, observed_at=row.happened_at)
        if old.what == SET_UP and not void and (again := run_of(row.run)) is not None:
            _changed_in_flow(a, again, row, in_force)
    return row


_NAMES = ("set_up_name", "set_point", "product_name", "product_class")


# --- from what was said to rows


def _run(number: int) -> Run:
    found = run_of(number)
    if found is None:
        raise Refused(_("There is no such run."))
    return found


def _row(
    run: Run | None, place: str, what: str, happened_at: datetime, form_id: uuid.UUID, in_force: InForce
) -> RunEvent:
    return RunEvent(
        form_id=form_id,
        run=None if run is None else run.number,
        place=place,
        place_name=in_force.names.get(place, place),
        what=what,
        happened_at=happened_at,
    )


def _name_set_up(row: RunEvent, key: str, in_force: InForce) -> None:
    planned = starting.set_up_of(key, row.place, in_force)
    if planned is None:
        raise Refused(_("The plan knows no such set-up of this press."), "set_up")
    row.set_up, row.set_up_name, row.set_point = planned.key, planned.name, f"{planned.set_point} {planned.unit}"


def _product(code: str, in_force: InForce) -> ProductDef:
    found = product_of(in_force, code)
    if found is None:
        raise Refused(_("The plan knows no such product."), "product")
    return found


def _name_product(row: RunEvent, product: ProductDef) -> None:
    row.product, row.product_name, row.product_class = product.code, product.name, product.product_class


def _with(run: Run, row: RunEvent) -> Run:
    """The run as it would be with one more event."""
    return replace(run, events=(*run.events, row))


def _in_its_time(run: Run, row: RunEvent) -> None:
    """An event lies within its run: after the start was begun, and only notes and the wash after the end."""
    if row.happened_at < run.first.happened_at:
        raise Refused(_("This is before the start of this run was begun."), "happened_at")
    ended = run.ended_at
    if ended is not None and row.what not in (NOTE, WASH, UNUSUAL) and (row.what == ENDED or row.happened_at >= ended):
        raise Refused(_("This run is recorded as ended."), "happened_at")


def _may_end(run: Run, row: RunEvent) -> None:
    if run.movement_at(row.happened_at) is not None:
        raise Refused(_("By this run's record product is flowing: say when water followed it, and how much it was."))
    later = [one for one in run.events if one.happened_at > row.happened_at and one.what not in (NOTE, WASH, UNUSUAL)]
    if later:
        raise Refused(_("Something happened in this run after that time."), "happened_at")


def _movement(data: ProductData, run: Run, product: ProductDef, started_at: datetime) -> MovementData:
    return MovementData(
        form_id=uuid.uuid5(data.form_id, "movement"),
        source=data.source,
        target=data.target,
        via=run.place,
        product=product.code,
        started_at=started_at,
        note=_("Run %(number)d") % {"number": run.number},
        start_now=False,
    )


def _end(by: Actor, run: Run, movement: int, ended_at: datetime, said: ProductData | OutData) -> None:
    """End the movement with what was said of it. Refused where another amount stands: nothing typed is dropped."""
    known = ended_elsewhere(run, clock.now())
    if known is not None and known.movement == movement and said.quantity_typed.strip():
        raise Refused(
            _("The end of this product was recorded meanwhile, with its amount: %(quantity)s. Open this form anew, or "
              "amend the movement.") % {"quantity": known.quantity or _("unknown")},
            "quantity",
        )  # fmt: skip
    end_if_running(
        by,
        movement,
        EndData(
            ended_at, said.quantity_typed, said.unit, said.uncertainty_typed, said.measured_by, said.emptied
        ),
    )  # fmt: skip


# --- what follows


def _product_flowed(a: Act, run: Run, row: RunEvent, items: Sequence[starting.Item], in_force: InForce) -> None:
    """Product flowed while something stood against it: a deviation for each control point, and a hold from then on."""
    running = row if row.movement is not None else _running(run, row.happened_at)
    moved = Movement.objects.filter(number__in=[running.movement or 0])
    until = moved.values_list("ended_at", flat=True).first() or a.now
    for one in items:
        words = {"place": row.place_name, "product": running.product_name, "why": one.sentence}
        with in_force.speaking():
            sentence = _("%(place)s: %(product)s flowed forward although this stood against it: %(why)s") % words
        _open(a, run, row, one.control_point, sentence, until, in_force)


def _running(run: Run, moment: datetime) -> RunEvent:
    """The row that began the product which runs at a moment."""
    return [one for one in run.by(moment) if one.what in (PRODUCT_IN, PRODUCT_CHANGE)][-1]


def _forward_again(a: Act, run: Run, row: RunEvent, in_force: InForce) -> None:
    """Forward flow with product in the line, while something stands against it."""
    if run.movement_at(row.happened_at) is not None:
        _product_flowed(a, run, row, starting.against(run, row.happened_at, in_force), in_force)


def _changed_in_flow(a: Act, run: Run, row: RunEvent, in_force: InForce) -> None:
    """A set-up is changed stopped or diverted (common practice, no source); else product is not proven from then on."""
    if run.state_at(row.happened_at) == "on product":
        words = {"place": row.place_name, "name": row.set_up_name}
        with in_force.speaking():
            sentence = _("%(place)s: the set-up was changed to %(name)s in forward flow") % words
        _open(a, run, row, starting.control_point(run.place, in_force), sentence, a.now, in_force)


def _open(a: Act, run: Run, row: RunEvent, key: str, sentence: str, until: datetime, in_force: InForce) -> None:
    if not key:
        return
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=key,
        subject=run.place,
        cause=LEGAL_RULE,
        found=Cause(RunEvent.KIND, row.number, row.happened_at, sentence),
        since_at=row.happened_at,
    )
    point = in_force.plan.control_point_by_key(key)
    hold_what_it_reaches(a, deviation, point, run.place, row.happened_at, max(until, row.happened_at))


__all__ = ["amend", "begin_start", "product_in", "product_out", "say", "why_not"]
