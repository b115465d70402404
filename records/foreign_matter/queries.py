"""What stands, and when it was last good. Bounded: a place, an index, one row."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet

from records.foreign_matter.models import Breakage, DetectorChallenge, Look, PartsCount, StrainerLook
from records.ledger.models import Installation

L = TypeVar("L", bound=Look)
KINDS: tuple[type[Look], ...] = (StrainerLook, DetectorChallenge, PartsCount, Breakage)


def standing(rows: QuerySet[L]) -> QuerySet[L]:
    """Only what stands: the last of each line of amendments, and nothing that did not happen."""
    model: Any = rows.model
    return rows.filter(~Exists(model.objects.filter(amends=OuterRef("number"))), void=False)


def alike(row: L) -> QuerySet[L]:
    """The standing rows of the same thing at the same place, other than this one and what it amends."""
    model: Any = type(row)
    found = standing(model.objects.filter(place=row.place).exclude(number__in=[row.number, row.amends or 0]))
    return found.filter(device=row.device) if isinstance(row, StrainerLook) else found


def last_good(row: Look) -> datetime | None:
    """When the same thing was last good before this row."""
    earlier = alike(row).filter(good=True, observed_at__lt=row.observed_at)
    return earlier.order_by("-observed_at").values_list("observed_at", flat=True).first()


def next_good(row: Look) -> datetime | None:
    """When the same thing was next good after this row."""
    later = alike(row).filter(good=True, observed_at__gt=row.observed_at)
    return later.order_by("observed_at").values_list("observed_at", flat=True).first()


def neighbours(row: Look, moment: datetime) -> list[Look]:
    """The last row before a moment and the first after it, where these were not good: their windows may change."""
    bad = alike(row)
    near = (
        bad.filter(observed_at__lt=moment).order_by("-observed_at", "-number").first(),
        bad.filter(observed_at__gt=moment).order_by("observed_at", "number").first(),
    )
    return [one for one in near if one is not None and not one.good]


def beginning() -> datetime:
    """Nothing says that it was ever good: back to the book's first entry."""
    first = Installation.objects.order_by("number").first()
    assert first is not None  # a plan is in force, so the book has begun
    return first.observed_at


def look_of(number: int) -> Look | None:
    """The record of that number, of whichever kind."""
    for kind in KINDS if 0 < number < 2**63 else ():
        found: Look | None = kind._default_manager.filter(number=number).first()
        if found is not None:
            return found
    return None


def lately(most: int, place: str = "") -> list[tuple[Look, bool]]:
    """The newest of all kinds, newest first, and whether each stands."""
    found: list[Look] = []
    for kind in KINDS:
        rows = kind._default_manager.filter(place=place) if place else kind._default_manager.all()
        found += rows.order_by("-observed_at", "-number")[:most]
    found = sorted(found, key=lambda one: (one.observed_at, one.number), reverse=True)[:most]
    amended = amended_of(found)
    return [(one, not one.void and one.number not in amended) for one in found]


def amended_of(rows: list[Look]) -> set[int]:
    """The numbers of those that a later record amends."""
    found: set[int] = set()
    for kind in {type(one) for one in rows}:
        numbers = [one.number for one in rows if isinstance(one, kind)]
        found |= {one.amends for one in kind._default_manager.filter(amends__in=numbers) if one.amends is not None}
    return found


def last_counted(place: str) -> PartsCount | None:
    """The newest standing count of a place: its list is what has to be there again."""
    return standing(PartsCount.objects.filter(place=place)).order_by("-observed_at", "-number").first()
