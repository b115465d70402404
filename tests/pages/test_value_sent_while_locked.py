"""A real value through the idle lock: sent while locked, written once after the PIN, under the right name."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from records.flow.models import LevelSeen
from tests.conftest import Plant
from tests.factories import PIN

LEVEL = "/vessel/silo-a/level/"


def value_in(page: str, name: str) -> str:
    """A hidden field's value."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, f"no {name}"
    return found[1]


@pytest.fixture
def waiting(plant: Plant, client_for: Callable[..., Client]) -> tuple[Client, dict[str, str]]:
    """Ines's locked tablet, just sent a level; and what its PIN page would send. Form tokens are checked."""
    client = client_for(plant.people.ines, awake=False, enforce_csrf=True)
    token = value_in(client.get(LEVEL).content.decode(), "csrfmiddlewaretoken")
    plant.clock.on(minutes=6)
    level = {"form_id": str(uuid.uuid4()), "quantity": "1200", "unit": "gal", "seen_at": "2026-03-03T09:31"}
    page = client.post(LEVEL, {**level, "csrfmiddlewaretoken": token}).content.decode()
    assert "not written yet" in page and not LevelSeen.objects.exists()
    carried = {name: value_in(page, name) for name in ("carried", "csrfmiddlewaretoken")}
    return client, {**carried, "unlock_who": str(plant.people.ines.id)}


Waiting = tuple[Client, dict[str, Any]]


def test_right_pin_of_the_same_person_writes_it(waiting: Waiting) -> None:
    """Nothing is typed twice."""
    client, sent = waiting
    assert client.post(LEVEL, {**sent, "unlock_secret": PIN}).status_code == 302
    row = LevelSeen.objects.get()
    assert (row.quantity_typed, row.by_name, row.tablet) == ("1200", "Ines Alder", "Tablet 1")


def test_double_tap_on_the_pin_page_writes_it_once(waiting: Waiting) -> None:
    """The carried form has its own id; the second tap finds it written or nothing to do."""
    client, sent = waiting
    client.post(LEVEL, {**sent, "unlock_secret": PIN})
    assert client.post(LEVEL, {**sent, "unlock_secret": PIN, "take_over": "1"}).status_code < 500
    assert LevelSeen.objects.count() == 1


def test_wrong_pin_writes_nothing_and_loses_nothing(waiting: Waiting) -> None:
    """A slip, then the right one."""
    client, sent = waiting
    page = client.post(LEVEL, {**sent, "unlock_secret": "999111"}).content.decode()
    assert not LevelSeen.objects.exists()
    again = {**sent, "carried": value_in(page, "carried"), "unlock_secret": PIN}
    assert client.post(LEVEL, again).status_code == 302 and LevelSeen.objects.count() == 1


def test_somebody_else_writes_it_only_by_saying_so(waiting: Waiting, plant: Plant) -> None:
    """Tomas is asked; taken over, it is Tomas's record."""
    client, sent = waiting
    sent["unlock_who"] = str(plant.people.tomas.id)
    page = client.post(LEVEL, {**sent, "unlock_secret": PIN}).content.decode()
    assert "1200" in page and not LevelSeen.objects.exists()
    taken = {name: value_in(page, name) for name in ("carried", "csrfmiddlewaretoken")}
    assert client.post(LEVEL, {**taken, "take_over": "1"}).status_code == 302
    assert LevelSeen.objects.get().by_name == "Tomas Reed"


def test_somebody_else_may_leave_it(waiting: Waiting, plant: Plant) -> None:
    """The form opens empty, nothing is written."""
    client, sent = waiting
    client.post(LEVEL, {**sent, "unlock_who": str(plant.people.tomas.id), "unlock_secret": PIN})
    page = client.get(LEVEL).content.decode()
    assert "1200" not in page and not LevelSeen.objects.exists()
