"""A deviation of a warm tank leads to the calculators with its own readings filled in; others lead nowhere."""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Callable

from django.test import Client

from records.checks import watch
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import fill_silo

Clients = Callable[..., Client]
ADDRESS = re.compile(r'href="(/plant/calculators/[^"]+)"')


def read(plant: Plant, typed: str, **changes: object) -> object:
    """A round's reading of the silo; the deviation it belongs to, if any."""
    values: dict[str, object] = {
        "form_id": uuid.uuid4(),
        "subject": "silo-a",
        "monitoring_key": "silo-shift",
        "typed": typed,
        "agitator_ran": True,
        "bulb_covered": True,
    }
    return record_reading(plant.actor("ines"), ReadingData(**values | changes)).deviation


def test_a_warm_tank_is_taken_to_growth_and_storage(plant: Plant, client_for: Clients) -> None:
    """From the last reading in limits over the causes to the first one after: minutes and temperatures as read."""
    watch.begin_at(NOW)
    fill_silo(plant)
    found = None
    for typed in ("41.0", "46.4", "47.1", "44.0", "41.2"):
        found = read(plant, typed) or found
        plant.clock.on(minutes=15)
    client = client_for(plant.people.wren)
    page = client.get(f"/deviations/{found.number}/").content.decode()
    addresses = [html.unescape(one) for one in ADDRESS.findall(page) if "?" in one]
    assert [one.split("/")[3] for one in addresses] == ["growth", "storage"]
    worked = client.get(addresses[0]).content.decode()
    assert "0; 41\n15; 46.4\n30; 47.1\n45; 44" in html.unescape(worked).replace("\r", "")
    assert "Every step" in worked and "never releases a product" in worked
    assert client.get(addresses[1]).status_code == 200


def test_seals_lead_to_no_calculation(plant: Plant, client_for: Clients) -> None:
    """Nothing about them can be computed."""
    watch.begin_at(NOW)
    found = read(plant, "no", subject="press-1", monitoring_key="press-seals", agitator_ran=None, bulb_covered=None)
    page = client_for(plant.people.wren).get(f"/deviations/{found.number}/").content.decode()
    assert not [one for one in ADDRESS.findall(page) if "?" in one]
