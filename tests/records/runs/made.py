"""Runs of Press 1: the small plan with two set-ups and two checks before use, and what a test changes."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import AnswerDef, FrequencyDef, MonitoringDef, Plan, ProductDef, SetUpDef
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.ledger.actions import Actor
from records.runs.actions import begin_start, product_in
from records.runs.data import EventData, OutData, ProductData, StartData
from records.runs.models import RunEvent
from tests.conftest import Plant
from tests.factories import monitoring, small_plan
from tests.records.charts.made import in_force

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def check(key: str, what: str, limits: tuple[str, ...], frequency: FrequencyDef, **answer: Any) -> MonitoringDef:
    """A check at Press 1."""
    return MonitoringDef(
        key, "pasteurizing", ("press-1",), what, "Look.", "operator", AnswerDef(**{"kind": "yes_no", **answer}),
        frequency, limits, legal=True, weight="legal", corrective_action="Stop and divert.",
    )  # fmt: skip


def plan_of_runs(**changes: Any) -> Plan:
    """Seals and the diversion device looked at before use, cut-in read first; set-ups for milk, and for cream too."""
    before = FrequencyDef("before_use", valid_min=180)
    values: dict[str, Any] = {
        "monitoring": (
            *(one for one in monitoring() if one.key != "press-seals"),
            check("press-seals", "Seals whole?", ("seals-whole",), before),
            check("press-divert", "Diversion device moves both ways?", ("seals-whole",), before),
            check("cut-in", "Cut-in", ("hot",), FrequencyDef("run_ends", first=True), kind="number", unit="°F"),
        ),
        "products": (
            *small_plan().products,
            ProductDef("cream", "Pouring cream", "cream", "raised", fat_percent="20", allergens=("milk",)),
        ),
        "set_ups": (
            SetUpDef("milk", "Milk", "press-1", "161.5", ("milk",), homogenizer="running"),
            SetUpDef("cream", "Cream", "press-1", "166.5", ("milk", "raised"), homogenizer="bypassed"),
        ),
    }
    return small_plan(**(values | changes))


def planned(plant: Plant, **changes: Any) -> None:
    """That plan is in force now."""
    in_force(plant, plan_of_runs(**changes))


def start(**changes: Any) -> StartData:
    """A start on milk's set-up now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "place": "press-1", "set_up": "milk", "product": "whole-milk",
        "happened_at": clock.now(), "chart_number": "61",
    }  # fmt: skip
    return StartData(**(values | changes))


def answered(by: Actor, key: str, typed: str = "yes", seen: datetime | None = None) -> int:
    """A check at Press 1 answered; its ledger number."""
    data = ReadingData(
        form_id=uuid.uuid4(), monitoring_key=key, subject="press-1", typed=typed, observed_at=seen or clock.now()
    )
    return record_reading(by, data).reading.number


def checked(by: Actor, cut_in: str = "167") -> None:
    """Both checks before use answered in limits, and cut-in read on the water."""
    answered(by, "press-seals")
    answered(by, "press-divert")
    if cut_in:
        answered(by, "cut-in", cut_in)


def product(run: int, **changes: Any) -> ProductData:
    """Whole milk from Silo A into Finished 1, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "product": "whole-milk", "source": "silo-a", "target": "finished-1",
        "happened_at": clock.now(), "words": "drain",
    }  # fmt: skip
    return ProductData(**(values | changes))


def event(run: int, what: str, **changes: Any) -> EventData:
    """Something that happened now."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "run": run, "what": what, "happened_at": clock.now()}
    return EventData(**(values | changes))


def out(run: int, **changes: Any) -> OutData:
    """Water after 300 gal, now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "run": run, "happened_at": clock.now(), "words": "drain",
        "quantity_typed": "300", "unit": "gal", "measured_by": "level",
    }  # fmt: skip
    return OutData(**(values | changes))


def running(by: Actor, cut_in: str = "167", **changes: Any) -> RunEvent:
    """A run with milk in it: begun, checked, product in; the row that began the start."""
    row = begin_start(by, start(**changes))
    checked(by, cut_in)
    product_in(by, product(row.number))
    return row
