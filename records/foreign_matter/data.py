"""What the forms give: texts as typed, moments on the plant's clocks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What every act here says. `photo`: SHA-256 of a photo that `records.ledger.files.put` has kept."""

    form_id: UUID
    place: str
    at: datetime
    note: str = ""
    photo: str = ""
    photo_name: str = ""
    photo_mime: str = ""
    amends: int | None = None
    amend_reason: str = ""
    void: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StrainerData(Look):
    """A strainer, filter or magnet; `length`: longest dimension of what was caught [mm], as typed."""

    device: str
    after: str
    found: str
    length: str = ""
    hard: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One test piece through the detector: metal, size [mm] as typed, and whether it was seen."""

    metal: str
    size: str
    seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChallengeData(Look):
    """A challenge of the metal detector with all its pieces."""

    when: str
    pieces: tuple[Piece, ...]
    rejected: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One line of the count list."""

    name: str
    listed: int
    counted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CountData(Look):
    """Parts counted against the list."""

    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakageData(Look):
    """Something brittle broke."""

    material: str
    what: str
    spot: str
    cleared: str
    all_found: bool
    near: bool
    whole_at: datetime | None = None
