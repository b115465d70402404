"""Rework set aside in a run of the small plan with a freezer, and what a test does with it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from plant import clock
from plant.hazard_plan.content import LimitDef, Settings
from records.freezer_runs.actions import draw_ends, say
from records.freezer_runs.models import FIRST_RIGHT, PURGED, REWORK
from records.ledger.actions import Actor
from records.people.plans import plan_in_force
from records.rework.actions import throw_away, use
from records.rework.data import AwayData, UseData
from records.rework.state import Portion, portion_of
from tests.conftest import Plant
from tests.factories import INVENTED
from tests.records.freezer_runs.made import PLANT_RULE, drawing, drawn, plan_of_freezing, ready_plant, said

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
LIKE = LimitDef("like", "rework", PLANT_RULE, INVENTED, wanted=("none", "like into like"))


def plant_with_rework(plant: Plant, hours: int = 24, *, like: bool = True) -> Plant:
    """The plan of freezing with hours for rework and, unless not wanted, the rule of like into like."""
    base = plan_of_freezing()
    more = {"settings": Settings(rework_h=hours), "limits": (*base.limits, *([LIKE] if like else []))}
    return ready_plant(plant, **more)


def set_aside(by: Actor, **changes: Any) -> Portion:
    """A run with hazelnut drawn, of which 3 gal are set aside now as rework."""
    run = changes.pop("run", None) or drawing(by)
    row = say(by, said(run, PURGED, **({"amount": "3", "unit": "gal", "became": REWORK} | changes)))
    return found(row.number)


def tubs_aside(by: Actor, run: int, **changes: Any) -> Portion:
    """Four first tubs set aside now as rework."""
    row = say(by, said(run, FIRST_RIGHT, **({"about": "weight", "tubs": "4", "became": REWORK} | changes)))
    return found(row.number)


def found(number: int) -> Portion:
    """The portion of a number, as it stands."""
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    one = portion_of(number, in_force)
    assert one is not None
    return one


def ended(by: Actor, run: int, **changes: Any) -> None:
    """The draw ended now, which emptied the vat."""
    draw_ends(by, drawn(run, emptied=True, **changes))


def using(portion: Portion, **changes: Any) -> UseData:
    """All of it into the flavor vat for hazelnut, now, with a reason; it has happened."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "portion": portion.number, "target": "flavor-vat", "product": "hazelnut",
        "at": clock.now(), "quantity": "3", "unit": "gal", "why": "The plan's step 12: closed can, same day.",
    }  # fmt: skip
    return UseData(**(values | changes))


def leaving(portion: Portion, **changes: Any) -> AwayData:
    """Thrown away now to the drain."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "portion": portion.number, "leaves_by": "drain", "why": "Its hours are over.",
        "at": clock.now(),
    }  # fmt: skip
    return AwayData(**(values | changes))


__all__ = ["HOUR", "MINUTE", "ended", "found", "leaving", "plant_with_rework", "set_aside", "throw_away", "tubs_aside",
           "use", "using"]  # fmt: skip
