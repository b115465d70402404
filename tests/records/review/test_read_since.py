"""A deviation's page shows the readings that came after: an inspector sees when limits were met again."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.test import Client

from records.checks import watch
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import fill_silo


def test_the_readings_after_the_cause_are_listed_with_their_outcome(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """46.4 °F is the cause; 44.0 and 41.2 °F, read after it, stand under 'Read there since', the cause does not."""
    watch.begin_at(NOW)
    fill_silo(plant)
    deviation = None
    for typed in ("46.4", "44.0", "41.2"):
        data = ReadingData(
            form_id=uuid.uuid4(),
            subject="silo-a",
            monitoring_key="silo-shift",
            typed=typed,
            agitator_ran=True,
            bulb_covered=True,
        )
        deviation = record_reading(plant.actor("ines"), data).deviation or deviation
        plant.clock.on(minutes=15)
    assert deviation is not None
    page = client_for(plant.people.wren).get(f"/deviations/{deviation.number}/").content.decode()
    since = page.partition("Read there since")[2].partition("</ul>")[0]
    assert "44.0" in since and "41.2" in since and "46.4" not in since
    assert "in limits, act" in since
