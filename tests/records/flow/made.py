"""What the tests of the flow make: a movement, a wash, a level, with what a test changes."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from records.flow.actions import (
    LevelData,
    MovementData,
    WashData,
    record_movement,
    record_wash,
    see_level,
)
from records.flow.models import LevelSeen, Movement, Wash
from records.ledger.actions import Actor
from tests.kept import acted_once

HOUR = timedelta(hours=1)


def movement(**changes: Any) -> MovementData:
    """500 gal of raw milk from Nettle Farm into Silo A in the last half hour."""
    now = clock.now()
    start = changes.pop("started_at", now - HOUR / 2)
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "source": "",
        "source_name": "Nettle Farm",
        "target": "silo-a",
        "product": "raw-milk",
        "started_at": start,
        "ended_at": start + HOUR / 2,
        "quantity_typed": "500",
        "unit": "gal",
        "measured_by": "meter",
    }
    return MovementData(**{**values, **changes})


def pasteurized(**changes: Any) -> MovementData:
    """300 gal of whole milk from Silo A through Press 1 into Finished 1."""
    values = {"source": "silo-a", "target": "finished-1", "via": "press-1", "product": "whole-milk"}
    return movement(**{"quantity_typed": "300", "source_name": "", **values, **changes})


# Raw milk comes in as unloading brings it: with the number of its load. What it comes to without one is tested where
# loads are (tests/records/receiving/test_outside.py).
OF_A_LOAD = 1


def moved(by: Actor, *, load: int | None = OF_A_LOAD, **changes: Any) -> Movement:
    """A movement as `movement`, recorded; raw milk from outside as a load's."""
    return record_movement(by, movement(**changes), load=load)


def ran(by: Actor, **changes: Any) -> Movement:
    """A movement as `pasteurized`, recorded."""
    return record_movement(by, pasteurized(**changes))


def wash(vessel: str, ended_at: datetime, what: Any = "washed", **changes: Any) -> WashData:
    """A wash of ten minutes."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "what": what,
        "vessel": vessel,
        "started_at": ended_at - timedelta(minutes=10),
        "ended_at": ended_at,
        "method": "circuit 2",
    }
    return WashData(**{**values, **changes})


def washed(by: Actor, vessel: str, ended_at: datetime, **changes: Any) -> Wash:
    """A vessel washed and, a quarter of an hour later, sanitized."""
    done = record_wash(by, wash(vessel, ended_at, **changes))
    record_wash(by, wash(vessel, ended_at + timedelta(minutes=15), "sanitized"))
    return done


@acted_once
def made_ready(by: Actor, moment: datetime, *codes: str) -> None:
    """Every vessel and line washed and sanitized by `moment`."""
    for code in codes or ("silo-a", "press-1", "finished-1"):
        washed(by, code, moment - timedelta(minutes=15))


def level(vessel: str, quantity: str, seen_at: datetime | None = None, **changes: Any) -> LevelData:
    """A level seen."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "vessel": vessel,
        "quantity_typed": quantity,
        "unit": "gal",
        "seen_at": seen_at or clock.now(),
    }
    return LevelData(**{**values, **changes})


def seen(by: Actor, vessel: str, quantity: str, seen_at: datetime | None = None, **changes: Any) -> LevelSeen:
    """A level as `level`, recorded."""
    return see_level(by, level(vessel, quantity, seen_at, **changes))
