"""A run out of order, the same form twice, nonsense, anybody: nothing breaks, is lost or is written twice."""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.deviations.errors import Refused
from records.flow.errors import DifferentContent
from records.flow.models import Movement
from records.ledger.actions import Actor
from records.ledger.models import Entry
from records.ledger.verify import verify
from records.runs.actions import PLAIN, begin_start, product_in, product_out, say
from records.runs.models import RunEvent
from records.runs.queries import run_of
from tests.conftest import NOW, Plant
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import MINUTE, event, out, planned, product, running, start
from tests.records.runs.test_pages import INTO, START, send, text

pytestmark = pytest.mark.django_db
STATES = {"not started", "on water", "on product", "diverted", "ended"}


@pytest.fixture
def press(plant: Plant) -> Plant:
    """The plan of runs in force, the press and a tank ready, milk in Silo A."""
    planned(plant)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    return plant


def at_random(chance: random.Random, by: Actor, at: datetime, run: int) -> RunEvent:
    """One act of a run, any of them."""
    if chance.random() < 0.6:
        return say(by, event(run, chance.choice(PLAIN), happened_at=at, words="seen", set_up="cream"))
    if chance.random() < 0.5:
        return product_in(by, product(run, happened_at=at, product=chance.choice(["whole-milk", "cream"])))
    if chance.random() < 0.7:
        return product_out(by, out(run, happened_at=at))
    return begin_start(by, start(happened_at=at))


def test_whatever_order_things_are_said_in(press: Plant) -> None:
    """Eighty acts at random times of the last hours: each is kept or refused in words, and all of it fits."""
    chance = random.Random(2026)
    people = [press.actor("ines"), press.actor("tomas"), press.actor("wren")]
    run = begin_start(people[0], start()).number
    press.at(NOW + 120 * MINUTE)
    kept = 0
    for step in range(80):
        press.at(NOW + (120 + step) * MINUTE)
        by, at = chance.choice(people), NOW + chance.randint(0, 119 + step) * MINUTE
        before = Entry.objects.count()
        try:
            row = at_random(chance, by, at, run)
        except (Refused, DifferentContent) as refused:
            assert str(refused) and Entry.objects.count() == before  # a refusal leaves nothing behind
            continue
        kept += 1
        found = run_of(row.run or row.number)
        assert found is not None and {found.state_at(one.happened_at) for one in found.events} <= STATES
    assert kept > 5
    assert verify().good


def test_the_same_form_twice_writes_once_and_changed_says_what_was_saved(
    press: Plant, client_for: Callable[..., Client]
) -> None:
    """Of each form: the back button, a lost connection, two taps of a wet glove."""
    client = client_for(press.people.ines)
    new, form = reverse("records:run-new") + "?press=press-1", str(uuid.uuid4())
    for _twice in range(2):
        send(client, new, 5, form_id=form, **START)
    run = RunEvent.objects.get().number
    page = send(client, new, 5, form_id=form, **{**START, "chart_number": "62"})
    assert page.status_code in (200, 409, 422) and RunEvent.objects.count() == 1 and "61" in text(page)
    for address, said in (
        (reverse("records:run-product", args=[run]), INTO),
        (reverse("records:run-event", args=[run, "unusual"]), {"words": "The floor drain smelled."}),
    ):
        form, count = str(uuid.uuid4()), RunEvent.objects.count()
        for _twice in range(2):
            send(client, address, 5, form_id=form, **said)
        assert RunEvent.objects.count() == count + 1
    assert Movement.objects.filter(via="press-1").count() == 1 and verify().good


def test_who_may_only_look_writes_nothing(press: Plant, client_for: Callable[..., Client]) -> None:
    """Maintenance, an inspector and the administrator are turned away from each act."""
    run = begin_start(press.actor("ines"), start()).number
    for person in (press.people.piet, press.people.guest, press.people.admin):
        client = client_for(person)
        answers = {
            send(client, reverse("records:run-new") + "?press=press-1", 5, **START).status_code,
            send(client, reverse("records:run-event", args=[run, "forward"]), 5, words="").status_code,
            send(client, reverse("records:run-product", args=[run]), 5, **INTO).status_code,
            send(client, reverse("records:run-out", args=[run]), 5).status_code,
            send(client, reverse("records:run-amend", args=[run]), 5, **START, reason="x").status_code,
        }
        assert answers == {403} and RunEvent.objects.count() == 1


def test_nonsense_is_kept_in_the_field_and_not_in_the_book(press: Plant, client_for: Callable[..., Client]) -> None:
    """Marks, signs that no text has, a year too far, a product and a vessel that are not there, a run that is not."""
    client, run = client_for(press.people.ines), running(press.actor("ines")).number
    before = Entry.objects.count()
    into, say_it = reverse("records:run-product", args=[run]), reverse("records:run-event", args=[run, "unusual"])
    for said in (
        {**INTO, "product": "<script>"}, {**INTO, "target": "press-1"}, {**INTO, "source": "' OR 1=1"},
        {**INTO, "happened_at": "9999-99-99T99:99"}, {**INTO, "happened_at": "0001-01-01T00:00"},
        {**INTO, "form_id": "not an id"},
    ):  # fmt: skip
        assert send(client, into, 5, **said).status_code in (200, 422)
    assert send(client, say_it, 5, words="a\x00b").status_code in (200, 422)
    assert send(client, reverse("records:run-event", args=[2**64, "unusual"]), 5, words="x").status_code == 404
    assert Entry.objects.count() == before
    page = text(send(client, say_it, 5, words="<b>foam</b> " * 20))
    assert "<b>foam</b>" not in page and "&lt;b&gt;foam" in page
    assert clock.now() and verify().good
