"""Builds the invented plant in the database that the settings name: an empty one, which it marks for good."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connection

from plant import clock
from plant.demo.environment import FILES, KEYS, STATE
from plant.hazard_plan.planned import calendar_of
from plant.hazard_plan.written import read
from plant.process.plant_calendar import PlantCalendar
from records.checks import watch
from records.demo import scenario, staff
from records.demo.hand import Hand, form_id
from records.demo.tested import tested
from records.demo.walk import Outline, Walk
from records.flow.actions import record_event
from records.flow.data import EventData
from records.ledger.models import Entry, Installation
from records.people import installation
from records.people.plans import plan_in_force

# A Monday: with the plan's calendar the checks of a week's beginning, and the month's first.
FIRST_DAY = date(2026, 3, 2)
# What fell due in the last minutes before the demo opens is left for whoever comes.
LEFT_OPEN = timedelta(minutes=40)

Tell = Callable[[str], None]


class NotOurs(Exception):
    """The database is not one that a demo made; its text says so in one sentence."""


@dataclass(frozen=True, slots=True)
class State:
    """What a demo remembers of itself in its folder: its days, and the tablet's token (the database has its hash)."""

    days: tuple[date, ...]
    token: str


def state_path() -> Path:
    """Beside the database."""
    return Path(settings.DATA_DIR) / STATE


def standing() -> State | None:
    """The finished plant in this folder; None where none was finished. Raises NotOurs for any other database."""
    marked = _marked()
    if marked is False:
        raise NotOurs(f"{_database()} belongs to a real plant: the demo leaves it alone.")
    try:
        kept = json.loads(state_path().read_text(encoding="utf-8"))
        state = State(tuple(date.fromisoformat(one) for one in kept["days"]), kept["token"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return state if marked else None


def _marked() -> bool | None:
    """Whether the database is marked as invented; None when nothing was entered in it yet."""
    if Installation._meta.db_table not in connection.introspection.table_names():
        return None
    first = Installation.objects.first()
    if first is not None:
        return first.invented
    return False if Entry.objects.exists() else None


def clear_half_built() -> None:
    """Remove what a start that was cut off left behind: only a database that is empty or marked as invented."""
    if _marked() is False:
        raise NotOurs(f"{_database()} belongs to a real plant: the demo leaves it alone.")
    connection.close()
    for name in ("-wal", "-shm", ""):  # a log without its file stops the next start
        Path(f"{_database()}{name}").unlink(missing_ok=True)
    for folder in (KEYS, FILES):
        _remove_inside(Path(settings.DATA_DIR) / folder)
    state_path().unlink(missing_ok=True)
    installation.forget()


def _remove_inside(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not path.is_symlink():
            path.rmdir()
        else:
            path.unlink()


def _database() -> Path:
    return Path(connection.settings_dict["NAME"])


def calendar() -> PlantCalendar:
    """Quillbrook's calendar, before any plan is approved."""
    return calendar_of(read(staff.WRITTEN.read_text(encoding="utf-8")))


def working_days(last: date, how_many: int) -> list[date]:
    """The last days with production up to and including `last`, oldest first."""
    found: list[date] = []
    plants, day = calendar(), last
    while len(found) < how_many:
        if not all(one.closed for one in plants.day_shifts(day)):
            found.append(day)
        day -= timedelta(days=1)
    return found[::-1]


def outlines(days: list[date], today: date | None) -> list[tuple[Outline, bool, bool]]:
    """(day, is it reviewed, was something made): the scenario's days with any closed day between, then today's."""
    stories = dict(zip(days, scenario.DAYS, strict=False))  # a benchmark builds the first two alone
    last = today or days[-1]
    found: list[tuple[Outline, bool, bool]] = []
    plants, day = calendar(), days[0]
    while day <= last:
        working = not all(one.closed for one in plants.day_shifts(day))
        ordinary = scenario.TODAY if day == today and working else scenario.REST
        # A day without production can be closed only after its end; the watch drafts its sheet, and it is left at that.
        found.append((Outline(day, stories.get(day, ordinary)), working and day != today, working))
        day += timedelta(days=1)
    return found


def build_once(tell: Tell, first_day: date = FIRST_DAY, how_many: int = len(scenario.DAYS)) -> State:
    """The three days of `--once` (or the first of them), under a clock moved by hand, every day closed and signed."""
    days = [first_day + timedelta(days=one) for one in range(how_many)]
    end = calendar().day_bounds(days[-1])[1]
    return _build(days, None, end, None, tell)


def build_until_now(tell: Tell) -> State:
    """Three days with production up to yesterday, then today as far as it has come."""
    now = clock.now()
    today = calendar().plant_day(now - timedelta(hours=1))
    days = working_days(today - timedelta(days=1), len(scenario.DAYS))
    return _build(days, today, now, LEFT_OPEN, tell)


def _build(days: list[date], today: date | None, until: datetime, left_open: timedelta | None, tell: Tell) -> State:
    call_command("migrate", verbosity=0, interactive=False)
    begins = calendar().day_bounds(days[0])[0]
    hand = Hand(begins - timedelta(hours=1))
    with _quick_disk(), clock.replaced(hand), _silent_mail():
        crew = staff.begin(begins)
        hand.to(begins)
        watch.begin_at(begins)
        in_force = plan_in_force(begins)
        assert in_force is not None  # the crew has just approved it
        tested(crew, in_force)
        walk = Walk(crew, in_force, hand, tell)
        for outline, reviewed, working in outlines(days, today):
            walk.plan_day(outline, reviewed=reviewed, working=working)
        walk.to(until, left_open)
        hand.to(until)
        if today is not None:
            _delivery(crew)
            watch.begin_at(until)
    state = State(tuple(days), crew.token)
    _keep(state)
    return state


def _delivery(crew: staff.Crew) -> None:
    """Something to answer at any hour: a pallet at the door."""
    now = clock.now()
    by = crew.actor("ines")
    record_event(
        by, EventData(form_id("delivery", now), "delivery", now, "dry-store", "Wheat crumble, lot WC-131")
    )


def _keep(state: State) -> None:
    text = json.dumps({"days": [one.isoformat() for one in state.days], "token": state.token})
    unfinished = state_path().with_suffix(".part")
    descriptor = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)
    unfinished.replace(state_path())


@contextmanager
def _quick_disk() -> Iterator[None]:
    """While it is built, a power cut may cost the whole: it is then built anew. Afterwards each commit is on disk."""
    with connection.cursor() as cursor:
        # PostgreSQL: only a benchmark builds there, in a cluster of its own.
        cursor.execute("PRAGMA synchronous=OFF" if connection.vendor == "sqlite" else "SET synchronous_commit = off")
    try:
        yield
    finally:
        connection.close()


@contextmanager
def _silent_mail() -> Iterator[None]:
    """Notices of the invented days go nowhere: their addresses are invented too."""
    before: Any = settings.EMAIL_URL
    settings.EMAIL_URL = "memory:"
    try:
        yield
    finally:
        settings.EMAIL_URL = before
