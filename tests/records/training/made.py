"""A plan that asks for trainings, and the forms of trainings, with what a test changes."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from plant import clock
from plant.hazard_plan.content import Plan, TrainingDef
from records.ledger.actions import Actor
from records.people.plans import InForce, plan_in_force
from records.training.actions import record
from records.training.data import TrainingData
from records.training.models import Training
from tests.conftest import Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force

HYGIENE = TrainingDef(
    "hygiene", "Food hygiene", ("operator", "supervisor"), 12, "21 CFR 117.4(b)(2)", topic_es="Higiene"
)
PRESS = TrainingDef(
    "press", "Running the pasteurizer", ("operator",), 24, "the plant's own", control_point="pasteurizing"
)
ONCE = TrainingDef("once", "Preventive controls", ("qualified individual",), 0, "21 CFR 117.180(c)(1)")


def plan_of_trainings(*asked: TrainingDef, **changes: Any) -> Plan:
    """The small plan that asks for these, or for food hygiene, the press and preventive controls."""
    return small_plan(trainings=asked or (HYGIENE, PRESS, ONCE), **changes)


def asked_for(plant: Plant, /, *asked: TrainingDef, **changes: Any) -> Plant:
    """That plan in force."""
    in_force(plant, plan_of_trainings(*asked, **changes))
    return plant


def plan_now() -> InForce:
    """The plan in force at this moment."""
    found = plan_in_force(clock.now())
    assert found is not None
    return found


def form(plant: Plant, *first_names: str, **changes: Any) -> TrainingData:
    """Food hygiene of these people (Ines Alder alone for none) on 2 March 2026, as the form says it."""
    people = [getattr(plant.people, one) for one in first_names or ("ines",)]
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now(), "training": "hygiene", "people": tuple(one.id for one in people),
        "trained_on": date(2026, 3, 2), "trainer": "Odile Marsh", "proven": "test",
    }  # fmt: skip
    return TrainingData(**(values | changes))


def trained(plant: Plant, *first_names: str, by: Actor | None = None, **changes: Any) -> Training:
    """That, recorded by the supervisor."""
    return record(by or plant.actor("wren"), form(plant, *first_names, **changes))
