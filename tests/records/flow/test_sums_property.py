"""Random plants against plain sums: what the book says a vessel holds at any moment, and what the sheet says of a day.

The second telling adds: the level seen last, and since then each standing movement's share by time. 8.6 lb of milk to a
gallon is common practice, no source. Nothing of the fold or of the balance is used for it.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from records.flow.history import History, of_rows
from records.flow.models import LevelSeen, Movement, MovementEnd
from records.people.plans import InForce, plan_in_force
from records.review import queries
from records.review.balance import balance
from tests.conftest import NOW, Plant

pytestmark = pytest.mark.django_db
STEP = timedelta(minutes=30)
DAYS, PER_DAY = 3, 48
LAST = DAYS * PER_DAY
LB_PER_GAL = Fraction("8.6")
VESSELS = ("silo-a", "finished-1")
WAYS = (("", "silo-a"), ("silo-a", "finished-1"), ("finished-1", ""), ("silo-a", ""), ("finished-1", "silo-a"))
few = settings(
    deadline=None, max_examples=60, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.filter_too_much],
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Flowed:
    """What stands of a movement, in half hours and gallons."""

    number: int
    source: str
    target: str
    start: int
    end: int
    gallons: Fraction

    def share(self, since: float, until: float) -> Fraction:
        """How much of it went between two moments; what took no time went after `since` and not after `until`."""
        if self.start == self.end:
            return self.gallons if since < self.start <= until else Fraction(0)
        within = min(self.end, until) - max(self.start, since)
        return self.gallons * Fraction(within) / (self.end - self.start) if within > 0 else Fraction(0)


@dataclass(slots=True)
class Told:
    """Rows as the tables have them, and what stands of them."""

    rows: list[Movement] = field(default_factory=list)
    ends: list[MovementEnd] = field(default_factory=list)
    levels: list[LevelSeen] = field(default_factory=list)
    flowed: list[Flowed] = field(default_factory=list)
    seen: dict[str, list[tuple[int, Fraction]]] = field(default_factory=lambda: defaultdict(list))

    def held(self, vessel: str, moment: float) -> Fraction:
        """Gallons by plain sums: never shown below nothing."""
        return max(self.summed(vessel, moment), Fraction(0))

    def summed(self, vessel: str, moment: float, *, before: bool = False) -> Fraction:
        """The level seen last, and what came and went since; `before` the level of the moment itself was seen."""
        since, total = max(
            ((at, much) for at, much in self.seen[vessel] if at < moment or (at == moment and not before)),
            default=(-1.0, Fraction(0)), key=lambda one: one[0],
        )  # fmt: skip
        for one in self.flowed:
            share = one.share(since, moment)
            total += share * ((one.target == vessel) - (one.source == vessel))
        return total

    def breaks(self, vessel: str) -> bool:
        """Whether ever, while nothing was drawn, the sum went below nothing: the book then says so and begins anew."""
        return any(
            self.summed(vessel, at, before=True) < 0
            and not any(one.source == vessel and one.start <= at < one.end for one in self.flowed)
            for at in range(LAST + 1)
        )

    def of(self, vessel: str, first: int, last: int) -> list[Flowed]:
        """What moved there from one moment on and before another."""
        mine = [one for one in self.flowed if vessel in (one.source, one.target)]
        return [one for one in mine if one.start < last and (one.end > first or one.start >= first)]


def begin() -> datetime:
    """The start of the first of the days."""
    there = plan_in_force(NOW)
    assert there is not None
    return queries.bounds(queries.plant_day_at(NOW) - timedelta(days=DAYS), NOW)[0]


@st.composite
def plants(draw: Any) -> Any:
    """Movements that overlap and touch, by level, meter and mass, ends told later, amended and void; levels."""
    said = []
    for _one in range(draw(st.integers(1, 9))):
        start = draw(st.integers(0, LAST - 1))
        end = min(LAST, start + draw(st.sampled_from((0, 1, 2, 5, 20, 60))))
        said.append((
            draw(st.sampled_from(WAYS)), start, end, draw(st.integers(1, 9000)),
            draw(st.sampled_from((("level", "gal"), ("meter", "gal"), ("mass", "lb"), ("count", "gal")))),
            draw(st.sampled_from((None, "0.5", "12"))), draw(st.booleans()),
            draw(st.sampled_from(("", "", "", "amended", "void"))),
        ))  # fmt: skip
    seen = draw(st.lists(st.tuples(st.sampled_from(VESSELS), st.integers(0, LAST), st.integers(0, 30000)), max_size=5))
    assume(len({one[:2] for one in seen}) == len(seen))  # two levels of one moment: nobody knows which came last
    return said, seen


def rows_of(said: Any, start: datetime) -> Told:
    """The same as rows of the tables."""
    told, numbers = Told(), iter(range(1, 1000))

    def movement(way: tuple[str, str], begins: int, ends: int | None, tenths: int, by: tuple[str, str], more: Any,
                 **changes: Any) -> Movement:  # fmt: skip
        number = next(numbers)
        row = Movement(
            number=number, form_id=uuid.uuid4(), source=way[0], source_name=way[0] or "Nettle Farm", target=way[1],
            target_name=way[1] or "packed", started_at=start + begins * STEP, observed_at=start + begins * STEP,
            received_at=start + begins * STEP, ended_at=None if ends is None else start + ends * STEP,
            quantity=None if ends is None else Decimal(tenths) / 10, unit=by[1], measured_by=by[0],
            uncertainty=None if more is None else Decimal(more), product="raw-milk", product_name="Raw milk",
            family="raw milk", **changes,
        )  # fmt: skip
        told.rows.append(row)
        return row

    for way, begins, ends, tenths, by, more, later, fate in said[0]:
        first = movement(way, begins, None if later else ends, tenths, by, more)
        last, stands = first, fate != "void"
        if later:
            told.ends.append(MovementEnd(
                number=next(numbers), movement=first.number, ended_at=start + ends * STEP,
                quantity=Decimal(tenths) / 10, unit=by[1], measured_by=by[0],
                uncertainty=None if more is None else Decimal(more), observed_at=start + ends * STEP,
            ))  # fmt: skip
        if fate:
            tenths += 37
            last = movement(way, begins, ends, tenths, by, more, amends=first.number, void=not stands)
        if stands:
            much = Fraction(tenths, 10) / (LB_PER_GAL if by[1] == "lb" else 1)
            told.flowed.append(Flowed(last.number, *way, begins, ends, much))
    for vessel, at, tenths in said[1]:
        told.seen[vessel].append((at, Fraction(tenths, 10)))
        told.levels.append(LevelSeen(
            number=next(numbers), form_id=uuid.uuid4(), vessel=vessel, vessel_name=vessel, unit="gal",
            quantity=Decimal(tenths) / 10, observed_at=start + at * STEP,
        ))  # fmt: skip
    return told


def history_of(told: Told, in_force: InForce, until: datetime) -> History:
    return of_rows(
        in_force.plan, until, movements=told.rows, ends=told.ends, washes=[], levels=told.levels, services=[]
    )


def there() -> InForce:
    found = plan_in_force(NOW)
    assert found is not None
    return found


@given(plants())
@few
def test_the_book_at_any_moment_is_the_sum_of_what_flowed(plant: Plant, said: Any) -> None:
    """Exactly, at each half hour; never below nothing; and where more was drawn than there was, that is listed."""
    start = begin()
    told = rows_of(said, start)
    book = history_of(told, there(), start + LAST * STEP).book
    for vessel in VESSELS:
        own = book.vessels.get(vessel)
        if own is None:
            continue
        kinds = {one.kind for one in own.discrepancies}
        breaks = told.breaks(vessel)
        assert ("below zero" in kinds) == breaks, (vessel, kinds)
        for at in range(LAST + 1):
            shown = own.quantity_at(start + at * STEP)
            assert shown is not None and shown >= 0
            if not breaks:
                assert shown == told.held(vessel, at), (vessel, at)


@given(plants())
@few
def test_each_day_closes_with_what_the_next_begins_with(plant: Plant, said: Any) -> None:
    """Opening and what moved by time give the closing, or a level corrects it; the sheet says the same."""
    start = begin()
    told, in_force = rows_of(said, start), there()
    # A level at the moment of what took no time there: nobody can say which came first.
    levels = {(vessel, at) for vessel, seen in told.seen.items() for at, _much in seen}
    at_once = [one for one in told.flowed if one.start == one.end]
    assume(not levels & {(vessel, one.start) for one in at_once for vessel in (one.source, one.target)})
    ended: dict[str, Fraction] = {}
    for day in range(DAYS):
        first, last = PER_DAY * day, PER_DAY * (day + 1)
        story = history_of(told, in_force, start + last * STEP)
        story.levels = [one for one in story.levels if one.observed_at <= start + last * STEP]
        sheet = balance(story, [], in_force, start + first * STEP, start + last * STEP)
        rows = {one["name"]: one for one in sheet.get("streams", [])}
        parts = _parts(told, rows, first, last)
        for vessel in VESSELS:
            before = ended.pop(vessel, None)
            mine = told.of(vessel, first, last)
            if not mine or told.breaks(vessel):
                continue
            name = in_force.names[vessel]
            opening, closing = rows[f"{name} at the start"], rows[f"{name} at the end"]
            seen = {at: much for at, much in told.seen[vessel] if first <= at <= last}
            early = [at for at in seen if at <= min(max(one.start, first) for one in mine)]
            begins = seen[max(early)] if early else told.summed(vessel, first) - _at(told, vessel, first)
            if begins < 0:
                assert opening["measured"] == ""
            else:
                assert float(opening["measured"]) == pytest.approx(float(begins), abs=0.06)
            assert before is None or early or before == begins
            ends = told.summed(vessel, last) - _at(told, vessel, last)
            if not seen:
                assert begins + parts[vessel] == ends
            if any(one.end > last for one in mine):
                (said_so,) = [text for text in sheet["over"] if text.startswith(f"{name} at the end: ")]
                ended[vessel] = ends
                if ends < 0:
                    assert "more had been drawn" in said_so and closing["measured"] == ""
                    continue
                shown = float(said_so.split(": ")[1].split(" gal")[0])
                assert shown == pytest.approx(float(ends), abs=0.06)
                late = [at for at in seen if at >= max((one.end for one in mine if one.end <= last), default=first)]
                assert ("level seen" in said_so) == bool(late) == bool(closing["measured"])
                if late:
                    assert float(closing["measured"]) == shown


def _at(told: Told, vessel: str, moment: int) -> Fraction:
    """What took no time at a moment: it belongs to the day that begins there."""
    mine = [one for one in told.flowed if one.start == one.end == moment]
    return sum((one.gallons * ((one.target == vessel) - (one.source == vessel)) for one in mine), Fraction(0))


def _parts(told: Told, rows: dict[str, Any], first: int, last: int) -> dict[str, Fraction]:
    """What came to each vessel less what left it in a day; each movement's part as the sheet has it."""
    parts: dict[str, Fraction] = defaultdict(Fraction)
    for one in told.flowed:
        share = one.share(first, last)
        if one.start == one.end:
            share = one.gallons if first <= one.start < last else Fraction(0)
        (shown,) = [row for name, row in rows.items() if name.startswith(f"entry {one.number}:")] or [None]
        assert (shown is not None) == bool(share)
        assert shown is None or float(shown["measured"]) == pytest.approx(float(share), abs=0.06)
        parts[one.target] += share
        parts[one.source] -= share
    return parts
