"""What left the plant, as the records of it stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet

from records.recall.models import Dispatch


@dataclass(frozen=True, slots=True)
class Sent:
    """A part of a lot that left: to whom, when, how much, and the record that says so."""

    lot: UUID | None
    label: str
    to: str
    address: str
    phone: str
    at: datetime
    quantity: Decimal | None
    unit: str
    number: int
    kind: str  # dispatch; movement: from a vessel to outside, a drain as well as a customer

    @property
    def is_recipient(self) -> bool:
        """Whether somebody got it: a dispatch names a consignee; a movement names a place, which may be a drain."""
        return self.kind == "dispatch"


def standing() -> QuerySet[Dispatch]:
    """Dispatches that no later row replaces and that did happen."""
    successor = Dispatch.objects.filter(amends=OuterRef("number"))
    return Dispatch.objects.filter(~Exists(successor), void=False)


def sent_of(lots: Sequence[UUID]) -> dict[UUID, list[Sent]]:
    """What left of each of these lots, in order of time."""
    found: dict[UUID, list[Sent]] = {}
    for first in range(0, len(lots), 500):
        for one in standing().filter(lot__in=lots[first : first + 500]).order_by("dispatched_at", "number"):
            found.setdefault(one.lot, []).append(as_sent(one))
    return found


def as_sent(row: Dispatch) -> Sent:
    """A dispatch as a scope lists it."""
    return Sent(
        row.lot, f"{row.product_name} {row.code}".strip(), row.consignee, row.address, _contact(row), row.dispatched_at,
        row.quantity, row.unit, row.number, "dispatch",
    )  # fmt: skip


def _contact(row: Dispatch) -> str:
    """Telephone, and e-mail or fax where there is one: a notice goes the way that is quickest."""
    return ", ".join(one for one in (row.phone, row.email) if one)


def amounts(rows: Iterable[Dispatch]) -> list[tuple[Decimal | None, str]]:
    """Their quantities, for an account."""
    return [(one.quantity, one.unit) for one in rows]
