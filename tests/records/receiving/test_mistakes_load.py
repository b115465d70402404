"""A load's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.people.models import Person
from records.receiving.models import LoadEvent
from tests.conftest import NOW, Plant
from tests.mistaken import LONG, NOT_NUMBERS, NOT_TIMES, NUL, RIGHT_TO_LEFT, refused
from tests.records.flow.made import HOUR
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.test_pages import arrival

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
NUMBERS = ["pounds", "agitated", "farm_pounds_1", "farm_pounds_2", "farm_temperature_1"]
TIMES = ["washed_at", "farm_picked_up_1", "farm_milking_ended_1"]
LINES = [
    "tanker", "ticket", "farm_1", "farm_2", "seals", "wash_place", "wash_by", "sample", "sampler", "sampler_license",
]  # fmt: skip
WRONG = [
    *((field, value) for field in NUMBERS for value in NOT_NUMBERS),
    *((field, value) for field in [*LINES, "words"] for value in (LONG, NUL)),
    *(("happened_at", value) for value in NOT_TIMES),
    *((field, value) for field in TIMES for value in NOT_TIMES if value),
    *((field, "nowhere") for field in ("means", "place", "product", "seals_whole", "looks")),
    *((field, "") for field in ("means", "place", "product", "farm_1", "tanker")),
    ("pounds", "0"),
    ("pounds", "12900000"),
    ("farm_temperature_1", "380"),
    ("farm_2", "nettle farm"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    beside = "farm_1" if field == "farm_2" and value == "nettle farm" else field
    refused(client_for(plant.people.ines), reverse("records:load-new"), arrival(), field, value, beside)


@pytest.mark.parametrize(
    ("field", "hours"), [("washed_at", 0.5), ("farm_picked_up_1", 0.5), ("farm_milking_ended_1", 0.5)]
)
def test_a_time_after_the_arrival(plant: Plant, client_for: Browser, field: str, hours: float) -> None:
    good = arrival(happened_at=local(NOW - HOUR), washed_at="")
    sentence = refused(
        client_for(plant.people.ines), reverse("records:load-new"), good, field, local(NOW - hours * HOUR)
    )
    assert "after" in sentence


def test_right_to_left_text_is_kept_as_it_was_typed(plant: Plant, client_for: Browser) -> None:
    """It may be a name; it is kept to the letter, and its page can be read."""
    ines = client_for(plant.people.ines)
    assert ines.post(reverse("records:load-new"), arrival(sampler=RIGHT_TO_LEFT)).status_code == 302
    row = LoadEvent.objects.get()
    assert row.sampler == RIGHT_TO_LEFT and row.happened_at <= clock.now()
    assert ines.get(reverse("records:load", args=[row.number])).status_code == 200
