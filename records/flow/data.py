"""What a person says of the flow, parsed and not yet recorded. Numbers stand as typed, with their unit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

# How a quantity was found. 'unknown' has none.
MEASURED_BY = ("level", "meter", "mass", "count", "unknown")
UNITS = ("gal", "L", "lb", "kg")
PACKED = "packed"


@dataclass(frozen=True, slots=True)
class MovementData:
    """Product from a vessel (its code) or outside (its words) to another; outside the code is empty.

    `start_now`: it has not begun; a bar refuses it, and the moment is that of the act. Otherwise it has happened and
    is kept with its consequence. `code`: packing makes a pack lot of this code. `emptied`: the source is empty at the
    end, whatever the book says.
    """

    form_id: UUID
    source: str
    target: str
    product: str
    started_at: datetime
    source_name: str = ""
    target_name: str = ""
    via: str = ""
    ended_at: datetime | None = None
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    code: str = ""
    emptied: bool = False
    note: str = ""
    start_now: bool = False


@dataclass(frozen=True, slots=True)
class EndData:
    """The end of a movement that runs: when, how much, and whether its source is empty now."""

    ended_at: datetime
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    emptied: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class WashData:
    """A wash, or a sanitizing, that has happened.

    `temperature_typed` at the outlet; `strength` in words with its unit. `was_empty`: the person says so, where the
    book still holds something. `parted`: whether it was seen apart from what the plan joins it to (yes, no, empty).
    """

    form_id: UUID
    what: Literal["washed", "sanitized"]
    vessel: str
    started_at: datetime
    ended_at: datetime
    method: str
    temperature_typed: str = ""
    temperature_unit: str = ""
    strength: str = ""
    contact_min: int | None = None
    was_empty: bool = False
    note: str = ""
    parted: str = ""


@dataclass(frozen=True, slots=True)
class LevelData:
    """A level seen in a vessel; 0 says that it is empty."""

    form_id: UUID
    vessel: str
    quantity_typed: str
    unit: str
    seen_at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class EventData:
    """Something that happened at the plant, of a kind that its plan names."""

    form_id: UUID
    event: str
    happened_at: datetime
    subject: str = ""
    reference: str = ""
    note: str = ""
