"""The Floor's last reading with its mark, and the estimate of when a warming tank reaches its limit."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import Client

from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.flow.floor import floor_at
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved


def read(plant: Plant, typed: str, minutes_ago: int) -> None:
    """Silo A's thermometer, so many minutes before NOW."""
    plant.at(NOW - timedelta(minutes=minutes_ago))
    data = ReadingData(
        form_id=uuid.uuid4(), monitoring_key="silo-holding", subject="silo-a", typed=typed, unit="°F",
        agitator_ran=True, bulb_covered=True,
    )  # fmt: skip
    record_reading(plant.actor("ines"), data)
    plant.at(NOW)


def filled(plant: Plant) -> None:
    """Silo A holds milk since two hours before NOW."""
    made_ready(plant.actor("ines"), NOW - 3 * HOUR)
    moved(plant.actor("ines"), started_at=NOW - 2 * HOUR)


def silo() -> Any:
    """Silo A on the Floor."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    return floor_at(in_force, NOW)[0]


def test_the_last_reading_stands_with_its_verdict(plant: Plant) -> None:
    """As typed, with its time, its word and its mark."""
    filled(plant)
    read(plant, "38.10", 30)
    reading = silo().reading
    assert (reading.words, reading.at, reading.verdict, reading.mark) == (
        "38.10 °F",
        NOW - timedelta(minutes=30),
        "in limits",
        "met",
    )


def test_an_out_of_limits_reading_has_its_own_mark(plant: Plant) -> None:
    """47 °F against 45: a word and a shape."""
    filled(plant)
    read(plant, "47", 10)
    assert (silo().reading.verdict, silo().reading.mark) == ("out of limits", "not met")


def test_the_floor_and_the_vessels_page_draw_it(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Both pages open and say the word beside the mark."""
    filled(plant)
    read(plant, "47", 10)
    client = client_for(plant.people.ines)
    for address in ("/floor/", "/vessel/silo-a/"):
        page = client.get(address)
        assert (page.status_code, "out of limits" in page.content.decode()) == (200, True), address


def test_a_warming_tank_says_when_it_reaches_its_limit(plant: Plant) -> None:
    """One degree a quarter of an hour from 40 at 45 minutes ago: 45 °F in half an hour, by straight arithmetic."""
    filled(plant)
    for minutes, typed in ((45, "40.0"), (30, "41.0"), (15, "42.0"), (0, "43.0")):
        read(plant, typed, minutes)
    forecast = silo().forecast
    assert abs(forecast.expected_at - (NOW + timedelta(minutes=30))) < timedelta(seconds=1)
    assert forecast.earliest_at < forecast.expected_at < forecast.latest_at
    assert (forecast.limit, forecast.rate, forecast.readings) == ("45 °F", "4.0 °F", 4)


def test_the_floor_says_that_it_is_an_estimate(plant: Plant, client_for: Any) -> None:
    """With its uncertainty, and never as a promise."""
    filled(plant)
    for minutes, typed in ((45, "40.0"), (30, "41.0"), (15, "42.0"), (0, "43.0")):
        read(plant, typed, minutes)
    page = client_for(plant.people.ines).get("/floor/").content.decode()
    assert "warming: 45 °F at about 10:00 at this rate (between" in page
    assert "An estimate from 4 readings" in page


def test_a_steady_tank_has_no_forecast(plant: Plant) -> None:
    """Nor one with two readings only, nor a reading from before this fill."""
    filled(plant)
    read(plant, "38.0", 40)
    read(plant, "38.4", 20)
    assert silo().forecast is None
    read(plant, "38.0", 0)
    assert silo().forecast is None


def test_an_unread_place_has_no_reading(plant: Plant) -> None:
    """Silence is no verdict."""
    filled(plant)
    assert silo().reading is None
