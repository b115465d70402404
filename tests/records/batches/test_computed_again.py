"""A batch whose sheet was computed again: what was weighed before stands by the sheet that it was weighed against."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.people.models import Person
from plant.process.properties import UsualDensity
from records.batches import state
from records.batches.actions import add
from records.batches.data import LineData
from records.batches.models import BatchAddition, BatchSheet
from records.flow.common import plan_at
from records.flow.densities import by_contents, for_book
from records.flow.history import load
from tests.conftest import Plant
from tests.records.batches.made import HOUR, MINUTE, addition, ready_plant, sheet, sugar

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db
CREAM = LineData(name="cream", fat="40", snf="5.4")
THIN = LineData(name="cream", fat="30", snf="6.3")
MILK = LineData(name="milk", fat="3.5", snf="8.685")
SUGAR = LineData(name="sugar", sugar="100", allergen="soy")


@pytest.fixture
def weighed(plant: Plant) -> tuple[Plant, BatchSheet, BatchAddition]:
    """Cream of 40 % fat weighed in, 20 kg, as the first line of the first sheet."""
    ready_plant(plant)
    lots = {item: sugar(plant, item=item, supplier_lot=f"{item}-1") for item in ("cream", "milk", "sugar")}
    first = sheet(plant.actor("ines"), lines=(CREAM, MILK, SUGAR))
    row = add(plant.actor("ines"), addition(first.number, 0, "20", received=lots["cream"].number))
    plant.at(clock.now() + MINUTE)
    return plant, first, row


def again(plant: Plant, old: BatchSheet, *lines: LineData, **changes: Any) -> BatchSheet:
    """The sheet computed again from these lines."""
    said = {"amends": old.number, "amend_reason": "computed again", "form_id": uuid.uuid4(), "lines": lines}
    made = sheet(plant.actor("ines"), **(said | changes))
    plant.at(clock.now() + MINUTE)
    return made


def batch(first: BatchSheet) -> state.Batch:
    found = state.batch_of(first.number)
    assert found is not None
    return found


def density(plant: Plant, row: BatchAddition) -> UsualDensity:
    """By which the book carries what was weighed in into the vat's gallons."""
    told = load(plan_at(clock.now()).plan, clock.now() - 3 * HOUR, clock.now(), ["blend-vat"])
    return for_book(told, {"blend-vat": "gal"})[row.movement or 0]


def test_another_order_moves_what_was_weighed_to_its_own_line(weighed: tuple[Plant, BatchSheet, BatchAddition]) -> None:
    """Cream was the first line and is the last now: its mass stands beside cream, not beside sugar."""
    plant, first, _row = weighed
    again(plant, first, SUGAR, MILK, CREAM)
    masses = [(line.said["name"], line.weighed) for line in batch(first).lines]
    assert masses == [("sugar", None), ("milk", None), ("cream", Decimal(20))]


def test_what_was_weighed_keeps_the_contents_of_its_own_sheet(
    weighed: tuple[Plant, BatchSheet, BatchAddition],
) -> None:
    """20 kg of 40 % fat stay 8 kg of fat, whatever the cream of the next sheet has."""
    plant, first, row = weighed
    second = again(plant, first, THIN, MILK, SUGAR)
    targets = [Decimal(one["target"]) for one in second.lines]
    fat = 20 * 40 + targets[1] * Decimal("3.5")
    expected = fat / (20 + targets[1] + targets[2])
    assert float(batch(first).blend["fat"]) == pytest.approx(float(expected), abs=1e-3)
    assert density(plant, row) == by_contents("cream", 40.0, 45.4)


def test_what_is_weighed_after_it_takes_the_new_sheets_contents(
    weighed: tuple[Plant, BatchSheet, BatchAddition],
) -> None:
    plant, first, _row = weighed
    again(plant, first, SUGAR, THIN, MILK)
    lot = sugar(plant, item="cream", supplier_lot="cream-2")
    later = add(plant.actor("ines"), addition(first.number, 1, "5", received=lot.number))
    assert later.name == "cream" and density(plant, later) == by_contents("cream", 30.0, 36.3)
    assert batch(first).lines[1].weighed == 25
    own = [one.line["fat"] for one in batch(first).weighed.values()]
    assert own == ["40", "30"]


def test_an_amended_weight_stays_with_the_sheet_that_it_was_weighed_against(
    weighed: tuple[Plant, BatchSheet, BatchAddition],
) -> None:
    """Amended after the sheet was computed again in another order: still cream of 40 % fat, 19 kg of it."""
    plant, first, row = weighed
    again(plant, first, SUGAR, THIN, MILK)
    said = addition(
        first.number, 0, "19", received=row.received, amends=row.number, amend_reason="misread", at=row.observed_at
    )
    new = add(plant.actor("ines"), said)
    assert (new.name, new.line, new.allergen) == ("cream", 0, row.allergen)
    assert batch(first).lines[1].weighed == 19 and batch(first).lines[0].weighed is None
    assert density(plant, new) == by_contents("cream", 40.0, 45.4)


def test_what_the_new_sheet_does_not_ask_for_is_still_in_it(
    weighed: tuple[Plant, BatchSheet, BatchAddition], client_for: Browser
) -> None:
    """No line of the second sheet is cream: its fat counts, and the batch says that it is in."""
    plant, first, row = weighed
    again(plant, first, MILK, SUGAR, fat="", total="100")
    found = batch(first)
    assert found.off_the_sheet == [("cream", Decimal(20))]
    assert any("cream: 20 kg are in it" in one for one in state.missing(found))
    assert float(found.blend["fat"]) > 8 * 100 / 121
    ines = client_for(plant.people.ines)
    assert ines.get(reverse("records:batch", args=[first.number])).status_code == 200
    assert ines.get(reverse("records:batch-amend", args=[row.number])).status_code == 200
