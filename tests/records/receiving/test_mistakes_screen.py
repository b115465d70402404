"""A residue screen's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from plant.people.models import Person
from tests.conftest import NOW, Plant
from tests.mistaken import LONG, NOT_TIMES, NUL, refused
from tests.records.flow.made import HOUR
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.made import arrived
from tests.records.receiving.test_pages import screen

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
CHOICES = ["stage", "result", "negative_control", "positive_control"]
LINES = ["kit", "kit_lot", "analyst", "certificate", "sample"]
WRONG = [
    *((field, value) for field in [*LINES, "words"] for value in (LONG, NUL)),
    *(("happened_at", value) for value in NOT_TIMES),
    *(("kit_expires", value) for value in ("soon", "2026-02-30", "31.12.2026", NUL, LONG)),
    *((field, "perhaps") for field in CHOICES),
    *((field, "") for field in [*CHOICES, "kit", "kit_lot", "analyst"]),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    address = reverse("records:load-screen", args=[arrived(plant.actor("ines"))])
    refused(client_for(plant.people.ines), address, screen(), field, value)


def test_a_result_before_the_load_arrived(plant: Plant, client_for: Browser) -> None:
    address = reverse("records:load-screen", args=[arrived(plant.actor("ines"))])
    refused(client_for(plant.people.ines), address, screen(), "happened_at", local(NOW - 5 * HOUR))


def test_a_confirmation_without_the_analysts_certificate(plant: Plant, client_for: Browser) -> None:
    address = reverse("records:load-screen", args=[arrived(plant.actor("ines"))])
    good = screen(stage="confirmation", certificate="C-1")
    assert "certificate" in refused(client_for(plant.people.ines), address, good, "certificate", "")
