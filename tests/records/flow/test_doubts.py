"""What is asked once more before a movement is kept, the named exits, and that nothing typed is lost by asking."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from django.test import Client
from django.utils.translation import override

from plant.people.models import Person
from plant.process.contents import milk_in
from records.flow.exits import DRAIN, EXITS, SLUDGE, exit_of
from records.flow.models import Movement, MovementEnd
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, moved
from tests.records.flow.test_flow_pages import local, movement_form

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db
NEW = "/movement/new/"


def test_pounds_typed_as_gallons_are_asked_about_and_kept_as_the_person_says(
    plant: Plant, client_for: Browser
) -> None:
    """Silo A holds 3,000 gal: 8,000 gal do not fit, 8,000 lb (930 gal) do. Ticked, the fact is kept as typed."""
    browser = client_for(plant.people.ines)
    form = movement_form(quantity="8000", unit="gal")
    asked = browser.post(NEW, form)
    assert asked.status_code == 422 and not Movement.objects.exists()
    text = asked.content.decode()
    assert "Silo A holds 3000 gal; 8000 gal is more. Was it 8000 L / 8000 lb / 8000 kg?" in text
    assert 'value="8000"' in text and 'name="as_typed"' in text
    kept = browser.post(NEW, form | {"as_typed": "on"})
    assert kept.status_code == 302
    assert (Movement.objects.get().quantity_typed, Movement.objects.get().unit) == ("8000", "gal")
    # The same form again answers as the first time, and is asked nothing.
    assert browser.post(NEW, form | {"as_typed": "on"}).status_code == 302
    assert Movement.objects.count() == 1


def test_what_fits_is_kept_at_once(plant: Plant, client_for: Browser) -> None:
    browser = client_for(plant.people.ines)
    assert browser.post(NEW, movement_form(quantity="8000", unit="lb")).status_code == 302
    assert Movement.objects.get().unit == "lb"


def test_an_end_with_more_than_fits_is_asked_about_too(plant: Plant, client_for: Browser) -> None:
    row = moved(plant.actor("tomas"), ended_at=None, quantity_typed="", unit="")
    browser = client_for(plant.people.ines)
    form = {
        "form_id": str(uuid.uuid4()), "ended_at": local(NOW), "quantity": "9000", "unit": "gal", "measured_by": "meter",
    }  # fmt: skip
    address = f"/movement/{row.number}/end/"
    assert browser.post(address, form).status_code == 422 and not MovementEnd.objects.exists()
    assert browser.post(address, form | {"as_typed": "on"}).status_code == 302
    assert MovementEnd.objects.get().quantity == Decimal(9000)


def test_one_movement_from_two_tablets_is_asked_about_by_name(plant: Plant, client_for: Browser) -> None:
    assert client_for(plant.people.tomas).post(NEW, movement_form()).status_code == 302
    first = Movement.objects.get()
    browser = client_for(plant.people.ines)
    again = movement_form(started_at=local(NOW - HOUR + HOUR / 6))
    asked = browser.post(NEW, again)
    assert f"Tomas Reed recorded the same at 08:30: movement {first.number}." in asked.content.decode()
    assert Movement.objects.count() == 1
    assert browser.post(NEW, again | {"as_typed": "on"}).status_code == 302
    assert Movement.objects.count() == 2
    # Another farm's milk in the same minute is another movement.
    assert browser.post(NEW, movement_form(source_name="Oxbow Farm")).status_code == 302


def test_a_named_exit_is_kept_in_the_plants_words_and_known_in_every_language(
    plant: Plant, client_for: Browser
) -> None:
    moved(plant.actor("tomas"), started_at=NOW - 3 * HOUR, ended_at=NOW - 2 * HOUR)
    form = movement_form(
        source="silo-a", source_name="", target="(drain)", quantity="20", measured_by="level",
        started_at=local(NOW - HOUR),
    )  # fmt: skip
    assert client_for(plant.people.ines).post(NEW, form).status_code == 302
    row = Movement.objects.latest("number")
    assert (row.target, row.target_name, exit_of(row.target, row.target_name)) == ("", "drain", DRAIN)
    with override("es"):
        words = {key: str(value) for key, value in EXITS.items()}
    assert len(set(words.values())) == len(EXITS)
    assert {exit_of("", one.upper()) for one in words.values()} == set(EXITS)
    assert exit_of("silo-a", "drain") == "" and exit_of("", "Corner Market") == "" and SLUDGE in EXITS


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        # The trade's 8.6 lb/gal (http://www.ask.com/question/how-much-does-one-gallon-of-milk-weigh-in-pounds,
        # a page that carries the figure, no authority); the pound is 0.45359237 kg and the gallon 231 cubic inches.
        ("8600", "lb", "gal", Fraction(1000)),
        ("1000", "gal", "lb", Fraction(8600)),
        ("10", "gal", "L", Fraction("37.85411784")),
        ("1", "lb", "kg", Fraction("0.45359237")),
    ],
)
def test_milk_between_pounds_and_gallons(value: str, unit: str, to: str, expected: Fraction) -> None:
    assert milk_in(Decimal(value), unit, to) == expected
