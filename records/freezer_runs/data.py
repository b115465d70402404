"""What a person says of a freezer's run, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class BeginData:
    """A run begun at a freezer, for a product (its code). Nothing is drawn by this."""

    form_id: UUID
    place: str
    product: str
    happened_at: datetime
    words: str = ""


@dataclass(frozen=True, slots=True)
class SayData:
    """One thing that happened; each kind asks for its own parts (see FreezerEvent)."""

    form_id: UUID
    run: int
    what: str
    happened_at: datetime
    words: str = ""
    about: str = ""
    tubs: str = ""
    became: str = ""
    allergens: tuple[str, ...] = ()
    use_within_h: str = ""
    ingredient: str = ""
    lot_code: str = ""
    amount: str = ""
    unit: str = ""
    instrument: str = ""
    cup_empty: str = ""
    cup_mix: str = ""
    cup_product: str = ""
    mass_unit: str = ""
    mix_lb_gal: str = ""
    drawn_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class DrawData:
    """The draw of a product begun: from where, into what. `begins_now`: it has not; what stands against refuses it."""

    form_id: UUID
    run: int
    product: str
    source: str
    target: str
    happened_at: datetime
    words: str = ""
    begins_now: bool = False


@dataclass(frozen=True, slots=True)
class DrawnData:
    """The draw ended: how much mix it was, and how many tubs were made of it."""

    form_id: UUID
    run: int
    happened_at: datetime
    tubs: str = ""
    words: str = ""
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    emptied: bool = False
