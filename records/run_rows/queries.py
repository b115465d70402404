"""Runs as they stand: what happened in each, in order, whatever kind of run it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from django.db.models import Exists, OuterRef, Q, QuerySet

from records.run_rows.models import ENDED, NOTE, OPENED, UNUSUAL, RunRow

R = TypeVar("R", bound=RunRow)


@dataclass(frozen=True, slots=True)
class Run(Generic[R]):
    """A run: its number, and what stands of it in order of time. `first` is the row that began it."""

    number: int
    first: R
    events: tuple[R, ...]

    @property
    def place(self) -> str:
        return self.first.place

    @property
    def ended_at(self) -> datetime | None:
        return next((one.happened_at for one in self.events if one.what == ENDED), None)

    def by(self, moment: datetime) -> list[R]:
        """What had happened by a moment."""
        return [one for one in self.events if one.happened_at <= moment]

    def of(self, *kinds: str) -> list[R]:
        """The rows of these kinds, in order."""
        return [one for one in self.events if one.what in kinds]

    def last(self, *kinds: str) -> R | None:
        """The last row of these kinds."""
        return next(iter(reversed(self.of(*kinds))), None)


def standing(rows: QuerySet[R]) -> QuerySet[R]:
    """Of these, the rows that no amendment replaces and that did happen."""
    return rows.filter(~Exists(rows.model._default_manager.filter(amends=OuterRef("number"))), void=False)


def run_of(model: type[R], number: int) -> Run[R] | None:
    """The run of a number, None where there is none or its beginning did not happen. One query."""
    if not 0 < number < 2**63:
        return None
    return next(iter(_runs(model._default_manager.filter(Q(number=number) | Q(run=number)))), None)


def open_run(model: type[R], place: str) -> Run[R] | None:
    """The latest run at a place that nobody has recorded as ended."""
    rows = standing(model._default_manager.filter(place=place, what=OPENED))
    latest = rows.order_by("-happened_at", "-number").first()
    found = run_of(model, latest.run or latest.number) if latest is not None else None
    return found if found is not None and found.ended_at is None else None


def runs_between(model: type[R], start: datetime, end: datetime) -> list[Run[R]]:
    """The runs of which anything happened in [start, end), in order of their beginnings. Two queries."""
    rows = model._default_manager.filter(happened_at__gte=start, happened_at__lt=end)
    return _numbered(model, {run or number for number, run in rows.values_list("number", "run")})


def latest(model: type[R], limit: int) -> list[Run[R]]:
    """The latest runs, the newest first. Two queries."""
    rows = standing(model._default_manager.filter(what=OPENED)).order_by("-happened_at", "-number")[:limit]
    return list(reversed(_numbered(model, {one.run or one.number for one in rows})))


def all_rows(model: type[R], run: Run[R]) -> list[R]:
    """Every row of a run in order, amended and void ones too."""
    return in_order(model._default_manager.filter(Q(number=run.number) | Q(run=run.number)))


def _numbered(model: type[R], numbers: set[int]) -> list[Run[R]]:
    return _runs(model._default_manager.filter(Q(number__in=numbers) | Q(run__in=numbers))) if numbers else []


def _runs(rows: QuerySet[R]) -> list[Run[R]]:
    by_run: dict[int, list[R]] = defaultdict(list)
    for one in standing(rows):
        by_run[one.run or one.number].append(one)
    found = []
    for number, events in by_run.items():
        ordered = in_order(events)
        first = next((one for one in ordered if one.what == OPENED), None)
        if first is not None:
            found.append(Run(number, first, tuple(ordered)))
    return sorted(found, key=lambda one: (one.first.happened_at, one.number))


def in_order(events: Iterable[R]) -> list[R]:
    """By their own time; of one moment the beginning first and the end last, else as they were recorded."""
    rank = {OPENED: 0, ENDED: 2}
    return sorted(events, key=lambda one: (one.happened_at, rank.get(one.what, 1), one.number))


AFTER_THE_END = (NOTE, UNUSUAL)
