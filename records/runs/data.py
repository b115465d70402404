"""What a person says of a run, parsed and not yet recorded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class StartData:
    """A start begun at a pasteurizer, on a set-up (its key) and for a product (its code)."""

    form_id: UUID
    place: str
    set_up: str
    product: str
    happened_at: datetime
    chart_number: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class EventData:
    """Something that happened in a run. `set_up`: the key of the one that it was changed to, `product`: for what."""

    form_id: UUID
    run: int
    what: str
    happened_at: datetime
    words: str = ""
    set_up: str = ""
    product: str = ""
    chart_number: str = ""


@dataclass(frozen=True, slots=True)
class ProductData:
    """Product instead of water, or instead of the product before it: from where, into what.

    `begins_now`: it has not begun; what stands against it refuses it. `words`: where the mixture went. `quantity_*` of
    the product before it, where one ran.
    """

    form_id: UUID
    run: int
    product: str
    source: str
    target: str
    happened_at: datetime
    words: str = ""
    begins_now: bool = False
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    emptied: bool = False


@dataclass(frozen=True, slots=True)
class OutData:
    """Water after the product: when, how much product it was, where the mixture went."""

    form_id: UUID
    run: int
    happened_at: datetime
    words: str = ""
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    emptied: bool = False
