"""A scope that begins from a load, its farms, a reading, its verdict, deviation and hold; from a roll of labels."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from plant import clock
from plant.people.models import Person
from records.deviations.models import Hold
from records.labels import actions as labels
from records.labels.data import CountedData
from records.labels.models import PackagingCounted
from records.people.plans import plan_in_force
from records.recall import origins
from records.recall.origins import Asked
from records.recall.scope import scope
from records.receiving.models import UNLOADING, LoadEvent
from tests.conftest import NOW, Plant
from tests.records.deviations.made import read
from tests.records.flow.made import HOUR, made_ready
from tests.records.labels.made import at, opened, packed, ready_plant
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


@pytest.fixture
def roll(plant: Plant) -> int:
    """Roll R-7 on the filler from minute 48 to 60: AMONG was filled in two goes, both while it was there."""
    ready_plant(plant)
    ines = plant.actor("ines")
    packed(ines, minutes=40, code="BEFORE", quantity_typed="10", unit="gal")
    packed(ines, minutes=50, lasting=3, code="AMONG", quantity_typed="20", unit="gal")
    packed(ines, minutes=54, lasting=3, code="AMONG", quantity_typed="30", unit="gal")
    row = opened(ines, at=at(48))
    plant.at(at(80))
    labels.count_packaging(ines, CountedData(uuid.uuid4(), row.number, at(60), "900", "100", "0"))
    packed(ines, minutes=65, code="AFTER", quantity_typed="10", unit="gal")
    return row.number


def of_roll(**asked: object) -> list[tuple[str, int, int]]:
    """The packs in scope: label, made, and the movements that carried them."""
    in_force, now = plan_in_force(clock.now()), clock.now()
    assert in_force is not None
    found = scope(origins.begin(Asked(**asked), in_force, now).start, in_force, now)  # type: ignore[arg-type]
    return [(one.label, int(one.account.made or 0), len(found.carried)) for one in found.lots]


def test_a_roll_its_opening_and_its_count_lead_to_the_packs_that_had_it(plant: Plant, roll: int) -> None:
    """Both movements into the code, and neither the code before nor the one after."""
    among = [("Whole milk AMONG", 50, 2)]
    assert of_roll(roll="R-7") == of_roll(entry=roll) == of_roll(entry=PackagingCounted.objects.get().number) == among
    assert len(of_roll(roll="R-7", since=at(54), until=at(60))) == 1
    with pytest.raises(origins.Refused) as refusal:
        of_roll(roll="R-7", since=at(64), until=at(70))
    assert refusal.value.field == "roll"
    labels.void(plant.actor("ines"), roll, uuid.uuid4(), "another line")
    with pytest.raises(origins.Refused):
        of_roll(entry=roll)


def test_the_page_of_a_roll_leads_to_its_scope_its_pdf_and_its_table(
    plant: Plant, roll: int, client_for: Callable[[Person], Client]
) -> None:
    client = client_for(plant.people.wren)
    address = "/recall/scope/?roll=R-7"
    assert address in client.get("/filling/?roll=R-7").content.decode()
    assert "Whole milk AMONG" in client.get(address).content.decode()
    table = client.get("/recall/scope.csv?roll=R-7").content.decode()
    assert "AMONG" in table and "BEFORE" not in table and "AFTER" not in table
    assert client.get("/recall/scope.pdf?roll=R-7").content.startswith(b"%PDF")
    wrong = client.get("/recall/scope/?roll=R-8")
    assert wrong.status_code == 422 and "no proof that there is none" in wrong.content.decode()
