"""What the Workshop's first page shows of each pasteurizer and of the instruments, at a moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from plant.equipment.models import Instrument
from plant.hazard_plan.content import VesselDef
from records.people.plans import InForce
from records.workshop import telling
from records.workshop.due import AfterWork, TestDue, after_works, latest_tests
from records.workshop.keeping import PRESS, local_day
from records.workshop.seals import SealState, seals_at
from records.workshop.standing import MOMENT, TestWindow, bars_to_start, counts_at, test_windows

SOON = timedelta(days=30)
OVERDUE, DUE_SOON, LATER = "overdue", "due soon", ""


@dataclass(frozen=True, slots=True)
class HoldingRow:
    """A set-up with its test of record, whether it counts now, and the last day on which it does."""

    name: str
    window: TestWindow
    counts: bool
    last_day: date | None
    state: str


@dataclass(frozen=True, slots=True)
class TestRow:
    """A numbered test's last record and how near its end is."""

    __test__ = False  # no test of ours

    due: TestDue
    state: str


@dataclass(frozen=True, slots=True)
class PressRow:
    """All of one pasteurizer."""

    press: VesselDef
    bars: list[str]
    seals: list[SealState]
    untold: list[tuple[telling.Untold, bool]]  # with whether it is late
    holding: list[HoldingRow]
    tests: list[TestRow]
    after: list[AfterWork]


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """An instrument with how near its next calibration is."""

    instrument: Instrument
    state: str


def presses(in_force: InForce) -> list[VesselDef]:
    """The pasteurizers of the plan, in flow order."""
    found = [one for one in in_force.plan.vessels if one.kind == PRESS]
    return sorted(found, key=lambda one: (one.flow_order, one.name))


def press_row(press: VesselDef, now: datetime, in_force: InForce) -> PressRow:
    """One pasteurizer as it stands now."""
    day = local_day(in_force, now)
    bars = bars_to_start(press.code, now, in_force)
    return PressRow(
        press=press,
        bars=bars,
        seals=seals_at(press.code, now),
        untold=[(one, one.is_late(now)) for one in telling.untold(press.code, in_force)],
        holding=_holding(press.code, bars, now, in_force),
        tests=[TestRow(one, near(one.until.strict, day)) for one in latest_tests(press.code, now, in_force).values()],
        after=after_works(press.code, now, in_force),
    )


def _holding(press: str, bars: list[str], now: datetime, in_force: InForce) -> list[HoldingRow]:
    names = {one.key: one.name for one in in_force.plan.set_ups}
    found = []
    for one in test_windows(press, now, now + MOMENT, in_force):
        counts = counts_at(one, now) and one.sentence not in bars
        last = local_day(in_force, one.counts_until - MOMENT) if one.counts_until else None
        state = near(last, local_day(in_force, now)) if last is not None and counts else ""
        found.append(HoldingRow(names.get(one.set_up, one.set_up), one, counts, last, state))
    return found


def near(last: date, day: date) -> str:
    """How near an end is: overdue, due soon, or later."""
    if day > last:
        return OVERDUE
    return DUE_SOON if last - day <= SOON else LATER


def instrument_rows(now: datetime, in_force: InForce) -> list[InstrumentRow]:
    """Every instrument in use, the one due first on top."""
    day = local_day(in_force, now)
    rows = Instrument.objects.filter(is_active=True).order_by("calibration_due", "code")
    return [InstrumentRow(one, near(one.calibration_due, day)) for one in rows]
