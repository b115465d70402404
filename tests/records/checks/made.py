"""Readings at the small plant, with what a test changes."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from records.checks.actions import Saved, record_reading
from records.checks.entry import ReadingData
from tests.conftest import NOW, Plant
from tests.kept import acted_once
from tests.records.flow.made import made_ready, moved

FILLED = NOW - timedelta(hours=3, minutes=30)  # 06:00 at the plant: the shift's check is due then


@acted_once
def fill_silo(plant: Plant, **changes: Any) -> None:
    """Two thousand gallons of raw milk in the clean silo since 06:00."""
    by = plant.actor("ines")
    made_ready(by, FILLED - timedelta(minutes=30), "silo-a")
    moved(by, **{"started_at": FILLED, "quantity_typed": "2000", **changes})


def silo(typed: str = "", **changes: Any) -> ReadingData:
    """A reading of the silo's shift check with agitator and bulb answered yes."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "subject": "silo-a",
        "monitoring_key": "silo-shift",
        "typed": typed,
        "agitator_ran": True,
        "bulb_covered": True,
    }
    return ReadingData(**(values | changes))


def seals(typed: str = "", **changes: Any) -> ReadingData:
    """An answer about the seals of the press."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "subject": "press-1", "monitoring_key": "press-seals"}
    return ReadingData(**(values | {"typed": typed} | changes))


def read(plant: Plant, typed: str, who: str = "ines", **changes: Any) -> Saved:
    """The silo read."""
    return record_reading(plant.actor(who), silo(typed, **changes))
