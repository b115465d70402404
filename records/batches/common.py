"""What the acts of batches share: places and products of the plan, allergens, the movement of what went in."""

from __future__ import annotations

import uuid
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ProductDef
from records.flow.actions import MovementData, amend_movement, record_movement
from records.flow.choices import holders, product_of
from records.flow.common import label, lot_by_id
from records.flow.errors import Refused, Several
from records.flow.models import Movement
from records.flow.moving import what_bars
from records.flow.queries import contents_at
from records.ingredients import queries
from records.ingredients.models import IngredientReceived, StockEvent
from records.ledger.actions import Actor
from records.people.plans import InForce


def place_named(code: str, in_force: InForce, field: str = "place") -> str:
    """The name of a vessel that holds product; Refused beside its field."""
    names = dict(holders(in_force.plan))
    if code not in names:
        raise Refused(_("The plan knows no such vessel that holds product."), field)
    return names[code]


def product_named(code: str, in_force: InForce) -> ProductDef:
    """The product of a code; Refused beside its field."""
    product = product_of(in_force, code)
    if product is None:
        raise Refused(_("The plan knows no such product."), "product")
    return product


def allergens_against(lot: IngredientReceived, product: ProductDef) -> list[str]:
    """Each allergen of a lot that the product does not declare, in a sentence."""
    declared = {one.strip().lower() for one in product.allergens}
    return [
        _("%(item)s, lot %(lot)s has %(allergen)s, which %(product)s does not declare")
        % {"item": lot.item, "lot": lot.supplier_lot, "allergen": one, "product": product.name}
        for one in lot.allergens
        if one.strip().lower() not in declared
    ]


def went_in(
    form_id: UUID, at: datetime, source: str, outside: str, place: str, product: str, amount: str, unit: str
) -> MovementData:
    """The movement of what was weighed into a vessel, from a vessel or from outside."""
    if source:
        held = contents_at(at, [source]).get(source)
        product = held.product if held is not None and held.product else product
    return MovementData(
        form_id=uuid.uuid5(form_id, "movement"), source=source, source_name=outside[:120], target=place,
        product=product, started_at=at, ended_at=at, quantity_typed=amount, unit=unit, measured_by="mass",
    )  # fmt: skip


def refuse(
    lot: IngredientReceived | None, more: list[str], moved: MovementData | None, at: datetime, in_force: InForce
) -> None:
    """Several, with all that stands against what has not happened yet."""
    why = [*(queries.against(lot, at, in_force) if lot is not None else []), *more]
    if moved is not None:
        why += what_bars(moved)
    if why:
        raise Several(why)


def keep_movement(by: Actor, moved: MovementData, before: int | None, reason: str, *, void: bool) -> Movement:
    """The movement recorded, or the one that stands for `before` amended. Raises as the acts of the flow."""
    if before is None:
        return record_movement(by, moved)
    number = before
    while (later := Movement.objects.filter(amends=number).values_list("number", flat=True).first()) is not None:
        number = later
    return amend_movement(by, number, moved, reason, void)


def lot_reached(moved: Movement, in_force: InForce) -> tuple[UUID | None, str]:
    """The lot that a movement went into, and its printed name."""
    return moved.target_lot, label(lot_by_id(moved.target_lot), in_force)


def latest_stock(number: int | None) -> int | None:
    """The use that stands for one of before."""
    while number is not None:
        later = StockEvent.objects.filter(amends=number).values_list("number", flat=True).first()
        if later is None:
            return number
        number = later
    return None
