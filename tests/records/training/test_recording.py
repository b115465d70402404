"""A training recorded: once for each form, with its people, refused when it is nonsense, amended and void."""

from __future__ import annotations

import json
import uuid
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plant import clock
from plant.process.training import Standing
from records.flow.errors import DifferentContent, Refused
from records.ledger.models import Entry
from records.training import queries
from records.training.actions import record
from records.training.data import TrainingData
from records.training.models import PersonTrained, Training
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.training.made import HYGIENE, ONCE, asked_for, form, plan_now, trained

pytestmark = pytest.mark.django_db


def stand(plant: Plant, first_name: str, key: str = "hygiene") -> queries.Stand:
    """How one training of one person stands now."""
    who = getattr(plant.people, first_name)
    (row,) = queries.stands(clock.now(), plan_now(), who)
    return next(one for one in row if one.asked.key == key)


def test_the_content_is_its_own_and_each_person_has_an_entry_of_the_same_act(plant: Plant) -> None:
    """The ledger has the day, the type and the people; the same form twice is one record, other content is refused."""
    asked_for(plant)
    said = form(plant, "tomas", "ines", note="in the canteen")
    row = record(plant.actor("wren"), said)
    plant.at(NOW + timedelta(minutes=5))
    assert record(plant.actor("wren"), said).number == row.number and Training.objects.count() == 1
    with pytest.raises(DifferentContent):
        record(plant.actor("wren"), TrainingData(**{**as_dict(said), "trainer": "Somebody else"}))
    told = json.loads(Entry.objects.get(number=row.number).content)["record"]
    assert [one["name"] for one in told["people"]] == ["Ines Alder", "Tomas Reed"]
    assert (told["topic"], told["trained_on"], told["proven"]) == ("Food hygiene", "2026-03-02", "test")
    beside = PersonTrained.objects.order_by("number")
    assert {one.act for one in beside} == {row.act} and {one.training_number for one in beside} == {row.number}
    assert {one.person for one in beside} == {plant.people.ines.id, plant.people.tomas.id}


def as_dict(said: TrainingData) -> dict[str, Any]:
    """What a form said, to say it again otherwise."""
    return {name: getattr(said, name) for name in TrainingData.__dataclass_fields__}


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"trained_on": NOW.date() + timedelta(days=1)}, "trained_on"),
        ({"trained_on": date(206, 3, 2)}, "trained_on"),
        ({"ends_on": date(2026, 3, 1)}, "ends_on"),
        ({"ends_on": date(9999, 12, 31)}, "ends_on"),
        ({"people": ()}, "people"),
        ({"people": (uuid.uuid4(),)}, "people"),
        ({"training": "juggling"}, "training"),
        ({"training": "", "topic": "  "}, "topic"),
        ({"trainer": " "}, "trainer"),
        ({"proven": "hearsay"}, "proven"),
    ],
)
def test_nonsense_is_refused_beside_its_field(plant: Plant, wrong: dict[str, Any], field: str) -> None:
    """And nothing is written."""
    asked_for(plant)
    with pytest.raises(Refused) as refused:
        trained(plant, **wrong)
    assert refused.value.field == field and not Training.objects.exists() and not PersonTrained.objects.exists()


def test_today_may_be_the_day_on_the_plants_own_calendar(plant: Plant) -> None:
    """At 23:30 in Chicago it is tomorrow in UTC: tomorrow's date is refused, today's is kept."""
    asked_for(plant)
    plant.at(NOW.replace(day=4, hour=5, minute=30))
    with pytest.raises(Refused):
        trained(plant, trained_on=date(2026, 3, 4))
    assert trained(plant, trained_on=date(2026, 3, 3)).trained_on == date(2026, 3, 3)


def test_the_latest_that_stands_says_until_when(plant: Plant) -> None:
    """By the day of the training, not by the moment of recording; one entered late changes nothing that is later."""
    asked_for(plant)
    assert stand(plant, "ines").how is Standing.MISSING and stand(plant, "ines").lacks
    trained(plant, trained_on=date(2025, 3, 2))
    assert stand(plant, "ines").how is Standing.OVERDUE and stand(plant, "ines").until == date(2026, 3, 2)
    last = trained(plant, trained_on=date(2025, 4, 2))
    assert stand(plant, "ines").how is Standing.SOON
    trained(plant, trained_on=date(2024, 4, 2))
    assert stand(plant, "ines").last == last and not stand(plant, "ines").lacks
    trained(plant, trained_on=NOW.date())
    assert stand(plant, "ines").until == date(2027, 3, 3) and stand(plant, "tomas").how is Standing.MISSING


def test_an_amendment_stands_instead_and_one_that_was_not_held_counts_for_nobody(plant: Plant) -> None:
    """Another day and other people; then it did not happen: whoever was trained by it alone has nothing recorded."""
    asked_for(plant)
    first = trained(plant, "ines", "tomas")
    second = trained(
        plant, "ines", amends=first.number, amend_reason="Tomas Reed was away", trained_on=date(2026, 3, 1),
        at=first.observed_at,
    )  # fmt: skip
    assert stand(plant, "tomas").how is Standing.MISSING and stand(plant, "ines").until == date(2027, 3, 1)
    with pytest.raises(Refused, match="amended already"):
        trained(plant, amends=first.number, amend_reason="again")
    with pytest.raises(Refused) as refused:
        trained(plant, amends=second.number)
    assert refused.value.field == "reason"
    trained(plant, amends=second.number, amend_reason="postponed", void=True)
    assert stand(plant, "ines").how is Standing.MISSING and queries.lately(9) == []
    assert queries.of_person(plant.people.ines, 9) == []


def test_once_has_no_end_and_a_certificate_may_end_before_the_plans_months(plant: Plant) -> None:
    """Asked once: for good, unless the paper itself names a day."""
    asked_for(plant)
    trained(plant, "odile", training="once", trained_on=date(2001, 5, 5), proven="certificate")
    assert stand(plant, "odile", "once").how is Standing.IN_DATE and stand(plant, "odile", "once").until is None
    trained(plant, ends_on=date(2026, 3, 2))
    assert stand(plant, "ines").how is Standing.OVERDUE


def test_another_training_is_kept_and_bears_on_none_of_the_plans(plant: Plant) -> None:
    """Named by its topic; the person's page has it, the plan's trainings still have nothing."""
    asked_for(plant)
    row = trained(plant, training="", topic="First aid")
    assert row.topic == "First aid" and queries.of_person(plant.people.ines, 9) == [row]
    assert stand(plant, "ines").how is Standing.MISSING


def test_only_those_who_hold_the_role_now_lack_it(plant: Plant) -> None:
    """Of the owner food hygiene is not asked; of who has left, and of the inspector, nothing is."""
    asked_for(plant)
    lacks = {(one.person.name, one.asked.key) for one in queries.lacking(clock.now(), plan_now())}
    assert lacks == {
        ("Ines Alder", "hygiene"), ("Tomas Reed", "hygiene"), ("Wren Castell", "hygiene"), ("Ines Alder", "press"),
        ("Tomas Reed", "press"), ("Odile Marsh", "once"),
    }  # fmt: skip
    plant.people.tomas.is_active = False
    plant.people.tomas.save()
    names = {row[0].person.name for row in queries.stands(clock.now(), plan_now())}
    assert "Tomas Reed" not in names and "Inspector's guest" not in names and "Hanne Quill" in names


def test_the_topic_is_kept_in_the_plants_language(plant: Plant) -> None:
    """Whoever is at the screen, and whatever language they read."""
    asked_for(plant, HYGIENE, ONCE, plant=replace(small_plan().plant, language="es"))
    assert trained(plant).topic == "Higiene"


def test_the_number_of_queries_grows_with_neither_people_nor_past(
    plant: Plant, django_assert_max_num_queries: Any
) -> None:
    """Twenty trainings of everybody cost what one does."""
    asked_for(plant)
    for month in range(1, 21):
        trained(plant, "ines", "tomas", "wren", trained_on=date(2024 + month // 12, month % 12 + 1, 1))
    with django_assert_max_num_queries(4):
        assert len(queries.stands(clock.now(), plan_now())) == 7
