"""The acts of a vat's run: each keeps what happened, once for its form, judged at once, with what follows.

What has happened can always be recorded. Only an outlet that has not been opened is refused, with what stands against.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from plant import clock
from plant.equipment.models import Instrument
from plant.process.limits import Outcome
from plant.process.units import CELSIUS, FAHRENHEIT, exact
from records.deviations.errors import Refused
from records.flow.actions import EndData, MovementData, end_if_running, record_movement
from records.flow.common import not_ahead, plan_at, typed_number
from records.flow.errors import Several
from records.judging.actions import write_verdict
from records.judging.judge import OUT
from records.judging.models import Verdict
from records.judging.queries import governing
from records.judging.vat import judge_hold, judge_vat_reading
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce
from records.run_rows import acts
from records.run_rows import queries as runs
from records.run_rows.models import ENDED, NOTE, OPENED, UNUSUAL
from records.vat_runs import leaving, state
from records.vat_runs.data import BeginData, OpenData, SayData, ShutData
from records.vat_runs.models import (
    HOLD_BEGUN,
    HOLD_ENDED,
    LOOKS,
    NO,
    NOT_SEEN,
    OUTLET_OPENED,
    OUTLET_SHUT,
    READ,
    WITH_READINGS,
    YES,
    VatEvent,
)

PLAIN = (*WITH_READINGS, UNUSUAL, NOTE, ENDED)
NEEDS_WORDS = (UNUSUAL, NOTE)
TEMPERATURES = ("indicating", "recording", "air_space")
SAID = (
    *acts.SAID, "chart_number", "unit", "indicating_typed", "recording_typed", "air_space_typed", *LOOKS, "fill_typed",
    "empty_typed",
)  # fmt: skip
_COMPUTED = (
    "place_name", "product_name", "product_class", *TEMPERATURES, "instrument", "instrument_unit", "correction",
    "calibration_due", "fill_min", "empty_min",
)  # fmt: skip
# No vat is colder or hotter than this; what is outside it is a slip of the finger.
COLDEST_C, HOTTEST_C = 0, 150
MOST_MIN = 24 * 60


def begin(by: Actor, data: BeginData) -> VatEvent:
    """Begin a run of a vat with a product in it. Raises Refused beside the field, DifferentContent."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    if data.place not in {one.code for one in state.vats(in_force.plan)}:
        raise Refused(_("The plan knows no such vat pasteurizer."), "place")
    row = acts.new_row(VatEvent, None, data.place, OPENED, data.happened_at, data.form_id, in_force)
    product = acts.product_named(data.product, in_force)
    row.product, row.product_name, row.product_class = product.code, product.name, product.product_class
    row.chart_number, row.words = data.chart_number.strip(), data.words.strip()
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        if (still := runs.open_run(VatEvent, data.place)) is not None:
            words = {"place": row.place_name, "number": still.number}
            raise Refused(_("%(place)s: run %(number)d is not recorded as ended. End it first.") % words)
        return a.write(row, observed_at=row.happened_at)


def say(by: Actor, data: SayData) -> VatEvent:
    """Keep one thing that happened; a row within a hold is judged at once. Raises Refused, DifferentContent."""
    if data.what not in PLAIN:
        raise Refused(_("That is not on the list. Choose one of the list."), "what")
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = acts.found(VatEvent, data.run)
    row = acts.new_row(VatEvent, run.number, run.place, data.what, data.happened_at, data.form_id, in_force)
    _fill(row, data, in_force)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        run = acts.found(VatEvent, data.run)
        acts.in_its_time(run, row)
        _in_order(run, row)
        a.write(row, observed_at=row.happened_at)
        _judge(a, row, in_force, "entry", None)
        if row.what == ENDED:
            _ended(a, run, row, in_force)
    return row


def open_outlet(by: Actor, data: OpenData) -> VatEvent:
    """The outlet opened: its row and the movement out of the vat in one act.

    With `begins_now` whatever stands against it refuses it (Several). What has flowed is kept, and is held from its
    first second where no hold was shown to be within its row. Raises as `say`.
    """
    happened_at = clock.now() if data.begins_now else data.happened_at
    not_ahead(happened_at, "happened_at")
    in_force = plan_at(happened_at)
    run = acts.found(VatEvent, data.run)
    row = acts.new_row(VatEvent, run.number, run.place, OUTLET_OPENED, happened_at, data.form_id, in_force)
    row.product, row.product_name, row.words = run.first.product, run.first.product_name, data.words.strip()
    with act(by) as a:
        again = VatEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement = again.movement
            row.happened_at = again.happened_at if data.begins_now else row.happened_at
            saved = acts.saved_before(by, row, SAID)
            assert saved is not None  # found just above
            with leaving.by_its_run():
                record_movement(by, _movement(data, run, row.happened_at))
            return saved
        run = acts.found(VatEvent, data.run)
        acts.in_its_time(run, row)
        if state.emptying_at(run, happened_at) is not None:
            raise Refused(_("By this run's record the outlet is open then: say when it was shut, and how much left."))
        if data.begins_now and (items := state.against(run, happened_at)):
            raise Several(items)
        with leaving.by_its_run():
            moved = record_movement(by, _movement(data, run, happened_at))
        row.movement = moved.number
        row.happened_at = happened_at = moved.started_at
        a.write(row, observed_at=happened_at)
        with in_force.speaking():
            told = state.against(run, happened_at)
            words = {"place": row.place_name, "product": row.product_name, "why": " ".join(told)}
            sentence = _("%(place)s: %(product)s left although this stood against it: %(why)s") % words
        if told:
            point = state.point_of(run.place, in_force)
            acts.stands_against(a, row, point, sentence, in_force, happened_at, a.now)
    return row


def shut_outlet(by: Actor, data: ShutData) -> VatEvent:
    """The outlet shut: the movement ends with its quantity. Raises as `say`."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    run = acts.found(VatEvent, data.run)
    row = acts.new_row(VatEvent, run.number, run.place, OUTLET_SHUT, data.happened_at, data.form_id, in_force)
    row.words = data.words.strip()
    with act(by) as a:
        again = VatEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement = again.movement
            if saved := acts.saved_before(by, row, SAID):
                return saved
        run = acts.found(VatEvent, data.run)
        acts.in_its_time(run, row)
        opened = state.emptying_at(run, data.happened_at)
        if opened is None or opened.movement is None:
            raise Refused(_("By this run's record the outlet was not open then."), "happened_at")
        row.movement = opened.movement
        with leaving.by_its_run():
            _end(by, opened.movement, data)
        return a.write(row, observed_at=data.happened_at)


def amend(by: Actor, number: int, data: SayData, reason: str, *, void: bool = False) -> VatEvent:
    """A row as it should have been said; `void`: it did not happen. It is judged anew, and its hold with it.

    What led to a deviation closes nothing. The outlet and its times are amended in the movement.
    """
    old, row = acts.successor(
        VatEvent, number, data.form_id, data.happened_at, reason, void=void, copied=(*SAID, *_COMPUTED)
    )
    in_force = plan_at(row.happened_at)
    if not void:
        _fill(row, data, in_force)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        acts.may_replace(by, old, void=void)
        a.write(row, observed_at=row.happened_at)
        before = governing(VatEvent.KIND, [old.number]).get(old.number)
        _judge(a, row, in_force, "amendment", before)
    return row


# --- from what was said to rows


def _fill(row: VatEvent, data: SayData, in_force: InForce) -> None:
    row.words = data.words.strip()
    if row.what in NEEDS_WORDS and not row.words:
        raise Refused(_("Write a few words here."), "words")
    if row.what in WITH_READINGS:
        _fill_temperatures(row, data, in_force)
    if row.what == HOLD_BEGUN:
        for look in LOOKS:
            answer = getattr(data, look)
            if answer not in (YES, NO, NOT_SEEN):
                raise Refused(_("Choose one of the list."), look)
            setattr(row, look, answer)
    if row.what == HOLD_ENDED:
        for name in ("fill", "empty"):
            typed = getattr(data, f"{name}_min").strip()
            number = typed_number(typed, in_force, f"{name}_min")
            if number is not None and number > MOST_MIN:
                raise Refused(_("That is longer than a day."), f"{name}_min")
            setattr(row, f"{name}_typed", typed)
            setattr(row, f"{name}_min", number)


def _fill_temperatures(row: VatEvent, data: SayData, in_force: InForce) -> None:
    if data.unit not in (FAHRENHEIT, CELSIUS):
        raise Refused(_("Choose one of the list."), "unit")
    row.unit = data.unit
    for name in TEMPERATURES:
        typed = getattr(data, name).strip()
        value = typed_number(typed, in_force, name, negative=True)
        if value is not None and not COLDEST_C <= exact(value, data.unit, CELSIUS) <= HOTTEST_C:
            raise Refused(_("No vat is as cold or as hot as this. Look at the number and at its unit."), name)
        setattr(row, f"{name}_typed", typed)
        setattr(row, name, value)
    if row.what == READ and all(getattr(row, name) is None for name in TEMPERATURES):
        raise Refused(_("Enter a number."), "indicating")
    _copy_instrument(row, in_force)


def _copy_instrument(row: VatEvent, in_force: InForce) -> None:
    """The indicating thermometer of the vat, with its numbers as they are now: calibrating later changes no verdict."""
    planned = next(
        (one for one in in_force.plan.instruments if one.place_code == row.place and "indicating" in one.role), None
    )
    if planned is None:
        return
    known = Instrument.objects.filter(code=planned.code).first()
    row.instrument, row.instrument_unit = planned.code, planned.unit
    row.correction = known.correction if known else Decimal(planned.correction)
    row.calibration_due = known.calibration_due if known else date.fromisoformat(planned.calibration_due)


def _in_order(run: state.VatRun, row: VatEvent) -> None:
    current = state.state_at(run, row.happened_at)
    if row.what == HOLD_ENDED and current != "holding":
        raise Refused(_("By this run's record no hold goes on then: say first when it began."), "happened_at")
    if row.what == HOLD_BEGUN and current == "emptying":
        raise Refused(_("By this run's record the outlet is open then."), "happened_at")
    if row.what == ENDED and state.emptying_at(run, row.happened_at) is not None:
        raise Refused(_("By this run's record the outlet is open then: say when it was shut, and how much left."))


def _movement(data: OpenData, run: state.VatRun, started_at: datetime) -> MovementData:
    return MovementData(
        form_id=uuid.uuid5(data.form_id, "movement"),
        source=run.place,
        target=data.target,
        via=data.via,
        product=run.first.product,
        started_at=started_at,
        note=_("Run %(number)d") % {"number": run.number},
        start_now=data.begins_now,
    )


def _end(by: Actor, movement: int, said: ShutData) -> None:
    """End the movement with what was said of it."""
    end_if_running(
        by,
        movement,
        EndData(
            said.happened_at, said.quantity_typed, said.unit, said.uncertainty_typed, said.measured_by, said.emptied
        ),
    )  # fmt: skip


# --- judging, and what follows


def _judge(a: Act, row: VatEvent, in_force: InForce, why: str, before: Verdict | None) -> None:
    """The verdict of a row within a hold, and a new one of the hold that it lies in where that had ended already."""
    if row.what not in WITH_READINGS:
        return
    run = acts.found(VatEvent, row.run or row.number)
    if not row.void and row.what != HOLD_ENDED and state.within_a_hold(run, row):
        on = in_force.calendar.local(row.happened_at).date()
        judgement = judge_vat_reading(state.reading_of(row), row.place, run.first.product_class, in_force, on)
        follows = before.number if before is not None else None
        verdict = write_verdict(a, VatEvent.KIND, row.number, judgement, in_force, why, follows)
        if verdict.outcome == Outcome.NOT_MET.value:
            _hold_product(a, row, verdict, in_force, row.happened_at)
    for ended in run.of(HOLD_ENDED):
        rows = state.hold_of(run, ended)
        mine = ended.number == row.number
        if rows and (mine or rows[0].happened_at <= row.happened_at <= ended.happened_at or row.amends):
            _judge_hold(a, run, ended, rows, in_force, why, before if mine else None)


def _judge_hold(
    a: Act,
    run: state.VatRun,
    ended: VatEvent,
    rows: list[VatEvent],
    in_force: InForce,
    why: str,
    before: Verdict | None,
) -> None:
    judgement = judge_hold(state.as_hold(rows, in_force), ended.place, run.first.product_class, in_force)
    last = before or governing(VatEvent.KIND, [ended.number]).get(ended.number)
    same = last is not None and (last.outcome, last.reason) == (judgement.outcome, judgement.reason)
    if same and last is not None and last.subject_number == ended.number:
        return
    verdict = write_verdict(
        a, VatEvent.KIND, ended.number, judgement, in_force, why, last.number if last is not None else None
    )
    if verdict.outcome in OUT:
        _hold_product(a, ended, verdict, in_force, rows[0].happened_at)


def _ended(a: Act, run: state.VatRun, row: VatEvent, in_force: InForce) -> None:
    """A run that ends without a hold within its row proves nothing for what was in the vat."""
    with in_force.speaking():
        told = state.against(run, row.happened_at)
        words = {"place": row.place_name, "why": " ".join(told)}
        sentence = _("%(place)s: the run ended although this stood against it: %(why)s") % words
    if told:
        point, since = state.point_of(row.place, in_force), run.first.happened_at
        acts.stands_against(a, row, point, sentence, in_force, since, a.now, Outcome.NOT_PROVEN.value)


def _hold_product(a: Act, row: VatEvent, verdict: Verdict, in_force: InForce, since: datetime) -> None:
    """A deviation of the hold, and a hold on the lot in the vat and on all that it flowed into."""
    with in_force.speaking():
        sentence = _("%(place)s: %(reason)s") % {"place": row.place_name, "reason": verdict.reason}
    point = state.point_of(row.place, in_force)
    acts.stands_against(a, row, point, sentence, in_force, since, a.now, verdict.outcome)


__all__ = ["amend", "begin", "open_outlet", "say", "shut_outlet"]
