"""A roll's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

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
from tests.records.flow.test_flow_pages import local
from tests.records.labels.made import ready_plant

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
WRONG = [
    *(("issued", value) for value in (*NOT_NUMBERS, "2.5", "0")),
    *(("at", value) for value in NOT_TIMES),
    *((field, value) for field in ("roll_code", "note") for value in (LONG, NUL)),
    *((field, "nowhere") for field in ("kind", "product", "printed")),
    *((field, "") for field in ("kind", "product", "printed", "roll_code")),
]


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    ready_plant(plant)
    good = {
        "form_id": str(uuid.uuid4()), "kind": "label", "roll_code": "R-7", "product": "oat-milk", "printed": "oat-milk",
        "at": local(clock.now()), "issued": "500", "note": "",
    }  # fmt: skip
    address = reverse("records:packaging-open", args=["filler"])
    refused(client_for(plant.people.ines), address, good, field, value)
