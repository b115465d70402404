"""What a person says of a vat's run, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class BeginData:
    """A run begun at a vat, for a product (its code), with the number written on its chart."""

    form_id: UUID
    place: str
    product: str
    happened_at: datetime
    chart_number: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class SayData:
    """One thing that happened. Temperatures in `unit`, times in minutes; empty where nobody read or said it."""

    form_id: UUID
    run: int
    what: str
    happened_at: datetime
    words: str = ""
    unit: str = ""
    indicating: str = ""
    recording: str = ""
    air_space: str = ""
    valve_closed: str = ""
    leak_drained: str = ""
    agitated: str = ""
    cover_closed: str = ""
    fill_min: str = ""
    empty_min: str = ""


@dataclass(frozen=True, slots=True)
class OpenData:
    """The outlet opened, into where. `begins_now`: it has not yet; what stands against it refuses it."""

    form_id: UUID
    run: int
    target: str
    happened_at: datetime
    via: str = ""
    words: str = ""
    begins_now: bool = False


@dataclass(frozen=True, slots=True)
class ShutData:
    """The outlet shut: how much had left."""

    form_id: UUID
    run: int
    happened_at: datetime
    words: str = ""
    quantity_typed: str = ""
    unit: str = ""
    uncertainty_typed: str = ""
    measured_by: str = "unknown"
    emptied: bool = False
