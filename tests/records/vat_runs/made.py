"""Runs of a vat pasteurizer: the small plan with a vat for milk and mix, and what a test changes."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import InstrumentDef, Plan, ProductDef, VesselDef
from records.ledger.actions import Actor
from records.vat_runs.actions import begin, say
from records.vat_runs.data import BeginData, OpenData, SayData, ShutData
from records.vat_runs.models import HOLD_BEGUN, HOLD_ENDED, READ
from tests.conftest import NOW, Plant
from tests.factories import instruments, small_plan, vessels
from tests.kept import acted_once
from tests.records.charts.made import in_force
from tests.records.flow.made import moved, washed

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
FROM = NOW + HOUR  # the hold of these tests begins here
LOOKED = {"valve_closed": "yes", "leak_drained": "yes", "agitated": "yes", "cover_closed": "yes"}


def plan_of_vats(**changes: Any) -> Plan:
    """A vat at the stage of the pasteurizer, its thermometer in calibration, milk and ice cream mix."""
    values: dict[str, Any] = {
        "vessels": (*vessels(), VesselDef("vat-1", "Vat 1", "vat", "press", "daily", 2, 4, capacity="200")),
        "instruments": (
            *instruments(),
            InstrumentDef(
                "T-30", "Vat 1 thermometer", "indicating thermometer", "°F", "0", "212", "0.5", "1", "2027-01-31",
                "vat-1",
            ),
        ),
        "products": (*small_plan().products, ProductDef("mix", "Ice cream mix", "mix", "mix", "12", ("milk",))),
    }  # fmt: skip
    return small_plan(**(values | changes))


@acted_once
def ready_plant(plant: Plant, **changes: Any) -> Plant:
    """That plan in force, the vat clean with 100 gal of raw milk in it; it is two hours after NOW."""
    plant.at(NOW)
    in_force(plant, plan_of_vats(**changes))
    plant.at(NOW + 2 * HOUR)
    by = plant.actor("tomas")
    for place in ("vat-1", "silo-a", "finished-1"):
        washed(by, place, NOW + 12 * MINUTE)
    moved(by, started_at=NOW + 28 * MINUTE, ended_at=NOW + 32 * MINUTE)
    moved(
        by, source="silo-a", source_name="", target="vat-1", product="whole-milk", quantity_typed="100",
        started_at=NOW + 35 * MINUTE, ended_at=NOW + 45 * MINUTE,
    )  # fmt: skip
    return plant


def begun(by: Actor, **changes: Any) -> int:
    """A run begun with whole milk; its number."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "vat-1", "product": "whole-milk", "happened_at": NOW + 50 * MINUTE,
        "chart_number": "7",
    }  # fmt: skip
    return begin(by, BeginData(**(values | changes))).number


def said(run: int, what: str, happened_at: datetime, **changes: Any) -> SayData:
    """Something that happened; temperatures of a good hold of milk unless a test says others."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "run": run, "what": what, "happened_at": happened_at}
    if what in (HOLD_BEGUN, READ, HOLD_ENDED):
        values |= {"unit": "°F", "indicating": "146", "recording": "145.5", "air_space": "151"}
    if what == HOLD_BEGUN:
        values |= LOOKED
    if what == HOLD_ENDED:
        values |= {"fill_min": "0", "empty_min": "0"}
    return SayData(**(values | changes))


def held(by: Actor, run: int, minutes: float = 30, begin_with: Any = None, **end_with: Any) -> int:
    """A hold of so many minutes from FROM; the number of its end."""
    say(by, said(run, HOLD_BEGUN, FROM, **(begin_with or {})))
    return say(by, said(run, HOLD_ENDED, FROM + minutes * MINUTE, **end_with)).number


def opened(run: int, happened_at: datetime | None = None, **changes: Any) -> OpenData:
    """The outlet opened into Finished 1."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "target": "finished-1", "happened_at": happened_at or clock.now(),
    }  # fmt: skip
    return OpenData(**(values | changes))


def shut(run: int, **changes: Any) -> ShutData:
    """The outlet shut after 100 gal, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "happened_at": clock.now(), "quantity_typed": "100", "unit": "gal",
        "measured_by": "level", "emptied": True,
    }  # fmt: skip
    return ShutData(**(values | changes))
