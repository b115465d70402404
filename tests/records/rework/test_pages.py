"""The pages of rework by what a person types: the list, one portion, its use, its being thrown away; the Floor."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.rework_places import PlaceNames, code_of, is_rework, number_of
from records.flow.models import Movement
from records.lots.models import Lot
from records.rework.state import Portion
from tests.conftest import Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import drawing
from tests.records.freezer_runs.test_pages import text
from tests.records.rework.made import HOUR, MINUTE, ended, plant_with_rework, set_aside

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(plant: Plant) -> Plant:
    """The plan's 24 h, its rule of like into like, hazelnut mix in the vat."""
    return plant_with_rework(plant)


@pytest.fixture
def ines(kept: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's browser."""
    return client_for(kept.people.ines)


def local() -> str:
    """Now, as a form has it."""
    return clock.now().astimezone(ZoneInfo("America/Chicago")).strftime("%Y-%m-%dT%H:%M")


def used(client: Client, portion: Portion, **typed: Any) -> str:
    """The form of use sent: 3 gal into the flavor vat, it has happened."""
    body = {
        "form_id": str(uuid.uuid4()), "target": "flavor-vat", "product": "hazelnut", "quantity": "3", "unit": "gal",
        "why": "The plan's step 12.", "at": local(), **typed,
    }  # fmt: skip
    return text(client.post(reverse("records:rework-use", args=[portion.number]), body, follow=True))


def aside(kept: Plant) -> Portion:
    """A portion whose vat was emptied, washed and sanitized since; an hour and ten minutes later."""
    by = kept.actor("ines")
    run = drawing(by)
    portion = set_aside(by, run=run)
    kept.at(clock.now() + 10 * MINUTE)
    ended(by, run)
    kept.at(clock.now() + HOUR)
    washed(by, "flavor-vat", clock.now() - 30 * MINUTE)
    return portion


def test_from_the_list_to_the_vat(kept: Plant, ines: Client) -> None:
    """Kept with product, run, allergens and hours left; used by one form; then in the table with where it went."""
    portion = aside(kept)
    assert reverse("records:rework") in text(ines.get(reverse("records:filling")))  # the navigation leads there
    page = text(ines.get(reverse("records:rework")))
    for words in ("Salted hazelnut ice cream", "3 gal", "22 h 50 min left", "milk, tree nuts", "run "):
        assert words in page
    form = text(ines.get(reverse("records:rework-use", args=[portion.number])))
    assert 'value="3"' in form and "22 h 50 min left" in form
    page = used(ines, portion, begins_now="1")
    assert "3 gal into Flavor vat, for Salted hazelnut ice cream" in page and "nothing is left of it" in page
    page = text(ines.get(reverse("records:rework")))
    assert "By the book no rework is kept." in page and "3 gal into Flavor vat" in page
    lot = Movement.objects.get(source=portion.code).target_lot
    family = text(ines.get(reverse("records:lot", args=[lot])))
    assert f"Rework {portion.number}" in family


def test_what_is_refused_stands_on_the_form_with_what_was_typed(kept: Plant, ines: Client) -> None:
    """Another flavor now; letters; more than is left, asked once and kept when ticked."""
    portion = aside(kept)
    page = used(ines, portion, product="crumble", begins_now="1")
    assert "rework goes like into like" in page and "does not declare tree nuts" in page
    page = used(ines, portion, quantity="much")
    assert 'value="much"' in page and not Movement.objects.filter(source=portion.code).exists()
    page = used(ines, portion, quantity="4")
    assert "more than is left of it by the book: 3 gal" in page and "as_typed" in page
    assert not Movement.objects.filter(source=portion.code).exists()
    assert "4 gal into Flavor vat" in used(ines, portion, quantity="4", as_typed="on")


def test_past_its_hours_the_floor_and_ready_say_so_until_it_is_thrown_away(kept: Plant, ines: Client) -> None:
    """A line with its page; then thrown away with a reason, and no line any more."""
    portion = aside(kept)
    kept.at(clock.now() + 24 * HOUR)
    line = "its 24 h were over at"
    for route in ("records:floor", "records:ready"):
        page = text(ines.get(reverse(route)))
        assert line in page and reverse("records:rework-portion", args=[portion.number]) in page
    assert "past by 1 h 10 min" in text(ines.get(reverse("records:rework")))
    address = reverse("records:rework-away", args=[portion.number])
    body = {"form_id": str(uuid.uuid4()), "leaves_by": "drain", "quantity": "", "unit": "gal", "at": local()}
    assert "Write a few words here." in text(ines.post(address, body | {"why": "", "emptied": "on"}))
    page = text(ines.post(address, body | {"why": "Its hours are over.", "emptied": "on"}, follow=True))
    assert "thrown away, drain: Its hours are over." in page
    assert line not in text(ines.get(reverse("records:floor")))


def test_its_place_leads_to_its_page_and_its_movement_can_be_amended(kept: Plant, ines: Client) -> None:
    """The container is no vessel of the plan: its address leads on, and the amendment's form knows it."""
    portion = aside(kept)
    answer = ines.get(reverse("records:vessel", args=[portion.code]))
    assert answer.headers["Location"] == reverse("records:rework-portion", args=[portion.number])
    used(ines, portion, quantity="2")
    row = Movement.objects.get(source=portion.code)
    page = text(ines.get(reverse("records:movement-amend", args=[row.number])))
    assert f'value="{portion.code}" selected' in page and f"Rework {portion.number}" in page
    assert f"Rework {portion.number}" in text(ines.get(reverse("records:movement", args=[row.number])))


def test_the_scope_of_a_recall_names_it_by_its_number(kept: Plant, ines: Client) -> None:
    """From the vat that was drawn from: the container by its name, and the batch that took it."""
    portion = aside(kept)
    used(ines, portion, begins_now="1")
    vat = Lot.objects.filter(vessel="flavor-vat").order_by("number")[0]
    page = text(ines.get(reverse("records:recall-scope") + f"?lot={vat.id}"))
    assert f"Rework {portion.number}, Salted hazelnut ice cream, since" in page
    assert page.count("Flavor vat, Salted hazelnut ice cream, since") >= 2  # drawn from, and made anew


def test_unknown_numbers_and_other_roles(kept: Plant, ines: Client, client_for: Callable[..., Client]) -> None:
    """No such portion; an entry that set nothing aside; an inspector reads and has no button."""
    portion = aside(kept)
    for number in (portion.number + 1, 999999):
        assert ines.get(reverse("records:rework-portion", args=[number])).status_code == 404
    guest = client_for(kept.people.guest)
    page = text(guest.get(reverse("records:rework-portion", args=[portion.number])))
    assert "Salted hazelnut" in page and reverse("records:rework-use", args=[portion.number]) not in page
    assert guest.post(reverse("records:rework-use", args=[portion.number]), {}).status_code == 403


def test_codes_of_containers() -> None:
    """Each has its number and back; nothing else is one; a plan's own place keeps its name."""
    assert number_of(code_of(42)) == 42
    assert [is_rework(one) for one in ("rework-7", "rework-0", "rework-", "rework-7x", "rework-٧", "", "silo-a")] == [
        True, False, False, False, False, False, False,
    ]  # fmt: skip
    names = PlaceNames({"rework-5": "Rework can", "silo-a": "Silo A"})
    assert [names.get(one, "?") for one in ("rework-5", "rework-6", "silo-a", "other")] == [
        "Rework can", "Rework 6", "Silo A", "?",
    ]  # fmt: skip
