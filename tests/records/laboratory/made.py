"""A small plan that asks for tests, packed milk, samples and results, and what a test changes."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import ControlPointDef, LimitDef, Plan, SampledDef
from records.laboratory.actions import record_result, take
from records.laboratory.data import ResultData, SampleData
from records.laboratory.models import LabResult, Sample
from records.ledger.actions import Actor
from tests.factories import small_plan

HOUR = timedelta(hours=1)
TABLE_1 = "PMO Table 1; La. VII-355"
LIMITS = (
    LimitDef("coliform", "coliform", TABLE_1, "text consulted", "per mL", high="10", rule="coliform"),
    LimitDef("bacteria", "bacteria", TABLE_1, "text consulted", "per mL", high="20000", rule="bacteria"),
    LimitDef("phosphatase", "phosphatase", TABLE_1, "text consulted", "mU/L", high="350", rule="phosphatase"),
    LimitDef("none-found", "found", "plant rule", "plant rule", wanted=("not found",)),
)
SAMPLED = (
    SampledDef("coliform", "Coliform", "coliform", "release", ("whole-milk",), limits=("coliform",), every_lots=1,
               required=True),
    SampledDef("bacteria", "Bacteria", "bacteria", "release", ("whole-milk",), limits=("bacteria",), every_lots=1,
               required=True),
    SampledDef("phosphatase", "Phosphatase", "phosphatase", "pasteurizing", ("whole-milk",), limits=("phosphatase",),
               calendar="FREQ=WEEKLY;BYDAY=MO"),
    SampledDef("site", "Press, Listeria", "Listeria", "release", place="finished-1", limits=("none-found",), zone=1,
               calendar="FREQ=MONTHLY;BYMONTHDAY=1", weight="safety"),
)  # fmt: skip


def sampled_plan(**changes: Any) -> Plan:
    """The small plan with tests of the laboratory; packed milk waits for two of them."""
    plan = small_plan()
    points = (*plan.control_points, ControlPointDef("release", "Results and release", "operating"))
    return replace(plan, control_points=points, limits=(*plan.limits, *LIMITS), sampled=SAMPLED, **changes)


def of_lot(lot: str, **changes: Any) -> SampleData:
    """A sample of a packed lot, now, for coliform and bacteria."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "code": f"S {lot}", "kind": "lot", "taken_at": clock.now(), "lot_code": lot,
        "tests": ("coliform", "bacteria"), "temperature": "38", "temperature_unit": "°F", "sent_to": "the county",
    }  # fmt: skip
    return SampleData(**(values | changes))


def taken(by: Actor, lot: str = "WM 1", **changes: Any) -> Sample:
    """It was taken."""
    return take(by, of_lot(lot, **changes))


def reading(sample: Sample | int, test: str, typed: str, **changes: Any) -> ResultData:
    """A result read now."""
    number = sample if isinstance(sample, int) else sample.number
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "sample": number, "test": test, "typed": typed, "read_at": clock.now(),
        "laboratory": "the county", "analyst": "an analyst",
    }  # fmt: skip
    return ResultData(**(values | changes))


def found(by: Actor, sample: Sample | int, test: str, typed: str, **changes: Any) -> LabResult:
    """It came in."""
    return record_result(by, reading(sample, test, typed, **changes))
