"""Rework on the day sheet, in its JSON and in the day's balance: set aside, used, thrown away, kept past its hours."""

from __future__ import annotations

import pytest

from plant import clock
from records.flow import history
from records.people.plans import plan_in_force
from records.reports.rows import view_of
from records.review import balance, queries, sheet
from records.rework.actions import throw_away, use
from tests.conftest import NOW, Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import drawing
from tests.records.rework.made import HOUR, MINUTE, ended, leaving, plant_with_rework, set_aside, using

pytestmark = pytest.mark.django_db


@pytest.fixture
def day(plant: Plant) -> Plant:
    """One portion used, one thrown away, one kept; the vat washed between."""
    plant_with_rework(plant, hours=2)
    ines = plant.actor("ines")
    run = drawing(ines)
    plant.at(clock.now() + 10 * MINUTE)
    used, thrown, _kept = (set_aside(ines, run=run, amount=one) for one in ("3", "2", "1"))
    ended(ines, run)
    plant.at(clock.now() + HOUR)
    washed(ines, "flavor-vat", clock.now() - 30 * MINUTE)
    use(ines, using(used, begins_now=True))
    throw_away(ines, leaving(thrown, quantity="2", unit="gal"))
    plant.at(clock.now() + 2 * HOUR)
    return plant


def test_the_days_data_and_its_sheet_list_them(day: Plant) -> None:
    """Each with its amount, allergens, hours, what took it; the third is kept past its 2 h. A day before has none."""
    data = sheet.sheet_data(queries.plant_day_at(NOW), 0, clock.now())
    used, thrown, kept = data["rework"]
    assert [one["quantity"] for one in (used, thrown, kept)] == ["3", "2", "1"]
    assert (used["allergens"], used["use_within_h"], used["this_day"]) == ("milk, tree nuts", 2, True)
    assert [one["to_code"] for one in used["took"]] == ["flavor-vat"] and not used["took"][0]["thrown_away"]
    assert thrown["took"][0]["thrown_away"] and thrown["took"][0]["note"] == "Its hours are over."
    assert (kept["took"], kept["kept"], kept["past"]) == ([], True, True)
    assert [one["kept"] for one in (used, thrown)] == [False, False]
    told = view_of(data)["rework"]
    assert told[0]["took"][0]["words"] == "3 gal into Flavor vat, for Salted hazelnut ice cream"
    data.pop("rework")
    assert view_of(data)["rework"] == []


def test_the_balance_takes_nothing_out_of_the_vat_twice(day: Plant) -> None:
    """40 gal drawn of 50; what was set aside leaves the hardening room, what was used comes from outside."""
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    start = NOW - HOUR
    story = history.load(in_force.plan, start, clock.now())
    names = [one["name"] for one in balance.balance(story, [], in_force, start, clock.now())["streams"]]
    assert not any("Flavor vat to Rework" in one for one in names)
    assert sum("Hardening room to Rework" in one for one in names) == 3
    assert sum("to Flavor vat" in one and "Rework" in one for one in names) == 1
