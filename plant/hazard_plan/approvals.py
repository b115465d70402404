"""What the plant may ask about approvals. They are records, and imports run one way: the records answer.

`records` registers its answers when it is ready; until then no plan is approved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Approved:
    """One approval: of which version, in force from when, and the hash of the content that was signed."""

    version_id: UUID
    number: int
    in_force_from: datetime
    content_hash: str


def _none() -> list[Approved]:
    return []


def _no_text(version_id: UUID) -> str | None:
    return None


_listed: Callable[[], list[Approved]] = _none
_text: Callable[[UUID], str | None] = _no_text


def register(listed: Callable[[], list[Approved]], text: Callable[[UUID], str | None]) -> None:
    """Say who answers: every approval in order of coming into force; the frozen JSON of one version."""
    global _listed, _text
    _listed, _text = listed, text


def approved() -> list[Approved]:
    """Every approval, in the order of coming into force."""
    return _listed()


def frozen_text(version_id: UUID) -> str | None:
    """The content that the approval of a version froze; None for a draft."""
    return _text(version_id)


def in_force(now: datetime) -> Approved | None:
    """The approval in force at a moment; None before the first."""
    begun = [one for one in approved() if one.in_force_from <= now]
    return begun[-1] if begun else None
