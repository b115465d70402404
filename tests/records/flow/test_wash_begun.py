"""A wash that was said to begin and never recorded: asked for after the plan's time, recorded or taken back."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import EquipmentDef, PipeDef, Settings, WashStepDef, to_json
from plant.people.models import Person
from records.flow.actions import begin_wash, record_movement, record_wash, wash_did_not_happen
from records.flow.errors import Refused
from records.flow.models import PlantEvent
from records.flow.queries import contents_at
from records.people.plans import plan_in_force
from records.review.ready_data import ready_at
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, pasteurized, wash

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]
MINUTE = timedelta(minutes=1)
PIPE = PipeDef("press-finished", ("press-1", "finished-1"), "swing elbow taken off")
ASKED = "a wash was begun by Ines Alder and is not recorded yet"


@pytest.fixture
def begun(plant: Plant) -> PlantEvent:
    """The press, joined to Finished 1, said to be washed; the plan asks for it after an hour."""
    plan = replace(small_plan(), pipes=(PIPE,), settings=Settings(wash_unrecorded_min=60))
    in_force(plant, plan)
    plant.at(NOW + 4 * HOUR)
    made_ready(plant.actor("ines"), NOW + 2 * HOUR)
    return begin_wash(plant.actor("ines"), "press-1", uuid.uuid4())


def against(code: str) -> list[str]:
    """What Ready says against a place now."""
    plan = plan_in_force(clock.now())
    assert plan is not None
    (one,) = (one for one in ready_at(plan, clock.now()) if one.vessel is not None and one.vessel.code == code)
    return [line.sentence for line in one.of("against")]


def test_the_plans_time_is_checked_and_a_plan_without_it_says_as_before() -> None:
    assert "wash_unrecorded_min" not in to_json(small_plan())["settings"]
    found = [one.path for one in problems(replace(small_plan(), settings=Settings(wash_unrecorded_min=1441)))]
    assert "settings.wash_unrecorded_min" in found


@pytest.mark.parametrize(("minutes", "asked"), [(59, False), (60, True)])
def test_it_is_asked_for_from_the_plans_time_on(begun: PlantEvent, plant: Plant, minutes: int, asked: bool) -> None:
    """The place itself is asked; what is joined to it is told at once that it waits."""
    plant.at(NOW + 4 * HOUR + minutes * MINUTE)
    assert any(ASKED in one for one in against("press-1")) is asked
    assert any("Press 1 is being washed and is joined to Finished 1" in one for one in against("finished-1"))


@pytest.mark.parametrize(("minutes", "asked"), [(179, False), (180, True)])
def test_without_a_time_of_the_plan_it_is_asked_for_after_three_hours(
    plant: Plant, minutes: int, asked: bool
) -> None:
    begin_wash(plant.actor("ines"), "silo-a", uuid.uuid4())
    plant.at(NOW + minutes * MINUTE)
    assert any(ASKED in one for one in against("silo-a")) is asked


def test_one_tap_says_that_it_did_not_happen(begun: PlantEvent, plant: Plant, client_for: Browser) -> None:
    """On the Floor, the vessel's page and the washes; afterwards the place is as before, and product next door goes."""
    plant.at(NOW + 6 * HOUR)
    ines = client_for(plant.people.ines)
    address = reverse("records:wash-not-done", args=["press-1", begun.number])
    pages = [reverse("records:floor"), reverse("records:vessel", args=["press-1"])]
    for page in pages:
        text = ines.get(page).content.decode()
        assert ASKED in text and address in text
    form = {"form_id": str(uuid.uuid4())}
    for _again in range(2):
        assert "did not happen" in ines.post(address, form, follow=True).content.decode()
    said = PlantEvent.objects.get(event="wash did not happen")
    assert said.reference == str(begun.number) and said.by_name == "Ines Alder"
    assert not any(ASKED in one for one in against("press-1")) and not against("finished-1")
    assert contents_at(clock.now(), ["press-1"])["press-1"].condition == "sanitized"
    milk = pasteurized(source="", source_name="Oxbow Farm", via="", started_at=clock.now(), ended_at=None)
    record_movement(plant.actor("ines"), replace(milk, start_now=True))


def test_recorded_it_is_asked_for_no_more_and_not_taken_back(begun: PlantEvent, plant: Plant) -> None:
    plant.at(NOW + 6 * HOUR)
    ines = plant.actor("ines")
    record_wash(ines, wash("press-1", NOW + 5 * HOUR, started_at=begun.observed_at, parted="yes"))
    assert not any(ASKED in one for one in against("press-1"))
    with pytest.raises(Refused, match="amend that"):
        wash_did_not_happen(ines, begun.number, uuid.uuid4())
    with pytest.raises(Refused, match="No wash was said to begin"):
        wash_did_not_happen(ines, 1, uuid.uuid4())


def test_who_only_reads_cannot_say_it(begun: PlantEvent, plant: Plant, client_for: Browser) -> None:
    plant.at(NOW + 6 * HOUR)
    address = reverse("records:wash-not-done", args=["press-1", begun.number])
    assert client_for(plant.people.guest).post(address, {"form_id": str(uuid.uuid4())}).status_code == 403
    assert PlantEvent.objects.filter(event="wash did not happen").count() == 0


def test_a_line_that_is_no_vessel_begins_is_asked_for_and_taken_back(plant: Plant, client_for: Browser) -> None:
    """The separator has no page of its own: its washes and Ready say it, and its form knows when it began."""
    separator = EquipmentDef("separator", "Separator", "separator", walk_order=3, area="raw side")
    step = WashStepDef("s1", "line-wash", "alkaline wash", ("separator",), minutes="10")
    small = small_plan()
    in_force(plant, replace(small, equipment=(*small.equipment, separator), wash_steps=(step,)))
    plant.at(NOW + HOUR)
    ines = client_for(plant.people.ines)
    begins = reverse("records:wash-begins", args=["separator"])
    assert "is being washed" in ines.post(begins, {"form_id": str(uuid.uuid4())}, follow=True).content.decode()
    plant.at(NOW + 5 * HOUR)
    listed = reverse("records:washes")
    assert f"Separator: {ASKED}" in ines.get(listed).content.decode()
    assert f"Separator: {ASKED}" in ines.get(reverse("records:ready")).content.decode()
    form = ines.get(reverse("records:wash-new", args=["separator", "line-wash"])).context["form"]
    assert form.initial["started_1"] == NOW + HOUR
    row = PlantEvent.objects.get()
    address = reverse("records:wash-not-done", args=["separator", row.number])
    ines.post(address, {"form_id": str(uuid.uuid4())})
    assert ASKED not in ines.get(listed).content.decode()
