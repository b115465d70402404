"""Runs and the review of a day: what the sheet says of a run, and that a late event asks for a new revision."""

from __future__ import annotations

from datetime import timedelta

import pytest

from plant import clock
from records.ledger.canonical import canonical
from records.reports.html import sheet_html
from records.reports.ran import runs
from records.review import queries
from records.review.sheet import sheet_data
from records.runs.actions import product_out, say
from records.runs.models import UNUSUAL, RunEvent
from tests.conftest import NOW, Plant
from tests.records.flow.made import moved
from tests.records.runs.made import MINUTE, event, out, planned, running

pytestmark = pytest.mark.django_db


def test_the_sheet_says_what_happened_in_each_run(plant: Plant) -> None:
    """In order, with who said it, its entry and its deviation; a day before has none of it."""
    planned(plant)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    ines = plant.actor("ines")
    run = running(ines).number
    plant.at(NOW + 60 * MINUTE)
    product_out(ines, out(run))
    say(ines, event(run, UNUSUAL, words="Steam fell for a minute."))
    assert RunEvent in queries.OF_THE_DAY and RunEvent in queries.WORK
    day = queries.plant_day_at(NOW)
    data = sheet_data(day, 0, clock.now())
    (told,) = data["runs"]
    assert [one["what"] for one in told["events"]] == ["start begun", "water to product", "product to water", UNUSUAL]
    assert told["events"][-1]["details"] == "Steam fell for a minute." and told["events"][0]["product"] == "Whole milk"
    assert told["state"] == "on water" and told["set_up"] == "Milk"
    assert canonical(data) and runs(NOW - timedelta(days=1), NOW, clock.now()) == []
    shown = sheet_html(data, "", for_pdf=False)
    assert "Steam fell for a minute." in shown and "Press 1, run" in shown
