"""A plant whose silo has been holding milk since 06:00, properly washed and sanitized before."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

import pytest

from records.flow.actions import record_wash
from records.flow.data import MovementData, WashData
from tests.conftest import NOW, Plant
from tests.kept import acted_once
from tests.records.receiving.made import brought

FILLED = NOW - timedelta(hours=3, minutes=30)  # 06:00 in Chicago


@acted_once
def fill_silo(plant: Plant) -> None:
    """Wash, sanitize, then two thousand gallons of raw milk."""
    ines = plant.actor("ines")
    for what, before in (("washed", 3.0), ("sanitized", 1.0)):
        record_wash(
            ines,
            WashData(
                form_id=uuid.uuid4(),
                what=what,  # type: ignore[arg-type]
                vessel="silo-a",
                started_at=FILLED - timedelta(hours=before),
                ended_at=FILLED - timedelta(hours=before - 0.5),
                method="CIP",
                temperature_typed="165",
                temperature_unit="°F",
                contact_min=10,
            ),
        )
    brought(
        ines,
        MovementData(
            form_id=uuid.uuid4(),
            source="",
            source_name="Nettle Farm",
            target="silo-a",
            product="raw-milk",
            started_at=FILLED,
            ended_at=FILLED + timedelta(minutes=30),
            quantity_typed="2000",
            unit="gal",
            measured_by="level",
        ),
    )


@pytest.fixture
def milk(plant: Plant) -> Plant:
    """Quillbrook with milk in the silo; the watch answers for what is due from NOW's day on."""
    from records.checks import watch

    watch.begin_at(NOW - timedelta(minutes=10))
    fill_silo(plant)
    return plant


def walk(plant: Plant, until: datetime) -> None:
    """The watch at its work from the plant's present moment on: a look every ten minutes, the last one at `until`."""
    from records.checks import watch

    moment = plant.clock()
    while moment < until:
        plant.at(moment)
        watch.look()
        moment += timedelta(minutes=10)
    plant.at(until)
    watch.look()
