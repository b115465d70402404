"""An ingredient's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.people.models import Person
from tests.conftest import Plant
from tests.mistaken import LONG, NOT_NUMBERS, NOT_TIMES, NUL, refused
from tests.records.batches.made import ready_plant
from tests.records.flow.test_flow_pages import local

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
LINES = ["item", "supplier", "supplier_lot", "allergens", "condition", "refused_why"]
WRONG = [
    *(("quantity", value) for value in (*NOT_NUMBERS, "", "0")),
    *(("at", value) for value in NOT_TIMES),
    *((field, value) for field in [*LINES, "note"] for value in (LONG, NUL)),
    *(("best_by", value) for value in ("soon", "2026-02-30", "31.12.2026", NUL, LONG)),
    *((field, "nowhere") for field in ("what", "unit", "answer")),
    *((field, "") for field in ("what", "unit", "answer", "item", "supplier", "supplier_lot", "condition")),
]


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    ready_plant(plant)
    good = {
        "form_id": str(uuid.uuid4()), "at": local(clock.now()), "note": "", "what": "ingredient", "item": "hazelnut",
        "supplier": "Harrow Mill", "supplier_lot": "H-9", "quantity": "10", "unit": "kg", "best_by": "2026-12-31",
        "allergens": "hazelnut", "condition": "whole", "answer": "accepted", "refused_why": "",
    }  # fmt: skip
    refused(client_for(plant.people.ines), reverse("records:ingredient-received"), good, field, value)
