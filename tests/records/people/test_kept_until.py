"""Each record's page and the day sheet say until when the record must be kept."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime

from django.test import Client

from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant


def test_two_years_from_the_day_it_was_prepared(plant: Plant) -> None:
    """21 CFR 117.315(a), two years (secondary text and twin 121.315(a)): 3 March 2026 until 3 March 2028."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    assert in_force.kept_until(NOW).isoformat() == "2028-03-03"


def test_the_day_is_the_plants_and_leap_days_end_in_february(plant: Plant) -> None:
    """03:00 UTC on 1 March is still 29 February in Chicago; two years on that is 28 February."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    assert in_force.kept_until(datetime(2028, 3, 1, 3, 0, tzinfo=UTC)).isoformat() == "2030-02-28"


def test_a_readings_page_says_it(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Beside the entry's number."""
    data = ReadingData(form_id=uuid.uuid4(), subject="press-1", monitoring_key="press-seals", typed="yes")
    saved = record_reading(plant.actor("ines"), data)
    page = client_for(plant.people.guest).get(f"/readings/{saved.reading.number}/").content.decode()
    assert "To be kept until 2028-03-03 at least" in page
