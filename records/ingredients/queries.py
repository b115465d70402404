"""What is on hand, what stands against using a lot, which approval holds. A few queries, whatever the past holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.process.units import UnitError, exact, rounded
from records.deviations.queries import open_holds, open_holds_of
from records.ingredients.keeping import first_of, latest_of, standing
from records.ingredients.models import OPENED, THROWN_AWAY, USED_UP, IngredientReceived, StockEvent, SupplierApproval
from records.people.plans import InForce

MOST = 400


@dataclass(frozen=True, slots=True)
class OnHand:
    """A lot on the shelf: `left` in the unit it came in, None where its uses were in units that do not convert.

    `number` is that of its first record; `against` what stands against using it now.
    """

    row: IngredientReceived
    number: int
    left: Decimal | None
    opened: bool
    gone: bool
    against: tuple[str, ...]


def approval_at(item: str, supplier: str, moment: datetime, in_force: InForce) -> SupplierApproval | None:
    """The approval of a supplier for an item that holds at a moment."""
    day = in_force.calendar.local(moment).date()
    rows = SupplierApproval.objects.filter(
        item__iexact=item.strip(), supplier__iexact=supplier.strip(), observed_at__lte=moment, until__gte=day
    )
    return standing(rows).order_by("-number").first()


def events_of(numbers: Iterable[int]) -> dict[int, list[StockEvent]]:
    """What became of lots, by the number of their first record."""
    found: dict[int, list[StockEvent]] = defaultdict(list)
    for one in standing(StockEvent.objects.filter(received__in=list(numbers))).order_by("observed_at", "number"):
        found[one.received].append(one)
    return found


def left_of(row: IngredientReceived, events: Iterable[StockEvent]) -> Decimal | None:
    """What the book says is left, in the unit it came in; None where that cannot be said."""
    left: Decimal = row.quantity
    for one in events:
        if one.what in (USED_UP, THROWN_AWAY) and one.amount is None:
            return Decimal(0)
        if one.amount is None:
            continue
        try:
            left -= one.amount if one.unit == row.unit else rounded(exact(one.amount, one.unit, row.unit), 6)
        except (UnitError, KeyError):
            return None
    return left


def against(row: IngredientReceived, moment: datetime, in_force: InForce) -> list[str]:
    """What stands against using a lot at a moment, each in a sentence; nothing here says that it is safe."""
    number = first_of(row).number
    approved = approval_at(row.item, row.supplier, moment, in_force) is not None
    events = [one for one in events_of([number])[number] if one.observed_at <= moment]
    return _against(row, moment, in_force, approved, _held(row), events)


def _held(row: IngredientReceived) -> list[str]:
    return [one.reason for one in open_holds_of(first_of(row).id)]


def _against(
    row: IngredientReceived, moment: datetime, in_force: InForce, approved: bool, held: list[str],
    events: Iterable[StockEvent],
) -> list[str]:  # fmt: skip
    words = {"item": row.item, "lot": row.supplier_lot, "supplier": row.supplier, "why": row.refused_why}
    found = []
    if row.void:
        found.append(_("%(item)s, lot %(lot)s: it is recorded that it did not come") % words)
    if not row.accepted:
        found.append(_("%(item)s, lot %(lot)s was refused on arrival: %(why)s") % words)
    if row.best_by is not None and in_force.calendar.local(moment).date() > row.best_by:
        found.append(_("%(item)s, lot %(lot)s: best by %(day)s, that is past") % {**words, "day": row.best_by})
    if not approved:
        sentence = _("%(item)s: %(supplier)s is not approved for it on that day (21 CFR 117.420, from memory)")
        found.append(sentence % words)
    found += [_("%(item)s, lot %(lot)s is on hold: %(why)s") % {**words, "why": why} for why in held]
    if any(one.what in (USED_UP, THROWN_AWAY) for one in events):
        found.append(_("%(item)s, lot %(lot)s is recorded as used up or thrown away") % words)
    return found


def on_hand(now: datetime, in_force: InForce, item: str = "") -> list[OnHand]:
    """The latest lots received, best-by first, those that are gone last; five queries."""
    rows = standing(IngredientReceived.objects.all())
    if item:
        rows = rows.filter(item__iexact=item)
    lots = list(rows.order_by("-number")[:MOST])
    firsts = _firsts(lots)
    events = events_of(one.number for one in firsts.values())
    approved = _approved(now, in_force)
    held: dict[object, list[str]] = defaultdict(list)
    ids = [one.id for one in firsts.values()]
    for hold in open_holds().filter(lot__in=ids):
        held[hold.lot].append(hold.reason)
    found = []
    for row in lots:
        first = firsts[row.number]
        mine = events.get(first.number, [])
        ok = (row.item.lower(), row.supplier.lower()) in approved
        gone = any(one.what in (USED_UP, THROWN_AWAY) for one in mine) or not row.accepted
        found.append(
            OnHand(
                row, first.number, left_of(row, mine), any(one.what == OPENED for one in mine), gone,
                tuple(_against(row, now, in_force, ok, held[first.id], mine)),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: (one.gone, one.row.item.lower(), str(one.row.best_by or "9999")))


def _firsts(lots: list[IngredientReceived]) -> dict[int, IngredientReceived]:
    """The first record of each lot's line of amendments; one query for all that were never amended."""
    return {one.number: one if one.amends is None else first_of(one) for one in lots}


def _approved(now: datetime, in_force: InForce) -> set[tuple[str, str]]:
    day = in_force.calendar.local(now).date()
    rows = standing(SupplierApproval.objects.filter(observed_at__lte=now, until__gte=day))
    return {(item.lower(), supplier.lower()) for item, supplier in rows.values_list("item", "supplier")}


def lot_choices(now: datetime, in_force: InForce) -> list[tuple[str, str]]:
    """(number, words) of the lots that a person may have used: refused ones too, since what happened is kept."""
    found = []
    for one in on_hand(now, in_force):
        words = {"item": one.row.item, "lot": one.row.supplier_lot, "supplier": one.row.supplier}
        label = _("%(item)s, lot %(lot)s, %(supplier)s") % words
        found.append((str(one.number), f"{label} — {one.against[0]}" if one.against else label))
    return found


def lot_of(number: int) -> IngredientReceived | None:
    """A lot as it stands, by the number of any record of it."""
    return latest_of(IngredientReceived, number)
