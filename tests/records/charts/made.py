"""Charts of the small plant's recorder T-12 at Press 1, with what a test changes."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import AnswerDef, ControlPointDef, FrequencyDef, MonitoringDef, Plan, TracedDef
from plant.hazard_plan.written import store
from records.charts.actions import Indicated, OffData, OnData, put_on, take_off
from records.charts.models import ChartOff, ChartOn
from records.ledger.actions import Actor
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from tests.conftest import Plant
from tests.factories import control_points, monitoring, small_plan
from tests.kept import acted_once

HOUR = timedelta(hours=1)
READ = Indicated("161.8", "°F", "T-11")


def plan_of_charts() -> Plan:
    """The small plan with a check of each chart change, a control point of records, and T-12 among what is traced."""
    return small_plan(
        control_points=(
            *control_points(),
            ControlPointDef("records", "Chart and run records", "operating", "pasteurizing", "ATCP 65.66(3)"),
        ),
        monitoring=(
            *monitoring(),
            MonitoringDef(
                "chart-change",
                "records",
                (),
                "Indicating thermometer at the chart change",
                "Read it and mark both charts",
                "operator",
                AnswerDef("number", "°F"),
                FrequencyDef("each_event", event="chart change"),
                (),
                weight="legal",
                instruments=("T-11",),
            ),
        ),
        traced=(TracedDef("T-12", "Press 1 recorder", "press-1", "hold temperature", "pasteurizing", "°F"),),
    )


@acted_once
def in_force(plant: Plant, plan: Plan | None = None) -> None:
    """A plan (that of charts) comes into force now."""
    version = store(plan or plan_of_charts(), plant.people.odile, clock.now())
    sign_plan(plant.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(plant.actor("hanne"), version, OWNER_SIGNS)


def on(**changes: Any) -> OnData:
    """Chart 61, circular, 24 h, put on T-12 now at 161.8 °F."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "recorder": "T-12",
        "chart_number": "61",
        "shape": "circular",
        "span_typed": "24",
        "put_on_at": clock.now(),
        "indicated": READ,
    }
    return OnData(**(values | changes))


def off(chart: ChartOn | int, **changes: Any) -> OffData:
    """It comes off now: nothing unusual, no overlap, its clock right."""
    number = chart if isinstance(chart, int) else chart.root or chart.number
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "chart": number,
        "taken_off_at": clock.now(),
        "indicated": READ,
        "products": "Whole milk, 300 gal",
        "unusual": False,
        "overlapped": False,
        "clock_right": True,
        "clock_against": "the tablet",
    }
    return OffData(**(values | changes))


def is_on(by: Actor, **changes: Any) -> ChartOn:
    """A chart put on."""
    return put_on(by, on(**changes))


def was_on(by: Actor, since: datetime, until: datetime, **changes: Any) -> tuple[ChartOn, ChartOff]:
    """A chart that was on for a time."""
    chart = put_on(by, on(put_on_at=since))
    return chart, take_off(by, off(chart, taken_off_at=until, **changes))


def without_instrument(given: Indicated) -> Indicated:
    """Nobody said what was read."""
    return replace(given, instrument="")
