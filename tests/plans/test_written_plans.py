"""What the two invented plants' plans make due: a real day's work, twelve temperatures in a round, closed days."""

from collections import Counter
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import Plan
from plant.hazard_plan.planned import calendar_of, planned_checks
from plant.hazard_plan.written import read
from plant.process.schedule import Due, Event, Facts, Holding, Run, expand

pytestmark = pytest.mark.once

CHICAGO, MADRID = ZoneInfo("America/Chicago"), ZoneInfo("Europe/Madrid")
ROOMS = ["hardening-room", "walk-in-cooler", "ingredient-cooler"]
RAW = ["silo-a", "cream-tank", "skim-tank", "whole-tank", "blend-vat"]
TANKS = [*RAW, "finished-1", "finished-2", "flavor-vat-1", "flavor-vat-2", *ROOMS]


@cache
def plan(name: str) -> Plan:
    """One of the two written plans."""
    path = {"quillbrook": "plant/demo/quillbrook.toml", "valle hondo": "tests/plans/valle_hondo.toml"}[name]
    return read(Path(path).read_text(encoding="utf-8"))


def due(name: str, facts: Facts, start: datetime, hours: int = 24) -> list[Due]:
    """What falls due by a plan."""
    return expand(planned_checks(plan(name)), calendar_of(plan(name)), facts, start, start + timedelta(hours=hours))


def at(day: int, hour: float, zone: ZoneInfo = CHICAGO) -> datetime:
    """A local time in March 2026 (the 10th is a Tuesday)."""
    return datetime(2026, 3, day, tzinfo=zone).astimezone(UTC) + timedelta(hours=hour)


def a_busy_tuesday() -> Facts:
    """Two tankers, two pasteurizer runs, bottles and one ice cream."""
    held = [
        ("silo-a", 6, 12), ("silo-a", 14, None), ("cream-tank", 7.5, 15), ("skim-tank", 7.5, 14),
        ("whole-tank", 7, 11), ("blend-vat", 9, 13), ("finished-1", 8, 18), ("finished-2", 14, None),
        ("flavor-vat-1", 15, 19), ("hardening-room", -24, None), ("walk-in-cooler", -24, None),
        ("ingredient-cooler", -24, None),
    ]  # fmt: skip
    runs = [
        ("separator", 7.5, 8.5), ("press-1", 8, 10.5), ("press-1", 13.5, 16), ("filler", 10.5, 12.5),
        ("freezer", 16, 18.5), ("feeder", 16, 18.5), ("filler", 16, 18.5),
    ]  # fmt: skip
    events = [
        ("tanker", "silo-a", 6), ("tanker", "silo-a", 14), ("batch", "blend-vat", 9),
        ("flavor batch", "flavor-vat-1", 15), ("label roll", "label-station", 11), ("changeover", "feeder", 15),
        ("packed", "hardening-room", 18), ("delivery", "ingredient-cooler", 9), ("lab sample", "finished-1", 10),
    ]  # fmt: skip
    return Facts(
        tuple(Holding(code, at(10, since), None if until is None else at(10, until)) for code, since, until in held),
        tuple(Run(code, str(n), at(10, begun), at(10, over)) for n, (code, begun, over) in enumerate(runs)),
        tuple(Event(kind, str(n), code, at(10, hour)) for n, (kind, code, hour) in enumerate(events)),
    )


@pytest.mark.parametrize("name", ["quillbrook", "valle hondo"])
def test_a_written_plan_has_no_problem(name):
    """Neither plan has a refusal or a warning."""
    assert [str(one) for one in problems(plan(name))] == []


def test_quillbrooks_busiest_day_is_one_that_two_shifts_can_do():
    """With both lines running all day it is under ten checks an hour of two shifts; without them it is a few dozen."""
    busy = due("quillbrook", a_busy_tuesday(), at(10, 5))
    assert 60 <= len(busy) < 10 * 16
    assert 20 <= len(due("quillbrook", Facts(), at(10, 5))) <= 60


def test_every_kind_of_work_of_the_day_is_asked_for():
    """Receiving, gates, runs, labels, rooms and people each have their checks on the busy day."""
    keys = Counter(one.key for one in due("quillbrook", a_busy_tuesday(), at(10, 5)))
    for key in ("residue-screen", "before-use", "press-seals", "cut-in", "press-pair", "label-first", "draw", "health"):
        assert keys[key], key
    assert keys["residue-screen"] == 2


def test_twelve_temperatures_come_due_in_one_round():
    """With every vessel and room full, the round after the shift's start takes twelve temperatures at one moment."""
    full = Facts(tuple(Holding(code, at(9, 0)) for code in TANKS))
    keys = {one.key for one in plan("quillbrook").monitoring if one.key.endswith("-temperature")}
    first = [one for one in due("quillbrook", full, at(10, 5), 1) if one.key in keys]
    assert sorted(one.subject for one in first) == sorted(TANKS)
    assert len({one.due_at for one in first}) == 1


def test_milk_in_the_silo_is_looked_at_on_the_closed_sunday():
    """On Sunday the 15th the silo that holds milk comes due, and nothing that only a working day asks for."""
    holding = Facts((Holding("silo-a", at(14, 15)),))
    sunday = due("quillbrook", holding, at(15, 5))
    assert {one.subject for one in sunday} == {"silo-a"}
    assert Counter(one.key for one in sunday)["raw-temperature"] == 4


def test_an_empty_closed_sunday_makes_nothing_due():
    """Nobody is asked for anything when nothing is held and nobody works."""
    assert due("quillbrook", Facts(), at(15, 5)) == []


def test_the_night_shift_of_the_second_plant_spans_midnight():
    """Times before and after midnight belong to one shift and one plant day."""
    night = [
        one for one in due("valle hondo", Facts((Holding("tanque", at(10, 0, MADRID)),)), at(10, 21, MADRID))
        if one.key == "temperatura"
    ]  # fmt: skip
    local = [one.due_at.astimezone(MADRID).strftime("%d %H:%M") for one in night]
    assert local == ["10 21:30", "11 00:30", "11 04:30"]
    assert {one.shift for one in night} == {"noche"}


def test_the_second_plant_is_closed_on_mondays_and_its_tank_is_not():
    """On Monday the 9th the hall asks for nothing, the full tank for its three temperatures."""
    monday = due("valle hondo", Facts((Holding("tanque", at(8, 0, MADRID)),)), at(9, 21, MADRID))
    assert Counter(one.key for one in monday) == {"temperatura": 3}
