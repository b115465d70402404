"""Which check a reading answers: in time, late, early with a reason, after the miss, unplanned, foreign."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from records.checks import queries, watch
from records.checks.actions import record_reading
from records.checks.entry import Nonsense
from records.checks.models import Reading, Transition
from records.checks.queries import DueCheck, due_between
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.checks.made import FILLED, fill_silo, read, silo

DUE = FILLED  # 06:00


def check(now: datetime, due_at: datetime = DUE) -> DueCheck:
    """The silo's shift check of 06:00 as it stands."""
    found = due_between(due_at, due_at + timedelta(minutes=1), now, keys=["silo-shift"])
    return next(one for one in found if one.due.due_at == due_at)


@pytest.mark.parametrize(
    ("minutes", "state"),
    [(-30, "on time"), (0, "on time"), (30, "on time"), (31, "answered late"), (419, "answered late")],
)
def test_a_reading_for_a_check_is_in_time_or_late(plant: Plant, minutes: int, state: str) -> None:
    """From 30 minutes before to 30 after it is in time, then late until the shift's end at 13:00."""
    fill_silo(plant)
    plant.at(DUE + timedelta(minutes=minutes))
    saved = read(plant, "38", due_at=DUE)
    assert saved.reading.due_at == DUE
    assert check(plant.clock()).state == state


def test_an_early_reading_needs_a_reason_and_answers_nothing(plant: Plant) -> None:
    """Earlier than the check opens: asked why, then kept as a reading of its own."""
    fill_silo(plant)
    plant.at(DUE - timedelta(minutes=31))
    with pytest.raises(Nonsense) as refused:
        read(plant, "38", due_at=DUE)
    assert refused.value.field == "late_reason" and not Reading.objects.exists()
    saved = read(plant, "38", due_at=DUE, late_reason="The tanker was early")
    assert saved.reading.due_at is None
    assert check(plant.clock()).reading is None


def test_a_reading_after_the_miss_is_kept_and_linked_and_the_miss_stands(plant: Plant) -> None:
    """At 14:30 the check of 06:00 has been missed; what is read now names it."""
    watch.begin_at(NOW - timedelta(hours=4))
    fill_silo(plant)
    plant.at(DUE + timedelta(hours=8, minutes=30))
    watch.look()
    missed = Transition.objects.get(what="missed", monitoring_key="silo-shift", due_at=DUE)
    saved = read(plant, "38", due_at=DUE)
    assert saved.reading.due_at == DUE
    found = check(plant.clock())
    assert found.state == "answered after missed"
    assert Transition.objects.filter(number=missed.number).exists()


def test_a_loose_reading_answers_the_check_it_falls_into(plant: Plant) -> None:
    """Entered without a check, at 06:10, it answers the one of 06:00."""
    fill_silo(plant)
    plant.at(DUE + timedelta(minutes=10))
    assert read(plant, "38").reading.due_at == DUE


def test_several_readings_the_first_answers(plant: Plant) -> None:
    """None is refused; the first in the window answers."""
    fill_silo(plant)
    first = read(plant, "38", due_at=DUE)
    plant.clock.on(minutes=5)
    second = read(plant, "39", due_at=DUE)
    found = check(plant.clock())
    assert found.reading == first.reading and found.more == (second.reading,)


def test_a_stale_form_is_kept_as_unplanned(plant: Plant) -> None:
    """A due time at which the version in force made nothing due: the reading stays, and answers no check."""
    fill_silo(plant)
    saved = read(plant, "38", due_at=DUE + timedelta(hours=2, minutes=3))
    assert saved.reading.due_at is None and saved.verdict is not None


def test_a_reading_is_judged_by_the_version_in_force_when_observed(plant: Plant) -> None:
    """A stricter plan from 09:00 on does not touch what was read at 08:00 and typed at 09:30."""
    from plant.hazard_plan.written import store
    from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan

    fill_silo(plant)
    plant.at(NOW - timedelta(minutes=30))
    stricter = small_plan()
    limits = tuple(
        replace(one, high="41", operating_high="40") if one.key == "cold" else one for one in stricter.limits
    )
    version = store(replace(stricter, limits=limits), plant.people.odile, plant.clock())
    sign_plan(plant.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(plant.actor("hanne"), version, OWNER_SIGNS)
    plant.at(NOW)
    before = read(plant, "42", observed_at=NOW - timedelta(minutes=90))
    after = read(plant, "42")
    assert (before.verdict.outcome, before.verdict.plan_number) == ("met", 1)
    assert (after.verdict.outcome, after.verdict.plan_number) == ("not met", 2)


@pytest.mark.parametrize(
    "changes",
    [
        {"monitoring_key": "no-such-check"},
        {"subject": "finished-9"},
        {"subject": "finished-1"},
        {"due_at": NOW + timedelta(days=5000)},
        {"monitoring_key": "", "subject": "no-such-place", "unit": "°F"},
        {"monitoring_key": "", "subject": "", "unit": "°F"},
    ],
)
def test_a_foreign_check_writes_nothing(plant: Plant, changes: dict[str, object]) -> None:
    """A check or place that no version of the plan knows is refused."""
    with pytest.raises(Nonsense):
        record_reading(plant.actor("ines"), silo("38", **changes))
    assert not Reading.objects.exists()


def test_the_same_whatever_window_is_asked_for(plant: Plant) -> None:
    """A late answer of the check before never answers the next one in a narrow window."""
    fill_silo(plant)
    plant.at(DUE + timedelta(hours=3, minutes=40))
    read(plant, "38", monitoring_key="silo-holding", due_at=DUE)  # late, inside the window of 10:00
    next_due = DUE + timedelta(hours=4)
    narrow = due_between(next_due, next_due + timedelta(minutes=1), plant.clock(), keys=["silo-holding"])
    wide = due_between(DUE, next_due + timedelta(minutes=1), plant.clock(), keys=["silo-holding"])
    assert [one.reading for one in narrow] == [None]
    assert [one.reading for one in wide if one.due.due_at == next_due] == [None]
    assert queries.due_key(narrow[0].due).startswith("silo-holding|silo-a||")
