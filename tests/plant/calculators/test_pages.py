"""The calculators' pages: what is asked and what follows, from the address alone; they write nothing."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import translation

from plant.calculators import calculators
from records.ledger.models import Entry
from tests.conftest import Plant

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

Clients = Callable[..., Client]
KEYS = sorted(calculators())
# Every module of the work has at least one page.
WANTED = {
    "pasteurization", "holding_tube", "lethality", "storage", "growth", "warming", "standardizing", "separation",
    "mix", "overrun", "freezing", "hardening", "washing", "calibration", "mass_balance", "lots", "control_charts",
    "sampling_plans", "mpn", "properties",
}  # fmt: skip


def test_every_calculation_has_a_page(plant: Plant, client_for: Clients) -> None:
    """And the list names it with what it is for."""
    assert set(KEYS) >= WANTED
    said = client_for(plant.people.odile).get("/plant/calculators/").content.decode()
    for key in KEYS:
        assert f"/plant/calculators/{key}/" in said


@pytest.mark.parametrize("key", KEYS)
def test_page_begins_with_an_example_worked(key: str, plant: Plant, client_for: Clients) -> None:
    """Steps with sources, cautions, and nothing recorded; each field has the example in it."""
    size = Entry.objects.count()
    answer = client_for(plant.people.odile).get(f"/plant/calculators/{key}/")
    said = answer.content.decode()
    assert answer.status_code == 200 and "What follows" in said and "Every step" in said
    assert "Filled in with an example" in said and 'class="wrong"' not in said
    assert said.count("<li>") > 3 and "Cautions" in said
    assert Entry.objects.count() == size


@pytest.mark.parametrize("key", KEYS)
def test_page_says_neither_safe_nor_approved(key: str, plant: Plant, client_for: Clients) -> None:
    """A calculation never gives permission."""
    said = client_for(plant.people.odile).get(f"/plant/calculators/{key}/").content.decode()
    text = re.sub(r"<[^>]+>", " ", said.partition("<main")[2].partition("</main>")[0]).casefold()
    assert not re.search(r"\b(?:is|are) (?:safe|approved)\b", text)


def test_what_was_typed_is_worked_and_kept(plant: Plant, client_for: Clients) -> None:
    """Number and unit from the address."""
    given = {"product": "ice cream mix", "temperature": "174", "temperature_unit": "°F", "time": "25", "time_unit": "s"}
    said = client_for(plant.people.wren).get("/plant/calculators/pasteurization/", given).content.decode()
    assert "not met" in said and 'value="174"' in said
    given["temperature"] = "175"
    said = client_for(plant.people.wren).get("/plant/calculators/pasteurization/", given).content.decode()
    assert re.search(r"<strong>\s*met", said)


@pytest.mark.parametrize("typed", ["hot", "1,5", "3500", "", "nan", "1" * 300, "<script>alert(1)</script>"])
def test_what_makes_no_sense_stands_beside_its_field(typed: str, plant: Plant, client_for: Clients) -> None:
    """Kept as typed, a sentence under the field, no answer."""
    given = {"product": "milk", "temperature": typed, "temperature_unit": "°F", "time": "15", "time_unit": "s"}
    answer = client_for(plant.people.wren).get("/plant/calculators/pasteurization/", given)
    said = answer.content.decode()
    assert answer.status_code == 200 and 'class="wrong"' in said and "What follows" not in said
    assert "<script>alert" not in said


def test_wrong_input_is_not_called_unsaved(plant: Plant, client_for: Clients) -> None:
    """Nothing is ever saved here."""
    said = client_for(plant.people.wren).get("/plant/calculators/pasteurization/", {"product": "milk"}).content.decode()
    assert "It cannot be worked yet" in said and "Not saved yet" not in said


def test_unknown_calculator_is_a_plain_page(plant: Plant, client_for: Clients) -> None:
    """404."""
    assert client_for(plant.people.wren).get("/plant/calculators/no-such/").status_code == 404


@pytest.mark.parametrize("key", KEYS)
def test_page_speaks_spanish(key: str, plant: Plant, client_for: Clients) -> None:
    """The working is said again in the reader's language."""
    client = client_for(plant.people.odile)
    session = client.session
    session["language"] = "es"
    session.save()
    with translation.override("es"):
        said = client.get(f"/plant/calculators/{key}/").content.decode()
    assert "Qué resulta" in said and "What follows" not in said and "by definition" not in said


def test_a_spanish_page_shows_its_example_and_reads_rows_in_spanish(plant: Plant, client_for: Clients) -> None:
    """What is typed stays as typed, and a word that is none is refused beside its field in Spanish."""
    client = client_for(plant.people.odile)
    session = client.session
    session["language"] = "es"
    session.save()
    address = "/plant/calculators/standardizing/"
    with translation.override("es"):
        assert "grasa 5.0" in client.get(address).content.decode()
        given = {"streams": "A; Grasa 5; ; ; \nB; grasa 0.5; ; ; ", "targets": "grasa; 3; 3", "total": "500",
                 "total_unit": "kg", "unit": "kg"}  # fmt: skip
        worked = client.get(address, given).content.decode()
        assert "Qué resulta" in worked and "A; Grasa 5" in worked and "grasa, kg" in worked and "fat, kg" not in worked
        wrong = client.get("/plant/calculators/overrun/", {"bulky": "aserrín; 3", "way": "cup"}).content.decode()
    assert "Qué resulta" not in wrong and "aserrín; 3" in wrong and 'class="wrong"' in wrong
