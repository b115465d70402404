"""Runs of a continuous freezer: the small plan with a freezer, a feeder, a vat of mix, and what a test changes."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import (
    AnswerDef,
    ControlPointDef,
    FrequencyDef,
    LimitDef,
    MonitoringDef,
    Plan,
    ProductDef,
    VesselDef,
)
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.flow.data import MovementData
from records.flow.moving import record_movement
from records.freezer_runs.actions import begin, draw_begins, say
from records.freezer_runs.data import BeginData, DrawData, DrawnData, SayData
from records.freezer_runs.models import DRAIN, PURGED, FreezerEvent
from records.ledger.actions import Actor
from tests.conftest import NOW, Plant
from tests.factories import INVENTED, control_points, limits, monitoring, small_plan, vessels
from tests.kept import acted_once
from tests.records.charts.made import in_force
from tests.records.flow.made import washed

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
PLANT_RULE = "plant rule, invented for the tests"


def _check(key: str, point: str, place: str, answer: AnswerDef, frequency: FrequencyDef, limit: str) -> MonitoringDef:
    legal = key == "weight-gal"
    return MonitoringDef(
        key, point, (place,), key.capitalize(), "Look.", "operator", answer, frequency, (limit,), legal=legal,
        weight="legal" if legal else "quality" if point == "body" else "safety", corrective_action="Set it.",
    )  # fmt: skip


def plan_of_freezing(**changes: Any) -> Plan:
    """Vat, freezer, feeder and hardening room; the checks of a run; three ice creams with allergens of their own."""
    run = FrequencyDef("during_run", every_min=60)
    before = FrequencyDef("before_use", valid_min=240)
    number = AnswerDef("number", "°F")
    values: dict[str, Any] = {
        "vessels": (
            *vessels(),
            VesselDef("flavor-vat", "Flavor vat", "vat", "pasteurized", "daily", 4, 4, capacity="60"),
            VesselDef("freezer", "Freezer", "continuous freezer", "frozen", "line", 5, 5, holds_product=False),
            VesselDef("feeder", "Feeder", "ingredient feeder", "frozen", "line", 6, 6, holds_product=False),
            VesselDef("hardening", "Hardening room", "room", "frozen", "none", 7, 7),
        ),
        "control_points": (
            *control_points(),
            ControlPointDef("body", "Body and overrun", "operating", clause="21 CFR 135.110(a)(2)"),
            ControlPointDef("contact", "Allergen contact", "allergen", reaches_product=True),
            ControlPointDef("ready", "Clean before use", "sanitation", reaches_product=True),
        ),
        "limits": (
            *limits(),
            LimitDef("draw", "draw temperature", PLANT_RULE, INVENTED, "°F", low="19", high="24"),
            LimitDef("overrun", "overrun", PLANT_RULE, INVENTED, "percent", low="70", high="100"),
            LimitDef("weight", "mass per volume", "21 CFR 135.110(a)(2)", "text consulted", "lb/gal", low="4.5"),
            LimitDef("minutes", "time into hardening", PLANT_RULE, INVENTED, "min", high="20"),
        ),
        "monitoring": (
            *monitoring(),
            _check("freezer-seen", "ready", "freezer", AnswerDef("yes_no"), before, "seals-whole"),
            _check("feeder-seen", "contact", "feeder", AnswerDef("yes_no"), before, "seals-whole"),
            _check("draw", "body", "freezer", number, run, "draw"),
            _check("overrun", "body", "freezer", AnswerDef("number", "percent"), run, "overrun"),
            _check("weight-gal", "body", "freezer", AnswerDef("number", "lb/gal"), run, "weight"),
            _check("minutes", "body", "freezer", AnswerDef("number", "min"), run, "minutes"),
        ),
        "products": (
            *small_plan().products,
            ProductDef("plain", "Plain ice cream", "ice cream", "mix", "12", ("milk",)),
            ProductDef("hazelnut", "Salted hazelnut ice cream", "ice cream", "mix", "12", ("milk", "tree nuts")),
            ProductDef("crumble", "Rhubarb crumble ice cream", "ice cream", "mix", "12", ("milk", "wheat")),
        ),
    }
    return small_plan(**(values | changes))


@acted_once
def ready_plant(plant: Plant, **changes: Any) -> Plant:
    """That plan in force, everything washed and sanitized, mix in the vat; it is an hour after NOW."""
    plant.at(NOW)
    in_force(plant, plan_of_freezing(**changes))
    by = plant.actor("tomas")
    plant.at(NOW + 40 * MINUTE)
    for place in ("flavor-vat", "freezer", "feeder"):
        washed(by, place, NOW + 15 * MINUTE)
    record_movement(
        by,
        MovementData(
            uuid.uuid4(), "", "flavor-vat", "hazelnut", NOW + 35 * MINUTE, source_name="Finished 1",
            quantity_typed="50", unit="gal", measured_by="level", ended_at=NOW + 38 * MINUTE,
        ),
    )  # fmt: skip
    plant.at(NOW + HOUR)
    return plant


def begun(by: Actor, **changes: Any) -> FreezerEvent:
    """A run begun now for hazelnut."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "freezer", "product": "hazelnut", "happened_at": clock.now(),
    }  # fmt: skip
    return begin(by, BeginData(**(values | changes)))


def said(run: int, what: str, **changes: Any) -> SayData:
    """Something that happened now."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "run": run, "what": what, "happened_at": clock.now()}
    return SayData(**(values | changes))


def draw(run: int, **changes: Any) -> DrawData:
    """Hazelnut from the vat into the hardening room, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "product": "hazelnut", "source": "flavor-vat", "target": "hardening",
        "happened_at": clock.now(),
    }  # fmt: skip
    return DrawData(**(values | changes))


def drawn(run: int, **changes: Any) -> DrawnData:
    """40 gal, 300 tubs, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "happened_at": clock.now(), "tubs": "300", "quantity_typed": "40",
        "unit": "gal", "measured_by": "level",
    }  # fmt: skip
    return DrawnData(**(values | changes))


def seen(by: Actor, key: str, place: str, typed: str = "yes") -> int:
    """A check of the plan answered now; its number."""
    data = ReadingData(uuid.uuid4(), place, key, typed=typed, observed_at=clock.now())
    return record_reading(by, data).reading.number


def drawing(by: Actor) -> int:
    """A run with hazelnut being drawn and nothing against it; its number."""
    run = begun(by).number
    seen(by, "freezer-seen", "freezer")
    say(by, said(run, PURGED, became=DRAIN))
    draw_begins(by, draw(run))
    return run


CUP_OF = {"cup_empty": "30", "cup_mix": "140", "mass_unit": "g", "mix_lb_gal": "9.15"}
