"""What is wrong with a plan is named with its place; Quillbrook's plan has nothing wrong."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from plant.hazard_plan.check import Problem, barring, problems
from plant.hazard_plan.content import Plan
from plant.hazard_plan.written import read

pytestmark = pytest.mark.once

QUILLBROOK = Path("plant/demo/quillbrook.toml")


@cache
def quillbrook() -> Plan:
    """The invented plant's plan."""
    return read(QUILLBROOK.read_text(encoding="utf-8"))


def with_changed(table: str, key: str, **changes: Any) -> list[Problem]:
    """The problems of Quillbrook's plan with one row of one table changed."""
    plan = quillbrook()
    rows = getattr(plan, table)
    name = "key" if hasattr(rows[0], "key") else "code"
    assert any(getattr(one, name) == key for one in rows)
    changed = tuple(replace(one, **changes) if getattr(one, name) == key else one for one in rows)
    return problems(replace(plan, **{table: changed}))


def only(found: list[Problem]) -> Problem:
    """The one problem that bars approval."""
    barred = [one for one in found if one.bars_approval]
    assert len(barred) == 1, [str(one) for one in found]
    return barred[0]


def test_quillbrook_has_no_problem():
    """The demo's plan stands without a refusal and without a warning."""
    assert [str(one) for one in problems(quillbrook())] == []


@pytest.mark.parametrize(
    ("table", "key", "changes", "path", "words"),
    [
        ("vessels", "silo-a", {"kind": "barrel"}, ".kind", "no kind of vessel"),
        ("vessels", "silo-a", {"capacity": "0"}, ".capacity", "more than zero"),
        ("vessels", "silo-a", {"capacity": "many"}, ".capacity", "no number"),
        ("instruments", "hand-1", {"calibration_due": "June"}, ".calibration_due", "no date"),
        ("instruments", "hand-1", {"place_code": "attic"}, ".place_code", "no vessel or equipment"),
        ("instruments", "hand-1", {"low": "300"}, ".high", "more than the lowest"),
        ("products", "whole-milk", {"family": "soup"}, ".family", "no product family"),
        ("steps", "receiving", {"places": ("attic",)}, ".places", "no vessel or equipment"),
        ("hazards", "h05-receiving", {"control_point": "nothing"}, ".control_point", "no control point"),
        ("hazards", "h05-receiving", {"control_point": ""}, "", "needs a control point"),
        ("control_points", "pp-water", {"kind": "important"}, ".kind", "no kind of control point"),
        ("control_points", "pp-water", {"bars_release": "heat"}, ".bars_release", "no bar to release"),
        ("limits", "draw", {"low": "1O"}, ".low", "no number"),
        ("limits", "draw", {"low": "30"}, ".operating_low", "is below"),
        ("limits", "draw", {"basis": "hearsay"}, ".basis", "no basis"),
        ("monitoring", "draw", {"control_point": "nothing"}, ".control_point", "no control point"),
        ("monitoring", "draw", {"subjects": ("attic",)}, ".subjects", "no vessel or equipment"),
        ("monitoring", "draw", {"subjects": ()}, ".subjects", "names no vessel"),
        ("monitoring", "draw", {"limits": ("nothing",)}, ".limits", "no limit of this plan"),
        ("monitoring", "draw", {"instruments": ("sextant",)}, ".instruments", "no instrument"),
        ("monitoring", "draw", {"role": "captain"}, ".role", "no role"),
        ("monitoring", "draw", {"weight": "heavy"}, ".weight", "no weight"),
        ("monitoring", "draw", {"missed_after": "tomorrow"}, ".missed_after", "is not known"),
        ("monitoring", "clothing", {"limits": ("draw",)}, ".limits", "asks for none"),
        ("monitoring", "draw", {"limits": ("yes",)}, ".limits", "bounds no number"),
        ("monitoring", "draw", {"limits": ("net",)}, ".limits", "is in g; this asks in °F"),
        ("monitoring", "clothing", {"limits": ("good",)}, ".limits", "cannot be answered"),
        ("monitoring", "raw-temperature", {"corrective_action": ""}, ".corrective_action", "no written"),
        ("verification", "tests-of-record", {"control_point": "x"}, ".control_point", "no control point"),
    ],
)
def test_what_is_wrong_is_named_and_refused(table, key, changes, path, words):
    """Each wrong name or number is refused at its own place."""
    found = [one for one in with_changed(table, key, **changes) if one.refuses]
    assert any(one.path.startswith(table) and one.path.endswith(path) and words in one.sentence for one in found)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"kind": "often"}, "is not one of"),
        ({"kind": "calendar", "rule": "FREQ=SOMETIMES", "at": ("08:00",), "start": "2026-01-05"}, "recurrence"),
        ({"kind": "calendar", "rule": "FREQ=DAILY", "at": ("08:00",), "start": "soon"}, "no date"),
        ({"kind": "during_run", "every_min": 0}, "needs every_min"),
        ({"kind": "each_event", "event": ""}, "names no event"),
        ({"kind": "each_shift", "at": ()}, "time"),
        ({"kind": "each_shift", "at": ("23:30",)}, "lies in no shift"),
        ({"kind": "each_shift", "at": ("half past",)}, "half past"),
        ({"kind": "each_shift", "at": ("+01:00",), "shifts": ("night",)}, "no shift of this plan"),
        ({"kind": "while_holding", "every_min": 60}, "holds no product"),
    ],
)
def test_a_frequency_that_cannot_be_expanded_is_refused(changes, words):
    """A check that would never come due, or not be understood, is refused."""
    plan = quillbrook()
    draw = plan.monitoring_by_key("draw")
    assert draw is not None
    other = replace(draw.frequency, **({"every_min": 0} | changes))
    found = with_changed("monitoring", "draw", frequency=other)
    assert any(one.refuses and words in one.sentence for one in found)


def test_a_key_used_twice_is_refused():
    """Two checks of one key could not be told apart."""
    plan = quillbrook()
    found = problems(replace(plan, monitoring=(*plan.monitoring, plan.monitoring[0])))
    assert "is used twice" in only(found).sentence


def test_a_vessel_and_an_equipment_of_one_code_are_refused():
    """A check's subject must be one thing."""
    plan = quillbrook()
    found = problems(replace(plan, equipment=(*plan.equipment, replace(plan.equipment[0], code="silo-a"))))
    assert "'silo-a' is used twice" in only(found).sentence


def test_overlapping_shifts_are_refused():
    """A moment belongs to one shift."""
    assert "overlap" in only(with_changed("shifts", "evening", starts="12:00")).sentence


def test_a_shift_without_length_is_refused():
    """A shift that ends when it starts is a slip."""
    found = with_changed("shifts", "evening", ends="13:00")
    assert any(one.refuses and "a shift has a length" in one.sentence for one in found)


def test_an_unknown_time_zone_is_refused():
    """Nothing can be due in a zone that does not exist."""
    plan = quillbrook()
    found = problems(replace(plan, plant=replace(plan.plant, time_zone="America/Quillbrook")))
    assert only(found).path == "plant.time_zone"


def test_a_critical_point_that_nothing_watches_is_refused():
    """A CCP without a check that has a limit is no control."""
    plan = quillbrook()
    kept = tuple(one for one in plan.monitoring if one.control_point != "ccp-pressure")
    assert any("no check with a limit watches it" in one.sentence for one in barring(replace(plan, monitoring=kept)))


def test_an_unused_limit_is_a_warning_only():
    """A limit that no check uses is worth a word, and bars nothing."""
    plan = quillbrook()
    found = problems(replace(plan, limits=(*plan.limits, replace(plan.limits[0], key="spare"))))
    assert [str(one) for one in found] == [f"limits[{len(plan.limits)}]: no check uses the limit spare"]
    assert barring(replace(plan, limits=(*plan.limits, replace(plan.limits[0], key="spare")))) == []
