"""How far back a missed or bad reading reaches: to the last reading in limits, and never across a clean break."""

from __future__ import annotations

import uuid
from datetime import timedelta

from records.checks import watch
from records.deviations.models import Deviation, Hold
from records.flow.actions import record_movement
from records.flow.data import MovementData
from tests.conftest import NOW, Plant
from tests.records.receiving.made import brought
from tests.records.watch.conftest import FILLED, fill_silo, walk
from tests.records.watch.test_transitions import read_silo


def empty_silo(plant: Plant) -> None:
    """Everything pumped out half an hour after the last fill."""
    moment = plant.clock()
    record_movement(
        plant.actor("ines"),
        MovementData(
            form_id=uuid.uuid4(),
            source="silo-a",
            target="",
            target_name="Drain",
            product="raw-milk",
            started_at=moment - timedelta(minutes=10),
            ended_at=moment,
            quantity_typed="2000",
            unit="gal",
            measured_by="level",
            emptied=True,
        ),
    )


def test_a_reading_of_the_milk_before_the_wash_says_nothing_of_the_milk_after(plant: Plant) -> None:
    """Yesterday's milk was in limits and pumped out, the silo washed and filled: a miss reaches to today's fill."""
    plant.at(FILLED - timedelta(hours=20))
    watch.begin_at(plant.clock())
    brought(
        plant.actor("ines"),
        MovementData(
            form_id=uuid.uuid4(),
            source="",
            source_name="Oxbow Farm",
            target="silo-a",
            product="raw-milk",
            started_at=plant.clock() - timedelta(hours=1),
            ended_at=plant.clock() - timedelta(minutes=40),
            quantity_typed="2000",
            unit="gal",
            measured_by="level",
        ),
    )
    read_silo(plant, "38.0", "silo-holding")
    plant.clock.on(minutes=30)
    empty_silo(plant)
    plant.at(NOW)
    watch.begin_at(NOW - timedelta(minutes=10))
    fill_silo(plant)
    walk(plant, NOW + timedelta(hours=4))
    deviation = Deviation.objects.get(control_point="raw-storage", subject="silo-a", cause="missed")
    assert deviation.since_at == FILLED
    assert {one.since_at for one in Hold.objects.filter(deviation=deviation.number)} == {FILLED}


def test_within_one_fill_it_reaches_to_the_last_reading_in_limits(milk: Plant) -> None:
    """38.0 °F at 09:30, missed afterwards: held from 09:30 on."""
    read_silo(milk, "38.0", "silo-holding")
    walk(milk, NOW + timedelta(hours=9))
    deviation = Deviation.objects.filter(control_point="raw-storage", subject="silo-a", cause="missed").first()
    assert deviation is not None and deviation.since_at == NOW
