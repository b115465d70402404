"""Training on the Ready page: who lacks what the plan asks of a role, by name, never with a word of permission."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from records.review.ready_lines import AGAINST, UNKNOWN
from tests.conftest import NOW, Plant
from tests.records.review.test_ready import lines
from tests.records.training.made import HYGIENE, PRESS, asked_for, trained

pytestmark = pytest.mark.django_db


def told(kind: str) -> list[str]:
    """What the page says of training."""
    return [one for one in lines("", kind) if one.startswith("Training")]


def test_a_plan_that_names_none_says_so(plant: Plant) -> None:
    """And refers to the plant's own papers."""
    assert told(UNKNOWN) == [
        "Training: the plan in force names none. Who works today has to be trained by your own records."
    ]
    assert told(AGAINST) == []


def test_missing_and_overdue_are_a_line_each_with_everybody_they_concern(plant: Plant) -> None:
    """Overdue stands against it, since the day after the last; nothing recorded is that; in date is no line."""
    asked_for(plant, HYGIENE, PRESS)
    trained(plant, "ines", trained_on=date(2025, 3, 2))
    trained(plant, "wren", trained_on=date(2026, 3, 2))
    trained(plant, "ines", "tomas", training="press", trained_on=date(2024, 3, 3))
    assert told(AGAINST) == [
        "Training, Food hygiene: overdue, should they work today: Ines Alder (operator), since 2026-03-03"
        " (21 CFR 117.4(b)(2))."
    ]
    assert told(UNKNOWN) == [
        "Training, Food hygiene: nothing recorded, should they work today: Tomas Reed (operator) (21 CFR 117.4(b)(2))."
    ]
    plant.at(NOW + timedelta(days=1))  # the last day of the pasteurizer's was yesterday
    assert told(AGAINST)[1] == (
        "Training, Running the pasteurizer: overdue, should they work today: Ines Alder (operator), since 2026-03-04;"
        " Tomas Reed (operator), since 2026-03-04 (the plant's own). Nobody works without it at: Pasteurization."
    )


def test_all_in_date_leaves_no_line_and_a_line_leads_to_the_matrix(
    plant: Plant, client_for: Callable[..., Client]
) -> None:
    """Due soon is on the page of training alone."""
    asked_for(plant, HYGIENE)
    page = client_for(plant.people.ines).get(reverse("records:ready")).content.decode()
    assert f'href="{reverse("records:training")}">Training, Food hygiene' in page
    trained(plant, "ines", "tomas", "wren", trained_on=date(2025, 3, 3))
    assert told(AGAINST) == told(UNKNOWN) == []
