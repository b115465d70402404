"""What counts over their limit ask for: by the running rule of the ordinance, and of one farm's milk."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import LimitDef, SampledDef
from records.deviations.holds import allowed_dispositions
from records.deviations.models import Deviation, DeviationCause, Hold
from records.laboratory.running_rule import asked_again
from records.people.models import Notice
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready
from tests.records.laboratory.made import HOUR, found, sampled_plan, taken
from tests.records.laboratory.test_results import ines  # noqa: F401 a fixture
from tests.records.receiving.made import arrived, screened, unloading

pytestmark = pytest.mark.django_db
DAY = 24 * HOUR


def rule_deviations() -> list[Deviation]:
    """Those of the running rule."""
    return list(Deviation.objects.filter(cause="running rule").order_by("number"))


def counted(by: Any, plant: Plant, day: int, typed: str, test: str = "coliform") -> None:
    """A count of a bottle filled and read on one day."""
    plant.at(NOW + 2 * HOUR + day * DAY)
    found(by, taken(by, code=f"S {day}", taken_at=clock.now(), tests=(test,)), test, typed)


def test_two_of_four_open_a_legal_deviation_a_notice_and_another_sample(
    ines: Any, plant: Plant, client_for: Any  # noqa: F811
) -> None:
    counted(ines, plant, 0, "20")
    assert not rule_deviations()  # one alone leads to nothing
    counted(ines, plant, 1, "20")
    (opened,) = rule_deviations()
    assert opened.weight == "legal" and "The regulator decides." in opened.sentence
    assert not Hold.objects.filter(deviation=opened.number).exists()
    assert [one.message_id for one in Notice.objects.filter(message_id__startswith="running rule")]
    there = plan_in_force(clock.now())
    assert there is not None
    (asked,) = asked_again(clock.now(), there)
    assert (asked.after, asked.until, asked.late) == (date(2026, 3, 7), date(2026, 3, 25), False)
    client: Client = client_for(plant.people.ines)
    page = client.get(reverse("records:samples")).content.decode()
    assert "after 2026-03-07 and by 2026-03-25" in page and "is the regulator" in page
    counted(ines, plant, 4, "<1")  # 7 March: not later than the third day
    assert asked_again(clock.now(), there)
    counted(ines, plant, 5, "<1")
    assert not asked_again(clock.now(), there)


def test_three_of_five_name_the_suspension_and_decide_nothing(ines: Any, plant: Plant) -> None:  # noqa: F811
    for day, typed in enumerate(("20", "<1", "20", "<1", "20")):
        counted(ines, plant, day, typed)
    (opened,) = rule_deviations()
    last = DeviationCause.objects.filter(deviation=opened.number).order_by("-number")[0]
    assert "suspension or degrading" in last.sentence and "The regulator decides." in last.sentence
    plant.at(NOW + 40 * DAY)
    there = plan_in_force(clock.now())
    assert there is not None and [one.late for one in asked_again(clock.now(), there)] == [True]


FARM = (
    SampledDef("farm-bacteria", "Farm bacteria", "bacteria", "release", ("raw-milk",), limits=("single",), farms=True),
    SampledDef("farm-residue", "Farm residue", "antibiotic", "release", ("raw-milk",), limits=("none-found",),
               farms=True),
)  # fmt: skip


@pytest.fixture
def farm(plant: Plant) -> Any:
    """A plan with limits of one farm's milk, and a load of Nettle Farm in Silo A, screened: not found."""
    plan = sampled_plan()
    single = LimitDef("single", "bacteria", "PMO Table 1; La. VII-349", "text consulted", "per mL", high="100000")
    in_force(plant, replace(plan, limits=(*plan.limits, single), sampled=FARM))
    by = plant.actor("tomas")
    made_ready(by, NOW)
    plant.at(NOW + HOUR)
    load = arrived(by)
    screened(by, load)
    unloading(by, load)
    return by


def of_farm(by: Any, test: str, typed: str, name: str = "Nettle Farm") -> None:
    """A result of that farm's milk."""
    sample = taken(by, code=f"F {clock.now():%d%H%M}{test}", kind="farm", lot_code="", farm=name, tests=(test,))
    found(by, sample, test, typed)


def test_a_farms_count_holds_no_load_and_says_why(farm: Any, plant: Plant) -> None:
    of_farm(farm, "bacteria", "120000")
    (deviation,) = Deviation.objects.all()
    assert deviation.subject == "Nettle Farm" and "holds no load" in deviation.sentence and not Hold.objects.exists()
    plant.at(NOW + HOUR + DAY)
    of_farm(farm, "bacteria", "150000")
    (rule,) = rule_deviations()
    assert rule.subject == "bacteria: Nettle Farm" and "written notice" in rule.sentence and not Hold.objects.exists()


def test_a_residue_in_a_farms_milk_holds_what_its_loads_went_into(farm: Any, plant: Plant) -> None:
    plant.at(NOW + 2 * HOUR)
    of_farm(farm, "antibiotic", "found", "nettle farm")
    (hold,) = Hold.objects.all()
    assert hold.bars_release == "residue" and "Pick-up stops" in hold.reason and "4471" in hold.reason
    assert not {"release", "pasteurize again"} & set(allowed_dispositions(hold))


def test_a_residue_of_a_farm_without_a_load_says_so(farm: Any, plant: Plant) -> None:
    plant.at(NOW + 2 * HOUR)
    of_farm(farm, "antibiotic", "found", "Oxbow Farm")
    assert not Hold.objects.exists() and "No load in the book" in Deviation.objects.get().sentence
