"""What a person says of a dispatch or a recall, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from records.recall.origins import Asked


@dataclass(frozen=True, slots=True)
class DispatchData:
    """Packs of a code that leave (`leaves_now`: a hold refuses it) or have left (kept with its consequence)."""

    form_id: UUID
    code: str
    consignee: str
    dispatched_at: datetime
    address: str = ""
    phone: str = ""
    carrier: str = ""
    quantity_typed: str = ""
    unit: str = ""
    note: str = ""
    leaves_now: bool = False
    email: str = ""
    packed_as: str = ""


@dataclass(frozen=True, slots=True)
class ReturnData:
    """Packs of a code that came back; an empty temperature: nobody took one. `recall`: the one that it belongs to."""

    form_id: UUID
    code: str
    consignee: str
    returned_at: datetime
    condition: str
    reason: str
    kept_where: str
    quantity_typed: str = ""
    unit: str = ""
    temperature_typed: str = ""
    note: str = ""
    recall: int | None = None


@dataclass(frozen=True, slots=True)
class RecallData:
    """A recall or a rehearsal begun, and from what."""

    form_id: UUID
    mock: bool
    reason: str
    begun_at: datetime
    asked: Asked


@dataclass(frozen=True, slots=True)
class StepData:
    """One thing done in a recall."""

    form_id: UUID
    recall: int
    what: str
    happened_at: datetime
    consignee: str = ""
    code: str = ""
    quantity_typed: str = ""
    unit: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class EndData:
    """The end of a recall or a rehearsal, with its outcome in words."""

    form_id: UUID
    recall: int
    ended_at: datetime
    outcome: str
