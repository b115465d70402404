"""The trainings that a plan asks for: what is refused, and how they are said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from plant.hazard_plan import words
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import TrainingDef, from_json, to_json
from tests.factories import small_plan

GOOD = TrainingDef("hygiene", "Food hygiene", ("operator", "owner"), 12, topic_es="Higiene")


def paths(*rows: TrainingDef) -> list[str]:
    """Where the plan's trainings are refused."""
    return [one.path for one in problems(replace(small_plan(), trainings=rows)) if "trainings" in one.path]


def test_a_plan_without_trainings_keeps_its_content_and_one_with_them_is_read_back() -> None:
    """Added later: an older plan's text, and so its hash, stays."""
    plan = replace(small_plan(), trainings=(GOOD,))
    assert "trainings" not in to_json(small_plan())
    assert from_json(to_json(plan)) == plan and paths(GOOD) == []


@pytest.mark.parametrize(
    ("wrong", "path"),
    [
        ({"roles": ("operator", "baker")}, "roles"),
        ({"roles": ("inspector",)}, "roles"),  # a guest
        ({"roles": ()}, "roles"),
        ({"every_months": -1}, "every_months"),
        ({"every_months": 121}, "every_months"),
        ({"topic": "  "}, "topic"),
        ({"topic": "x" * 201}, "topic"),
        ({"topic_es": "x" * 201}, "topic_es"),
        ({"clause": ""}, "clause"),
        ({"control_point": "nowhere"}, "control_point"),
    ],
)
def test_nonsense_is_refused_at_its_place(wrong: dict[str, Any], path: str) -> None:
    """Beside the field, so that the draft's page and load_plan can name it."""
    assert paths(GOOD, replace(GOOD, key="second", **wrong)) == [f"trainings[1].{path}"]


def test_the_ends_of_the_months_are_taken_and_a_key_only_once() -> None:
    """0 is once; ten years is the longest."""
    assert paths(GOOD, replace(GOOD, key="a", every_months=0), replace(GOOD, key="b", every_months=120)) == []
    assert paths(GOOD, GOOD) == ["trainings[1].key"]


def test_a_topic_is_said_in_the_readers_language_and_the_interval_in_words() -> None:
    """Where the plan has no Spanish the plant's own words stand."""
    with translation.override("es"):
        assert words.topic(GOOD) == "Higiene" and words.topic(replace(GOOD, topic_es="")) == "Food hygiene"
    with translation.override("en"):
        said = [words.again(replace(GOOD, every_months=months)) for months in (0, 1, 12)]
        assert words.topic(GOOD) == "Food hygiene" and said == ["once", "every month", "every 12 months"]


@pytest.mark.django_db
def test_the_plans_page_lists_them_and_a_draft_takes_one(plant: Any, client_for: Any) -> None:
    """In a draft: the form has the roles as ticks; the page then says the row, its roles, months and clause."""
    odile: Client = client_for(plant.people.odile)
    odile.post(reverse("plant:plan-new-draft", args=[1]))
    add = reverse("plant:plan-row-add", args=[2, "trainings"])
    page = odile.get(add).content.decode()
    assert "Asked again after months (0: once)" in page and 'value="inspector"' not in page
    body = {"key": "hygiene", "topic": "Food <hygiene>", "roles": ["operator", "owner"], "every_months": "6",
            "clause": "21 CFR 117.4(b)(2)", "topic_es": "", "control_point": ""}  # fmt: skip
    assert odile.post(add, body).status_code == 302
    page = odile.get(reverse("plant:plan-version", args=[2])).content.decode()
    assert "Trainings that the plan asks for" in page and "Food &lt;hygiene&gt;" in page
    assert "operator, owner" in page and "every 6 months" in page and "21 CFR 117.4(b)(2)" in page
