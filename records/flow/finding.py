"""One thing wrong with a movement or a wash, and the topics by which its control point is found."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

PASTEURIZATION, SANITATION, BOOK, STORAGE, SERVICE = "pasteurization", "sanitation", "book", "storage", "service"
BLEND = "blend test"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong. `bars`: it refuses what has not begun. `holds`: it holds the lot that product went into.

    `topic` names the control point (see `control_point`); `records`: it opens a deviation once it has happened.
    `lot`, in `vessel`: what it holds, where that is not the lot that the product went into.
    """

    topic: str
    subject: str
    sentence: str
    cause: str
    weight: str = "safety"
    bars: bool = False
    holds: bool = False
    records: bool = True
    bars_release: str = ""
    lot: UUID | None = None
    vessel: str = ""
