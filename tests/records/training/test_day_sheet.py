"""Trainings on the day's sheet and in its JSON: those recorded that day, whenever they were held."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.review.sheet import sheet_data
from tests.conftest import NOW, Plant
from tests.records.training.made import asked_for, trained

pytestmark = pytest.mark.django_db
DAY = NOW.date()


def test_the_days_data_has_the_trainings_recorded_in_it(plant: Plant) -> None:
    """Its own day, type and people; an amended one is struck, beside what replaced it; yesterday's is not of today."""
    plant.at(NOW - timedelta(days=1))
    asked_for(plant)
    trained(plant, "wren", trained_on=date(2026, 3, 1))
    plant.at(NOW)
    first = trained(plant, "tomas", "ines", trained_on=date(2025, 11, 3), note="in the canteen")
    again = trained(plant, "tomas", amends=first.number, amend_reason="Ines was away", trained_on=date(2025, 11, 3))
    rows = sheet_data(DAY, 0, clock.now())["trainings"]
    assert [(one["entry"], one["struck"], one["amends"]) for one in rows] == [
        (first.number, True, None), (again.number, False, first.number),
    ]  # fmt: skip
    assert rows[0]["people"] == [
        {"name": "Ines Alder", "initials": "IA"}, {"name": "Tomas Reed", "initials": "TR"},
    ]  # fmt: skip
    assert (rows[0]["topic"], rows[0]["trained_on"], rows[0]["by"]) == ("Food hygiene", "2025-11-03", "Wren Castell")


def test_the_sheet_prints_them(plant: Plant, client_for: Callable[..., Client]) -> None:
    """In words, what a person typed as text; a day without any has no such section."""
    asked_for(plant)
    wren = client_for(plant.people.wren)
    so_far = reverse("records:day-so-far")
    assert "Trainings recorded" not in wren.get(so_far).content.decode()
    trained(plant, "ines", trainer="<b>Odile</b>", proven="seen at work")
    page = wren.get(so_far).content.decode()
    said = html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)))
    assert "Trainings recorded" in said and "&lt;b&gt;Odile&lt;/b&gt;" in page
    assert re.search(r"2026-03-02 Food hygiene Ines Alder \(IA\) <b>Odile</b>, seen doing it at work WC", said)
