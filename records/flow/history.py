"""The rows that bear on a window of time, and the book of contents folded from them.

A washed vessel was empty, so its story is read from its last wash before the window on, not from the beginning of time.
Product that came from a vessel washed since carries its age: that vessel's story is then read further back.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.db.models import Q

from plant.hazard_plan.content import Plan
from plant.process import contents as book
from plant.process.folding import fold
from plant.process.properties import MILK_LB_PER_GAL, UsualDensity
from plant.rework_places import is_rework
from records.flow import choices, densities
from records.flow.breaks import breaks_before
from records.flow.choices import WASHED
from records.flow.effective import stands, with_fate
from records.flow.models import LevelSeen, Movement, MovementEnd, PlantEvent, ServiceState, Wash
from records.lots.models import Lot

# Levels of nothing that a person ticked on another form: with a wash, a movement, the end of one.
WASH_EMPTY, EMPTIED, EMPTIED_AT_END = "empty", "emptied", "emptied at the end"
# A wash said to begin is believed for so long, and asked about for so long where nobody recorded it.
WASH_LASTS, WASH_ASKED = timedelta(hours=24), timedelta(days=7)
# Milk that went from tank to tank is followed back through so many tanks.
TANKS_BACK = 6


@dataclass(frozen=True, slots=True)
class Told:
    """A movement as it stands: its row, its end (the row's own or recorded later) and its first number.

    `first` is the number that it had before any amendment: runs and events keep that name.
    """

    row: Movement
    ended_at: datetime | None
    quantity: Decimal | None
    unit: str
    uncertainty: Decimal
    first: int

    @property
    def runs(self) -> bool:
        """Whether the book has no end of it."""
        return self.ended_at is None


@dataclass(slots=True)
class History:
    """Rows of a window. `since`: from when each vessel's story is told; None is from the beginning."""

    plan: Plan
    until: datetime
    since: Mapping[str, datetime | None]
    moves: list[Told]
    washes: list[Wash]
    levels: list[LevelSeen]
    services: list[ServiceState]
    found: list[Lot] = field(default_factory=list)
    washes_begun: list[PlantEvent] = field(default_factory=list)
    _cache: dict[str, Any] = field(default_factory=dict)

    @property
    def book(self) -> book.Book:
        """Every vessel's contents over time."""
        if "book" not in self._cache:
            self._cache["book"] = _folded(self)
        found: book.Book = self._cache["book"]
        return found

    def into(self, vessel: str) -> list[Told]:
        """Movements into a vessel, in order of start."""
        return self._sorted("target").get(vessel, [])

    def out_of(self, vessel: str) -> list[Told]:
        """Movements from a vessel, in order of start."""
        return self._sorted("source").get(vessel, [])

    def through(self, line: str) -> list[Told]:
        """Movements through a line, in order of start."""
        return self._sorted("via").get(line, [])

    def product_after(self, place: str, moment: datetime) -> list[Told]:
        """What went into a place or through it from a moment on, until its next wash; in order of start."""
        following = (one.started_at for one in self.washes_of(place, WASHED) if one.started_at >= moment)
        until = min(following, default=None)
        found = [one for one in (*self.into(place), *self.through(place)) if one.row.started_at >= moment]
        found = [one for one in found if until is None or one.row.started_at < until]
        return sorted(found, key=lambda one: (one.row.started_at, one.row.number))

    def washes_of(self, place: str, what: str = "") -> list[Wash]:
        """Washes (or sanitizings) of a place, in order of their end."""
        if "washes" not in self._cache:
            found: dict[str, list[Wash]] = defaultdict(list)
            for one in sorted(self.washes, key=lambda one: (one.ended_at, one.number)):
                found[one.vessel].append(one)
            self._cache["washes"] = found
        return [one for one in self._cache["washes"].get(place, []) if what in ("", one.what)]

    def lot_at(self, vessel: str, moment: datetime) -> UUID | None:
        """The lot of what a vessel holds, or last held, at a moment: between two washes there is one."""
        starts = [one.started_at for one in self.washes_of(vessel, WASHED)]
        low = max((one for one in starts if one <= moment), default=None)
        high = min((one for one in starts if one > moment), default=None)

        def within(at: datetime) -> bool:
            return (low is None or at >= low) and (high is None or at < high)

        filled = [one.row for one in self.into(vessel) if one.row.target_lot and within(one.row.started_at)]
        if filled:
            return min(filled, key=lambda one: one.number).target_lot
        met = [one for one in self.found if one.vessel == vessel and within(one.observed_at)]
        return min(met, key=lambda one: one.number).id if met else None

    def clean_since(self, vessel: str, moment: datetime) -> tuple[datetime | None, datetime | None]:
        """When a vessel was washed and sanitized, as far as that still holds: None once product has been in since."""
        told = self.book.vessels.get(vessel)
        found = told.snapshot(moment) if told else None
        if found is None or found.holding:
            return None, None
        return found.washed_at if found.clean else None, found.sanitized_at if found.sanitized else None

    def with_moves(self, moves: list[Told]) -> History:
        """The same history with other movements: to ask what it would say with or without one."""
        return replace(self, moves=moves, _cache={})

    def without(self, number: int) -> History:
        """The same history without a movement."""
        return self.with_moves([one for one in self.moves if one.row.number != number])

    @property
    def washings(self) -> list[Wash]:
        """Washes, without the sanitizings."""
        return [one for one in self.washes if one.what == WASHED]

    def within_washes(self, place: str, start: datetime, end: datetime | None) -> tuple[datetime, datetime | None]:
        """When a movement can have been going on at a place, by the washes of it."""
        washes = sorted(self.washes_of(place, WASHED), key=lambda one: one.started_at)
        for one in washes:
            if one.started_at <= start < one.ended_at:
                start = one.ended_at
        following = min((one.started_at for one in washes if one.started_at > start), default=None)
        if following is not None and (end is None or following < end):
            end = following
        return start, end if end is None else max(start, end)

    def end_of(self, told: Told) -> datetime | None:
        """When a movement ended: as recorded, or at the latest when one of its places was washed."""
        ends = [told.ended_at] if told.ended_at is not None else []
        for code in (told.row.source, told.row.via, told.row.target):
            if code:
                end = self.within_washes(code, told.row.started_at, told.ended_at)[1]
                ends += [end] if end is not None else []
        return min(ends, default=None)

    def running(self, moment: datetime) -> list[Told]:
        """Movements that run at a moment."""
        begun = [one for one in self.moves if one.row.started_at <= moment]
        ends = [(one, self.end_of(one)) for one in begun if one.ended_at is None or one.ended_at > moment]
        return [one for one, end in ends if end is None or end > moment]

    def _sorted(self, end: str) -> dict[str, list[Told]]:
        if end not in self._cache:
            found: dict[str, list[Told]] = defaultdict(list)
            for one in sorted(self.moves, key=lambda one: (one.row.started_at, one.row.number)):
                found[getattr(one.row, end)].append(one)
            self._cache[end] = found
        cached: dict[str, list[Told]] = self._cache[end]
        return cached


# --- folding


def _folded(history: History) -> book.Book:
    plan = history.plan
    renewing = {one.code for one in plan.vessels if one.kind == "pasteurizer"}
    unit = {one.code: one.unit for one in plan.vessels}
    known = densities.for_book(history, unit)
    # A wash is itself a level seen: whoever washed it found it empty.
    shown = [book.Level(one.vessel, one.started_at, Decimal(0), unit.get(one.vessel, "")) for one in history.washings]
    levels = [book.Level(one.vessel, one.observed_at, one.quantity, one.unit) for one in history.levels]
    return fold(
        [move for one in history.moves for move in _moves(one, history, one.row.via in renewing, known)],
        [book.Wash(one.vessel, one.started_at, one.ended_at, _kind(one)) for one in history.washes],
        levels + shown,
        [book.Service(one.vessel, one.observed_at, one.out) for one in history.services],
        units=unit,
        lb_per_gal=MILK_LB_PER_GAL,
    )


def _kind(wash: Wash) -> Any:
    return wash.what


def _moves(told: Told, history: History, renews: bool, known: Mapping[int, UsualDensity]) -> list[book.Move]:
    """A movement for the fold; where a wash contradicts it, each of its ends by itself, so that no end moves the other.

    Product neither leaves nor enters a vessel while it is washed, and what was going on had ended when the wash began.
    """
    row = told.row
    density = known.get(row.number)
    whole = book.Move(
        number=row.number,
        source=row.source or None,
        target=row.target or None,
        started_at=row.started_at,
        ended_at=told.ended_at,
        quantity=told.quantity,
        unit=told.unit,
        target_lot=str(row.target_lot or ""),
        uncertainty=told.uncertainty,
        renews_age=renews,
        lb_per_gal=density.lb_per_gal if density else None,
        density_doubt=density.doubt if density else Decimal(0),
    )
    if is_rework(row.target):
        # Set aside from a draw: the draw's own movement has taken it from the vessel, so it leaves it once.
        whole = replace(whole, source=None)
    as_said = (row.started_at, told.ended_at)
    left, entered = (history.within_washes(code, *as_said) if code else as_said for code in (row.source, row.target))
    if left == entered == as_said:
        return [whole]
    parts = []
    if whole.source:
        parts.append(replace(whole, target=None, started_at=left[0], ended_at=left[1]))
    if row.target:
        parts.append(replace(whole, source=None, started_at=entered[0], ended_at=entered[1]))
    if len(parts) == 2 and left[0] == entered[0] == row.started_at:
        # Nothing of no duration: it carries the age from the one vessel to the other.
        parts.append(replace(whole, ended_at=row.started_at, quantity=Decimal(0), uncertainty=Decimal(0)))
    return parts


# --- from rows


def of_rows(
    plan: Plan,
    until: datetime,
    *,
    movements: Iterable[Movement],
    ends: Iterable[MovementEnd],
    washes: Iterable[Wash],
    levels: Iterable[LevelSeen],
    services: Iterable[ServiceState],
    found: Iterable[Lot] = (),
    washes_begun: Iterable[PlantEvent] = (),
    since: Mapping[str, datetime | None] | None = None,
    first_numbers: Mapping[int, int] | None = None,
) -> History:
    """The history that these rows tell. Rows that do not stand (amended, or void) are left out here."""
    rows, washed = list(movements), list(washes)
    ended = {one.movement: one for one in ends}
    replaced = {one.amends for one in rows if one.amends is not None}
    replaced |= {one.amends for one in washed if one.amends is not None}
    firsts = dict(first_numbers or {})
    for row in sorted(rows, key=lambda one: one.number):
        if row.amends is not None and row.number not in firsts:
            firsts[row.number] = firsts.get(row.amends, row.amends)
    taken_back = _levels_taken_back(rows, washed, firsts, replaced)
    return History(
        plan,
        until,
        since or {},
        [_told(one, ended, firsts) for one in rows if stands(one) and one.number not in replaced],
        [one for one in washed if stands(one) and one.number not in replaced],
        [one for one in levels if one.form_id not in taken_back],
        list(services),
        list(found),
        _begun(washes_begun),
    )


def _begun(events: Iterable[PlantEvent]) -> list[PlantEvent]:
    """The washes said to begin, without those of which somebody said that they did not happen."""
    rows = list(events)
    gone = {one.reference for one in rows if one.event == choices.WASH_NOT_DONE}
    return [one for one in rows if one.event == choices.WASH_BEGUN and str(one.number) not in gone]


def level_form(form_id: UUID, what: str) -> UUID:
    """The form id of the level that came with a wash or a movement: it is taken back with it."""
    return uuid5(form_id, what)


def _levels_taken_back(
    rows: Sequence[Movement], washed: Sequence[Wash], firsts: Mapping[int, int], replaced: set[int]
) -> set[UUID]:
    """Levels of nothing that came with a wash that does not stand, or a movement that did not happen."""
    found = {level_form(one.form_id, WASH_EMPTY) for one in washed if not stands(one) or one.number in replaced}
    void = {number for one in rows if one.void for number in (one.number, one.amends, firsts.get(one.number))}
    for one in rows:
        if one.number in void:
            found |= {level_form(one.form_id, EMPTIED), level_form(one.form_id, EMPTIED_AT_END)}
    return found


def _told(row: Movement, ends: Mapping[int, MovementEnd], firsts: Mapping[int, int]) -> Told:
    first = firsts.get(row.number, row.number)
    end = ends.get(row.number)
    if end is None:
        return Told(row, row.ended_at, row.quantity, row.unit, row.uncertainty or Decimal(0), first)
    return Told(row, end.ended_at, end.quantity, end.unit, end.uncertainty or Decimal(0), first)


# --- from the database


def load(plan: Plan, since: datetime, until: datetime, codes: Iterable[str] | None = None) -> History:
    """Every row that bears on these places (all of the plan's, by default) in [since, until], in a few queries."""
    lines = {code for code, _name in choices.lines(plan)} | choices.parts(plan)
    every = {one.code for one in plan.vessels} | lines
    unclocked = {one.code for one in plan.vessels if one.storage_class == "none"}
    wanted = sorted(every if codes is None else {code for code in codes if code in every or is_rework(code)})
    froms = breaks_before(wanted, since, lines, unclocked)
    movements = list(_movements(froms, until))
    for _step in range(TANKS_BACK):
        further = _further_back(movements, froms, plan)
        if not further:
            break
        froms |= breaks_before(sorted(further), since, lines, unclocked, at=further)
        movements = list(_movements(froms, until))
    numbers = [one.number for one in movements]
    return of_rows(
        plan,
        until,
        movements=movements,
        ends=MovementEnd.objects.filter(movement__in=numbers),
        washes=with_fate(Wash.objects.filter(_each(froms, "vessel", "ended_at"), started_at__lte=until)),
        levels=LevelSeen.objects.filter(_each(froms, "vessel", "observed_at"), observed_at__lte=until),
        services=ServiceState.objects.filter(vessel__in=list(froms), observed_at__lte=until),
        found=Lot.objects.filter(_each(froms, "vessel", "observed_at"), origin="vessel fill", movement=None),
        washes_begun=PlantEvent.objects.filter(
            event__in=(choices.WASH_BEGUN, choices.WASH_NOT_DONE),
            observed_at__gte=until - WASH_ASKED,
            observed_at__lte=until,
        ),
        since=froms,
        first_numbers=first_numbers(movements),
    )


def _movements(froms: Mapping[str, datetime | None], until: datetime) -> Any:
    wanted = Q()
    for end in ("source", "target", "via"):
        wanted |= _each(froms, end, "started_at")
    return with_fate(Movement.objects.filter(wanted, started_at__lte=until)).order_by("started_at", "number")


def _each(froms: Mapping[str, datetime | None], place: str, moment: str) -> Q:
    """Rows of each place from its own moment on; places told from the beginning need no moment."""
    wanted = Q(pk__in=[])
    always = [code for code, at in froms.items() if at is None]
    if always:
        wanted |= Q(**{f"{place}__in": always})
    for code, at in froms.items():
        if at is not None:
            wanted |= Q(**{place: code, f"{moment}__gte": at})
    return wanted


def _further_back(
    movements: Sequence[Movement], froms: Mapping[str, datetime | None], plan: Plan
) -> dict[str, datetime]:
    """Vessels told from earlier on: product that kept its age came from them before their last wash."""
    renewing = {one.code for one in plan.vessels if one.kind == "pasteurizer"}
    further: dict[str, datetime] = {}
    for row in filter(stands, movements):
        known = froms.get(row.source) if row.source in froms else None
        earlier = row.source in froms and known is not None and row.started_at < known
        if earlier and row.via not in renewing:
            further[row.source] = min(row.started_at, further.get(row.source, row.started_at))
    return further


def first_numbers(movements: Sequence[Movement]) -> dict[int, int]:
    """The first number of each amended movement: what it was called before any amendment."""
    firsts = {one.number: one.amends for one in movements if one.amends is not None}
    waiting = set(firsts.values())
    while waiting:
        before = dict(Movement.objects.filter(number__in=waiting, amends__isnull=False).values_list("number", "amends"))
        firsts = {number: before.get(first) or first for number, first in firsts.items() if first is not None}
        waiting = {one for one in before.values() if one is not None}
    return {number: first for number, first in firsts.items() if first is not None}


__all__ = ["History", "Told", "first_numbers", "load", "of_rows"]
