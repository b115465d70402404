"""A return's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

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
from tests.records.recall.made import a_day, sent

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
WRONG = [
    *((field, value) for field in ("quantity", "temperature") for value in NOT_NUMBERS),
    *(("returned_at", value) for value in NOT_TIMES),
    *((field, value) for field in ("consignee", "condition", "reason", "kept_where", "note") for value in (LONG, NUL)),
    *(("code", value) for value in (LONG, NUL, "")),
    *((field, "") for field in ("quantity", "consignee", "condition", "reason", "kept_where")),
    ("unit", "bucket"),
    ("temperature", "380"),
    ("quantity", "0"),
]


@pytest.mark.parametrize(("field", "value"), WRONG, ids=lambda one: repr(one)[:24])
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    good = {
        "form_id": str(uuid.uuid4()), "code": "WM 0303", "consignee": "Corner shop", "returned_at": local(clock.now()),
        "quantity": "10", "unit": "gal", "temperature": "44", "condition": "cold, whole", "reason": "past its date",
        "kept_where": "cage 2", "note": "",
    }  # fmt: skip
    refused(client_for(plant.people.ines), reverse("records:return-new"), good, field, value)
