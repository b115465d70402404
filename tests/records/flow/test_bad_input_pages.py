"""Movements typed wrongly on their real page: what is asked, what is refused, what is kept with its consequence."""

from __future__ import annotations

import html
from collections.abc import Callable

import pytest
from django.test import Client

from plant import clock
from plant.people.models import Person
from records.deviations.models import Deviation, Hold
from records.flow.choices import OUTSIDE
from records.flow.models import Movement
from records.flow.queries import contents_at
from records.recall import watch
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, ran
from tests.records.flow.test_flow_pages import local, movement_form, signed
from tests.records.recall.made import a_day, packed, sent
from tests.records.recall.test_recall import begun

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
NEW = "/movement/new/"


def held(vessel: str) -> int:
    """Whole gallons that the book says a vessel holds now."""
    return int(contents_at(clock.now(), [vessel])[vessel].quantity or 0)


def test_out_of_time_order_is_refused_within_one_and_folded_in_among_many(plant: Plant, client_for: Browser) -> None:
    """An end before its start stands beside its field with what was typed; an earlier movement typed later counts."""
    made_ready(plant.actor("ines"), NOW - 5 * HOUR)
    browser = client_for(plant.people.ines)
    wrong = movement_form(started_at=local(NOW - HOUR), ended_at=local(NOW - 2 * HOUR))
    answer = browser.post(NEW, wrong)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422 and "This is before the start." in page and 'value="500"' in page
    assert not Movement.objects.exists()
    assert browser.post(NEW, movement_form()).status_code == 302
    draw = movement_form(source="silo-a", source_name="", target=OUTSIDE, target_name="drain", quantity="100",
                         started_at=local(NOW - HOUR / 2), ended_at=local(NOW - HOUR / 4))  # fmt: skip
    assert browser.post(NEW, draw).status_code == 302
    earlier = movement_form(quantity="200", started_at=local(NOW - 4 * HOUR), ended_at=local(NOW - 3 * HOUR))
    assert browser.post(NEW, earlier | {"source_name": "Oxbow Farm"}).status_code == 302
    assert held("silo-a") == 600 and contents_at(clock.now(), ["silo-a"])["silo-a"].since == NOW - 4 * HOUR


def test_3000_pounds_typed_as_gallons_are_asked_about(plant: Plant, client_for: Browser) -> None:
    """Finished 1 holds 800 gal: 3,000 gal do not fit and 3,000 lb do; the other unit is then kept."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 5 * HOUR)
    browser = client_for(plant.people.ines)
    assert browser.post(NEW, movement_form(quantity="1500", started_at=local(NOW - 4 * HOUR))).status_code == 302
    form = movement_form(source="silo-a", source_name="", target="finished-1", via="press-1", product="whole-milk",
                         quantity="3000")  # fmt: skip
    asked = browser.post(NEW, form)
    page = html.unescape(asked.content.decode())
    assert asked.status_code == 422 and "3000 gal is more. Was it 3000 L / 3000 lb" in page and 'value="3000"' in page
    assert Movement.objects.count() == 1
    assert browser.post(NEW, form | {"unit": "lb"}).status_code == 302
    assert held("finished-1") == 348  # 3000 lb at the trade's 8.6 lb/gal


def test_more_than_the_book_holds_is_kept_and_said(plant: Plant, client_for: Browser) -> None:
    """700 gal out of 500: the fact stands, the page says what the book says, and it is a deviation of the book."""
    made_ready(plant.actor("ines"), NOW - 5 * HOUR)
    browser = client_for(plant.people.ines)
    browser.post(NEW, movement_form(started_at=local(NOW - 2 * HOUR), ended_at=local(NOW - 1.5 * HOUR)))
    form = movement_form(source="silo-a", source_name="", target="finished-1", via="press-1", product="whole-milk",
                         quantity="700")  # fmt: skip
    page = html.unescape(browser.post(NEW, form, follow=True).content.decode())
    assert Movement.objects.count() == 2 and Deviation.objects.get().cause == "book"
    assert Deviation.objects.get().sentence in page


def test_a_cycle_through_rework_ends_and_reaches_both_vessels(plant: Plant, client_for: Browser) -> None:
    """Pressed, part of it put back into the silo, pressed again: contents add up, and a scope names each once."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR)
    browser = client_for(plant.people.ines)
    first = movement_form(started_at=local(NOW - 8 * HOUR), ended_at=local(NOW - 7 * HOUR))
    assert browser.post(NEW, first).status_code == 302
    origin = Movement.objects.get().number
    ran(ines, started_at=NOW - 6 * HOUR)
    back = movement_form(source="finished-1", source_name="", target="silo-a", product="whole-milk", quantity="50",
                         started_at=local(NOW - 5 * HOUR), ended_at=local(NOW - 4.5 * HOUR))  # fmt: skip
    assert browser.post(NEW, back).status_code == 302
    again = movement_form(source="silo-a", source_name="", target="finished-1", via="press-1", product="whole-milk",
                          quantity="100", started_at=local(NOW - 4 * HOUR),
                          ended_at=local(NOW - 3.5 * HOUR))  # fmt: skip
    assert browser.post(NEW, again).status_code == 302
    assert (held("silo-a"), held("finished-1")) == (150, 350)
    page = html.unescape(client_for(plant.people.wren).get(f"/recall/scope/?entry={origin}").content.decode())
    assert "Silo A" in page and "Finished 1" in page
    assert client_for(plant.people.wren).get("/lots/").status_code == 200


def test_an_amendment_after_dispatch_makes_the_scope_grow(plant: Plant, client_for: Browser) -> None:
    """Packs that left were filled before the load of a recall came, as was typed; their hour is amended on the page.

    The scope is computed again: they are in it, held, and a deviation says so, once.
    """
    day = a_day(plant)
    ines = plant.actor("ines")
    early = packed(ines, "CR 0303", started_at=NOW - 8.6 * HOUR, ended_at=NOW - 8.4 * HOUR, quantity_typed="20")
    sent(ines, "CR 0303", quantity_typed="20")
    number = begun(plant, day["nettle"].number)
    watch.look(again=True)
    before = Deviation.objects.filter(control_point="recall scope").count()
    assert number and before == 0
    form = movement_form(
        source="finished-1", source_name="", target=OUTSIDE, target_name="packed", code="CR 0303", product="whole-milk",
        quantity="20", started_at=local(NOW - 3 * HOUR), ended_at=local(NOW - 2.5 * HOUR),
        amend_reason="typed the wrong hour", **signed(plant, "ines"),
    )  # fmt: skip
    answer = client_for(plant.people.ines).post(f"/movement/{early.number}/amend/", form)
    assert answer.status_code == 302, answer.content.decode()
    assert watch.look(again=True)["scope grew"] == 1 and watch.look(again=True)["scope grew"] == 0
    assert "CR 0303" in Deviation.objects.get(control_point="recall scope").sentence
    assert Hold.objects.filter(lot=early.target_lot).exists()
    assert Movement.objects.get(number=early.number).started_at == NOW - 8.6 * HOUR  # the old one stands as it was
