"""Loads: one of Nettle Farm at the bay, a screen, unloading, and what a test changes."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from plant import clock
from records.flow.data import MovementData
from records.flow.models import Movement
from records.ledger.actions import Actor
from records.receiving.actions import arrive, screen, unload, unloaded
from records.receiving.data import ArriveData, ScreenData, UnloadData, UnloadedData
from records.receiving.models import LoadEvent

MINUTE = timedelta(minutes=1)


def arrival(**changes: Any) -> ArriveData:
    """12,900 lb of Nettle Farm, for Silo A, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "silo-a", "happened_at": clock.now(), "product": "raw-milk",
        "tanker": "T-12", "ticket": "4471", "pounds": "12900", "farms": [("Nettle Farm", "12900")],
        "seals": "881, 882", "seals_whole": "yes", "washed_at": clock.now() - timedelta(hours=20),
        "wash_place": "Quillbrook", "wash_by": "a driver", "agitated": "5", "looks": "good", "sample": "S-1",
        "sampler": "Tomas Reed", "sampler_license": "BT-7",
    }  # fmt: skip
    return ArriveData(**(values | changes))


def test_of(load: int, result: str = "not found", **changes: Any) -> ScreenData:
    """A screen of the load now, controls right."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": load, "happened_at": clock.now(), "stage": "initial", "result": result,
        "kit": "strip kit", "kit_lot": "K-3", "negative_control": "yes", "positive_control": "yes",
        "analyst": "Ines Alder",
    }  # fmt: skip
    return ScreenData(**(values | changes))


test_of.__test__ = False  # type: ignore[attr-defined]


def arrived(by: Actor, **changes: Any) -> int:
    """A load at the bay; its number."""
    return arrive(by, arrival(**changes)).number


def screened(by: Actor, load: int, result: str = "not found", **changes: Any) -> LoadEvent:
    """A screen kept."""
    return screen(by, test_of(load, result, **changes))


def unloading(by: Actor, load: int, **changes: Any) -> LoadEvent:
    """Unloading into Silo A has begun now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": load, "target": "silo-a", "happened_at": clock.now(),
    }  # fmt: skip
    return unload(by, UnloadData(**(values | changes)))


def brought(by: Actor, data: MovementData) -> Movement:
    """What this movement says, as a load brings it: arrived, screened with nothing found, unloaded."""
    start = data.started_at
    pounds = data.quantity_typed if data.unit == "lb" else ""
    load = arrived(
        by, happened_at=start - 20 * MINUTE, place=data.target, product=data.product, farms=[(data.source_name, "")],
        pounds=pounds, washed_at=None,
    )  # fmt: skip
    screened(by, load, happened_at=start - 10 * MINUTE)
    begun = unloading(by, load, target=data.target, happened_at=start)
    if data.ended_at is not None:
        own = ("", "") if pounds else (data.quantity_typed, data.unit)
        unloaded(by, UnloadedData(uuid.uuid4(), load, data.ended_at, *own))
    return Movement.objects.get(number=begun.movement)
