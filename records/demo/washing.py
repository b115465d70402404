"""The washes of the invented days: each place by the plan's program for it, its steps one after the other."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import ROUND_CEILING, Decimal
from typing import TYPE_CHECKING

from plant.hazard_plan.content import WashStepDef
from records.demo.acts import Washed
from records.demo.hand import form_id
from records.flow.choices import SANITIZED, WASHED
from records.flow.joined import YES, joined_to
from records.flow.programs import INSPECT
from records.washes import state
from records.washes.actions import record
from records.washes.data import ProgramWashData, StepData

if TYPE_CHECKING:
    from records.demo.doing import Stage

MINUTE = timedelta(minutes=1)
LONGER = Decimal("1.1")  # than the program asks
LOOK = "1"  # minute, of a look at parts
STRIPS = ("TS-118", timedelta(days=210))  # the lot of the test strips, and how long it is good for yet


def washed(stage: Stage, one: Washed) -> None:
    """Each place of the circuit, told at the end. They follow each other within the time that all took."""
    start, end = stage.moment(one.at, -one.days_back), stage.moment(one.end, -one.days_back)
    plan = stage.in_force.plan
    what = WASHED if one.what == "washed" else SANITIZED
    for place_in, place in enumerate(one.places):
        named = [name for name in state.programs_at(plan, place) if state.kind_of(state.program(plan, name)) == what]
        planned = state.program(plan, named[0])
        lasts = sum((_lasts(each) for each in planned), timedelta())
        apart = (end - start - lasts) / max(1, len(one.places) - 1)
        begin = (start + place_in * apart).replace(second=0, microsecond=0)
        record(
            stage.by,
            ProgramWashData(
                form_id=form_id("wash", stage.plant_day, one.at, one.what, place),
                vessel=place,
                program=named[0],
                steps=_steps(planned, begin, place_in),
                note="From the wash log on paper." if one.days_back else "",
                parted=YES if joined_to(plan, place) else "",
            ),
        )
        stage.hand.on(4)


def _lasts(step: WashStepDef) -> timedelta:
    return int((Decimal(step.minutes or LOOK) * LONGER).to_integral_value(ROUND_CEILING)) * MINUTE


def _steps(planned: list[WashStepDef], begin: datetime, seed: int) -> tuple[StepData, ...]:
    found = []
    for at, one in enumerate(planned, 1):
        end = begin + _lasts(one)
        strength = _between(one.strength_low, one.strength_high, seed) if one.strength_unit else ""
        lot, good_until = (STRIPS[0], (begin + STRIPS[1]).date()) if one.strips else ("", None)
        looked = YES if one.step == INSPECT else ""
        flow = "46" if one.flow_low else ""
        found.append(StepData(at, begin, end, _hot(one, seed), strength, flow, lot, good_until, looked))
        begin = end
    return tuple(found)


def _hot(one: WashStepDef, seed: int) -> str:
    """A little above the lowest, or below the highest, that the program names; rinses without either are not read."""
    if one.temperature_low:
        return str(Decimal(one.temperature_low) + 7 + seed % 3)
    return str(Decimal(one.temperature_high) - 2 - seed % 3) if one.temperature_high else ""


def _between(low: str, high: str, seed: int) -> str:
    """Near the middle of the two."""
    middle = (Decimal(low) + Decimal(high)) / 2
    step = Decimal(5) if middle > 10 else Decimal("0.05")
    return str(middle + step * (seed % 3 - 1))
