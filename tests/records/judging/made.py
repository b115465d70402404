"""Readings that were never saved, and Quillbrook's written plan as if it were in force: no database."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from plant.hazard_plan.content import Plan
from plant.hazard_plan.planned import calendar_of, planned_checks
from plant.hazard_plan.written import read
from records.checks.models import Reading
from records.judging.judge import Judgement, judge_reading
from records.people.plans import InForce

WRITTEN = Path(__file__).parents[3] / "plant" / "demo" / "quillbrook.toml"
READ_AT = datetime(2026, 3, 3, 15, 30, tzinfo=UTC)


@cache
def quillbrook() -> InForce:
    """Quillbrook's own plan."""
    return in_force(read(WRITTEN.read_text(encoding="utf-8")))


def in_force(plan: Plan) -> InForce:
    """A plan as if it were approved."""
    names = {one.code: one.name for one in plan.vessels} | {one.code: one.name for one in plan.equipment}
    return InForce(1, "0" * 64, READ_AT, plan, calendar_of(plan), planned_checks(plan), names)


def reading(key: str, typed: str = "", plan: InForce | None = None, **changes: Any) -> Reading:
    """An answer to a check, in the check's unit, with no instrument named unless a test names one."""
    monitoring = (plan or quillbrook()).plan.monitoring_by_key(key)
    assert monitoring is not None, key
    numeric = monitoring.answer.kind in ("number", "pair", "count")
    values: dict[str, Any] = {
        "monitoring_key": key,
        "answer_kind": monitoring.answer.kind,
        "typed": typed,
        "unit": monitoring.answer.unit,
        "value": Decimal(typed) if numeric and typed else None,
        "observed_at": READ_AT,
        "agitator_ran": True,
        "bulb_covered": True,
    }
    return Reading(**{**values, **changes})


def judged(key: str, typed: str = "", plan: InForce | None = None, **changes: Any) -> Judgement:
    """What the plan makes of an answer."""
    judgement = judge_reading(reading(key, typed, plan, **changes), plan or quillbrook())
    assert judgement is not None
    return judgement


def instrument(**changes: Any) -> dict[str, Any]:
    """A thermometer's numbers as a reading copies them: half a degree allowed, no correction, in calibration."""
    values: dict[str, Any] = {
        "instrument": "T-1",
        "instrument_unit": "°F",
        "correction": Decimal("0"),
        "accuracy": Decimal("0.5"),
        "calibration_due": date(2027, 1, 31),
    }
    return {**values, **changes}
