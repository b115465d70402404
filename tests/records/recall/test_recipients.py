"""A return belongs to a recall: its step, the table of recipients, what is asked when more comes back."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from plant.people.models import Person
from records.deviations.holds import DESTROY
from records.flow.errors import Refused
from records.recall import linked, state
from records.recall.actions import amend_step
from records.recall.data import StepData
from records.recall.models import ProductReturned, RecallStep
from records.recall.recipients import apart, recipients
from records.recall.return_actions import amend_return, take_back
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.recall.made import a_day, packed, sent
from tests.records.recall.test_recall import begun, step
from tests.records.recall.test_returned import decided, said

pytestmark = pytest.mark.django_db
BODY = {
    "code": "WM 0303", "consignee": "Corner shop", "returned_at": "2026-03-03T09:20", "unit": "gal",
    "condition": "lids whole", "reason": "recalled", "kept_where": "cage 2",
}  # fmt: skip


@pytest.fixture
def recall(plant: Plant) -> int:
    """150 gal packed, 80 to the corner shop and 20 to the mill; a recall from the farm's load, half an hour ago."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    sent(plant.actor("ines"), "WM 0303", consignee="Mill cafe", quantity_typed="20")
    return begun(plant, day["nettle"].number)


def table(number: int) -> list[tuple[Any, ...]]:
    """To whom, then what left, came back, was destroyed and is out."""
    found = state.recall_of(number)
    assert found is not None
    return [(one.to, one.sent, one.returned, one.destroyed, one.outstanding) for one in recipients(found)]


def test_recipient_by_recipient(plant: Plant, recall: int) -> None:
    """80 - 30 - 10 = 40 still with the shop; of what is destroyed in this plant nothing is the shop's."""
    assert table(recall) == [("Corner shop", 80, 0, 0, 80), ("Mill cafe", 20, 0, 0, 20)]
    row = take_back(plant.actor("ines"), said(quantity_typed="30", consignee="corner  shop", returned_at=NOW,
                                              recall=recall))  # fmt: skip
    step(plant, recall, "destroyed", code="WM 0303", quantity_typed="10", unit="gal", consignee="Corner shop")
    step(plant, recall, "destroyed", code="WM 0303", quantity_typed="30", unit="gal")
    assert table(recall) == [("Corner shop", 80, 30, 10, 40), ("Mill cafe", 20, 0, 0, 20)]
    found = state.recall_of(recall)
    assert found is not None and state.accounted(found).accounted == 40 and not apart(found)
    one = linked.steps_of([row.part])[row.part]
    assert (one.what, one.recall, one.quantity, one.act) == ("returned", recall, 30, row.act)
    with pytest.raises(Refused, match="amend that"):
        amend_step(plant.actor("wren"), one.number, StepData(uuid.uuid4(), recall, "returned", NOW), "no")


def test_the_step_follows_its_return(plant: Plant, recall: int) -> None:
    """Counted anew, its quantity not known, taken out of the recall, put back, and at last it did not happen."""
    ines = plant.actor("ines")
    row = take_back(ines, said(returned_at=NOW, recall=recall, quantity_typed="30"))
    assert take_back(ines, said(form_id=row.form_id, returned_at=NOW, recall=recall, quantity_typed="30")) == row
    assert RecallStep.objects.count() == 1

    def amended(before: ProductReturned, **changes: Any) -> ProductReturned:
        void = changes.pop("void", False)
        data = said(**({"returned_at": NOW, "recall": recall} | changes))
        return amend_return(ines, before.number, data, "why", void)

    row = amended(row, quantity_typed="25")
    assert table(recall)[0][2] == 25
    row = amended(row, quantity_typed="", unit="")
    assert table(recall)[0][2:] == (None, 0, None)
    row = amended(row, recall=None)
    found = state.recall_of(recall)
    assert table(recall)[0][2] == 0 and found is not None and [one.row for one in apart(found)] == [row]
    row = amended(row, quantity_typed="80")
    assert table(recall)[0][4] == 0
    amended(row, void=True)
    assert table(recall)[0][2:] == (0, 0, 80) and linked.steps_of([row.part]) == {}


def test_a_return_belongs_to_no_recall_but_its_own(plant: Plant, recall: int) -> None:
    """No rehearsal, no recall of other packs, none begun later. Without it the return is kept."""
    ines = plant.actor("ines")
    mock = begun(plant, _nettle(recall), mock=True)
    packed(ines, "WM 0304", started_at=NOW - 2 * HOUR, quantity_typed="10")
    for changes in ({"recall": mock}, {"recall": 10**6}, {"recall": recall, "code": "WM 0304"},
                    {"recall": recall, "returned_at": NOW - HOUR}):  # fmt: skip
        with pytest.raises(Refused) as refusal:
            take_back(ines, said(**({"returned_at": NOW} | changes)))
        assert refusal.value.field == "recall" and not ProductReturned.objects.exists()
    take_back(ines, said(returned_at=NOW - HOUR / 4))
    assert [number for number, _words in linked.choices()] == [recall]


def _nettle(recall: int) -> int:
    """The entry that the recall began from."""
    found = state.recall_of(recall)
    assert found is not None
    return int(found.begun.origin["entry"])


def test_more_than_left_is_asked_and_kept(plant: Plant, recall: int, client_for: Callable[[Person], Client]) -> None:
    """90 of 80: asked beside the quantity, kept as typed when it is right; the table says 10 more than left."""
    client = client_for(plant.people.ines)
    body = BODY | {"form_id": str(uuid.uuid4()), "quantity": "90", "recall": str(recall)}
    page = client.post("/returns/new/", body)
    text = page.content.decode()
    assert page.status_code == 422 and "More than the book says left to them: 90 of 80 gal. Is it right?" in text
    assert 'name="as_typed"' in text and "cage 2" in text and not ProductReturned.objects.exists()
    assert client.post("/returns/new/", body | {"as_typed": "on"}).status_code == 302
    row = ProductReturned.objects.get()
    kept = client.get(f"/returns/{row.number}/").content.decode()
    assert row.quantity == 90 and f"Belongs to recall {recall}" in kept
    seen = client.get(f"/recall/{recall}/").content.decode()
    assert "10 gal more than left" in seen and f'href="/returns/{row.number}/"' in seen and "Mill cafe" in seen
    again = client.post("/returns/new/", BODY | {"form_id": str(uuid.uuid4()), "quantity": "1"})
    assert "1 of 80 gal, of which 90 came back before" in again.content.decode()
    amends = BODY | {"form_id": str(uuid.uuid4()), "quantity": "80", "recall": str(recall), "amend_reason": "recounted"}
    asked = client.post(f"/returns/{row.number}/amend/", amends | {"quantity": "81"})
    assert asked.status_code == 422 and "81 of 80 gal. Is it right?" in asked.content.decode()
    assert client.post(f"/returns/{row.number}/amend/", amends).status_code == 302
    assert table(recall)[0][4] == 0


def test_nothing_left_to_them_is_asked_too(plant: Plant, recall: int, client_for: Callable[[Person], Client]) -> None:
    """A recipient that the book does not know; and none is asked where a quantity is not known."""
    client = client_for(plant.people.ines)
    body = BODY | {"form_id": str(uuid.uuid4()), "quantity": "5", "consignee": "The inn"}
    assert "5 of 0 gal" in client.post("/returns/new/", body).content.decode()
    sent(plant.actor("ines"), "WM 0303", consignee="The inn", quantity_typed="", unit="")
    assert client.post("/returns/new/", body).status_code == 302
    assert 'name="recall"' in client.get(f"/returns/new/?recall={recall}").content.decode()
    assert client.get("/returns/new/?recall=x").status_code == 200


def test_many_returns_cost_no_more(plant: Plant, recall: int, client_for: Callable[[Person], Client]) -> None:
    """No statement for each."""
    client = client_for(plant.people.guest)
    ines = plant.actor("ines")
    take_back(ines, said(returned_at=NOW, recall=recall, quantity_typed="1"))
    take_back(ines, said(returned_at=NOW, quantity_typed="1"))
    client.get(f"/recall/{recall}/")
    with CaptureQueriesContext(connection) as first:
        client.get(f"/recall/{recall}/")
    for _one in range(3):
        take_back(ines, said(returned_at=NOW, recall=recall, quantity_typed="1"))
        take_back(ines, said(returned_at=NOW, quantity_typed="1"))
    with CaptureQueriesContext(connection) as then:
        client.get(f"/recall/{recall}/")
    assert len(then) == len(first)


def test_a_heading_begins_with_a_capital(plant: Plant, client_for: Callable[[Person], Client]) -> None:
    """Of a source as of a roll: what it begins from is a sentence's middle, its page's head is not."""
    a_day(plant)
    query = "?source=Nettle+Farm&since=2026-03-03T00:00&until=2026-03-03T09:00"
    page = client_for(plant.people.guest).get(f"/recall/scope/{query}").content.decode()
    assert "What came from Nettle Farm from" in page


def test_a_recipient_written_otherwise_is_told_all_the_same(plant: Plant, recall: int) -> None:
    """Spaces and case of a name do not make a notice missing."""
    step(plant, recall, "notice", consignee="corner  SHOP", words="by telephone")
    found = state.recall_of(recall)
    assert found is not None
    assert [one.done for one in state.needed(found) if one.words.startswith("Corner shop told")] == [True]


def test_a_recall_says_what_became_of_what_came_back(
    plant: Plant, recall: int, client_for: Callable[[Person], Client]
) -> None:
    """Beside the step of a return: on hold, then what two people decided."""
    row = take_back(plant.actor("ines"), said(returned_at=NOW, recall=recall))
    client = client_for(plant.people.wren)
    assert f"return {row.number}</a>: on hold" in client.get(f"/recall/{recall}/").content.decode()
    decided(plant, row, DESTROY)
    assert f"return {row.number}</a>: destroy" in client.get(f"/recall/{recall}/").content.decode()
