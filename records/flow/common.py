"""What the acts of the flow share: times, typed quantities, printed names, lots."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TypeVar
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from plant.process.units import SENTENCES, NumberError, parse_number
from records.flow.choices import product_of
from records.flow.data import MEASURED_BY, UNITS
from records.flow.errors import DifferentContent, Refused
from records.flow.history import History, load
from records.flow.queries import label_of
from records.ledger.actions import Actor
from records.ledger.models import Record
from records.lots.models import Lot
from records.people.plans import InForce, plan_in_force

R = TypeVar("R", bound=Record)

AHEAD = timedelta(minutes=2)
FILL, PACK = "vessel fill", "pack"


def plan_at(moment: datetime) -> InForce:
    """The plan in force at a moment, or today's for what happened before any; Refused when there is none."""
    found = plan_in_force(moment) or plan_in_force(clock.now())
    if found is None:
        raise Refused(_("No plan is approved yet: the plant's vessels are not known."))
    return found


def not_ahead(moment: datetime, field: str) -> None:
    """Refuse what is more than two minutes in the future."""
    if moment > clock.now() + AHEAD:
        raise Refused(_("That time is still to come."), field)


def typed_number(text: str, in_force: InForce, field: str, *, negative: bool = False) -> Decimal | None:
    """The number typed, None for nothing typed; Refused beside its field."""
    if not text:
        return None
    try:
        number = parse_number(text, in_force.plan.plant.decimal_mark)
    except NumberError as error:
        sentence = _(SENTENCES[error.fault]).format(suggestion=error.suggestion, most=11)
        raise Refused(sentence, field) from error
    if number < 0 and not negative:
        raise Refused(_("This cannot be below zero."), field)
    return number


def quantity_columns(
    typed: str, unit: str, uncertainty: str, measured_by: str, in_force: InForce
) -> dict[str, object]:
    """The columns of a quantity, from what was typed."""
    if measured_by not in MEASURED_BY:
        raise Refused(_("That is not a way to find a quantity."), "measured_by")
    quantity = typed_number(typed, in_force, "quantity")
    if quantity is not None and unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")
    return {
        "quantity_typed": typed,
        "quantity": quantity,
        "unit": unit if quantity is not None else "",
        "uncertainty": typed_number(uncertainty, in_force, "uncertainty") if quantity is not None else None,
        "measured_by": measured_by if quantity is not None else "unknown",
    }


def same_or_different(saved: R, new: Record, columns: Sequence[str], by: Actor) -> R:
    """The saved row for a repeat of the same form; DifferentContent when anything else stands in it."""
    if saved.by_id != by.person_id or any(getattr(saved, name) != getattr(new, name) for name in columns):
        raise DifferentContent(saved)
    return saved


def name_of(in_force: InForce, code: str) -> str:
    """The printed name of a vessel or equipment."""
    return in_force.names.get(code, code)


def history_at(in_force: InForce, since: datetime, codes: Sequence[str]) -> History:
    """What the book tells of these places from before `since` until now."""
    return load(in_force.plan, since, max(clock.now(), since), [code for code in codes if code])


def new_fill(in_force: InForce, vessel: str, product: str) -> Lot:
    """A lot for the first fill of a vessel after a clean break; not yet written."""
    found = product_of(in_force, product)
    return Lot(
        id=uuid.uuid4(),
        origin=FILL,
        vessel=vessel,
        vessel_name=name_of(in_force, vessel),
        product=product,
        product_name=found.name if found else "",
    )


def label(lot: Lot | None, in_force: InForce) -> str:
    """A lot's printed name as records keep it, in the plant's language; empty for none."""
    with in_force.speaking():
        return "" if lot is None else label_of(lot, in_force)


def lot_by_id(lot: UUID | None, fresh: Lot | None = None) -> Lot | None:
    """The row of a lot, the one just made included."""
    if lot is None or (fresh is not None and fresh.id == lot):
        return fresh if lot is not None else None
    return Lot.objects.filter(id=lot).first()




