"""The watch sees what did not happen, once, and says what follows."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from records.checks import watch
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.models import Transition
from records.deviations.models import Deviation, Hold
from records.judging.models import Verdict
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import walk


def of(what: str, key: str) -> list[Transition]:
    """The transitions of one kind of one check."""
    return list(Transition.objects.filter(what=what, monitoring_key=key).order_by("number"))


def read_silo(plant: Plant, typed: str, key: str = "silo-shift") -> None:
    """Ines reads the silo now, agitator and bulb seen to."""
    data = ReadingData(
        form_id=uuid.uuid4(), subject="silo-a", monitoring_key=key, typed=typed, agitator_ran=True, bulb_covered=True
    )
    record_reading(plant.actor("ines"), data)


def test_a_check_past_its_grace_becomes_late_once(milk: Plant) -> None:
    """The silo's 10:00 reading is late after 10:30; a second look adds nothing."""
    walk(milk, NOW + timedelta(hours=1, minutes=1))
    late = of("late", "silo-holding")
    assert [one.due_at for one in late] == [NOW + timedelta(minutes=30)]
    assert late[0].observed_at == NOW + timedelta(hours=1)
    size = Entry.objects.count()
    assert not watch.look() and Entry.objects.count() == size


def test_an_answered_check_makes_no_transition(milk: Plant) -> None:
    """What was read in time is never late."""
    walk(milk, NOW + timedelta(minutes=30))
    read_silo(milk, "38.4", "silo-holding")
    walk(milk, NOW + timedelta(hours=2))
    assert not of("late", "silo-holding")


def test_a_missed_ccp_check_is_not_proven_a_deviation_and_a_hold(milk: Plant) -> None:
    """Nothing recorded at a CCP: a verdict says not proven, a deviation opens, what the silo held is held."""
    walk(milk, NOW + timedelta(hours=4))
    missed = of("missed", "silo-holding")[0]
    verdict = Verdict.objects.get(subject_kind="transition", subject_number=missed.number)
    assert verdict.outcome == "not proven"
    deviation = Deviation.objects.get(control_point="raw-storage", subject="silo-a", cause="missed")
    assert deviation.is_ccp and Hold.objects.filter(deviation=deviation.number, vessel="silo-a").exists()


def test_a_missed_check_elsewhere_is_a_line_and_no_deviation(plant: Plant) -> None:
    """The Monday's insect traps missed: a transition, nothing held."""
    watch.begin_at(NOW - timedelta(days=2))
    plant.at(NOW)
    watch.look()
    assert of("missed", "traps") and not Deviation.objects.filter(control_point="pests").exists()


def test_a_reading_after_the_miss_is_kept_and_the_miss_stands(milk: Plant) -> None:
    """A late reading links to its check; the transition stays."""
    walk(milk, NOW + timedelta(hours=4))
    count = len(of("missed", "silo-holding"))
    due_at = of("missed", "silo-holding")[0].due_at
    data = ReadingData(
        form_id=uuid.uuid4(),
        subject="silo-a",
        monitoring_key="silo-holding",
        due_at=due_at,
        typed="38.4",
        agitator_ran=True,
        bulb_covered=True,
    )
    saved = record_reading(milk.actor("ines"), data)
    assert saved.reading.due_at == due_at
    watch.look()
    assert len(of("missed", "silo-holding")) == count


def test_a_watch_that_was_away_opens_one_outage_for_all_it_covers(milk: Plant) -> None:
    """Down from 09:30 to 18:00: one deviation lists the silo's checks; the misses under it open none of their own."""
    watch.look()
    milk.at(NOW + timedelta(hours=8, minutes=30))
    watch.look()
    outage = Deviation.objects.get(cause="outage")
    assert outage.since_at == NOW
    under = [one for one in Deviation.objects.exclude(number=outage.number) if one.cause == "missed"]
    assert not [one for one in under if one.since_at >= NOW]
    size = Entry.objects.count()
    watch.look()
    assert Entry.objects.count() == size


def test_out_of_limits_makes_a_recheck_due_until_two_are_met(milk: Plant) -> None:
    """After 46.4 °F a re-check is due in 15 minutes; missing it is late like any other."""
    from records.checks import queries

    read_silo(milk, "46.4")
    wanted = [one for one in queries.unsettled(NOW) if one.due.event.startswith("recheck")]
    assert [one.due.due_at for one in wanted] == [NOW + timedelta(minutes=15)]
    for minutes, still in ((15, True), (30, True), (45, False)):
        now = NOW + timedelta(minutes=minutes)
        milk.at(now)
        if minutes < 45:
            read_silo(milk, "38.0")
        open_now = [
            one for one in queries.unsettled(now) if one.due.event.startswith("recheck") and one.reading is None
        ]
        assert bool(open_now) is (still and minutes < 30)


@pytest.mark.parametrize("times", [2])
def test_looking_often_changes_nothing(milk: Plant, times: int) -> None:
    """The state after one look at the end equals that after many on the way."""
    for minutes in range(0, 300, 10):
        milk.at(NOW + timedelta(minutes=minutes))
        for _ in range(times):
            watch.look()
    keys = list(Transition.objects.values_list("key", flat=True))
    assert len(keys) == len(set(keys)) and of("missed", "silo-holding")
