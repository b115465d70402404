"""The holding time of record behind each second: the workshop's test, its seals and works, and what was read of it.

Operation only with unbroken seals, and a retest whenever one is broken: ATCP 65.68(1), (3), (5) (text consulted); a
test at least every six months: La. 51 VII-313 (text consulted). 16.2 s and the rest are invented.
"""

from __future__ import annotations

import uuid
from datetime import datetime

import pytest

from plant.hazard_plan.content import SetUpDef
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.flow.held_spans import HeldSpan
from records.ledger.actions import act
from records.ledger.verify import verify
from records.people.plans import plan_in_force
from records.runs.models import OPENED, SET_UP, RunEvent
from records.runs.queries import set_ups_recorded
from records.traces import judging, watch
from records.traces.models import TraceJudged
from records.traces.moments import to_ms
from records.traces.set_ups import _parts, covering, set_up_windows
from records.workshop.actions import say_it_did_not_happen
from records.workshop.standing import test_windows
from tests.conftest import Plant
from tests.factories import small_plan
from tests.records.traces.test_judging import (
    HOUR,
    START,
    at,
    began,
    hold,
    hot,
    kept,
    pair,
    standing,
    with_the_hold,
)
from tests.records.workshop.made import held, sealed, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def tested(plant: Plant) -> Plant:
    """A run an hour long; its set-up was tested at 16.2 s three weeks before, and nobody read that in the run."""
    plant.at(START - 21 * 24 * HOUR)
    held(plant)
    sealed(plant, what="applied", by_regulator=True, sealed_by="state inspector")
    began(plant)
    kept("T-12", hot())
    return plant


def causes() -> list[tuple[str, str]]:
    """What stands at the press: cause and outcome."""
    return [(one.cause, one.outcome) for one in standing()]


def judged() -> dict[str, str]:
    """The newest count of seconds."""
    newest = TraceJudged.objects.order_by("-number").first()
    assert newest is not None
    return newest.counted


def test_the_test_of_record_stands_behind_the_run(tested: Plant) -> None:
    """16.2 s is more than the 15 s of 161 °F: every second is met, and nobody had to read it in the run."""
    judging.judge_place("press-1", START, at(3600))
    assert causes() == [] and judged() == {"met": "3600.000"}


def test_what_was_read_shorter_counts(tested: Plant) -> None:
    """Somebody read 14.9 s from the report: the shorter one holds, until that is put right."""
    record_reading(tested.actor("tomas"), hold("14.9", at(40)))
    judging.judge_place("press-1", START, at(3600))
    assert ("hold too short", "not met") in causes()


def test_a_seal_found_broken_ends_the_proof(tested: Plant) -> None:
    """Since it was last seen whole, ten minutes into the run: nobody can say when it broke. The watch judges again."""
    watch.look()
    sealed(tested, at=at(600), number="114")
    judging.judge_place("press-1", START, at(3600))
    assert causes() == [] and judged() == {"met": "3600.000"}
    tested.at(at(1800))
    sealed(tested, what="found broken")
    tested.at(at(3700))
    assert watch.look() > 0
    assert ("seal broken", "not proven") in causes()
    assert judged() == {"met": "600.000", "not proven": "3000.000"}


def test_a_seal_found_broken_after_the_run_reaches_back_into_it(tested: Plant) -> None:
    """Two hours later, or on a round's check: what ran since it was last seen whole is judged again."""
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert judged() == {"met": "3600.000"}
    sealed(tested, at=at(900), number="114")
    tested.at(at(3 * 3600))
    broken = sealed(tested, what="found broken").row
    watch.look()
    assert judged() == {"met": "900.000", "not proven": "2700.000"}
    say_it_did_not_happen(tested.actor("piet"), broken, "the other press", uuid.uuid4())
    watch.look()
    assert causes() == [] and judged() == {"met": "3600.000"} and verify().good


def test_the_round_that_finds_a_seal_broken_reaches_back_as_well(tested: Plant) -> None:
    """Yes before the run, no after it."""
    looked(tested, "yes", at(-600))
    tested.at(at(4000))
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert causes() == []
    looked(tested, "no", at(3900))
    watch.look()
    assert ("seal broken", "not proven") in causes() and "met" not in judged()


def test_without_a_test_in_the_book_work_ends_what_was_read(plant: Plant) -> None:
    """16.2 s as read in the run; the belt changed half way: nobody can see from the reading which came first."""
    began(plant)
    record_reading(plant.actor("tomas"), hold("16.2", at(30)))
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    assert judged() == {"met": "3600.000"}
    worked(plant, started_at=at(1800), at=at(1900))
    plant.at(at(3700))
    judging.judge_place("press-1", START, at(3600))
    assert causes() == [("pump worked on", "not proven")] and judged()["met"] == "1800.000"


def test_each_part_of_a_run_has_the_set_up_of_what_ran() -> None:
    """Milk, then mix: the milk before is not judged by the test of the mix, which holds longer. Invented set points."""
    milk = SetUpDef("milk", "Milk", "press-1", "161.5", ("milk",))
    mix = SetUpDef("mix", "Mix", "press-1", "80", ("milk", "raised", "mix"), unit="°C")  # 176 °F
    spans = [span(at(0), at(1800), "milk"), span(at(1800), None, "mix")]
    parts = _parts(at(0), at(3600), spans)
    assert [(start, end, covering([mix, milk], ran).key) for start, end, ran in parts] == [
        (at(0), at(1800), "milk"),
        (at(1800), at(3600), "mix"),
    ]
    assert covering([mix, milk], {"eggnog"}) is milk  # covered by none: the judgement says so


def span(start: datetime, end: datetime | None, product_class: str) -> HeldSpan:
    """What ran."""
    return HeldSpan(start, end, product_class, product_class, None, "")


def looked(plant: Plant, answer: str, seen: datetime) -> None:
    """The plan's check on the seals, answered."""
    said = ReadingData(
        form_id=uuid.uuid4(), monitoring_key="press-seals", subject="press-1", typed=answer, observed_at=seen
    )
    record_reading(plant.actor("tomas"), said)


def test_work_on_the_pump_asks_for_a_new_test(plant: Plant) -> None:
    """A belt changed the day before: nothing that ran since is proven."""
    plant.at(START - 21 * 24 * HOUR)
    held(plant)
    plant.at(START - 25 * HOUR)
    worked(plant)
    began(plant)
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    assert ("pump worked on", "not proven") in causes() and "met" not in judged()


def test_an_overdue_test_counts_no_more(plant: Plant) -> None:
    """One of this month still counts; after seven months its window says since when it does not."""
    plant.at(START - 29 * 24 * HOUR)
    held(plant, at=START - 29 * 24 * HOUR)
    began(plant)
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    assert causes() == []
    later = START + 200 * 24 * HOUR
    in_force = plan_in_force(later)
    assert in_force is not None
    (window,) = test_windows("press-1", later, later + HOUR, in_force)
    assert window.counts_until is not None and window.counts_until < later


def test_a_test_entered_late_is_judged_with_the_run(plant: Plant) -> None:
    """Its report came the day after: until then nothing was proven, then the run is judged by it."""
    began(plant)
    kept("T-12", hot())
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert ("no set-up named", "not proven") in causes()
    plant.at(at(90_000))
    held(plant, at=START - HOUR)
    assert watch.look() > 0
    assert causes() == [] and judged() == {"met": "3600.000"}


def test_another_thermometer_in_the_same_run(tested: Plant) -> None:
    """The pair read in the run still counts beside it: the recorder above the indicating thermometer is found."""
    record_reading(tested.actor("tomas"), pair("162.0", "163.0", at(1900)))
    judging.judge_place("press-1", START, at(3600))
    assert "recorder reads higher" in {cause for cause, _outcome in causes()}


def test_the_set_up_that_the_run_names_is_the_one_that_counts(tested: Plant) -> None:
    """Milk on the set-up for cream, of which no test is in the book, is not proven; and the watch sees the record."""
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert causes() == []
    spare = SetUpDef("press-1-cream", "Cream", "press-1", "166.5", ("milk", "raised"), homogenizer="bypassed")
    tested.at(at(3650))
    with_the_hold(tested, set_ups=(*small_plan().set_ups, spare))
    tested.at(at(3700))
    one = small_plan().set_ups[0].key
    assert set_ups_recorded("press-1", START, at(3600)) == []
    for key, moment in ((one, at(-60)), ("press-1-cream", at(1800))):
        with act(tested.actor("tomas")) as a:
            first = RunEvent.objects.order_by("number").first()
            a.write(
                RunEvent(
                    form_id=uuid.uuid4(), run=first.number if first else None, place="press-1", place_name="Press 1",
                    what=SET_UP if first else OPENED, happened_at=moment, set_up=key, set_up_name=key,
                ),
                observed_at=moment,
            )  # fmt: skip
    assert watch.look() > 0
    in_force = plan_in_force(tested.clock.moment)
    assert in_force is not None
    spans = [HeldSpan(START, at(3600), "whole-milk", "milk", None, "")]
    found = set_up_windows("press-1", [(START, at(3600))], spans, in_force)
    assert [(one.name, one.start_ms, one.end_ms, one.tested_ms is None) for one in found] == [
        (small_plan().set_ups[0].name, to_ms(START), to_ms(at(1800)), False),
        ("Cream", to_ms(at(1800)), to_ms(at(3600)), True),
    ]
