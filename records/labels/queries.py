"""What stands of a filling line: its clearances, what packaging is on it, which packs had a roll."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from django.db.models import Exists, OuterRef, QuerySet

from plant import clock
from plant.hazard_plan.content import Plan
from records.flow.choices import is_line, lines
from records.flow.common import lot_by_id
from records.flow.effective import standing as standing_flow
from records.flow.models import Movement, MovementEnd
from records.flow.packing import is_packing
from records.labels.models import ClearanceCheck, LineClearance, OfLine, PackagingCounted, PackagingOpened
from records.lots.models import Lot

L = TypeVar("L", bound=OfLine)
FILLER = "filler"
# A roll is looked for on the line so far back; one that was forgotten for longer is not on it.
OPEN_FOR = timedelta(days=30)
# No product runs through a filler for longer than this.
RUNS_FOR = timedelta(days=2)


def filling_lines(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of the plan's fillers."""
    kinds = {one.code: one.kind for one in plan.vessels} | {one.code: one.kind.lower() for one in plan.equipment}
    return [(code, name) for code, name in lines(plan) if kinds.get(code) == FILLER]


def is_filling_line(plan: Plan, code: str) -> bool:
    """Whether packs are filled there."""
    return bool(code) and is_line(plan, code) and code in dict(filling_lines(plan))


def standing(rows: QuerySet[L]) -> QuerySet[L]:
    """Of these, what no later entry says did not happen."""
    return rows.filter(~Exists(rows.model._default_manager.filter(amends=OuterRef("number"))), void=False)


def last_through(place: str, before: datetime, *, without: int | None = None) -> Movement | None:
    """The last product that began to run through a line before a moment. One query."""
    rows = standing_flow(Movement.objects.filter(via=place, started_at__lt=before)).exclude(number=without or 0)
    return rows.order_by("-started_at", "-number").first()


def last_clearance(place: str, product: str, by: datetime) -> LineClearance | None:
    """The last time that a line was cleared for a product, by a moment."""
    rows = standing(LineClearance.objects.filter(place=place, product=product, observed_at__lte=by))
    return rows.order_by("-observed_at", "-number").first()


def last_check(clearance: LineClearance, by: datetime | None = None) -> ClearanceCheck | None:
    """The latest second look at a clearance; one of what it amends counts where both say the same of the line."""
    numbers, old = [clearance.number], clearance
    while old.amends is not None:
        old = LineClearance.objects.get(number=old.amends)
        if old.product != clearance.product or _answers(old) != _answers(clearance):
            break
        numbers.append(old.number)
    rows = standing(ClearanceCheck.objects.filter(clearance__in=numbers, observed_at__gte=clearance.observed_at))
    rows = rows if by is None else rows.filter(observed_at__lte=by)
    return rows.order_by("-observed_at", "-number").first()


def _answers(clearance: LineClearance) -> list[tuple[str, str]]:
    return [(one["thing"], one["answer"]) for one in clearance.things]


def on_the_line(place: str, at: datetime) -> list[PackagingOpened]:
    """Rolls and sleeves that were opened there and not counted off by a moment; none that was caught unused."""
    rows = PackagingOpened.objects.filter(place=place, observed_at__lte=at, observed_at__gte=at - OPEN_FOR)
    found = list(standing(rows).exclude(matches=False, used=False).order_by("observed_at", "number"))
    counted = counts_of((one.number for one in found), by=at)
    return [one for one in found if one.number not in counted]


def counts_of(opened: Iterable[int], *, by: datetime | None = None) -> dict[int, PackagingCounted]:
    """The count of each standing opening that has one, by a moment; it may name what the opening amends.

    Two queries, and one for each amendment in the longest line of them.
    """
    stands = {number: number for number in opened}
    new = dict(stands)
    while new:
        rows = PackagingOpened.objects.filter(number__in=list(new)).values_list("number", "amends")
        new = {amends: stands[number] for number, amends in rows if amends is not None and amends not in stands}
        stands |= new
    rows_counted = standing(PackagingCounted.objects.filter(opened__in=list(stands)))
    rows_counted = rows_counted if by is None else rows_counted.filter(observed_at__lte=by)
    return {stands[one.opened]: one for one in rows_counted}


def that_stands(rows: QuerySet[L], number: int) -> L | None:
    """The entry of a number, or the last that amends it; None for none, and for what did not happen."""
    found = rows.filter(number=number).first()
    while found is not None and (later := rows.filter(amends=found.number).first()) is not None:
        found = later
    return None if found is None or found.void else found


def filling_at(place: str, at: datetime) -> Movement | None:
    """The movement into packs that runs through a line at a moment: begun, and not ended by then."""
    row = last_through(place, at + timedelta(microseconds=1))
    if row is None:
        return None
    end = MovementEnd.objects.filter(movement=row.number).values_list("ended_at", flat=True).first() or row.ended_at
    return row if end is None or end > at else None


@dataclass(frozen=True, slots=True)
class Packed:
    """Packs that had packaging of a roll: the pack lot, and the opening that says so."""

    lot: Lot
    opened: PackagingOpened
    movement: int


def packs_with_roll(roll_code: str) -> list[Packed]:
    """The pack lots that were filled while a roll or sleeve of this lot code was on their line.

    From its opening to its count, or, where it was never counted, to the next opening of that kind of packaging there.
    A roll caught before use reached none. It errs to the wide side: what ran at the same moment is among them.
    """
    found: dict[tuple[object, int], Packed] = {}
    for one, row in packing_with(openings_of(roll_code)):
        lot = lot_by_id(row.target_lot)
        if lot is not None:
            found.setdefault((lot.id, one.number), Packed(lot, one, row.number))
    return list(found.values())


def packaging_of(lot: Lot) -> list[PackagingOpened]:
    """The rolls and sleeves that packs of a lot may have: packs_with_roll, read from the other end. A few queries."""
    found: dict[int, PackagingOpened] = {}
    for row in standing_flow(Movement.objects.filter(target_lot=lot.id).exclude(via="")):
        found |= {one.number: one for one, _counted in beside(row)}
    return sorted(found.values(), key=lambda one: (one.observed_at, one.number))


def beside(row: Movement) -> list[tuple[PackagingOpened, PackagingCounted | None]]:
    """The rolls and sleeves that were on the line while this movement ran through it, with their counts. A few queries.

    One that nobody counted is taken to have been there until the next of its kind.
    """
    ended = MovementEnd.objects.filter(movement=row.number).values_list("ended_at", flat=True).first()
    until = ended or row.ended_at or clock.now()
    rows = PackagingOpened.objects.filter(
        place=row.via, observed_at__lte=until, observed_at__gte=row.started_at - OPEN_FOR
    )
    opened = list(standing(rows).exclude(matches=False, used=False))
    counted = counts_of(one.number for one in opened)
    found = []
    for one in opened:
        off = counted[one.number].observed_at if one.number in counted else _next_opening(one)
        if off >= row.started_at:
            found.append((one, counted.get(one.number)))
    return found


def openings_of(roll_code: str) -> list[PackagingOpened]:
    """The openings of a roll or sleeve of this lot code that stand, in order of time."""
    return list(standing(PackagingOpened.objects.filter(roll_code=roll_code.strip())).order_by("observed_at"))


def packing_with(opened: Iterable[PackagingOpened]) -> list[tuple[PackagingOpened, Movement]]:
    """Every movement into packs that ran while one of these was on its line, as packs_with_roll bounds it."""
    rows = [one for one in opened if one.matches or one.used]
    counted = counts_of(one.number for one in rows)
    found = []
    for one in rows:
        until = counted[one.number].observed_at if one.number in counted else _next_opening(one)
        found += [(one, row) for row in _packing_between(one.place, one.observed_at, until)]
    return found


def _next_opening(one: PackagingOpened) -> datetime:
    rows = standing(PackagingOpened.objects.filter(place=one.place, kind=one.kind, observed_at__gt=one.observed_at))
    following = rows.filter(matches=True).order_by("observed_at").values_list("observed_at", flat=True).first()
    return min(following or one.observed_at + OPEN_FOR, one.observed_at + OPEN_FOR)


def _packing_between(place: str, start: datetime, end: datetime) -> list[Movement]:
    """What was packed through a line from start to end, both included; running at the start is enough."""
    first = start - RUNS_FOR
    found_rows = standing_flow(Movement.objects.filter(via=place, started_at__lte=end, started_at__gte=first))
    rows = list(found_rows.exclude(target_lot=None).order_by("started_at"))
    ends = dict(
        MovementEnd.objects.filter(movement__in=[one.number for one in rows]).values_list("movement", "ended_at")
    )
    found = []
    for one in rows:
        ended = ends.get(one.number, one.ended_at)
        if is_packing(one.target, one.target_name) and (ended is None or ended >= start):
            found.append(one)
    return found
