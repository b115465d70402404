"""A flavor's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

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
from tests.records.batches.made import ready_plant, sugar
from tests.records.flow.test_flow_pages import local

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
WRONG = [
    *(("amount", value) for value in (*NOT_NUMBERS, "", "0")),
    *(("at", value) for value in NOT_TIMES),
    *((field, value) for field in ("why_words", "note", "scanned") for value in (LONG, NUL)),
    *((field, value) for field in ("place", "product", "received", "unit") for value in ("nowhere", "", NUL)),
    ("why", "because"),
]


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    row = sugar(ready_plant(plant))
    good = {
        "form_id": str(uuid.uuid4()), "at": local(clock.now()), "place": "flavor-vat", "product": "mix",
        "received": str(row.number), "scanned": "", "amount": "3", "unit": "kg", "why": "dry or low moisture",
        "why_words": "certificate S-1, water activity 0.4", "note": "",
    }  # fmt: skip
    refused(client_for(plant.people.ines), reverse("records:flavor"), good, field, value)
