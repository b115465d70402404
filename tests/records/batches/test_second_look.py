"""A vitamin or an allergen asks a second person or a scan; without one it is kept, said, and bars what comes next."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.batches.actions import add
from records.batches.added import add_flavor, add_vitamin
from records.batches.data import FlavorData, VitaminData
from records.batches.models import AdditionConfirmed, BatchAddition, SecondLook, VitaminAdded
from records.batches.second import confirm
from records.deviations.models import Deviation, Hold
from records.flow.actions import record_movement
from records.flow.errors import DifferentContent, Refused, Several
from records.flow.moving import what_bars
from tests.conftest import Plant
from tests.records.batches.made import MINUTE, addition, ready_plant, sheet, sugar
from tests.records.flow.made import moved, movement, washed

pytestmark = pytest.mark.django_db


def vitamin(lot: int, minutes: int = 20, **changes: Any) -> VitaminData:
    """Just enough vitamin A for 1000 gal in the blend vat, so many minutes ago."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now() - minutes * MINUTE, "vitamin": "A", "place": "blend-vat",
        "product": "whole-milk", "received": lot, "strength": "200000", "amount": "40", "milk": "1000",
        "milk_unit": "gal",
    }  # fmt: skip
    return VitaminData(**(values | changes))


def filled(plant: Plant, place: str = "blend-vat", **changes: Any) -> None:
    """One fill, from forty minutes ago for ten."""
    now = clock.now()
    moved(
        plant.actor("ines"), target=place, product="raw-milk", quantity_typed="40", started_at=now - 40 * MINUTE,
        ended_at=now - 30 * MINUTE, **changes,
    )  # fmt: skip


def waits(to: dict[str, Any], minutes: int = 0) -> list[str]:
    """What a movement of so many minutes ago waits for: the vessel's own additions, not a hold elsewhere."""
    at = clock.now() - minutes * MINUTE
    barred = what_bars(movement(**to, started_at=at, ended_at=at))
    return [one for one in barred if "no second person" in one and "on hold" not in one]


ON = {"source": "blend-vat", "source_name": "", "target": "silo-a", "product": "raw-milk"}


def test_a_vitamin_bars_what_comes_next_until_a_second_person_looked(plant: Plant) -> None:
    """Kept with nobody; what begins now is refused; what went on is a deviation and held; the look ends it for later.

    The person who added it cannot confirm it, and the drain waits for nothing.
    """
    row = sugar(ready_plant(plant), item="vitamin A concentrate", unit="mL", quantity="500")
    filled(plant)
    ines, tomas = plant.actor("ines"), plant.actor("tomas")
    saved = add_vitamin(ines, vitamin(row.number))
    assert not Deviation.objects.exists()
    now = clock.now()
    with pytest.raises(Several, match="vitamin A, lot S-1 .*no second person"):
        record_movement(ines, movement(**ON, start_now=True, started_at=now, ended_at=now))
    to_drain = {"source": "blend-vat", "source_name": "", "target": "", "target_name": "drain", "product": "raw-milk"}
    assert not waits(to_drain)
    ran = moved(ines, **ON, quantity_typed="10", started_at=now - 10 * MINUTE, ended_at=now - 5 * MINUTE)
    assert "no second person" in Deviation.objects.get(control_point="second person").sentence
    assert Hold.objects.filter(lot=ran.target_lot).exists()
    with pytest.raises(Refused, match="Somebody else"):
        confirm(ines, saved.number, uuid.uuid4())
    assert confirm(tomas, saved.number, uuid.uuid4()).number == confirm(tomas, saved.number, uuid.uuid4()).number
    plant.at(now + MINUTE)
    assert not waits(ON)
    # the look came after what went on before it: an entry of that time still says so
    assert waits(ON, 2)
    assert Hold.objects.filter(lot=ran.target_lot).exists()


def test_a_scan_of_the_lot_is_a_second_look(plant: Plant) -> None:
    """It has to read the chosen lot; the same form with another scan is refused; an amendment asks anew."""
    row = sugar(ready_plant(plant), item="vitamin A concentrate", unit="mL", quantity="500")
    filled(plant)
    ines = plant.actor("ines")
    with pytest.raises(Refused) as refused:
        add_vitamin(ines, vitamin(row.number, scanned="S-2"))
    assert refused.value.field == "scanned" and not VitaminAdded.objects.exists()
    data = vitamin(row.number, scanned="S-1")
    saved = add_vitamin(ines, data)
    assert add_vitamin(ines, data).number == saved.number
    look = SecondLook.objects.get()
    assert (look.addition, look.how, look.scanned, look.observed_at) == (saved.number, "scan", "S-1", saved.observed_at)
    with pytest.raises(DifferentContent):
        add_vitamin(ines, vitamin(row.number, form_id=data.form_id, at=data.at))
    assert not waits(ON, 1)
    add_vitamin(ines, vitamin(row.number, amends=saved.number, amend_reason="another lot"))
    assert waits(ON, 1)


def test_an_allergen_of_a_flavor_or_a_batch_waits_the_same_way(plant: Plant) -> None:
    """Declared or not, milk in a lot is an allergen; sugar alone asks nobody."""
    row = sugar(ready_plant(plant), allergens=("milk",), quantity="500")
    plain = sugar(plant, item="salt", supplier_lot="S-9")
    ines = plant.actor("ines")
    values: dict[str, Any] = {
        "at": clock.now() - 20 * MINUTE, "place": "flavor-vat", "product": "mix", "amount": "3", "unit": "kg",
        "why": "dry or low moisture", "why_words": "certificate",
    }  # fmt: skip
    add_flavor(ines, FlavorData(form_id=uuid.uuid4(), received=plain.number, **values))
    on = {"source": "flavor-vat", "source_name": "", "target": "finished-1", "product": "mix"}
    assert not waits(on)
    saved = add_flavor(ines, FlavorData(form_id=uuid.uuid4(), received=row.number, **values))
    assert "sugar, lot S-1" in waits(on)[0]
    confirm(plant.actor("tomas"), saved.number, uuid.uuid4())
    assert not waits(on)
    made = sheet(ines)
    weighed = add(ines, addition(made.number, 2, "15", received=row.number, at=clock.now() - 5 * MINUTE))
    assert waits(ON)
    confirm(plant.actor("tomas"), weighed.number, uuid.uuid4())
    assert AdditionConfirmed.objects.get().addition == BatchAddition.objects.get().number
    assert not waits(ON)


def test_what_was_dosed_into_the_line_waits_in_the_vessel_behind_it(plant: Plant) -> None:
    """A vitamin metered into the press while it ran is in the finished tank."""
    row = sugar(ready_plant(plant), item="vitamin A concentrate", unit="mL", quantity="500")
    now = clock.now()
    washed(plant.actor("tomas"), "press-1", now - 50 * MINUTE)
    filled(plant, "finished-1", via="press-1", source="silo-a", source_name="")
    add_vitamin(plant.actor("ines"), vitamin(row.number, 35, place="press-1"))
    on = {"source": "finished-1", "source_name": "", "target": "flavor-vat", "product": "whole-milk"}
    assert "vitamin A" in waits(on)[0]


def test_the_pages_of_a_vitamin_say_no_second_person(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Its page and the list say it; whoever added it gets no button; another confirms and is named."""
    row = sugar(ready_plant(plant), item="vitamin A concentrate", unit="mL", quantity="500")
    filled(plant)
    ines, tomas = client_for(plant.people.ines), client_for(plant.people.tomas)
    body = {"form_id": str(uuid.uuid4()), "at": "11:29", "vitamin": "A", "received": str(row.number), "scanned": "",
            "strength": "200000", "amount": "40", "milk": "1000", "milk_unit": "gal", "place": "blend-vat",
            "product": "whole-milk", "note": ""}  # fmt: skip
    page = ines.post(reverse("records:vitamin"), body | {"scanned": "X"}).content.decode()
    assert "another lot" in page and 'value="X"' in page and not VitaminAdded.objects.exists()
    page = ines.post(reverse("records:vitamin"), body, follow=True).content.decode()
    button = "I looked: lot, amount and allergen are right"
    assert "no second person" in page and "Somebody else has to confirm" in page and button not in page
    saved = VitaminAdded.objects.get()
    assert "no second person" in ines.get(reverse("records:batches")).content.decode()
    assert button in tomas.get(reverse("records:batch-entry", args=[saved.number])).content.decode()
    page = tomas.post(reverse("records:batch-confirm", args=[saved.number]), follow=True).content.decode()
    assert "Tomas Reed" in page and "no second person" not in page
