"""What a person says of ingredients, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

UNITS = ("kg", "g", "lb", "oz", "L", "mL", "gal", "pieces")
WHAT = ("ingredient", "packaging")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What every form says. `amends`: the record that this one replaces, with the reason; `void`: it did not happen."""

    form_id: UUID
    at: datetime
    note: str = ""
    amends: int | None = None
    amend_reason: str = ""
    void: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """A certificate whose bytes `records.ledger.files.put` has kept."""

    sha256: str
    name: str
    mime: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovalData(Said):
    """A supplier approved for an item, until a day."""

    supplier: str
    item: str
    hazard: str
    grounds: str
    until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivedData(Said):
    """A lot as it came."""

    what: str
    item: str
    supplier: str
    supplier_lot: str
    quantity: str
    unit: str
    condition: str
    accepted: bool
    refused_why: str = ""
    best_by: date | None = None
    allergens: tuple[str, ...] = ()
    certificate: Certificate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockData(Said):
    """A lot opened, used, used up, thrown away. `begins_now`: not yet used; what stands against it refuses it."""

    received: int
    what: str
    amount: str = ""
    unit: str = ""
    into: str = ""
    begins_now: bool = False
