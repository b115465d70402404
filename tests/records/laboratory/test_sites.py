"""Environmental sites: a find in zone 1 holds product, in the others it asks for follow-up; the page by zone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse

from plant import clock
from plant.hazard_plan.check import problems
from records.deviations.models import Deviation, Hold
from records.laboratory.sites import FollowUp, follow_ups, trends
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready, moved
from tests.records.laboratory.made import HOUR, SAMPLED, found, sampled_plan, taken

pytestmark = pytest.mark.django_db
DAY = 24 * HOUR
ZONE_1 = SAMPLED[3]
ZONE_3 = replace(ZONE_1, key="floor", name="Floor", place="silo-a", zone=3, clean_days=2)


@pytest.fixture
def tomas(plant: Plant) -> Any:
    """Whole milk in Finished 1, a site of zone 1; Silo A stands for a floor of zone 3 with 2 clean days asked for."""
    in_force(plant, replace(sampled_plan(), sampled=(ZONE_1, ZONE_3)))
    by = plant.actor("tomas")
    plant.at(NOW + 2 * HOUR)
    made_ready(by, NOW)
    moved(by, source="", source_name="a tanker", target="finished-1", product="whole-milk", started_at=NOW + HOUR / 2,
          ended_at=NOW + HOUR)  # fmt: skip
    return by


def swab(by: Any, plant: Plant, day: int, place: str, typed: str = "") -> None:
    """A swab on a day, with its result."""
    plant.at(NOW + 3 * HOUR + day * DAY)
    sample = taken(by, code=f"E {place} {day} {typed}", kind="environment", lot_code="", place=place,
                   tests=("Listeria",), taken_at=clock.now())  # fmt: skip
    if typed:
        found(by, sample, "Listeria", typed)


def asked() -> list[FollowUp]:
    """What finds still ask for."""
    there = plan_in_force(clock.now())
    assert there is not None
    return follow_ups(trends(clock.now()), there)


def test_a_find_in_zone_1_holds_what_touched_it_since_it_was_not_found(tomas: Any, plant: Plant) -> None:
    swab(tomas, plant, 0, "finished-1", "found")
    (hold,) = Hold.objects.all()
    assert hold.vessel == "finished-1" and "Zone 1 touches product: what touched it" in hold.reason
    (one,) = asked()
    assert (one.clean, one.wanted, one.by_plan) == (0, 1, False)


def test_a_find_in_zone_3_holds_nothing_and_asks_until_the_plans_days_are_clean(tomas: Any, plant: Plant) -> None:
    swab(tomas, plant, 0, "silo-a", "found")
    deviation = Deviation.objects.get()
    assert not Hold.objects.exists() and deviation.weight == "safety"
    assert "Zone 3 touches no product" in deviation.sentence and "2 days in a row" in deviation.sentence
    assert "117.165(a)(3)" in deviation.sentence
    swab(tomas, plant, 0, "silo-a", "not found")  # the same day's second swab is no day of its own
    assert [(one.clean, one.wanted) for one in asked()] == [(0, 2)]
    swab(tomas, plant, 1, "silo-a", "not found")
    swab(tomas, plant, 2, "silo-a")
    assert [(one.clean, one.wanted, one.waiting) for one in asked()] == [(1, 2, 1)]
    swab(tomas, plant, 3, "silo-a", "found")  # it begins anew
    assert [(one.clean, one.wanted) for one in asked()] == [(0, 2)]
    for day in (4, 5):
        swab(tomas, plant, day, "silo-a", "not found")
    assert not asked()


def test_the_page_shows_each_site_by_zone(tomas: Any, plant: Plant, client_for: Any) -> None:
    swab(tomas, plant, 0, "silo-a", "found")
    swab(tomas, plant, 0, "finished-1", "not found")
    swab(tomas, plant, 1, "silo-a")
    client = client_for(plant.people.wren)
    page = client.get(reverse("records:samples-sites")).content.decode()
    assert page.index("Zone 1") < page.index("Zone 3") and "1 of 1" in page and "0 of 1" in page
    assert "not in yet" in page and "1 sample waits for its result" in page
    assert "not found since on 0 of 2 days" in client.get(reverse("records:samples")).content.decode()


def test_days_without_a_zone_are_refused() -> None:
    plan = replace(sampled_plan(), sampled=(replace(SAMPLED[0], clean_days=3),))
    assert "sampled[0].clean_days" in [one.path for one in problems(plan)]
