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


def test_days_are_those_of_sampling_whatever_day_the_results_were_read(ines: Any, plant: Plant) -> None:  # noqa: F811
    """Two bottles of one day, read on two days, are one day of four; two of two days, read on one, are two."""
    plant.at(NOW + 2 * HOUR)
    one = taken(ines, code="S 0 a", taken_at=NOW + HOUR, tests=("coliform",))
    two = taken(ines, code="S 0 b", taken_at=NOW + 2 * HOUR, tests=("coliform",))
    found(ines, one, "coliform", "20")
    plant.at(NOW + 2 * HOUR + DAY)
    found(ines, two, "coliform", "20")
    assert not rule_deviations()
    later = taken(ines, code="S 1", taken_at=clock.now(), tests=("coliform",))
    found(ines, later, "coliform", "20")
    assert "2 of the last four" in rule_deviations()[0].sentence


def test_a_late_result_makes_two_of_four_from_a_later_sample_on(ines: Any, plant: Plant) -> None:  # noqa: F811
    """Sampled on days 0 to 2: day 2 over, day 0 comes in last and over. Only both together are two of four."""
    plant.at(NOW + 2 * HOUR)
    first = taken(ines, code="S 0", taken_at=clock.now(), tests=("coliform",))
    counted(ines, plant, 1, "<1")
    counted(ines, plant, 2, "20")
    assert not rule_deviations()
    found(ines, first, "coliform", "20")
    (opened,) = rule_deviations()
    assert "2 of the last four" in opened.sentence
    (cause,) = DeviationCause.objects.filter(deviation=opened.number)
    there = plan_in_force(clock.now())
    assert there is not None and cause.cause_kind == "laboratory result" and asked_again(clock.now(), there)


def test_a_late_result_that_four_later_days_left_behind_asks_for_nothing(
    ines: Any, plant: Plant  # noqa: F811
) -> None:
    """Over on day 0 and on day 5, with four days in limits between: never two of four, nor three of five."""
    plant.at(NOW + 2 * HOUR)
    first = taken(ines, code="S 0", taken_at=clock.now(), tests=("coliform",))
    for day, typed in enumerate(("<1", "<1", "<1", "<1", "20"), 1):
        counted(ines, plant, day, typed)
    found(ines, first, "coliform", "20")
    assert not rule_deviations()


def test_samples_without_this_test_take_no_place_among_the_four(ines: Any, plant: Plant) -> None:  # noqa: F811
    """Seventy bottles for another test between two counts that are over."""
    counted(ines, plant, 0, "20")
    plant.at(NOW + 2 * HOUR + DAY)
    for at in range(70):
        taken(ines, code=f"B {at}", taken_at=clock.now(), tests=("bacteria",))
    counted(ines, plant, 2, "20")
    assert len(rule_deviations()) == 1
