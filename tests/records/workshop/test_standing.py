"""The tests of record and seals as they stand, and what stands against forward flow. Times are the test's own."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from plant.process.trace_judging import Cause
from records.checks.actions import record_reading
from records.workshop.actions import say_it_did_not_happen
from records.workshop.standing import TestWindow, bars_to_start, seals_at, test_windows
from tests.conftest import NOW, Plant
from tests.records.checks.made import seals as seals_reading
from tests.records.flow.made import washed
from tests.records.workshop.made import HOUR, all_in_order, equipment_tested, held, in_force, sealed, worked

TESTED = NOW - timedelta(days=20)


def windows(start: datetime = NOW - HOUR, end: datetime = NOW) -> list[TestWindow]:
    """Those of the press."""
    return test_windows("press-1", start, end, in_force())


def bars(at: datetime = NOW) -> list[str]:
    """What stands against forward flow."""
    return bars_to_start("press-1", at, in_force())


def test_without_a_test_of_record_the_window_says_so(plant: Plant) -> None:
    """Nothing in the book is no holding time."""
    (one,) = windows()
    assert (one.seconds, one.test, one.tested_at, one.counts_until) == (None, None, None, None)
    assert (one.start, one.end, one.set_up) == (NOW - HOUR, NOW, "press-1-milk")
    assert "no holding-time test" in one.sentence


def test_a_test_stands_with_its_seconds_and_its_end(plant: Plant) -> None:
    """Six months to the day, at the end of that day on the plant's clocks (Chicago, summer time by then)."""
    row = held(plant, at=TESTED).row
    (one,) = windows()
    assert (one.seconds, one.test, one.tested_at) == (Decimal("16.2"), row.number, TESTED)
    assert one.counts_until == datetime(2026, 8, 12, 5, tzinfo=UTC)  # tested on 11 February
    assert one.ended_by is Cause.TEST_OVERDUE


def test_a_test_within_the_window_splits_it(plant: Plant) -> None:
    """Before it the old one stood, from its moment on the new one."""
    old = held(plant, at=TESTED).row
    new = held(plant, at=NOW - HOUR / 2, seconds="15.9", tries=()).row
    assert [(one.start, one.end, one.test, one.seconds) for one in windows()] == [
        (NOW - HOUR, NOW - HOUR / 2, old.number, Decimal("16.2")),
        (NOW - HOUR / 2, NOW, new.number, Decimal("15.9")),
    ]


def test_a_test_with_the_homogenizer_otherwise_is_not_this_set_ups(plant: Plant) -> None:
    """It was tested running; one made with it bypassed proves nothing for it."""
    held(plant, at=TESTED, homogenizer="bypassed")
    assert windows()[0].test is None


@pytest.mark.parametrize(("part", "ends"), [("timing pump", True), ("holding tube", True), ("recorder", False)])
def test_work_on_what_sets_the_hold_ends_the_test(plant: Plant, part: str, ends: bool) -> None:
    """From the work's start, until the holding time is tested anew; work on the recorder leaves it."""
    held(plant, at=TESTED)
    work = worked(plant, part=part, at=NOW - 2 * HOUR)
    (one,) = windows()
    assert (one.ended_by is Cause.PUMP_WORKED_ON) is ends
    assert (one.counts_until == work.started_at) is ends
    held(plant, at=NOW - HOUR)
    assert windows()[0].ended_by is Cause.TEST_OVERDUE


def test_a_test_made_in_the_middle_of_a_work_does_not_count(plant: Plant) -> None:
    """What was done after it may have changed the hold."""
    held(plant, at=NOW - 2 * HOUR)
    worked(plant, started_at=NOW - 3 * HOUR, at=NOW - HOUR)
    (one,) = windows()
    assert (one.counts_until, one.ended_by) == (NOW - 2 * HOUR, Cause.PUMP_WORKED_ON)


@pytest.mark.parametrize(
    ("what", "ended"),
    [
        ("found broken", NOW - 3 * HOUR),  # where it was last seen whole
        ("found missing", NOW - 3 * HOUR),
        ("broken for work", NOW - 2 * HOUR),
    ],
)
def test_a_seal_not_whole_ends_the_test(plant: Plant, what: str, ended: datetime) -> None:
    """Renewing the seal alone does not bring it back: the holding time is tested again (ATCP 65.68(3)(c))."""
    all_in_order(plant, TESTED)
    sealed(plant, at=NOW - 3 * HOUR, number="timing pump-1")
    sealed(plant, what=what, at=NOW - 2 * HOUR)
    assert (windows()[0].ended_by, windows()[0].counts_until) == (Cause.SEAL_BROKEN, ended)
    renewed = {"what": "renewed", "number": "115", "sealed_by": "state inspector", "by_regulator": True}
    sealed(plant, at=NOW - HOUR, **renewed)
    assert windows()[0].counts_until == ended
    held(plant, at=NOW - HOUR / 2)
    assert windows(NOW - HOUR / 2)[0].ended_by is Cause.TEST_OVERDUE


def test_a_seal_found_broken_was_not_whole_since_it_was_last_seen(plant: Plant) -> None:
    """Side of caution: whatever ran in between has no proven holding time, and a test in between is made again."""
    all_in_order(plant, TESTED)
    sealed(plant, at=NOW - 5 * HOUR, number="timing pump-1")
    test = held(plant, at=NOW - 4 * HOUR).row
    sealed(plant, what="found broken", at=NOW - HOUR)
    before, after = windows(NOW - 6 * HOUR, NOW - 2 * HOUR)
    assert (before.counts_until, before.ended_by) == (NOW - 5 * HOUR, Cause.SEAL_BROKEN)
    assert (after.test, after.counts_until) == (test.number, NOW - 4 * HOUR)
    renewed = {"what": "renewed", "number": "115", "sealed_by": "state inspector", "by_regulator": True}
    sealed(plant, at=NOW - HOUR / 2, **renewed)
    assert windows(NOW - HOUR / 4)[0].counts_until == NOW - 4 * HOUR
    assert "not seen whole after" in bars()[0]


def test_a_test_made_while_a_seal_was_open_counts_once_it_is_renewed(plant: Plant) -> None:
    """The usual order: seal off, work, test, seal on."""
    all_in_order(plant, TESTED)
    sealed(plant, what="broken for work", at=NOW - 3 * HOUR)
    test = held(plant, at=NOW - HOUR).row
    sealed(
        plant, what="renewed", number="115", sealed_by="state inspector", by_regulator=True, at=NOW - HOUR / 2
    )
    assert [(one.start, one.end, one.test, one.ended_by) for one in windows()] == [
        (NOW - HOUR, NOW - HOUR / 2, test.number, Cause.SEAL_BROKEN),
        (NOW - HOUR / 2, NOW, test.number, Cause.TEST_OVERDUE),
    ]


def test_an_entry_that_did_not_happen_ends_nothing(plant: Plant) -> None:
    """A work said not to have happened leaves the test standing."""
    held(plant, at=TESTED)
    work = worked(plant, at=NOW - 2 * HOUR)
    say_it_did_not_happen(plant.actor("piet"), work, "wrong press", uuid.uuid4())
    assert windows()[0].ended_by is Cause.TEST_OVERDUE


def test_nothing_recorded_stands_against_it(plant: Plant) -> None:
    """Seals set, all tests met, the holding time tested: the list is empty."""
    all_in_order(plant, TESTED)
    assert bars() == []


def test_an_empty_book_stands_against_it(plant: Plant) -> None:
    """Silence is never a pass: three seals, the holding time and the numbered tests are missing."""
    found = " ".join(bars())
    assert found.count("nothing says that it is whole") == 3
    assert "no holding-time test is in the book" in found and "5.1 to 5.9, diversion device" in found


def test_after_work_the_tests_to_be_repeated_are_named(plant: Plant) -> None:
    """Until each is met again since the work's end."""
    all_in_order(plant, TESTED)
    worked(plant, part="indicating thermometer", at=NOW - HOUR)
    assert "1, indicating thermometer: temperature; 4, recorder against" in bars()[0]
    for number in ("1", "4"):
        equipment_tested(plant, test=number, at=NOW - HOUR / 2)
    (left,) = bars()
    assert "7, indicating thermometer: response" in left and "4, recorder" not in left
    equipment_tested(plant, test="7", met=False, at=NOW - HOUR / 2)
    assert any("was not met" in one for one in bars()) and "before forward flow: 7," in bars()[0]
    equipment_tested(plant, test="7", at=NOW - HOUR / 4)
    assert bars() == []


def test_opened_surfaces_are_washed_and_sanitized_before_they_run(plant: Plant) -> None:
    """By the work's own ticks, or by the washes in the book since."""
    all_in_order(plant, TESTED)
    counted = {"tools_before": 4, "tools_after": 4}
    worked(plant, part="other", opened=True, at=NOW - 2 * HOUR, **counted)
    assert bars() == ["After the work on another part of 2026-03-03 07:30: not yet washed and sanitized after it."]
    washed(plant.actor("ines"), "press-1", NOW - HOUR)
    assert bars() == []


def test_a_count_that_differs_stands_until_all_is_counted_again(plant: Plant) -> None:
    """A part may be in the line."""
    all_in_order(plant, TESTED)
    worked(plant, part="other", tools_before=4, tools_after=3, count_note="one wrench", at=NOW - 2 * HOUR)
    assert "one wrench" in bars()[0]
    worked(plant, part="other", what="wrench found", tools_before=1, tools_after=1, at=NOW - HOUR)
    assert bars() == []


def test_a_test_past_its_stricter_day_stands_against_it(plant: Plant) -> None:
    """Three months to the day; the month's end, which the rule's own words allow, is named beside it."""
    all_in_order(plant, TESTED)  # 11 February
    at = datetime(2026, 5, 12, 15, tzinfo=UTC)
    plant.at(at)
    found = [one for one in bars(at) if one.startswith("Test 1,")]
    assert found == [
        "Test 1, indicating thermometer: temperature of 2026-02-11 counted until 2026-05-11; "
        "La. 51 VII-313; 1 NYCRR 3.27(b) lets it run through 2026-05-31."
    ]
    assert bars(at - timedelta(days=1)) == []


def test_seals_stand_by_place(plant: Plant) -> None:
    """Number, state, since when, which entry."""
    all_in_order(plant, TESTED)
    broken = sealed(plant, what="found broken", at=NOW - HOUR).row
    found = {one.place: one for one in seals_at("press-1", NOW)}
    assert (found["timing pump"].state, found["timing pump"].number) == ("broken", "timing pump-1")
    assert (found["timing pump"].since, found["timing pump"].entry) == (NOW - HOUR, broken.number)
    assert found["recorder"].state == "whole" and found["recorder"].since == TESTED
    before = {one.place: one.state for one in seals_at("press-1", TESTED - HOUR)}
    assert set(before.values()) == {"never recorded"}


def test_another_number_is_not_the_seal_that_was_set(plant: Plant) -> None:
    """Somebody changed it: it is not there, whatever else hangs in its place."""
    all_in_order(plant, TESTED)
    sealed(plant, what="seen whole", number="999", at=NOW - HOUR)
    assert {one.place: one.state for one in seals_at("press-1", NOW)}["timing pump"] == "not there"


def test_looking_at_a_broken_seal_does_not_mend_it(plant: Plant) -> None:
    """Only a new seal does."""
    sealed(plant, what="found broken", at=NOW - 2 * HOUR)
    sealed(plant, what="seen whole", at=NOW - HOUR)
    assert {one.place: one.state for one in seals_at("press-1", NOW)}["timing pump"] == "broken"


def test_a_hold_found_too_short_stands_against_it(plant: Plant) -> None:
    """The last test counts, whatever it found: its seconds go to the judging of traces, its sentence here."""
    all_in_order(plant, TESTED)
    held(plant, seconds="14.2", tries=(), at=NOW - HOUR)
    assert bars() == [
        "Milk, homogenizer running: the test of 2026-03-03, 14.2 s, does not meet the rows of its classes."
    ]
    assert windows(NOW - HOUR / 2)[0].seconds == Decimal("14.2")


def test_the_plans_check_answered_no_is_a_seal_not_whole(plant: Plant) -> None:
    """Whoever answers the round's check ends the test too; the next yes ends the bar, not the need of a new test."""
    all_in_order(plant, TESTED)
    record_reading(plant.actor("ines"), seals_reading("yes", observed_at=NOW - 3 * HOUR))
    record_reading(plant.actor("ines"), seals_reading("no", observed_at=NOW - 2 * HOUR))
    assert (windows()[0].counts_until, windows()[0].ended_by) == (NOW - 3 * HOUR, Cause.SEAL_BROKEN)
    assert bars()[0] == "The check on the seals of 2026-03-03 07:30 found them not whole."
    record_reading(plant.actor("ines"), seals_reading("yes", observed_at=NOW - HOUR))
    (left,) = bars()
    assert "a seal was not seen whole after 2026-03-03 06:30" in left
    held(plant, at=NOW - HOUR / 2)
    assert bars() == []
