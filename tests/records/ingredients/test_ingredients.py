"""Ingredients: what came and from whom, what stands against using it, what follows when it was used all the same."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.deviations.holds import hold_by_hand
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.errors import DifferentContent, Refused, Several
from records.ingredients import queries
from records.ingredients.actions import approve_supplier, receive, say
from records.ingredients.data import StockData
from records.ingredients.models import IngredientReceived, StockEvent
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.batches.made import HOUR, approval, lot, ready_plant, sugar

pytestmark = pytest.mark.django_db


def used(received: int, **changes: Any) -> StockData:
    """5 kg of a lot used in a batch."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now(), "received": received, "what": "used", "amount": "5", "unit": "kg",
        "into": "batch 118",
    }  # fmt: skip
    return StockData(**(values | changes))


def against(row: IngredientReceived) -> str:
    """What stands against using a lot now."""
    now = clock.now()
    found = plan_in_force(now)
    assert found is not None
    return "; ".join(queries.against(row, now, found))


def test_a_lot_is_counted_down_and_used_up(plant: Plant) -> None:
    """Received, opened, used in two units, used up; the same form twice counts once, with other content is refused."""
    row = sugar(ready_plant(plant))
    by = plant.actor("ines")
    found = plan_in_force(clock.now())
    assert found is not None and against(row) == "" and row.approval is not None
    first = used(row.number)
    assert say(by, first).number == say(by, first).number
    with pytest.raises(DifferentContent):
        say(by, used(row.number, form_id=first.form_id, amount="6"))
    say(by, used(row.number, amount="2000", unit="g", begins_now=True))
    (shelf,) = queries.on_hand(clock.now(), found)
    assert shelf.left == 43 and not shelf.gone and StockEvent.objects.count() == 2
    say(by, used(row.number, what="used up", amount="", into=""))
    (shelf,) = queries.on_hand(clock.now(), found)
    assert shelf.left == 0 and shelf.gone and "used up" in against(row)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"best_by": date(2026, 3, 2)}, "best by 2026-03-02"),
        ({"supplier": "Nobody's Mill"}, "not approved"),
        ({"accepted": False, "refused_why": "bags torn"}, "refused on arrival: bags torn"),
    ],
)
def test_what_may_not_be_used_is_refused_and_used_all_the_same_has_its_consequence(
    plant: Plant, changes: dict[str, Any], sentence: str
) -> None:
    """Expired, not approved, refused: beforehand nothing is written; afterwards it is kept with a deviation."""
    row = sugar(ready_plant(plant), **changes)
    by = plant.actor("ines")
    with pytest.raises(Several, match=sentence):
        say(by, used(row.number, begins_now=True))
    assert not StockEvent.objects.exists()
    kept = say(by, used(row.number))
    cause = DeviationCause.objects.get(cause_number=kept.number)
    assert sentence in cause.sentence and Deviation.objects.get(number=cause.deviation).control_point == "ingredients"


def test_a_lot_on_hold_and_an_approval_that_ended(plant: Plant) -> None:
    """A hold by hand stands against it; so does an approval amended to end before."""
    row = sugar(ready_plant(plant))
    hold_by_hand(
        plant.actor("wren"), lot=row.id, lot_label="sugar S-1", vessel="", since_at=NOW + HOUR,
        reason="supplier recalls it",
    )  # fmt: skip
    assert "on hold: supplier recalls it" in against(row)
    approve_supplier(
        plant.actor("odile"),
        approval(until=date(2026, 3, 2), amends=row.approval, amend_reason="audit failed"),
    )
    assert "not approved" in against(row)
    assert Hold.objects.get().lot == row.id


def test_a_refusal_says_why_and_an_amendment_is_a_successor(plant: Plant) -> None:
    """Refused without a reason is no record; one's own entry is amended once, and its number still names the lot."""
    row = sugar(ready_plant(plant))
    by = plant.actor("ines")
    with pytest.raises(Refused) as refused:
        receive(by, lot(accepted=False))
    assert refused.value.field == "refused_why"
    later = receive(by, lot(quantity="40", amends=row.number, amend_reason="counted again"))
    say(by, used(row.number))
    found = plan_in_force(clock.now())
    assert found is not None
    (shelf,) = queries.on_hand(clock.now(), found)
    assert (shelf.row.number, shelf.number, shelf.left) == (later.number, row.number, 35)
    with pytest.raises(Refused, match="amended already"):
        receive(by, lot(quantity="30", amends=row.number, amend_reason="again"))


def test_the_pages(plant: Plant, client_for: Callable[..., Client], django_assert_max_num_queries: Any) -> None:
    """An operator records a lot by its page; nonsense stays beside its field; the shelf asks few queries."""
    sugar(ready_plant(plant))
    ines = client_for(plant.people.ines)
    body = {
        "form_id": str(uuid.uuid4()), "at": "2026-03-03T10:00", "note": "", "what": "ingredient", "item": "hazelnut",
        "supplier": "Harrow Mill", "supplier_lot": "H<9", "quantity": "1O", "unit": "kg", "best_by": "soon",
        "allergens": "hazelnut", "condition": "whole", "answer": "refused", "refused_why": "",
    }  # fmt: skip
    address = reverse("records:ingredient-received")
    page = ines.post(address, body).content.decode()
    assert "Write the day as" in page and "H&lt;9" in page and 'value="1O"' in page
    page = ines.post(
        address, {**body, "quantity": "10", "best_by": "", "answer": "accepted"}, follow=True
    ).content.decode()
    assert "not approved for it on that day" in page and "Deviation" in page
    with django_assert_max_num_queries(60):
        page = ines.get(reverse("records:ingredients")).content.decode()
    assert "hazelnut" in page and "nothing recorded" in page
    row = IngredientReceived.objects.order_by("number").last()
    assert row is not None
    amend = reverse("records:ingredient-amend", args=[row.number])
    assert 'value="10"' in ines.get(amend).content.decode()
    more = {**body, "form_id": str(uuid.uuid4()), "quantity": "10", "best_by": "", "answer": "accepted"}
    page = ines.post(amend, {**more, "reason": "wrong delivery", "void": "on"}, follow=True).content.decode()
    assert "It did not happen: wrong delivery" in page
    assert ines.get(reverse("records:supplier-approve")).status_code == 403
