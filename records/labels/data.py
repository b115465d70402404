"""What a person says of a filling line, parsed and not yet recorded. Counts stand as typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from records.checks.photos import Photo


@dataclass(frozen=True, slots=True, kw_only=True)
class Amends:
    """What an amendment says beside its act: the entry that it amends, and why."""

    amends: int | None = None
    amend_reason: str = ""


@dataclass(frozen=True, slots=True)
class ClearData(Amends):
    """A line cleared for a product. `answers`: by thing, one of models.ANSWERS; `counts`: of what was taken off."""

    form_id: UUID
    place: str
    product: str
    at: datetime
    answers: Mapping[str, str] = field(default_factory=dict)
    counts: Mapping[str, str] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True)
class CheckData(Amends):
    """A second person's look at a clearance (its entry). `agrees`: found clear."""

    form_id: UUID
    clearance: int
    agrees: bool
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class OpenedData(Amends):
    """A roll or sleeve opened for a product. `printed`: the code of the product that it is printed for."""

    form_id: UUID
    place: str
    product: str
    kind: str
    roll_code: str
    printed: str
    at: datetime
    issued: str = ""
    used: bool = False
    photo: Photo | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class CountedData(Amends):
    """A roll or sleeve off the line; `opened`: the entry of its opening."""

    form_id: UUID
    opened: int
    at: datetime
    used: str
    returned: str
    damaged: str
    because: str = ""
    note: str = ""
