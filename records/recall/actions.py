"""The acts of dispatch and recall. What may not leave is refused beforehand; what left is kept with its consequence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from plant import clock
from plant.process.lots import in_unit
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import OTHER_USE
from records.deviations.models import Deviation, DeviationCause
from records.flow import disposed
from records.flow.actions import may_amend
from records.flow.closed_days import is_closed
from records.flow.common import PACK, not_ahead, plan_at, same_or_different, typed_number
from records.flow.data import UNITS
from records.flow.errors import Refused, Several
from records.flow.queries import held_lots_at
from records.ledger.actions import Act, Actor, act
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall import origins, state
from records.recall.codes import lot_of
from records.recall.data import DispatchData, EndData, RecallData, StepData
from records.recall.dispatched import standing
from records.recall.models import (
    WITH_CONSIGNEE,
    WITH_QUANTITY,
    Dispatch,
    ProductReturned,
    RecallBegun,
    RecallEnded,
    RecallStep,
)
from records.recall.returned import against_stock
from records.recall.scope import Affected, RecallScope, scope
from records.recall.told import asked_json
from records.recall.words import REHEARSED, STEPS

HELD = "hold"  # the control point of a deviation where the plan has none: product that left while it was held
_DISPATCH_SAID = (
    "lot", "code", "consignee", "address", "phone", "email", "carrier", "packed_as", "quantity_typed", "unit", "note",
    "amends", "amend_reason", "void",
)  # fmt: skip
# What did not happen is named by all that it was.
_DISPATCH_COPIED = (
    "lot", "code", "product", "product_name", "dispatched_at", "consignee", "address", "phone", "email", "carrier",
    "packed_as", "quantity_typed", "quantity", "unit", "note",
)  # fmt: skip
_STEP_COPIED = (
    "recall", "what", "happened_at", "consignee", "code", "quantity_typed", "quantity", "unit", "words", "lots",
)  # fmt: skip
_BEGUN_SAID = ("mock", "reason", "origin")
_STEP_SAID = (
    "recall", "what", "happened_at", "consignee", "code", "quantity_typed", "unit", "words", "amends", "amend_reason",
    "void",
)  # fmt: skip


# --- dispatch


def dispatch(by: Actor, data: DispatchData) -> Dispatch:
    """Keep what left the plant; with `leaves_now` a hold on it refuses, and nothing is written.

    The same form again gives the row that it saved. Raises Several for the holds, Refused beside its field,
    DifferentContent for the same form with other content.
    """
    at = clock.now() if data.leaves_now else data.dispatched_at
    in_force = plan_at(at)
    row = _dispatch_row(data, at, in_force)
    with act(by) as a:
        saved = Dispatch.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            if not data.leaves_now and saved.dispatched_at != row.dispatched_at:
                row.code = ""  # another time is other content
            return same_or_different(saved, row, _DISPATCH_SAID, by)
        against = held_lots_at(a.now).get(row.lot, [])
        not_released = _not_released(row, row.dispatched_at)
        if data.leaves_now and (against or not_released):
            raise Several([*(_held_words(row, one) for one in dict.fromkeys(against)), *not_released])
        if data.leaves_now and (why := against_stock(row)):
            raise Several([why])
        return _kept(a, row, in_force)


def amend_dispatch(by: Actor, number: int, data: DispatchData, reason: str, void: bool = False) -> Dispatch:
    """A successor of a dispatch, at most one; `void` says that it did not leave."""
    old = Dispatch.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such dispatch."))
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "reason")
    in_force = plan_at(data.dispatched_at)
    row = _dispatch_row(data, data.dispatched_at, in_force)
    if void:
        row = Dispatch(form_id=data.form_id, **{name: getattr(old, name) for name in _DISPATCH_COPIED})
    row.amends, row.amend_reason, row.void = number, reason.strip(), void
    with act(by) as a:
        saved = Dispatch.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _DISPATCH_SAID, by)
        if why_not := may_amend_row(by, old):
            raise Refused(why_not)
        if Dispatch.objects.filter(amends=number).exists():
            raise Refused(_("It was amended already: amend the latest."))
        return _kept(a, row, in_force)


def _dispatch_row(data: DispatchData, at: datetime, in_force: InForce) -> Dispatch:
    not_ahead(at, "dispatched_at")
    lot = lot_of(data.code, clock.now().year)
    if lot is None or lot.code is None or lot.origin != PACK:
        raise Refused(_("No lot of that code was packed."), "code")
    for name, words in (("consignee", data.consignee), ("address", data.address)):
        if not words.strip():
            raise Refused(_("Write a few words here."), name)
    return Dispatch(
        form_id=data.form_id, lot=lot.id, code=lot.code, product=lot.product, product_name=lot.product_name,
        dispatched_at=at, consignee=data.consignee.strip(), address=data.address.strip(), phone=data.phone.strip(),
        email=data.email.strip(), carrier=data.carrier.strip(), packed_as=data.packed_as.strip(), note=data.note,
        **quantity_of(data.quantity_typed, data.unit, in_force),
    )  # fmt: skip


def quantity_of(typed: str, unit: str, in_force: InForce) -> dict[str, Any]:
    quantity = typed_number(typed, in_force, "quantity")
    if quantity is not None and unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    return {"quantity_typed": typed, "quantity": quantity, "unit": unit if quantity is not None else ""}


def _kept(a: Act, row: Dispatch, in_force: InForce) -> Dispatch:
    a.write(row, observed_at=row.dispatched_at)
    if not row.void:
        # As it stood when it left, and as it stands now: what is written down late may have been decided meanwhile.
        moments = (row.dispatched_at, a.now)
        held = [one for at in moments for one in held_lots_at(at).get(row.lot, [])]
        with in_force.speaking():
            not_released = [one for at in moments for one in _not_released(row, at)]
        for reason in dict.fromkeys([*held, *not_released]):
            left_while_held(a, row, reason, in_force)
            break
        else:
            if why := against_stock(row):
                left_while_held(a, row, why, in_force)
    return row


def _held_words(row: Dispatch, reason: str) -> str:
    return _("%(code)s is on hold: %(why)s") % {"code": row.code, "why": reason}


def _not_released(row: Dispatch, at: datetime) -> list[str]:
    """What two people had signed by then instead of a release; what goes to another use leaves with words of it."""
    signed = disposed.signed_for(at).get(row.lot, [])
    asked = _("It leaves for another use: write in the note which, and who takes it for that.")
    found = [one.sentence for one in signed if one.what != OTHER_USE or not row.note.strip()]
    return found + [asked for one in signed if one.what == OTHER_USE and not row.note.strip()][:1]


def left_while_held(a: Act, row: Dispatch, reason: str, in_force: InForce) -> Deviation:
    """The deviation of product that is held and has left: at once, or when a hold reaches it later. Inside `act`."""
    with in_force.speaking():
        sentence = _("%(code)s went to %(who)s and is on hold: %(why)s") % {
            "code": row.code, "who": row.consignee, "why": reason,
        }  # fmt: skip
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=HELD,
        subject=row.code[:40],
        cause="legal rule",
        found=Cause(Dispatch.KIND, row.number, row.dispatched_at, sentence),
        since_at=row.dispatched_at,
        foreseen=False,
    )
    return deviation


def dispatched_and_held(held: dict[Any, list[str]]) -> list[tuple[Dispatch, str]]:
    """What left, is held at this moment, and is in no deviation for it yet."""
    found = list(standing().filter(lot__in=list(held)).order_by("number"))
    known = set(
        DeviationCause.objects.filter(
            cause_kind=Dispatch.KIND, cause_number__in=[one.number for one in found]
        ).values_list("cause_number", flat=True)
    )
    return [(one, held[one.lot][0]) for one in found if one.number not in known]


def may_amend_row(by: Actor, row: Dispatch | ProductReturned | RecallStep) -> str:
    """Empty when the person may amend it, else the sentence that says who may."""
    return may_amend(by, row, is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at)))


# --- recall


def begin_recall(by: Actor, data: RecallData) -> RecallBegun:
    """A recall or rehearsal begun, with the scope as it is computed now."""
    now = clock.now()
    not_ahead(data.begun_at, "begun_at")
    if not data.reason.strip():
        raise Refused(_("Write why."), "reason")
    in_force = plan_at(now)
    begun = origins.begin(data.asked, in_force, now)
    with in_force.speaking():
        found = scope(begun.start, in_force, now)
        words = origins.begin(data.asked, in_force, now).words
    row = RecallBegun(
        form_id=data.form_id, mock=data.mock, reason=data.reason.strip(), begun_at=data.begun_at,
        origin=asked_json(data.asked, now), origin_words=words, lots=lots_json(found),
    )  # fmt: skip
    with act(by) as a:
        saved = RecallBegun.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            if data.asked.until is None and "until" in saved.origin:
                row.origin["until"] = saved.origin["until"]
            return same_or_different(saved, row, _BEGUN_SAID, by)
        return a.write(row, observed_at=row.begun_at)


def lots_json(found: RecallScope) -> list[dict[str, Any]]:
    """The lots of a scope as a record keeps them: texts alone."""
    return lots_of(found.lots)


def lots_of(lots: Sequence[Affected]) -> list[dict[str, Any]]:
    """These lots as a record keeps them."""
    return [_lot_json(one) for one in lots if one.lot is not None]


def _lot_json(one: Affected) -> dict[str, Any]:
    return {
        "lot": str(one.lot),
        "label": one.label,
        "code": _code_of(one) if one.packs else "",
        "made": _text(one.account.made),
        "unit": one.account.unit,
        "sent": [
            {"to": sent.to, "quantity": _text(sent.quantity), "unit": sent.unit}
            for sent in one.sent
            if sent.is_recipient
        ],
    }


def _code_of(one: Affected) -> str:
    lot = Lot.objects.filter(id=one.lot).first() if one.lot is not None else None
    return (lot.code if lot is not None else None) or ""


def _text(value: Any) -> str:
    if value is None:
        return ""
    exact = value if isinstance(value, Decimal) else Decimal(value.numerator) / Decimal(value.denominator)
    return format(round(exact, 4).normalize(), "f")


def record_step(by: Actor, data: StepData) -> RecallStep:
    """One thing done in a recall. The same form again gives the row that it saved."""
    recall = state.recall_of(data.recall)
    row = _step_row(data, recall)
    with act(by) as a:
        saved = RecallStep.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _STEP_SAID, by)
        if RecallEnded.objects.filter(recall=data.recall).exists() and recall is not None and recall.begun.mock:
            raise Refused(_("This rehearsal is ended: nothing is added to it."))
        return a.write(row, observed_at=row.happened_at)


def amend_step(by: Actor, number: int, data: StepData, reason: str, void: bool = False) -> RecallStep:
    """A successor of a step, at most one; `void` says that it did not happen."""
    old = RecallStep.objects.filter(number=number).first()
    if old is None or old.what not in STEPS:
        raise Refused(_("There is no such step."))
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "reason")
    if old.part is not None:
        raise Refused(_("It was recorded with what came back: amend that, and this follows."))
    data = replace(data, recall=old.recall, what=old.what)
    row = _step_row(data, state.recall_of(old.recall))
    if void:
        row = RecallStep(form_id=data.form_id, **{name: getattr(old, name) for name in _STEP_COPIED})
    row.amends, row.amend_reason, row.void = number, reason.strip(), void
    with act(by) as a:
        saved = RecallStep.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _STEP_SAID, by)
        if why_not := may_amend_row(by, old):
            raise Refused(why_not)
        if RecallStep.objects.filter(amends=number).exists():
            raise Refused(_("It was amended already: amend the latest."))
        return a.write(row, observed_at=row.happened_at)


def _step_row(data: StepData, recall: state.Recall | None) -> RecallStep:
    if recall is None:
        raise Refused(_("There is no such recall."))
    if data.what not in (REHEARSED if recall.begun.mock else STEPS):
        raise Refused(_("That is no step of it."), "what")
    not_ahead(data.happened_at, "happened_at")
    if data.happened_at < recall.begun.begun_at:
        raise Refused(_("This is before it was begun."), "happened_at")
    if data.what in WITH_CONSIGNEE and not data.consignee.strip():
        raise Refused(_("Write a few words here."), "consignee")
    quantity: dict[str, Any] = {}
    if data.what in WITH_QUANTITY:
        quantity = _counted(data, recall, plan_at(data.happened_at))
    elif not data.words.strip():
        raise Refused(_("Write a few words here."), "words")
    return RecallStep(
        form_id=data.form_id, recall=recall.number, what=data.what, happened_at=data.happened_at,
        consignee=data.consignee.strip(), code=data.code if quantity else "", words=data.words, **quantity,
    )  # fmt: skip


def _counted(data: StepData, recall: state.Recall, in_force: InForce) -> dict[str, Any]:
    pack = next((one for one in recall.packs if one.code == data.code), None)
    if pack is None:
        raise Refused(_("These packs are not in its scope."), "code")
    found = quantity_of(data.quantity_typed, data.unit, in_force)
    if found["quantity"] is None:
        raise Refused(_("Enter a number."), "quantity")
    if pack.unit and in_unit((found["quantity"], data.unit), pack.unit) is None:
        words = {"unit": pack.unit}
        raise Refused(_("It was made in %(unit)s: count it in a unit that can be compared.") % words, "unit")
    return found


def end_recall(by: Actor, data: EndData) -> RecallEnded:
    """The end, once: its outcome, its minutes, what was accounted for, and what was still missing then."""
    recall = state.recall_of(data.recall)
    if recall is None:
        raise Refused(_("There is no such recall."))
    not_ahead(data.ended_at, "ended_at")
    last = max([recall.begun.begun_at, *(one.happened_at for one in recall.steps)])
    if not data.outcome.strip():
        raise Refused(_("Write the outcome."), "outcome")
    with act(by) as a:
        saved = RecallEnded.objects.filter(recall=data.recall).first()
        if saved is not None and saved.form_id != data.form_id:
            raise Refused(_("It is ended already."))
        row = RecallEnded(
            form_id=data.form_id, recall=data.recall, ended_at=data.ended_at, outcome=data.outcome.strip(), minutes=0
        )
        if saved is not None:
            return same_or_different(saved, row, ("recall", "ended_at", "outcome"), by)
        if data.ended_at < last:
            raise Refused(_("Something of it happened after that time."), "ended_at")
        account = state.accounted(recall)
        row.minutes = int((data.ended_at - recall.begun.begun_at).total_seconds() // 60)
        row.made, row.accounted = _rounded(account.made), _rounded(account.accounted)
        row.unit, row.percent = account.unit, _rounded(account.percent, 2)
        with plan_at(data.ended_at).speaking():
            row.why_none = state.accounted(recall).why_none
            row.missing = [one.words for one in state.needed(recall) if not one.done][:-1]
        return a.write(row, observed_at=row.ended_at)


def _rounded(value: Any, places: int = 4) -> Decimal | None:
    return None if value is None else round(Decimal(value.numerator) / Decimal(value.denominator), places)


__all__ = [
    "amend_dispatch",
    "amend_step",
    "begin_recall",
    "dispatch",
    "dispatched_and_held",
    "end_recall",
    "left_while_held",
    "lots_json",
    "lots_of",
    "may_amend_row",
    "quantity_of",
    "record_step",
]
