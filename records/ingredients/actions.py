"""The acts on ingredients: a supplier approved, a lot received, opened, used, used up.

What has not happened and may not is refused with every reason; what has happened is kept, with its consequence.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.flow.common import plan_at, typed_number
from records.flow.consequences import follow
from records.flow.errors import Refused, Several
from records.flow.finding import Finding
from records.ingredients import keeping, queries
from records.ingredients.data import UNITS, WHAT, ApprovalData, ReceivedData, StockData
from records.ingredients.keeping import K
from records.ingredients.models import (
    OPENED,
    THROWN_AWAY,
    USED,
    USED_UP,
    IngredientReceived,
    StockEvent,
    SupplierApproval,
)
from records.ledger import files
from records.ledger.actions import Act, Actor, act
from records.ledger.models import FileKept
from records.people.plans import InForce

EVENTS = (OPENED, USED, USED_UP, THROWN_AWAY)
POINT = "ingredients"


def approve_supplier(by: Actor, data: ApprovalData) -> SupplierApproval:
    """Approve a supplier for an item until a day. Raises Refused beside the field, DifferentContent."""
    in_force = plan_at(data.at)
    row = SupplierApproval(
        supplier=keeping.text(data.supplier, "supplier", 120),
        item=keeping.text(data.item, "item", 120),
        hazard=keeping.text(data.hazard, "hazard"),
        grounds=keeping.text(data.grounds, "grounds"),
        until=data.until,
        **keeping.common(data),
    )
    if row.until < in_force.calendar.local(data.at).date() and row.amends is None:
        raise Refused(_("This is before the approval begins."), "until")
    with act(by) as a:
        return keeping.write(a, by, row)[0]


def receive(by: Actor, data: ReceivedData) -> IngredientReceived:
    """Keep a lot as it came. One accepted from a supplier who is not approved, or expired, leads to a deviation."""
    in_force = plan_at(data.at)
    if data.what not in WHAT:
        raise Refused(_("Choose one of the list."), "what")
    if data.unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    row = IngredientReceived(
        what=data.what,
        item=keeping.text(data.item, "item", 120),
        supplier=keeping.text(data.supplier, "supplier", 120),
        supplier_lot=keeping.text(data.supplier_lot, "supplier_lot", 80),
        quantity_typed=data.quantity.strip(),
        quantity=keeping.number(data.quantity, "quantity", in_force),
        unit=data.unit,
        best_by=data.best_by,
        certificate=data.certificate.sha256 if data.certificate else "",
        allergens=[one.strip() for one in data.allergens if one.strip()],
        condition=keeping.text(data.condition, "condition"),
        accepted=data.accepted,
        refused_why=keeping.text(data.refused_why, "refused_why", needed=not data.accepted),
        **keeping.common(data),
    )
    approval = queries.approval_at(row.item, row.supplier, data.at, in_force)
    row.approval = approval.number if approval else None
    with act(by) as a:
        if data.certificate and not FileKept.objects.filter(sha256=row.certificate).exists():
            files.note(a, row.certificate, data.certificate.name, data.certificate.mime)
        row, fresh = keeping.write(a, by, row, not_said=frozenset({"approval"}))
        if fresh and row.accepted and not row.void:
            with in_force.speaking():
                why = queries.against(row, data.at, in_force)
            words = {"item": row.item, "lot": row.supplier_lot, "why": "; ".join(why)}
            with in_force.speaking():
                said = _("%(item)s, lot %(lot)s was accepted although: %(why)s") % words
            printed = f"{row.item} {row.supplier_lot}"
            held_for(a, row, in_force, [said] if why else [], keeping.first_of(row).id, printed)
    return row


def say(by: Actor, data: StockData) -> StockEvent:
    """A lot opened, used, used up or thrown away, by itself."""
    if data.what not in EVENTS:
        raise Refused(_("Choose one of the list."), "what")
    at = clock.now() if data.begins_now else data.at
    in_force = plan_at(at)
    lot = the_lot(data.received)
    row = _event(data, lot, in_force)
    with act(by) as a:
        if data.begins_now and data.what in (OPENED, USED):
            refuse_use(lot, at, in_force)
        return write_use(a, by, row, lot, in_force)


def the_lot(number: int) -> IngredientReceived:
    """The lot of a number as it stands; Refused beside its field where there is none."""
    lot = queries.lot_of(number)
    if lot is None:
        raise Refused(_("There is no such lot. Record it as received first."), "received")
    return lot


def refuse_use(lot: IngredientReceived, at: datetime, in_force: InForce) -> None:
    """Several, with all that stands against using a lot that has not been used yet."""
    if why := queries.against(lot, at, in_force):
        raise Several(why)


def _event(data: StockData, lot: IngredientReceived, in_force: InForce) -> StockEvent:
    amount: Decimal | None = typed_number(data.amount.strip(), in_force, "amount")
    if data.what == USED and amount is None:
        raise Refused(_("Enter a number."), "amount")
    if amount is not None and data.unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    return StockEvent(
        received=keeping.first_of(lot).number,
        item=lot.item,
        supplier_lot=lot.supplier_lot,
        what=data.what,
        amount_typed=data.amount.strip(),
        amount=amount,
        unit=data.unit if amount is not None else "",
        into=keeping.text(data.into, "into", 160, needed=data.what == USED),
        **keeping.common(data),
    )


def write_use(
    a: Act, by: Actor, row: StockEvent, lot: IngredientReceived, in_force: InForce,
    vessel_lot: UUID | None = None, lot_label: str = "", vessel: str = "",
) -> StockEvent:  # fmt: skip
    """Keep a use inside an act. What stood against it opens a deviation and holds the lot that it went into."""
    with in_force.speaking():
        why = queries.against(lot, row.observed_at, in_force) if row.what in (OPENED, USED) and not row.void else []
    row, fresh = keeping.write(a, by, row)
    if fresh:
        held_for(a, row, in_force, why, vessel_lot, lot_label, vessel)
    return row


def held_for(
    a: Act, row: K, in_force: InForce, why: list[str], lot: UUID | None, lot_label: str, vessel: str = "",
    *, topic: str = POINT, subject: str = "", weight: str = "safety",
) -> None:  # fmt: skip
    """A deviation for each sentence, at the plan's control point of supply, and a hold on the lot it reached."""
    key = point_of_supply(in_force) if topic == POINT else topic
    found = [
        Finding(key, subject or str(getattr(row, "item", ""))[:40], one, "legal rule", weight, holds=lot is not None)
        for one in why
    ]
    follow(a, found, row, in_force, since_at=row.observed_at, lot=lot, lot_label=lot_label[:120], vessel=vessel)


def point_of_supply(in_force: InForce) -> str:
    """The plan's control point of the supply chain that stands at the receiving of ingredients; else a topic."""
    of_kind = [one for one in in_force.plan.control_points if one.kind == "supply-chain"]
    named = [one for one in of_kind if "ingredient" in one.key]
    return next((one.key for one in [*named, *of_kind]), POINT)
