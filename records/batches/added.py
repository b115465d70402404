"""Vitamins and flavors: what went in, what it comes to, and why it may."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process import vitamins
from plant.process.errors import CalculationError
from plant.process.said import again
from plant.process.units import rounded
from records.batches import actions, common, second
from records.batches.data import FlavorData, VitaminData
from records.batches.models import FlavorAdded, VitaminAdded
from records.batches.words import WHY_UNHEATED
from records.flow.choices import is_line, vessel_of
from records.flow.common import label, lot_by_id, name_of, plan_at
from records.flow.data import UNITS
from records.flow.errors import Refused
from records.flow.queries import lot_in
from records.ingredients import keeping
from records.ingredients.actions import held_for, the_lot
from records.ledger.actions import Actor, act
from records.people.plans import InForce

MOST_IU = Decimal(10) ** 10  # what a record holds; thousands of times what any milk is given
VITAMIN_POINT, FLAVOR_POINT = "vitamins", "flavors after pasteurization"
QUANTITY = {"A": "vitamin A, IU per quart", "D": "vitamin D, IU per quart"}


def limits_of(vitamin: str, in_force: InForce) -> tuple[Decimal | None, Decimal | None, str]:
    """Least and most IU a quart with the clause: the plan's limit on that quantity, else the rule's own row."""
    row = vitamins.ROWS[vitamin]
    mine = next((one for one in in_force.plan.limits if one.quantity == QUANTITY[vitamin]), None)
    if mine is None:
        return row.low, row.high, row.clause
    low = max(Decimal(mine.low), row.low) if mine.low else row.low  # stricter than the law, never laxer
    high = min(Decimal(mine.high), row.high) if mine.high else row.high
    return low, high, f"{mine.clause}; {row.clause}"[:300]


def add_vitamin(by: Actor, data: VitaminData) -> VitaminAdded:
    """A concentrate used for milk: IU a quart, a deviation when over or under. Raises Refused, DifferentContent."""
    at = actions.moment_of(data.begins_now, data.at)
    in_force = plan_at(at)
    if data.vitamin not in vitamins.ROWS:
        raise Refused(_("Choose one of the list."), "vitamin")
    line = is_line(in_force.plan, data.place)
    name = name_of(in_force, data.place) if line else common.place_named(data.place, in_force)
    product = common.product_named(data.product, in_force)
    lot = the_lot(data.received)
    row = VitaminAdded(
        vitamin=data.vitamin, place=data.place, place_name=name, product=product.code, product_name=product.name,
        received=data.received, supplier_lot=lot.supplier_lot, milk_unit=data.milk_unit,
        **_typed(data, in_force), **keeping.common(data),
    )  # fmt: skip
    try:
        iu = vitamins.iu_per_quart(row.strength, row.amount, row.milk, row.milk_unit)
    except CalculationError as error:
        raise Refused(again(error.sentence, _)) from error
    row.low, row.high, row.clause = limits_of(data.vitamin, in_force)
    row.iu_per_quart = rounded(iu, 4)
    if row.iu_per_quart >= MOST_IU:
        raise Refused(_("That much cannot be: look at the strength and its unit."), "strength")
    with act(by) as a:
        if (saved := VitaminAdded.objects.filter(form_id=data.form_id).first()) is not None:
            row.observed_at = saved.observed_at if data.begins_now else row.observed_at
            said_by_book = frozenset({"stock", "supplier_lot", "low", "high", "clause"})
            saved, _new = keeping.write(a, by, row, not_said=said_by_book)
            second.check_again(saved, data.scanned)
            return saved
        row.observed_at = at
        before = _before(VitaminAdded, by, row)
        if data.begins_now:
            common.refuse(lot, [], None, at, in_force)
        reached = None if line else lot_in(data.place, at)
        printed = label(lot_by_id(reached), in_force)
        row.stock = actions.used(
            a, by, row, lot, f"{row.amount:f}", "mL", before.stock if before else None, in_force, reached, printed
        )  # fmt: skip
        a.write(row, observed_at=at)
        second.scanned(a, row, data.scanned, lot)
        with in_force.speaking():
            why = _vitamin_why(row, vitamins.fault(iu, row.low, row.high))
        if not row.void:
            held_for(
                a, row, in_force, why, reached, printed, row.place, topic=VITAMIN_POINT, subject=row.place,
                weight="legal",
            )  # fmt: skip
    return row


def _typed(data: VitaminData, in_force: InForce) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in ("strength", "amount", "milk"):
        typed = getattr(data, name).strip()
        found |= {f"{name}_typed": typed, name: keeping.number(typed, name, in_force)}
    return found


def _vitamin_why(row: VitaminAdded, fault: str) -> list[str]:
    words = {
        "vitamin": row.vitamin, "iu": f"{row.iu_per_quart:.0f}", "clause": row.clause,
        "low": f"{row.low or 0:.0f}", "high": f"{row.high or 0:.0f}",
    }  # fmt: skip
    if fault == "low":
        return [_("Vitamin %(vitamin)s: %(iu)s IU a quart, at least %(low)s (%(clause)s)") % words]
    if fault == "high":
        return [_("Vitamin %(vitamin)s: %(iu)s IU a quart, at most %(high)s (%(clause)s)") % words]
    return []


def _before(model: Any, by: Actor, row: Any) -> Any:
    if row.amends is None:
        return None
    keeping.check_amendment(model, by, row.amends, row.amend_reason)
    return model.objects.get(number=row.amends)


def add_flavor(by: Actor, data: FlavorData) -> FlavorAdded:
    """An ingredient into pasteurized product. Without a reason why it may go in unheated it is refused beforehand."""
    at = actions.moment_of(data.begins_now, data.at)
    in_force = plan_at(at)
    place = vessel_of(in_force, data.place)
    name = common.place_named(data.place, in_force)
    if place is None or place.stage == "raw":
        raise Refused(_("This vessel holds raw product: use a batch sheet, it is pasteurized afterwards."), "place")
    product = common.product_named(data.product, in_force)
    if data.unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    if data.why and data.why not in WHY_UNHEATED:
        raise Refused(_("Choose one of the list."), "why")
    lot = the_lot(data.received)
    row = FlavorAdded(
        place=data.place, place_name=name, product=product.code, product_name=product.name, received=data.received,
        item=lot.item, supplier_lot=lot.supplier_lot, amount_typed=data.amount.strip(),
        amount=keeping.number(data.amount, "amount", in_force), unit=data.unit, why=data.why,
        why_words=keeping.text(data.why_words, "why_words", needed=bool(data.why)), **keeping.common(data),
    )  # fmt: skip
    with act(by) as a:
        if (saved := FlavorAdded.objects.filter(form_id=data.form_id).first()) is not None:
            row.observed_at = saved.observed_at if data.begins_now else row.observed_at
            said_by_book = frozenset({"movement", "stock", "item", "supplier_lot"})
            saved, _new = keeping.write(a, by, row, not_said=said_by_book)
            second.check_again(saved, data.scanned)
            return saved
        row.observed_at = at
        before = _before(FlavorAdded, by, row)
        outside = f"{lot.item} {lot.supplier_lot}"
        moved = common.went_in(
            row.form_id, at, "", outside, row.place, row.product, f"{row.amount:f}", row.unit
        )  # fmt: skip
        why = [*_flavor_why(row), *common.allergens_against(lot, product)]
        if data.begins_now:
            common.refuse(lot, why, moved, at, in_force)
        movement = common.keep_movement(by, moved, before.movement if before else None, row.amend_reason, void=row.void)
        row.movement = movement.number
        reached: tuple[UUID | None, str] = common.lot_reached(movement, in_force)
        stock = before.stock if before else None
        row.stock = actions.used(a, by, row, lot, f"{row.amount:f}", row.unit, stock, in_force, *reached)
        a.write(row, observed_at=at)
        second.scanned(a, row, data.scanned, lot)
        if not row.void:
            held_for(a, row, in_force, why, *reached, row.place, topic=FLAVOR_POINT, subject=row.place)
    return row


def _flavor_why(row: FlavorAdded) -> list[str]:
    """No reason is no permission: after pasteurization nothing kills what an ingredient brings."""
    if row.why:
        return []
    words = {"item": row.item, "place": row.place_name}
    return [
        _(
            "%(item)s into %(place)s, which is pasteurized: no reason is given why it may go in unheated"
            " (21 CFR 1240.61, 135.3; the plan)"
        )
        % words
    ]
