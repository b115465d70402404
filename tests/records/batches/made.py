"""A small plan with a blend vat, an ingredient that may be used, and the forms of batches, with what a test changes."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import (
    AnswerDef,
    ControlPointDef,
    FrequencyDef,
    MonitoringDef,
    Plan,
    ProductDef,
    StepDef,
    VesselDef,
)
from records.batches.actions import write_sheet
from records.batches.data import AdditionData, LineData, SheetData
from records.batches.models import BatchSheet
from records.ingredients.actions import approve_supplier, receive
from records.ingredients.data import ApprovalData, ReceivedData
from records.ingredients.models import IngredientReceived
from records.ledger.actions import Actor
from tests.conftest import NOW, Plant
from tests.factories import control_points, monitoring, small_plan, vessels
from tests.kept import acted_once
from tests.records.charts.made import in_force
from tests.records.flow.made import washed

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def plan_of_blends(**changes: Any) -> Plan:
    """A blend vat whose batches the plan tests for fat, a flavor vat, and ice cream mix that declares milk alone."""
    values: dict[str, Any] = {
        "vessels": (
            *vessels(),
            VesselDef("blend-vat", "Blend vat", "vat", "raw", "raw storage", 3, 4, capacity="1200"),
            VesselDef("flavor-vat", "Flavor vat", "vat", "pasteurized", "daily", 9, 5, capacity="60"),
        ),
        "products": (*small_plan().products, ProductDef("mix", "Ice cream mix", "mix", "mix", "12", ("milk",))),
        "steps": (*small_plan().steps, StepDef("blending", 40, "Blending", places=("blend-vat",))),
        "control_points": (*control_points(), ControlPointDef("op-batch", "Batch sheet", "operating", "blending")),
        "monitoring": (
            *monitoring(),
            MonitoringDef(
                "batch-fat", "op-batch", (), "Fat of the batch", "Fat tester", "operator",
                AnswerDef("number", "percent", low="0", high="60"), FrequencyDef("each_event", event="batch"),
                weight="quality",
            ),
        ),
    }  # fmt: skip
    return small_plan(**(values | changes))


@acted_once
def ready_plant(plant: Plant, **changes: Any) -> Plant:
    """That plan in force, every vessel clean; it is two hours after NOW."""
    plant.at(NOW)
    in_force(plant, plan_of_blends(**changes))
    plant.at(NOW + 2 * HOUR)
    for place in ("blend-vat", "flavor-vat", "finished-1", "silo-a"):
        washed(plant.actor("tomas"), place, NOW + 12 * MINUTE)
    return plant


def approval(**changes: Any) -> ApprovalData:
    """Harrow Mill approved for sugar."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": NOW, "supplier": "Harrow Mill", "item": "sugar", "hazard": "Salmonella",
        "grounds": "Audit of the spring", "until": date(2026, 12, 31),
    }  # fmt: skip
    return ApprovalData(**(values | changes))


def lot(**changes: Any) -> ReceivedData:
    """50 kg of sugar from Harrow Mill, lot S-1, accepted."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": NOW + HOUR, "what": "ingredient", "item": "sugar", "supplier": "Harrow Mill",
        "supplier_lot": "S-1", "quantity": "50", "unit": "kg", "condition": "dry, whole", "accepted": True,
        "best_by": date(2026, 12, 31),
    }  # fmt: skip
    return ReceivedData(**(values | changes))


def sugar(plant: Plant, **changes: Any) -> IngredientReceived:
    """Sugar on the shelf, from a supplier who is approved for it."""
    item = changes.get("item", "sugar")
    approve_supplier(plant.actor("odile"), approval(item=item))
    return receive(plant.actor("ines"), lot(**changes))


def sheet(by: Actor, **changes: Any) -> BatchSheet:
    """100 kg from cream, milk and sugar: 10 % fat, 15 % sugar, in the blend vat."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now(), "batch": "118", "place": "blend-vat", "product": "mix",
        "fat": "10", "sugar": "15", "total": "100",
        "lines": (
            LineData(name="cream", fat="40", snf="5.4"),
            LineData(name="milk", fat="3.5", snf="8.685"),
            LineData(name="sugar", sugar="100"),
        ),
    }  # fmt: skip
    return write_sheet(by, SheetData(**(values | changes)))


def addition(batch: int, line: int, gross: str, **changes: Any) -> AdditionData:
    """A line weighed on the batch scale."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now(), "sheet": batch, "line": line, "gross": gross, "scale": "scale-batch"
    }
    return AdditionData(**(values | changes))
