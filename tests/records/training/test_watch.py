"""A training that becomes overdue: one transition a person and one notice, at the end of its last day."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from plant import clock
from records import tasks
from records.checks import watch as checks
from records.checks.models import Transition
from records.people.models import Notice
from records.training import watch
from records.training.actions import record
from tests.conftest import NOW, Plant
from tests.records.training.made import HYGIENE, asked_for, form, plan_now, trained

pytestmark = pytest.mark.django_db
LAST = NOW.date() + timedelta(days=3)  # the last day on which it counts
HELD = date(LAST.year - 1, LAST.month, LAST.day)


def midnight(days: int = 0) -> datetime:
    """The end of the last day on the plant's clocks, and so many days later."""
    return plan_now().calendar.utc(LAST + timedelta(days=1 + days), datetime.min.time())


def told() -> list[str]:
    """Whom the watch wrote of, each once."""
    return [one.subject_name for one in Transition.objects.filter(key__startswith="told|training|").order_by("number")]


def notices() -> list[str]:
    """The notices put."""
    return [one.subject for one in Notice.objects.filter(message_id__startswith="told|training|")]


def test_it_is_told_of_once_when_its_last_day_is_over(plant: Plant) -> None:
    """Not a second before midnight of the plant; then once, however often the watch looks; one notice for both."""
    checks.begin_at(NOW)
    asked_for(plant)
    trained(plant, "ines", "tomas", trained_on=HELD)
    plant.at(midnight() - timedelta(seconds=1))
    assert tasks.look_at_trainings() == 0
    plant.at(midnight())
    assert [tasks.look_at_trainings() for _again in range(3)] == [2, 0, 0]
    assert told() == ["Ines Alder", "Tomas Reed"]
    (notice,) = notices()
    assert f"Food hygiene: it counted until {LAST}, now over, for Ines Alder, Tomas Reed" in notice
    assert notice.endswith("(21 CFR 117.4(b)(2)).")
    plant.at(midnight(400))
    assert tasks.look_at_trainings() == 0 and len(notices()) == 1


def test_two_last_days_are_two_notices_and_another_last_day_is_told_again(plant: Plant) -> None:
    """Renewed, and overdue again a year later."""
    checks.begin_at(NOW)
    asked_for(plant, HYGIENE)
    trained(plant, "ines", trained_on=HELD)
    trained(plant, "tomas", trained_on=HELD + timedelta(days=1))
    plant.at(midnight(1))
    assert tasks.look_at_trainings() == 2 and len(notices()) == 2
    trained(plant, "ines", trained_on=LAST + timedelta(days=1))
    assert tasks.look_at_trainings() == 0
    plant.at(midnight(370))
    assert tasks.look_at_trainings() == 1 and told() == ["Ines Alder", "Tomas Reed", "Ines Alder"]


def test_what_is_not_asked_not_recorded_or_not_held_is_never_told(plant: Plant) -> None:
    """The owner's own; nothing at all; a record that was void before; somebody who has left."""
    checks.begin_at(NOW)
    asked_for(plant, HYGIENE)
    trained(plant, "hanne", trained_on=HELD)
    gone = trained(plant, "ines", trained_on=HELD)
    trained(plant, "ines", amends=gone.number, amend_reason="not held", void=True)
    trained(plant, "tomas", trained_on=HELD)
    plant.people.tomas.is_active = False
    plant.people.tomas.save()
    plant.at(midnight())
    assert tasks.look_at_trainings() == 0 and notices() == []


def test_two_watches_at_once_tell_once_and_an_amendment_between_is_seen(plant: Plant) -> None:
    """The second pass read its list before the first wrote, or before the record was amended."""
    checks.begin_at(NOW)
    asked_for(plant, HYGIENE)
    row = trained(plant, "ines", trained_on=HELD)
    plant.at(midnight())
    stale = watch.overdue(clock.now(), plan_now())
    assert watch.look() == 1
    assert watch._tell(stale, plan_now()) == 0 and told() == ["Ines Alder"]
    trained(plant, "tomas", trained_on=HELD)
    stale = [one for one in watch.overdue(clock.now(), plan_now()) if one.person.name == "Tomas Reed"]
    assert len(stale) == 1 and stale[0].last is not None
    record(
        plant.actor("wren"),
        form(plant, "tomas", amends=stale[0].last.number, amend_reason="wrong day", trained_on=LAST),
    )
    assert watch._tell(stale, plan_now()) == 0 and told() == ["Ines Alder"] and row.number


def test_what_was_over_before_the_watch_began_is_shown_and_not_told(plant: Plant) -> None:
    """A restored copy does not tell again of last month."""
    asked_for(plant, HYGIENE)
    trained(plant, "ines", trained_on=HELD)
    plant.at(midnight(1))
    checks.begin_at(clock.now())
    assert tasks.look_at_trainings() == 0 and len(watch.overdue(clock.now(), plan_now())) == 1


def test_the_look_asks_a_fixed_number_of_queries(plant: Plant, django_assert_max_num_queries: Any) -> None:
    """Told of already: three people ask for no more than one does."""
    checks.begin_at(NOW)
    asked_for(plant)
    trained(plant, "ines", "tomas", "wren", trained_on=HELD)
    plant.at(midnight())
    assert tasks.look_at_trainings() == 3
    with django_assert_max_num_queries(8):
        assert tasks.look_at_trainings() == 0
