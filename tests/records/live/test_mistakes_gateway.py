"""A gateway's form with one wrong value in each field: said beside it, kept as typed, nothing recorded."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from plant.people.models import Person
from records.live.models import GatewayAct
from tests.conftest import Plant
from tests.mistaken import LONG, NUL, refused
from tests.records.live.made import fed

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.mark.parametrize(
    ("field", "value"),
    [("name", ""), ("name", LONG), ("name", NUL), ("name", "   "), ("instruments", ""), ("instruments", "T-99"),
     ("instruments", NUL), ("instruments", LONG)],
    ids=lambda one: repr(one)[:24],
)  # fmt: skip
def test_a_wrong_value(plant: Plant, client_for: Browser, field: str, value: str) -> None:
    fed()
    good = {"form_id": str(uuid.uuid4()), "name": "Dairy gateway", "instruments": "T-20"}
    refused(client_for(plant.people.admin), reverse("records:live-gateway"), good, field, value)
    assert not GatewayAct.objects.exists()
