"""The acts of a freezer's run: each keeps what happened, once for its form, with its readings and consequences.

What has happened can always be recorded. Only a draw that has not begun is refused, with what stands against it.
"""

from __future__ import annotations

import uuid
from datetime import datetime

from django.utils.translation import gettext as _

from plant import clock
from plant.equipment.models import VesselKind
from records.deviations.errors import Refused
from records.flow.actions import EndData, MovementData, end_if_running, record_movement
from records.flow.common import not_ahead, plan_at
from records.flow.errors import Several
from records.freezer_runs import state
from records.freezer_runs.answering import readings
from records.freezer_runs.aside import keep_aside
from records.freezer_runs.data import BeginData, DrawData, DrawnData, SayData
from records.freezer_runs.filling import fill, tubs_of
from records.freezer_runs.models import (
    CUP,
    DRAW,
    DRAW_BEGUN,
    DRAW_ENDED,
    FED,
    FIRST_RIGHT,
    HARDENING,
    PURGED,
    FreezerEvent,
)
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce
from records.run_rows import acts
from records.run_rows import queries as runs
from records.run_rows.models import ENDED, NOTE, OPENED, UNUSUAL

PLAIN = (PURGED, FIRST_RIGHT, DRAW, CUP, FED, HARDENING, UNUSUAL, NOTE, ENDED)
_OWN = (
    "about", "tubs", "became", "allergens", "use_within_h", "ingredient", "lot_code", "amount_typed", "unit",
    "instrument", "cup_empty", "cup_mix", "cup_product", "mass_unit", "mix_lb_gal", "drawn_at",
)  # fmt: skip
SAID = (*acts.SAID, *_OWN)
_COMPUTED = ("place_name", "product_name", "amount", "overrun", "lb_gal", "minutes", "reading", "reading_two")


def begin(by: Actor, data: BeginData) -> FreezerEvent:
    """Begin a run of a freezer: from now on it is asked what stands against the draw. Nothing is drawn by this.

    Raises Refused beside the field, and where a run of this freezer is not recorded as ended; DifferentContent for a
    form that was saved before with other content.
    """
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    vessel = next((one for one in in_force.plan.vessels if one.code == data.place), None)
    if vessel is None or vessel.kind != VesselKind.FREEZER:
        raise Refused(_("The plan knows no such freezer."), "place")
    row = acts.new_row(FreezerEvent, None, data.place, OPENED, data.happened_at, data.form_id, in_force)
    _name(row, data.product, in_force)
    row.words = data.words.strip()
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        if (still := open_at(data.place)) is not None:
            words = {"place": row.place_name, "number": still.number}
            raise Refused(_("%(place)s: run %(number)d is not recorded as ended. End it first.") % words)
        return a.write(row, observed_at=row.happened_at)


def open_at(place: str) -> state.FreezerRun | None:
    """The run of a freezer that goes on."""
    return runs.open_run(FreezerEvent, place)


def say(by: Actor, data: SayData) -> FreezerEvent:
    """Keep one thing that happened, with its readings and what follows. Raises Refused, DifferentContent."""
    if data.what not in PLAIN:
        raise Refused(_("That is not on the list. Choose one of the list."), "what")
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = acts.found(FreezerEvent, data.run)
    row = acts.new_row(FreezerEvent, run.number, run.place, data.what, data.happened_at, data.form_id, in_force)
    fill(row, data, run, in_force)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        run = acts.found(FreezerEvent, data.run)
        acts.in_its_time(run, row)
        if row.what == ENDED and state.drawing_at(run, row.happened_at) is not None:
            raise Refused(_("By this run's record the draw goes on: say when it ended, and how much it was."))
        readings(by, row, data.form_id, in_force, None, "")
        a.write(row, observed_at=row.happened_at)
        keep_aside(by, row, None, run, in_force)
        _follow(a, run, row, in_force)
    return row


def draw_begins(by: Actor, data: DrawData) -> FreezerEvent:
    """The draw of a product: its row and its movement in one act.

    With `begins_now` whatever stands against it refuses it (Several) and nothing is written. What was drawn is kept,
    and held from its first second where something stood against it. Raises as `say`.
    """
    happened_at = clock.now() if data.begins_now else data.happened_at
    not_ahead(happened_at, "happened_at")
    in_force = plan_at(happened_at)
    run = acts.found(FreezerEvent, data.run)
    row = acts.new_row(FreezerEvent, run.number, run.place, DRAW_BEGUN, happened_at, data.form_id, in_force)
    _name(row, data.product, in_force)
    row.words = data.words.strip()
    with act(by) as a:
        again = FreezerEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement = again.movement
            row.happened_at = again.happened_at if data.begins_now else row.happened_at
            saved = acts.saved_before(by, row, SAID)
            assert saved is not None  # found just above
            record_movement(by, _movement(data, run.place, run.number, row.happened_at))
            return saved
        run = acts.found(FreezerEvent, data.run)
        acts.in_its_time(run, row)
        if state.drawing_at(run, happened_at) is not None:
            raise Refused(_("By this run's record a draw goes on then: say when it ended, and how much it was."))
        items = state.against(run, data.product, happened_at, in_force)
        if data.begins_now and items:
            raise Several([one.sentence for one in items])
        with in_force.speaking():
            told = state.against(run, data.product, happened_at, in_force)
        moved = record_movement(by, _movement(data, run.place, run.number, happened_at))
        row.movement = moved.number
        row.happened_at = happened_at = moved.started_at
        a.write(row, observed_at=happened_at)
        for one in told:
            words = {"place": row.place_name, "product": row.product_name, "why": one.sentence}
            with in_force.speaking():
                sentence = _("%(place)s: %(product)s was drawn although this stood against it: %(why)s") % words
            acts.stands_against(a, row, one.point, sentence, in_force, happened_at, a.now)
    return row


def draw_ends(by: Actor, data: DrawnData) -> FreezerEvent:
    """The draw ended: the movement ends with its quantity, and so many tubs were made. Raises as `say`."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = acts.found(FreezerEvent, data.run)
    row = acts.new_row(FreezerEvent, run.number, run.place, DRAW_ENDED, data.happened_at, data.form_id, in_force)
    row.tubs, row.words = tubs_of(data.tubs, required=True), data.words.strip()
    with act(by) as a:
        again = FreezerEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement, row.product = again.movement, again.product
            if saved := acts.saved_before(by, row, SAID):
                return saved
        run = acts.found(FreezerEvent, data.run)
        acts.in_its_time(run, row)
        drawing = state.drawing_at(run, data.happened_at)
        if drawing is None or drawing.movement is None:
            raise Refused(_("By this run's record nothing was drawn then."), "happened_at")
        row.product, row.product_name, row.movement = drawing.product, drawing.product_name, drawing.movement
        _end(by, drawing.movement, data)
        return a.write(row, observed_at=data.happened_at)


def amend(by: Actor, number: int, data: SayData, reason: str, *, void: bool = False) -> FreezerEvent:
    """A row as it should have been said; `void`: it did not happen. What led to a deviation closes nothing.

    Readings that it answered are amended with it. A draw and its times are amended in the movement.
    """
    old, row = acts.successor(
        FreezerEvent, number, data.form_id, data.happened_at, reason, void=void, copied=(*SAID, *_COMPUTED)
    )
    in_force = plan_at(row.happened_at)
    if void and old.reading is not None:
        raise Refused(_("A reading was kept with it: amend what was read instead."))
    run = acts.found(FreezerEvent, row.run or old.number)
    if not void:
        fill(row, data, run, in_force)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        acts.may_replace(by, old, void=void)
        if not void:
            readings(by, row, data.form_id, in_force, old, reason)
        a.write(row, observed_at=row.happened_at)
        keep_aside(by, row, old, run, in_force)
        if not void:
            _follow(a, acts.found(FreezerEvent, row.run or old.number), row, in_force)
    return row


# --- from what was said to rows


def _name(row: FreezerEvent, code: str, in_force: InForce) -> None:
    product = acts.product_named(code, in_force)
    row.product, row.product_name = product.code, product.name


def _movement(data: DrawData, place: str, run: int, started_at: datetime) -> MovementData:
    return MovementData(
        form_id=uuid.uuid5(data.form_id, "movement"),
        source=data.source,
        target=data.target,
        via=place,
        product=data.product,
        started_at=started_at,
        note=_("Run %(number)d") % {"number": run},
        start_now=data.begins_now,
    )


def _end(by: Actor, movement: int, said: DrawnData) -> None:
    """End the movement with what was said of it."""
    end_if_running(
        by,
        movement,
        EndData(
            said.happened_at, said.quantity_typed, said.unit, said.uncertainty_typed, said.measured_by, said.emptied
        ),
    )  # fmt: skip


# --- what follows


def _follow(a: Act, run: state.FreezerRun, row: FreezerEvent, in_force: InForce) -> None:
    """What is filled into the feeder while product is drawn, or told of only after its draw began, holds what is drawn
    from then on: an ingredient with an allergen that the product does not declare, and a feeder whose parts nothing
    shows washed.
    """
    if row.what != FED:
        return
    next_draw = (one for one in run.of(DRAW_BEGUN) if one.happened_at >= row.happened_at)
    drawing = state.drawing_at(run, row.happened_at) or next(next_draw, None)
    if drawing is None:
        return
    since = max(row.happened_at, drawing.happened_at)
    product = acts.product_named(drawing.product, in_force)
    with in_force.speaking():
        sentence = state.not_declared(row, set(product.allergens))
        words = {"place": row.place_name, "product": product.name, "why": sentence}
        said = _("%(place)s: %(product)s does not declare this: %(why)s") % words
        found = [(state.allergen_point(row.place, in_force), said)] if sentence else []
        for one in state.feeder_parts(acts.found(FreezerEvent, run.number), since, in_force):
            words = {"place": row.place_name, "product": product.name, "why": one.sentence}
            said = _("%(place)s: %(product)s was drawn although this stood against it: %(why)s") % words
            found.append((one.point, said))
    for point, said in found:
        acts.stands_against(a, row, point, said, in_force, since, a.now)


__all__ = ["amend", "begin", "draw_begins", "draw_ends", "say"]
