"""The acts of returned product: kept as it came, on hold as a lot of its own, and never back by itself."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from plant import clock
from records.deviations.holds import place_on_hold
from records.deviations.queries import open_holds
from records.flow.common import PACK, not_ahead, plan_at, same_or_different, typed_number
from records.flow.errors import Refused
from records.flow.lineage import lots_upstream
from records.flow.queries import label_of
from records.ledger.actions import Act, Actor, act
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall import linked
from records.recall.actions import may_amend_row, quantity_of
from records.recall.codes import lot_of
from records.recall.data import ReturnData
from records.recall.models import ProductReturned
from records.recall.returned import ORIGIN

# What two people could never release of the lot, they cannot release of a part that came back either.
BARS = ("pasteurization", "residue", "laboratory")
# A product that came back is neither colder nor warmer than this; °C and °F.
POSSIBLE = {"°C": (Decimal(-50), Decimal(90)), "°F": (Decimal(-58), Decimal(194))}
_SAID = (
    "lot", "code", "returned_at", "consignee", "quantity_typed", "unit", "temperature_typed", "condition", "reason",
    "kept_where", "note", "amends", "amend_reason", "void",
)  # fmt: skip
_COPIED = (
    "lot", "part", "code", "product", "product_name", "returned_at", "consignee", "quantity_typed", "quantity", "unit",
    "temperature_typed", "temperature", "temperature_unit", "condition", "reason", "kept_where", "note",
)  # fmt: skip


def take_back(by: Actor, data: ReturnData) -> ProductReturned:
    """Keep what came back, and hold it as a lot of its own. The same form again gives the row that it saved."""
    in_force = plan_at(data.returned_at)
    row = _row(data, in_force)
    linked.why_not(row, data.recall)
    with act(by) as a:
        saved = ProductReturned.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _SAID, by)
        name = f"{row.code}, {row.consignee}"[:120]
        part = Lot(
            origin=ORIGIN, code=None, vessel="", vessel_name=name, product=row.product, product_name=row.product_name
        )
        row.part = a.write(part, observed_at=row.returned_at).id
        a.write(row, observed_at=row.returned_at)
        _hold(a, row, part, in_force)
        linked.write(a, row, data.recall)
        return row


def amend_return(by: Actor, number: int, data: ReturnData, reason: str, void: bool = False) -> ProductReturned:
    """A successor of a return, at most one; `void` says that it did not come back. The hold stays either way."""
    old = ProductReturned.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such return."))
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "amend_reason")
    row = ProductReturned(form_id=data.form_id, **{name: getattr(old, name) for name in _COPIED})
    if not void:
        row = _row(data, plan_at(data.returned_at))
        row.part = old.part
        if row.lot != old.lot:
            words = _("Another code is another return: say that this one did not happen, and record that one.")
            raise Refused(words, "code")
    row.amends, row.amend_reason, row.void = number, reason.strip(), void
    linked.why_not(row, data.recall)
    with act(by) as a:
        saved = ProductReturned.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _SAID, by)
        if why_not := may_amend_row(by, old):
            raise Refused(why_not)
        if ProductReturned.objects.filter(amends=number).exists():
            raise Refused(_("It was amended already: amend the latest."))
        a.write(row, observed_at=row.returned_at)
        linked.write(a, row, data.recall)
        return row


def _row(data: ReturnData, in_force: InForce) -> ProductReturned:
    not_ahead(data.returned_at, "returned_at")
    lot = lot_of(data.code, clock.now().year)
    if lot is None or lot.code is None or lot.origin != PACK:
        raise Refused(_("No lot of that code was packed."), "code")
    if data.returned_at < lot.observed_at:
        raise Refused(_("This is before it was packed."), "returned_at")
    for name in ("consignee", "condition", "reason", "kept_where"):
        if not getattr(data, name).strip():
            raise Refused(_("Write a few words here."), name)
    temperature = typed_number(data.temperature_typed, in_force, "temperature")
    unit = "°" + in_force.plan.plant.temperature_unit.removeprefix("°")
    if typed_number(data.quantity_typed, in_force, "quantity") == 0:
        raise Refused(_("Nothing cannot come back: write how much, or that it is not known."), "quantity")
    low, high = POSSIBLE[unit]
    if temperature is not None and not low <= temperature <= high:
        raise Refused(_("No product comes back at this temperature: is it a slip?"), "temperature")
    return ProductReturned(
        form_id=data.form_id, lot=lot.id, code=lot.code, product=lot.product, product_name=lot.product_name,
        returned_at=data.returned_at, consignee=data.consignee.strip(), condition=data.condition.strip(),
        reason=data.reason.strip(), kept_where=data.kept_where.strip(), note=data.note,
        temperature_typed=data.temperature_typed, temperature=temperature,
        temperature_unit=unit if temperature is not None else "",
        **quantity_of(data.quantity_typed, data.unit, in_force),
    )  # fmt: skip


def _hold(a: Act, row: ProductReturned, part: Lot, in_force: InForce) -> None:
    before = {row.lot, *lots_upstream(row.lot)}
    bars = open_holds().filter(lot__in=before, bars_release__in=BARS).values_list("bars_release", flat=True)
    with in_force.speaking():
        reason = _("came back from %(who)s: %(why)s") % {"who": row.consignee, "why": row.reason}
        label = label_of(part, in_force)[:120]
    for bar in sorted(set(bars)) or [""]:
        place_on_hold(
            a, lot=part.id, lot_label=label, vessel="", since_at=row.returned_at, reason=reason, bars_release=bar
        )
