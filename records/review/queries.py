"""Which days are closed, what came after, whose work a day is."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from records.batches.models import (
    AdditionConfirmed,
    BatchAddition,
    BatchSheet,
    BlendTest,
    FlavorAdded,
    SecondLook,
    Separated,
    VitaminAdded,
)
from records.charts.models import ChartOff, ChartOn, ChartPastSpan
from records.checks.models import Reading, ReadingNote, RoundSigned, Transition
from records.deviations.models import Correction, Outage, OutageEnd
from records.flow.models import LevelSeen, Movement, MovementEnd, NoProduction, PlantEvent, Wash
from records.foreign_matter.models import Breakage, DetectorChallenge, PartsCount, StrainerLook
from records.freezer_runs.models import FreezerEvent
from records.ingredients.models import IngredientReceived, StockEvent
from records.judging.models import Verdict
from records.labels.models import ClearanceCheck, LineClearance, PackagingCounted, PackagingOpened
from records.laboratory.models import LabResult, Sample
from records.ledger.models import Record
from records.people.plans import InForce, plan_in_force
from records.recall.models import Dispatch, ProductReturned, RecallBegun, RecallEnded, RecallStep
from records.receiving.models import LoadEvent
from records.review.models import DayClosing, HandOver, InCharge, SheetSignature, SheetState
from records.runs.models import RunEvent
from records.training.models import Training
from records.vat_runs.models import VatEvent
from records.washes.models import WashStep

# Records of the day itself: one of these, observed in a closed day, asks for a new revision. What else happens later
# (a corrective action, a closing, a correction raised, a hold placed, a notice sent) shows as 'since closing'.
OF_THE_DAY: tuple[type[Record], ...] = (
    Reading,
    ReadingNote,
    Movement,
    MovementEnd,
    Wash,
    LevelSeen,
    PlantEvent,
    NoProduction,
    Correction,
    Outage,
    OutageEnd,
    ChartOn,
    ChartOff,
    ChartPastSpan,
    RunEvent,
    FreezerEvent,
    VatEvent,
    LoadEvent,
    Dispatch,
    ProductReturned,
    RecallBegun,
    RecallStep,
    RecallEnded,
    StrainerLook,
    DetectorChallenge,
    PartsCount,
    Breakage,
    LineClearance,
    ClearanceCheck,
    PackagingOpened,
    PackagingCounted,
    IngredientReceived,
    StockEvent,
    BatchSheet,
    BatchAddition,
    BlendTest,
    Separated,
    VitaminAdded,
    FlavorAdded,
    AdditionConfirmed,
    SecondLook,
    Sample,
    LabResult,
    WashStep,
    Training,
)
# Who logged, moved or washed something that day made records of it. A training is none of the day's work: whoever
# recorded one may still review the day.
WORK: tuple[type[Record], ...] = (
    Reading, Movement, MovementEnd, Wash, LevelSeen, PlantEvent, ChartOn, ChartOff, RunEvent, FreezerEvent,
    VatEvent, LoadEvent, Dispatch, ProductReturned, StrainerLook, DetectorChallenge, PartsCount, Breakage,
    LineClearance, ClearanceCheck, PackagingOpened, PackagingCounted,
    IngredientReceived, StockEvent, BatchSheet, BatchAddition, BlendTest, Separated, VitaminAdded,
    FlavorAdded, AdditionConfirmed, SecondLook, Sample, LabResult, WashStep,
)  # fmt: skip


def plant_day_at(moment: datetime) -> date:
    """The plant day of a moment, by the plan in force then (the calendar day in UTC before the first plan)."""
    in_force = plan_in_force(moment)
    return in_force.calendar.plant_day(moment) if in_force else moment.date()


def bounds(plant_day: date, at: datetime) -> tuple[datetime, datetime]:
    """Start and end (UTC) of a plant day, by the plan in force when it began (else at `at`)."""
    in_force = plan_of_day(plant_day, at)
    if in_force is None:
        raise LookupError(f"no plan was in force on {plant_day}")
    return in_force.calendar.day_bounds(plant_day)


def plan_of_day(plant_day: date, at: datetime) -> InForce | None:
    """The plan in force at the day's start; the day's bounds themselves come from it."""
    newest = plan_in_force(at)
    if newest is None:
        return None
    start, end = newest.calendar.day_bounds(plant_day)
    return plan_in_force(start) or plan_in_force(end) or newest


def closing(plant_day: date) -> DayClosing | None:
    """The day's newest closing."""
    return DayClosing.objects.filter(plant_day=plant_day).order_by("-revision").first()


def is_closed(moment: datetime) -> bool:
    """Whether the plant day of a moment has been closed."""
    return DayClosing.objects.filter(plant_day=plant_day_at(moment)).exists()


def changed_since(one: DayClosing, at: datetime) -> list[Record]:
    """The records of the day that were written after its closing: any of them asks for a new revision.

    Those observed in the day, and what answers a check that fell due in it: a later reading, or that it was missed.
    """
    start, end = bounds(one.plant_day, at)
    due_then: dict[str, Any] = {"due_at__gte": start, "due_at__lt": end, "number__gt": one.number}
    found: list[Record] = [*Reading.objects.filter(**due_then), *Transition.objects.filter(what="missed", **due_then)]
    for kind in OF_THE_DAY:
        found += kind.objects.filter(  # type: ignore[attr-defined]
            observed_at__gte=start, observed_at__lt=end, number__gt=one.number
        )
    numbers = Reading.objects.filter(observed_at__gte=start, observed_at__lt=end).values("number")
    found += Verdict.objects.filter(subject_kind=Reading.KIND, subject_number__in=numbers, number__gt=one.number)
    return sorted({row.number: row for row in found}.values(), key=lambda row: row.number)


def workers(plant_day: date, at: datetime) -> set[UUID]:
    """The people who made records of the day's work."""
    start, end = bounds(plant_day, at)
    found: set[UUID] = set()
    for kind in WORK:
        rows = kind.objects.filter(observed_at__gte=start, observed_at__lt=end)  # type: ignore[attr-defined]
        found.update(one for one in rows.values_list("by_id", flat=True) if one is not None)
    return found


def in_charge(plant_day: date) -> dict[str, InCharge]:
    """The operator in charge of each shift as last named."""
    return {one.shift: one for one in InCharge.objects.filter(plant_day=plant_day).order_by("number")}


def last_shift(plant_day: date, at: datetime) -> str:
    """The key of the last shift that works that day (of the last shift at all when it is closed)."""
    in_force = plan_of_day(plant_day, at)
    if in_force is None:
        return ""
    shifts = in_force.calendar.day_shifts(plant_day)
    working = [one for one in shifts if not one.closed] or list(shifts)
    return max(working, key=lambda one: one.end_at).key if working else ""


def hand_overs(plant_day: date) -> list[HandOver]:
    """The day's hand-over signatures, oldest first."""
    return list(HandOver.objects.filter(plant_day=plant_day).order_by("number"))


def signatures(plant_day: date, revision: int) -> dict[str, SheetSignature]:
    """The sheet's signatures by role."""
    return {one.signed_as: one for one in SheetSignature.objects.filter(plant_day=plant_day, revision=revision)}


def states(plant_day: date) -> list[SheetState]:
    """Every state of the day's sheet, oldest first."""
    return list(SheetState.objects.filter(plant_day=plant_day).order_by("number"))


def newest_state(plant_day: date, revision: int) -> SheetState | None:
    """The newest state of one revision that is not a draft."""
    rows = SheetState.objects.filter(plant_day=plant_day, revision=revision).exclude(state="draft")
    return rows.order_by("-number").first()


def unsigned_rounds(plant_day: date, at: datetime) -> int:
    """Readings of the day that no signed round covers."""
    start, end = bounds(plant_day, at)
    signed: set[int] = set()
    for one in RoundSigned.objects.filter(plant_day=plant_day):
        signed.update(one.readings)
    rows = Reading.objects.filter(observed_at__gte=start, observed_at__lt=end).values_list("number", flat=True)
    return len(set(rows) - signed)
