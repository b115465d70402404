"""One tub's page names the washes before each place with their verdict, and what the laboratory found of its lots."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from plant import clock
from plant.hazard_plan.content import WashStepDef
from plant.people.models import Person
from records.flow.actions import record_wash
from records.laboratory.models import RETAINED
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall.tub import Tub, tub_of
from records.washes.actions import record
from records.washes.data import ProgramWashData, StepData
from tests.conftest import NOW, Plant
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, moved, ran, washed
from tests.records.flow.made import wash as by_hand
from tests.records.laboratory.made import found, sampled_plan, taken
from tests.records.recall.made import packed
from tests.records.washes.test_washes import MINUTE, STEPS, wash

pytestmark = pytest.mark.django_db
PRESS = (WashStepDef("p1", "press-wash", "alkaline wash", ("press-1",), "10", "155", "185", "°F"),)


@pytest.fixture
def ines(plant: Plant) -> Any:
    """Silo A washed by its program, Press 1 too cold, Finished 1 has none; then a day from farm to the pack WM 1."""
    in_force(plant, replace(sampled_plan(), wash_steps=STEPS + PRESS))
    by = plant.actor("ines")
    plant.at(NOW + 9 * HOUR)
    washed(by, "finished-1", NOW + HOUR / 4)
    record(by, wash(NOW))
    cold = (StepData(1, NOW, NOW + 12 * MINUTE, "150"),)
    record(by, ProgramWashData(form_id=uuid.uuid4(), vessel="press-1", program="press-wash", steps=cold))
    record_wash(by, by_hand("press-1", NOW + HOUR, "sanitized"))
    moved(by, started_at=NOW + HOUR, quantity_typed="300")
    ran(by, started_at=NOW + 2 * HOUR, quantity_typed="200")
    packed(by, "WM 1", started_at=NOW + 3 * HOUR, quantity_typed="150")
    return by


def tub() -> Tub:
    """Everything of WM 1 now."""
    plan = plan_in_force(clock.now())
    assert plan is not None
    return tub_of(Lot.objects.get(code="WM 1"), plan, clock.now())


def test_each_wash_before_product_has_its_verdict(ines: Any) -> None:
    """Proven, not met at 150 °F of 155, and none where the plan has no program; lines too, by their last wash."""
    one = tub()
    assert [(each.fill.vessel, [(w.wash.what, w.outcome) for w in each.washes]) for each in one.tanks] == [
        ("silo-a", [("washed", "met"), ("sanitized", "met")]),
        ("finished-1", [("washed", ""), ("sanitized", "")]),
    ]
    (press,) = one.pressed
    assert [(w.wash.what, w.outcome, w.program) for w in press.washes] == [
        ("washed", "not met", "press-wash"), ("sanitized", "", ""),
    ]  # fmt: skip
    assert "alkaline wash" in press.washes[0].why[0] and press.washes[0].plan_number
    # Another wash, after the run, is none of this product's.
    washed(ines, "press-1", NOW + 5 * HOUR)
    assert [w.wash.number for w in tub().pressed[0].washes] == [w.wash.number for w in press.washes]


def test_a_wash_without_its_steps_is_not_proven(ines: Any) -> None:
    """The plan asks for a program, and only that it was washed is recorded: what is missing proves nothing."""
    washed(ines, "press-1", NOW + 1.5 * HOUR, started_at=NOW + 1.2 * HOUR)
    first = tub().pressed[0].washes[0]
    assert (first.outcome, first.program) == ("not proven", "") and first.why


def test_results_of_every_lot_in_it_with_verdicts_and_what_is_pending(ines: Any) -> None:
    """Of the pack and of the tank before it; a miss stays though it was amended; what nobody sampled is named."""
    assert [(one.test, one.pending, one.sample) for one in tub().tested] == [
        ("coliform", True, None), ("bacteria", True, None),
    ]  # fmt: skip
    sample = taken(ines, tests=("coliform",), taken_at=NOW + 4 * HOUR)
    bad = found(ines, sample, "coliform", "11")
    found(ines, sample, "coliform", "1", amends=bad.number, amend_reason="read wrongly")
    tank = taken(ines, "", code="T 1", kind="vessel", lot_code="", place="finished-1", tests=("phosphatase",),
                 taken_at=NOW + 2.8 * HOUR)  # fmt: skip
    told = [(one.sample, one.test, one.said, one.outcome, one.missed, one.replaced) for one in tub().tested]
    assert told == [
        (tank.number, "phosphatase", "", "not in yet", False, False),
        (sample.number, "coliform", "11 per mL", "out of limits", True, True),
        (sample.number, "coliform", "1 per mL", "in limits", False, False),
        (None, "bacteria", "", "wanted by the plan, no sample recorded", False, False),
    ]
    assert "PMO Table 1; La. VII-355, plan version" in tub().tested[1].why
    taken(ines, code="R 1", kind=RETAINED, tests=(), kept_where="shelf 2", kept_until=NOW.date().replace(year=2027))
    kept = next(one for one in tub().tested if one.sample_code == "R 1")
    assert kept.said.startswith("shelf 2, 2027") and not kept.pending


def test_the_page_says_all_of_it(ines: Any, plant: Plant, client_for: Callable[[Person], Client]) -> None:
    """Verdicts in words, links to wash and sample, and what the page does not say."""
    sample = taken(ines)
    found(ines, sample, "coliform", "11")
    one = tub()
    text = client_for(plant.people.guest).get(f"/tub/{one.lot.id}/").content.decode()
    assert "proven by its record" in text and "its program not met" in text
    assert f'href="/washes/{one.pressed[0].washes[0].wash.number}/"' in text
    assert f'href="/samples/{sample.number}/"' in text and "out of limits" in text and "not in yet" in text
    assert "no proof that a surface was clean" in text and "never makes up for a missed pasteurization" in text


def test_no_statement_more_for_a_longer_history(ines: Any) -> None:
    """Other washes, samples and results, before and after, cost nothing."""
    sample = taken(ines)
    found(ines, sample, "coliform", "<1")
    with CaptureQueriesContext(connection) as first:
        tub()
    for hours in (6, 7, 8):
        washed(ines, "press-1", NOW + hours * HOUR)
        washed(ines, "finished-1", NOW + hours * HOUR, was_empty=True)
        other = taken(ines, "", code=f"E {hours}", kind="environment", lot_code="", place="finished-1",
                      tests=("Listeria",))  # fmt: skip
        found(ines, other, "Listeria", "not found")
        found(ines, sample, "coliform", "<1")
    with CaptureQueriesContext(connection) as then:
        tub()
    assert len(then) == len(first)
