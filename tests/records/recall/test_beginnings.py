"""A scope that begins from a load, its farms, a reading, its verdict, deviation and hold: all reach the same silo."""

from __future__ import annotations

from datetime import timedelta

import pytest

from plant import clock
from records.deviations.models import Hold
from records.people.plans import plan_in_force
from records.recall import origins
from records.recall.origins import Asked
from records.recall.scope import scope
from records.receiving.models import UNLOADING, LoadEvent
from tests.conftest import NOW, Plant
from tests.records.deviations.made import read
from tests.records.flow.made import HOUR, made_ready
from tests.records.receiving.made import MINUTE, arrived, screened, unloading

pytestmark = pytest.mark.django_db


def vessels(**asked: object) -> list[str]:
    """The vessels in scope of what was asked, now."""
    in_force, now = plan_in_force(clock.now()), clock.now()
    assert in_force is not None
    return [one.vessel for one in scope(origins.begin(Asked(**asked), in_force, now).start, in_force, now).lots]  # type: ignore[arg-type]


@pytest.fixture
def shared_load(plant: Plant) -> int:
    """One load with the milk of two farms, unloaded into Silo A."""
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    ines = plant.actor("ines")
    load = arrived(ines, farms=[("Nettle Farm", "8000"), ("Oxbow Farm", "4900")])
    screened(ines, load)
    unloading(ines, load)
    plant.at(NOW + 40 * MINUTE)
    return load


@pytest.mark.parametrize("farm", ["Nettle Farm", "oxbow farm"])
def test_each_farm_of_a_shared_load_leads_to_it(shared_load: int, farm: str) -> None:
    """A load names several farms; whoever doubts one of them must not miss it."""
    assert vessels(source=farm, since=NOW - HOUR, until=NOW + HOUR) == ["silo-a"]


def test_the_load_itself_and_any_row_of_it_lead_to_the_silo(shared_load: int) -> None:
    rows = [shared_load, LoadEvent.objects.get(what=UNLOADING).number]
    assert [vessels(entry=one) for one in rows] == [["silo-a"], ["silo-a"]]


def test_a_farm_outside_the_window_is_refused(shared_load: int) -> None:
    with pytest.raises(origins.Refused):
        vessels(source="Oxbow Farm", since=NOW - 3 * HOUR, until=NOW - timedelta(hours=2))


def test_a_reading_its_verdict_deviation_and_hold_lead_to_the_silo(plant: Plant, shared_load: int) -> None:
    found = read(plant, "47.0")
    assert found.verdict is not None and found.deviation is not None
    hold = Hold.objects.get(deviation=found.deviation.number)
    entries = [found.reading.number, found.verdict.number, found.deviation.number, hold.number]
    assert [vessels(entry=one) for one in entries] == [["silo-a"]] * 4
