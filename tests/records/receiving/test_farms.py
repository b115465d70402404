"""Each farm's milk at pick-up: judged by the rule set, a deviation of the load, a hold of what it was unloaded into."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import LimitDef
from plant.people.models import Person
from records.deviations.errors import Refused
from records.deviations.models import Deviation, Hold
from records.flow.common import plan_at
from records.flow.errors import Several
from records.receiving.actions import amend
from records.receiving.data import Pickup
from records.receiving.farms import out_of_limits
from records.receiving.models import LoadEvent
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.made import MINUTE, arrival, arrived, screened, unloading
from tests.records.receiving.test_pages import arrival as typed

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db
TWO = [("Nettle Farm", "8000"), ("Oxbow Farm", "4900")]


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """Silo A ready."""
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    return plant


def picked(temperature: str, hours_before: float = 5, after_milking: float | None = None) -> Pickup:
    """A pick-up so many hours before now, so many hours after the end of milking."""
    at = clock.now() - hours_before * HOUR
    return Pickup(temperature, at, None if after_milking is None else at - after_milking * HOUR)


@pytest.mark.parametrize(
    ("pickup", "wrong"),
    [
        (("39",), ""),
        (("45",), ""),
        (("47", 5, 1.5), ""),
        (("47", 5, 2.5), "47 °F at pick-up; 45 °F within 2 h"),
        (("47",), "not shown to be within 2 h"),
        (("51", 5, 1), "never a blend over 50 °F"),
        (("",), ""),
    ],
)
def test_a_farms_milk_is_judged_at_its_pickup(silo: Plant, pickup: Any, wrong: str) -> None:
    """One of two farms: PMO Table 1, said with the farm's name; the load can always be recorded."""
    number = arrived(silo.actor("ines"), farms=TWO, pickups=[picked("38"), picked(*pickup)])
    found = [one.sentence for one in Deviation.objects.all()]
    assert len(found) == bool(wrong)
    for sentence in found:
        assert "Oxbow Farm: " in sentence and wrong in sentence and "PMO Table 1" in sentence
        assert "Nettle Farm" not in sentence
    assert LoadEvent.objects.get(number=number).farms[0]["temperature"] == "38"


def test_unloading_is_refused_beforehand_and_held_afterwards(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    with pytest.raises(Several, match="51 °F at pick-up"):
        unloading(ines, load, begins_now=True)
    assert not Hold.objects.exists()
    unloading(ines, load)
    hold = Hold.objects.get()
    assert hold.vessel == "silo-a" and hold.deviation == Deviation.objects.get(subject=f"load {load}").number


def test_an_amendment_for_the_worse_holds_and_one_for_the_better_closes_nothing(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("40")])
    screened(ines, load)
    unloading(ines, load)
    assert not Hold.objects.exists()
    first = LoadEvent.objects.get(number=load)
    worse = arrival(happened_at=first.happened_at, pickups=[picked("54")])
    row = amend(ines, load, worse, "the slip says 54")
    assert Hold.objects.count() == 1 and Deviation.objects.get().sentence.count("54 °F") == 1
    better = replace(worse, form_id=uuid.uuid4(), pickups=[picked("44")])
    amend(ines, row.number, better, "44 after all")
    assert Hold.objects.count() == 1 and Deviation.objects.count() == 1


def own_limit(high: str) -> LimitDef:
    """A limit of the plan on the row of two hours."""
    return LimitDef(
        "farm-own", "product temperature", "PMO Table 1", "state mirror", unit="°F", high=high, rule="farm-2h"
    )


def test_a_stricter_limit_of_the_plan_counts(silo: Plant) -> None:
    """42 °F is out by 40 °F."""
    plan = small_plan()
    in_force(silo, replace(plan, limits=(*plan.limits, own_limit("40"))))
    silo.at(clock.now() + MINUTE)
    arrived(silo.actor("ines"), pickups=[picked("42", 5, 3)])
    assert "40 °F within 2 h" in Deviation.objects.get().sentence


def test_a_laxer_limit_of_the_plan_does_not(silo: Plant) -> None:
    """60 °F in the plan, whoever confirmed it: 48 °F is out by the rule set's 45 °F."""
    load = arrived(silo.actor("ines"), pickups=[picked("48", 5, 3)])
    found = plan_at(clock.now())
    lax = replace(found, plan=replace(found.plan, limits=(*found.plan.limits, own_limit("60"))))
    row = LoadEvent.objects.get(number=load)
    assert out_of_limits(row, lax) == out_of_limits(row, found)
    assert "45 °F within 2 h" in out_of_limits(row, lax)[0]


@pytest.mark.parametrize(
    ("pickup", "field"),
    [
        (Pickup("380"), "farm_temperature_1"),
        (Pickup("-5"), "farm_temperature_1"),
        (Pickup("38", NOW + HOUR), "farm_picked_up_1"),
        (Pickup("38", NOW - HOUR, NOW - HOUR / 2), "farm_milking_ended_1"),
    ],
)
def test_nonsense_is_refused_beside_its_field(silo: Plant, pickup: Pickup, field: str) -> None:
    with pytest.raises(Refused) as refused:
        arrived(silo.actor("ines"), pickups=[pickup])
    assert refused.value.field == field and not LoadEvent.objects.exists()


@pytest.mark.once
def test_the_page_asks_it_says_it_and_gives_it_back(silo: Plant, client_for: Browser) -> None:
    ines = client_for(silo.people.ines)
    form = typed(
        farm_temperature_2="51", farm_picked_up_2=local(clock.now() - 3 * HOUR),
        farm_milking_ended_2=local(clock.now() - 4 * HOUR),
    )  # fmt: skip
    assert ines.post(reverse("records:load-new"), form).status_code == 302
    load = LoadEvent.objects.get().number
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    assert "Oxbow Farm: 51 °F at pick-up" in page and "3 h before arrival" in page
    again = ines.get(reverse("records:load-amend", args=[load])).content.decode()
    assert 'name="farm_temperature_2" value="51"' in again
    assert f'value="{local(clock.now() - 4 * HOUR)}"' in again
    wrong = ines.post(reverse("records:load-new"), typed(farm_temperature_1="51o", farm_picked_up_1="noon"))
    assert wrong.status_code == 422 and 'value="51o"' in wrong.content.decode()
