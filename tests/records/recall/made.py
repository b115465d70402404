"""What the tests of recall make: a day of two farms, a press, packs of two codes, and what left of them."""

from __future__ import annotations

import uuid
from typing import Any

from records.flow.actions import record_movement
from records.flow.models import Movement
from records.ledger.actions import Actor
from records.recall.actions import dispatch
from records.recall.data import DispatchData
from records.recall.models import Dispatch
from tests.conftest import NOW, Plant
from tests.kept import acted_once
from tests.records.flow.made import HOUR, made_ready, moved, pasteurized, ran


def packed(by: Actor, code: str, **changes: Any) -> Movement:
    """Packs of a code from Finished 1."""
    values = {"source": "finished-1", "target": "", "target_name": "packed", "via": "", "code": code}
    return record_movement(by, pasteurized(**{**values, **changes}))


def sent(by: Actor, code: str, **changes: Any) -> Dispatch:
    """Packs of a code to a shop, an hour ago."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "code": code, "consignee": "Corner shop", "dispatched_at": NOW - HOUR,
        "address": "1 Mill Lane, Quillbrook", "phone": "555 0100", "carrier": "own van", "quantity_typed": "80",
        "unit": "gal",
    }  # fmt: skip
    return dispatch(by, DispatchData(**{**values, **changes}))


@acted_once
def a_day(plant: Plant) -> dict[str, Movement]:
    """300 gal of Nettle Farm and 100 of Oxbow Farm in Silo A, 200 pressed into Finished 1, 150 packed."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR)
    return {
        "nettle": moved(ines, started_at=NOW - 8 * HOUR, quantity_typed="300"),
        "oxbow": moved(ines, started_at=NOW - 7 * HOUR, quantity_typed="100", source_name="Oxbow Farm"),
        "run": ran(ines, started_at=NOW - 6 * HOUR, quantity_typed="200"),
        "packs": packed(ines, "WM 0303", started_at=NOW - 4 * HOUR, quantity_typed="150"),
    }
