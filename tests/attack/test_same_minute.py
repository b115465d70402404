"""Two readings typed for the same minute: both stand, the round opens, and what comes later answers the re-checks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.test import Client

from records.checks import queries
from records.checks.rechecks import PREFIX
from tests.conftest import NOW, Plant
from tests.records.checks.made import fill_silo, read


def rechecks_at(plant: Plant) -> list[str]:
    """The states of the silo's re-checks as they stand."""
    found = queries.due_between(NOW - timedelta(hours=4), NOW + timedelta(hours=2), plant.clock())
    return [one.state for one in found if one.due.event.startswith(PREFIX)]


def test_round_opens_after_two_warm_readings_of_one_moment(plant: Plant, client_for: Callable[..., Client]) -> None:
    """A second thermometer, typed with the same time a minute ahead: the page comes, and both re-checks wait."""
    fill_silo(plant)
    ahead = NOW + timedelta(minutes=1)
    read(plant, "46.4", observed_at=ahead)
    read(plant, "46.6", observed_at=ahead)
    assert client_for(plant.people.ines).get("/round/").status_code == 200
    assert rechecks_at(plant) == ["not yet", "not yet"]


def test_later_reading_answers_the_rechecks_of_both(plant: Plant) -> None:
    """The reading a quarter of an hour later is in time for both: nothing was missed."""
    fill_silo(plant)
    for typed in ("46.4", "46.6"):
        read(plant, typed, observed_at=NOW)
    plant.clock.on(minutes=15)
    read(plant, "44.0")
    plant.clock.on(minutes=40)
    assert "missed" not in rechecks_at(plant)[:2] and rechecks_at(plant)[:2] == ["on time", "on time"]
