"""Runs as they stand: what happened in each, in order, and what state that leaves it in at a moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from django.db.models import Exists, OuterRef, Q, QuerySet

from records.deviations.models import Deviation, DeviationCause
from records.flow.models import Movement, MovementEnd
from records.runs.models import (
    DIVERTED,
    ENDED,
    FORWARD,
    FORWARD_AGAIN,
    OPENED,
    PRODUCT_CHANGE,
    PRODUCT_IN,
    PRODUCT_OUT,
    SET_UP,
    RunEvent,
)

State = Literal["not started", "on water", "on product", "diverted", "ended"]


def standing(rows: QuerySet[RunEvent]) -> QuerySet[RunEvent]:
    """Of these, the rows that no amendment replaces and that did happen."""
    return rows.filter(~Exists(RunEvent.objects.filter(amends=OuterRef("number"))), void=False)


@dataclass(frozen=True, slots=True)
class Run:
    """A run: its number, and what stands of it in order of time. `first` is the row that began the start."""

    number: int
    first: RunEvent
    events: tuple[RunEvent, ...]

    @property
    def place(self) -> str:
        return self.first.place

    @property
    def ended_at(self) -> datetime | None:
        return next((one.happened_at for one in self.events if one.what == ENDED), None)

    def by(self, moment: datetime) -> list[RunEvent]:
        """What had happened by a moment."""
        return [one for one in self.events if one.happened_at <= moment]

    def state_at(self, moment: datetime) -> State:
        """What the rows by then say of the flow; a start whose flow nobody recorded is 'not started'."""
        found: State = "not started"
        product = False
        for one in self.by(moment):
            if one.what in (PRODUCT_IN, PRODUCT_CHANGE):
                found, product = "on product", True
            elif one.what == PRODUCT_OUT:
                found, product = "on water", False
            elif one.what in (FORWARD, FORWARD_AGAIN):
                found = "on product" if product else "on water"
            elif one.what == DIVERTED:
                found = "diverted"
            elif one.what == ENDED:
                found = "ended"
        return found

    def set_up_at(self, moment: datetime) -> RunEvent:
        """The row that says which set-up was in use."""
        return next((one for one in reversed(self.by(moment)) if one.what in (OPENED, SET_UP)), self.first)

    def movement_at(self, moment: datetime) -> int | None:
        """The movement of the product that runs then, by its first row's number; None on water."""
        found = None
        for one in self.by(moment):
            if one.what in (PRODUCT_IN, PRODUCT_CHANGE):
                found = one.movement
            elif one.what in (PRODUCT_OUT, ENDED):
                found = None
        return found

    def first_product(self) -> RunEvent | None:
        """When product first flowed."""
        return next((one for one in self.events if one.what == PRODUCT_IN), None)


@dataclass(frozen=True, slots=True)
class EndedElsewhere:
    """The end of a run's product that somebody recorded with the movement, not in the run."""

    movement: int
    ended_at: datetime
    quantity: str


def ended_elsewhere(run: Run, moment: datetime) -> EndedElsewhere | None:
    """The recorded end of the product that by this run's rows still runs at a moment. Two queries at most."""
    number = run.movement_at(moment)
    if number is None:
        return None
    row = Movement.objects.filter(number=number, ended_at__isnull=False).first()
    end = row or MovementEnd.objects.filter(movement=number).first()
    if end is None or end.ended_at is None or end.ended_at > moment:
        return None
    return EndedElsewhere(number, end.ended_at, f"{end.quantity_typed} {end.unit}".strip())


def run_of(number: int) -> Run | None:
    """The run of a number, None where there is none or its start did not happen. One query."""
    if not 0 < number < 2**63:
        return None
    return next(iter(_runs(RunEvent.objects.filter(Q(number=number) | Q(run=number)))), None)


def product_expected(place: str, moment: datetime) -> str:
    """The code of the product that the run at a press was begun, or changed over, for; empty where nothing says so."""
    rows = standing(RunEvent.objects.filter(place=place, what=OPENED, happened_at__lte=moment))
    begun = rows.order_by("-happened_at", "-number").first()
    run = run_of(begun.run or begun.number) if begun is not None else None
    if run is None or run.state_at(moment) == "ended":
        return ""
    if run.set_up_at(moment).what == SET_UP and not run.set_up_at(moment).product:
        return ""  # for what, nobody said: every limit counts
    return next((one.product for one in reversed(run.by(moment)) if one.product), "")


def open_run(place: str) -> Run | None:
    """The latest run at a press that nobody has recorded as ended."""
    latest = standing(RunEvent.objects.filter(place=place, what=OPENED)).order_by("-happened_at", "-number").first()
    run = run_of(latest.run or latest.number) if latest is not None else None
    return run if run is not None and run.ended_at is None else None


def runs_between(start: datetime, end: datetime, place: str = "") -> list[Run]:
    """The runs of which anything happened in [start, end], in order of their starts. Two queries."""
    rows = RunEvent.objects.filter(happened_at__gte=start, happened_at__lte=end)
    if place:
        rows = rows.filter(place=place)
    numbers = {run or number for number, run in rows.values_list("number", "run")}
    return _runs(RunEvent.objects.filter(Q(number__in=numbers) | Q(run__in=numbers))) if numbers else []


def latest(limit: int) -> list[Run]:
    """The latest runs, the newest first. Two queries."""
    rows = standing(RunEvent.objects.filter(what=OPENED)).order_by("-happened_at", "-number")[:limit]
    numbers = {one.run or one.number for one in rows}
    return list(reversed(_runs(RunEvent.objects.filter(Q(number__in=numbers) | Q(run__in=numbers)))))


def _runs(rows: QuerySet[RunEvent]) -> list[Run]:
    by_run: dict[int, list[RunEvent]] = defaultdict(list)
    for one in _as_moved(list(standing(rows))):
        by_run[one.run or one.number].append(one)
    found = []
    for number, events in by_run.items():
        ordered = in_order(events)
        first = next((one for one in ordered if one.what == OPENED), None)
        if first is not None:
            found.append(Run(number, first, tuple(ordered)))
    return sorted(found, key=lambda one: (one.first.happened_at, one.number))


def _as_moved(rows: list[RunEvent]) -> list[RunEvent]:
    """These rows with product and its times as the movements that now stand say them, in memory only.

    Product is amended in its movement; one that did not happen takes its row along.
    """
    last = _standing_movements({one.movement for one in rows if one.movement is not None})
    found = []
    for one in rows:
        moved = last.get(one.movement or 0)
        if moved is None:
            found.append(one)
        elif not moved.void:
            one.movement = moved.number
            if one.what in (PRODUCT_IN, PRODUCT_CHANGE):
                one.happened_at, one.product, one.product_name = moved.started_at, moved.product, moved.product_name
            else:
                one.happened_at = moved.ended_at or one.happened_at
            found.append(one)
    return found


def _standing_movements(numbers: set[int]) -> dict[int, Movement]:
    """The last amendment of each of these movements that has any. One query for each step of the longest line."""
    found: dict[int, Movement] = {}
    asked = {number: number for number in numbers}  # the latest known -> the first
    while asked:
        later = list(Movement.objects.filter(amends__in=list(asked)))
        found |= {asked[one.amends]: one for one in later if one.amends is not None}
        asked = {one.number: asked[one.amends] for one in later if one.amends is not None}
    return found


def in_order(events: Iterable[RunEvent]) -> list[RunEvent]:
    """By their own time; of one moment the start first and the end last, else as they were recorded."""
    rank = {OPENED: 0, ENDED: 2}
    return sorted(events, key=lambda one: (one.happened_at, rank.get(one.what, 1), one.number))


def set_ups_recorded(place: str, start: datetime, end: datetime) -> list[tuple[datetime, str]]:
    """Which set-up was in use at a press from when on, as the runs that touch [start, end] say; "" once a run ended."""
    return [
        (one.happened_at, one.set_up)
        for run in runs_between(start, end, place)
        for one in run.events
        if one.what in (OPENED, SET_UP, ENDED)
    ]


def starts_recorded(place: str, start: datetime, end: datetime) -> list[tuple[datetime, datetime | None]]:
    """When each run at a press that touches [start, end] was begun and ended, None for one that goes on; in order."""
    return [(one.first.happened_at, one.ended_at) for one in runs_between(start, end, place)]


def deviations_of(runs: Sequence[Run], now: datetime) -> dict[int, set[int]]:
    """The deviations of each run: those that its rows or movements led to, and those at its press in its time.

    By the numbers of the runs. Two queries for any number of runs.
    """
    if not runs:
        return {}
    spans = {one.number: (one.place, one.first.happened_at, one.ended_at or now) for one in runs}
    own = {row.number: run.number for run in runs for row in run.events}
    own |= {row.movement: run.number for run in runs for row in run.events if row.movement is not None}
    first, last = min(one[1] for one in spans.values()), max(one[2] for one in spans.values())
    near = Q(cause_number__in=list(own)) | Q(observed_at__gte=first, observed_at__lte=last)
    causes = list(DeviationCause.objects.filter(near).values_list("deviation", "cause_number", "observed_at"))
    named = Deviation.objects.filter(number__in={one[0] for one in causes})
    at_press = dict(named.values_list("number", "subject"))
    found: dict[int, set[int]] = {one.number: set() for one in runs}
    for deviation, cause, at in causes:
        if cause in own:
            found[own[cause]].add(deviation)
        for number, (place, start, end) in spans.items():
            if at_press.get(deviation) == place and start <= at <= end:
                found[number].add(deviation)
    return found


def all_rows(run: Run) -> Sequence[RunEvent]:
    """Every row of a run in order, amended and void ones too."""
    return in_order(RunEvent.objects.filter(Q(number=run.number) | Q(run=run.number)))
