"""A filling line: the small plan with a filler, a vat, milks with allergens of their own, and what a test changes."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import (
    AnswerDef,
    ControlPointDef,
    FrequencyDef,
    MonitoringDef,
    Plan,
    ProductDef,
    Settings,
    VesselDef,
)
from records.flow.actions import MovementData, record_movement
from records.flow.models import Movement
from records.labels.actions import check_clearance, clear_line, open_packaging
from records.labels.data import CheckData, ClearData, OpenedData
from records.labels.models import NONE, OFF, THINGS, LineClearance, PackagingOpened
from records.ledger.actions import Actor
from tests.conftest import NOW, Plant
from tests.factories import control_points, monitoring, small_plan, vessels
from tests.kept import acted_once
from tests.records.charts.made import in_force
from tests.records.flow.made import washed

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
GTIN = "9501101530003"


def plan_of_filling(**changes: Any) -> Plan:
    """A filler behind two tanks; clearances asked for; a check of each changeover and of each roll."""
    allergen = ("label", "Labels", "allergen"), ("contact", "Allergen contact", "allergen")
    each = {"label": "label roll", "contact": "changeover"}
    values: dict[str, Any] = {
        "settings": Settings(line_clearance_h=8),
        "vessels": (
            *vessels(),
            VesselDef("vat", "Flavor vat", "vat", "pasteurized", "daily", 4, 4, capacity="60"),
            VesselDef("filler", "Filler", "filler", "pasteurized", "line", 5, 5, holds_product=False),
        ),
        "control_points": (
            *control_points(),
            *(ControlPointDef(key, name, kind, reaches_product=True) for key, name, kind in allergen),
        ),
        "monitoring": (
            *monitoring(),
            *(
                MonitoringDef(
                    f"{key}-seen", key, (), f"{name} seen good", "Look.", "operator", AnswerDef("yes_no"),
                    FrequencyDef("each_event", event=each[key]), ("seals-whole",), corrective_action="Stop.",
                )
                for key, name, _kind in allergen
            ),
        ),
        "products": (
            *small_plan().products,
            ProductDef(
                "oat-milk", "Milk with oats", "milk", "milk", allergens=("milk",), gtin=GTIN,
                net_contents="1 pint (473 mL)", shelf_days="14", keep="refrigerated",
            ),
            ProductDef("nut-milk", "Hazelnut milk", "milk", "milk", allergens=("milk", "tree nuts")),
        ),
    }  # fmt: skip
    return small_plan(**(values | changes))


@acted_once
def ready_plant(plant: Plant, **changes: Any) -> Plant:
    """That plan in force, everything washed, whole milk in Finished 1 and hazelnut milk in the vat; NOW + 1 h."""
    plant.at(NOW)
    in_force(plant, plan_of_filling(**changes))
    plant.at(NOW + HOUR)
    by = plant.actor("tomas")
    for place in ("finished-1", "vat", "filler"):
        washed(by, place, NOW + 15 * MINUTE)
    for target, product, much in (("finished-1", "whole-milk", "300"), ("vat", "nut-milk", "50")):
        record_movement(
            by,
            MovementData(
                uuid.uuid4(), "", target, product, NOW + 35 * MINUTE, source_name="Another plant",
                quantity_typed=much, unit="gal", measured_by="level", ended_at=NOW + 45 * MINUTE,
            ),
        )  # fmt: skip
    return plant


def packing(source: str = "finished-1", product: str = "whole-milk", **changes: Any) -> MovementData:
    """Packed through the filler from now on, begun now, unless `started_at` says when it was."""
    at = changes.pop("started_at", None)
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "source": source, "target": "", "product": product, "started_at": at or clock.now(),
        "target_name": "packed", "via": "filler", "code": f"{product} 1", "start_now": at is None,
    }  # fmt: skip
    return MovementData(**(values | changes))


def packed(by: Actor, *args: Any, minutes: int, lasting: int = 5, **changes: Any) -> Movement:
    """Packed so many minutes after NOW, ended."""
    start = NOW + minutes * MINUTE
    end = start + lasting * MINUTE
    return record_movement(by, packing(*args, started_at=start, ended_at=end, **changes))


def clearing(product: str = "whole-milk", **changes: Any) -> ClearData:
    """The filler cleared now: 12 labels taken off, nothing else there."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "filler", "product": product, "at": clock.now(),
        "answers": dict.fromkeys(THINGS, NONE) | {"labels": OFF}, "counts": {"labels": "12"},
    }  # fmt: skip
    return ClearData(**(values | changes))


def looked(cleared: LineClearance, **changes: Any) -> CheckData:
    """A second person's look at it, now: clear."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "clearance": cleared.number, "agrees": True, "at": clock.now(),
    }  # fmt: skip
    return CheckData(**(values | changes))


def made_clear(plant: Plant, product: str = "whole-milk") -> LineClearance:
    """Cleared by Ines and checked by Tomas, now."""
    found = clear_line(plant.actor("ines"), clearing(product))
    check_clearance(plant.actor("tomas"), looked(found))
    return found


def opening(**changes: Any) -> OpenedData:
    """Label roll R-7 for whole milk opened now, 1,000 issued."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "filler", "product": "whole-milk", "kind": "label", "roll_code": "R-7",
        "printed": "whole-milk", "at": clock.now(), "issued": "1000",
    }  # fmt: skip
    return OpenedData(**(values | changes))


def opened(by: Actor, **changes: Any) -> PackagingOpened:
    """As `opening`, recorded."""
    return open_packaging(by, opening(**changes))


def at(minutes: int) -> datetime:
    """So many minutes after NOW."""
    return NOW + minutes * MINUTE
