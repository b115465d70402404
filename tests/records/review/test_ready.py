"""The Ready page: what stands against first product, each thing where it belongs, and never a word of permission."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.people.plans import plan_in_force
from records.review.ready_data import ready_at
from records.review.ready_lines import AGAINST, UNKNOWN
from records.runs.actions import begin_start, product_in
from tests.conftest import NOW, Plant
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import HOUR, MINUTE, answered, planned, product, start

pytestmark = pytest.mark.django_db


def lines(code: str, kind: str) -> list[str]:
    """What the page says of one place now ("" for the whole plant)."""
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    places = {one.vessel.code if one.vessel else "": one for one in ready_at(in_force, clock.now())}
    return [one.sentence for one in places[code].lines if one.kind == kind]


@pytest.fixture
def press(plant: Plant) -> Plant:
    """The plan of runs in force, everything washed and sanitized at NOW."""
    planned(plant)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    return plant


def test_a_place_that_is_not_washed_is_named_until_it_is(plant: Plant) -> None:
    planned(plant)
    assert lines("finished-1", AGAINST) == [
        "Finished 1 was not washed before this product: nothing recorded says so"
    ]
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    assert lines("finished-1", AGAINST) == []


def test_what_was_sanitized_too_long_ago_stands_against_it_again(press: Plant) -> None:
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    valid = in_force.plan.settings.sanitized_valid_h
    press.at(NOW + valid * HOUR)
    assert lines("finished-1", AGAINST) == []
    press.at(NOW + (valid + 2) * HOUR)
    assert [one for one in lines("finished-1", AGAINST) if f"the plan allows {valid} h" in one]


def test_checks_before_use_are_unknown_then_out_of_limits_then_gone(press: Plant) -> None:
    ines = press.actor("ines")
    assert "Seals whole: nothing recorded" in lines("press-1", UNKNOWN)
    answered(ines, "press-seals", "no")
    assert [one for one in lines("press-1", AGAINST) if one.startswith("Seals whole: out of limits")]
    press.at(NOW + 20 * MINUTE)
    answered(ines, "press-seals")
    assert not [one for one in lines("press-1", UNKNOWN) + lines("press-1", AGAINST) if one.startswith("Seals whole")]
    # The deviation that the first answer opened is closed by nobody's second answer.
    assert [one for one in lines("press-1", AGAINST) if one.startswith("Deviation")]


def test_what_is_on_hold_stands_against_its_vessel_once(press: Plant) -> None:
    ines = press.actor("ines")
    moved(press.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    run = begin_start(ines, start()).number
    product_in(ines, product(run))
    assert [one for one in lines("finished-1", AGAINST) if one.startswith("What it holds is on hold")]
    assert not [one for one in lines("", AGAINST) if "is on hold" in one]


def test_the_page_never_says_safe_and_asks_little(
    press: Plant, client_for: Callable[..., Client], django_assert_max_num_queries: Any
) -> None:
    """The word 'safe' stands only where the page says that it does not say so."""
    client = client_for(press.people.ines)
    with django_assert_max_num_queries(140):
        page = client.get(reverse("records:ready"))
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))
    assert "does not say that anything is safe" in text
    assert len(re.findall(r"\bsafe\b", text)) == 1
    assert not re.search(r"\b(ready to start|cleared|approved for|may start|all clear)\b", text, re.I)
    assert "Training: the plan in force names none." in text
