"""Packs that came back: held as a lot of their own, in their first lot's scope and account, not back by themselves."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from plant import clock
from plant.people.models import Person
from records.deviations.holds import (
    DESTROY,
    RELEASE,
    allowed_dispositions,
    hold_by_hand,
    place_on_hold,
    propose_disposition,
    sign_disposition,
)
from records.deviations.models import Deviation, Hold
from records.flow.errors import DifferentContent, Refused, Several
from records.ledger.actions import act
from records.people.plans import plan_in_force
from records.recall import origins
from records.recall.data import ReturnData
from records.recall.models import ProductReturned
from records.recall.return_actions import amend_return, take_back
from records.recall.scope import Affected, scope
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.recall.made import a_day, sent

pytestmark = pytest.mark.django_db


def said(**changes: Any) -> ReturnData:
    """30 gal of WM 0303 back from the corner shop, ten minutes ago."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "code": "WM 0303", "consignee": "Corner shop",
        "returned_at": NOW - timedelta(minutes=10), "condition": "lids whole", "reason": "their cooler failed",
        "kept_where": "cage 2 of the cooler", "quantity_typed": "30", "unit": "gal", "temperature_typed": "52",
    }  # fmt: skip
    return ReturnData(**{**values, **changes})


def packs(**asked: Any) -> Affected:
    """The packs in scope of what was asked."""
    in_force, now = plan_in_force(clock.now()), clock.now()
    assert in_force is not None
    (found,) = scope(origins.begin(origins.Asked(**asked), in_force, now).start, in_force, now).packs
    return found


def decided(plant: Plant, row: ProductReturned, what: str) -> None:
    """Two people decide."""
    proposed = propose_disposition(plant.actor("wren"), Hold.objects.get(lot=row.part), what, "looked at")
    sign_disposition(plant.actor("odile"), proposed)


@pytest.fixture
def back(plant: Plant) -> ProductReturned:
    """150 gal made, 80 sent, 30 came back."""
    a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    return take_back(plant.actor("ines"), said())


def test_what_came_back_is_held_and_stays_in_its_first_lots_scope(plant: Plant, back: ProductReturned) -> None:
    """From its code, its hold and its farm: one lot, 50 out and 100 in house; the rest of the code is not held."""
    hold = Hold.objects.get()
    assert (hold.lot, hold.reason) == (back.part, "came back from Corner shop: their cooler failed")
    for asked in ({"code": "WM 0303"}, {"entry": hold.number}, {"lot": back.part}):
        found = packs(**asked)
        assert (found.lot, found.account.gone, found.account.in_house) == (back.lot, 50, 100)
        assert found.holds == () and [one.held for one in found.back] == [True]
    silo = {"source": "Nettle Farm", "since": NOW - 9 * HOUR, "until": NOW}
    assert packs(**silo).back == found.back


def test_it_leaves_again_only_after_two_people_decided(plant: Plant, back: ProductReturned) -> None:
    """70 gal are free beside it: 71 are refused, 70 leave; an unknown quantity too; after a release the rest."""
    ines = plant.actor("ines")
    now = {"leaves_now": True, "dispatched_at": NOW}
    with pytest.raises(Several, match="70 gal of WM 0303 are in house beside what came back"):
        sent(ines, "WM 0303", quantity_typed="71", **now)
    with pytest.raises(Several, match="count what leaves"):
        sent(ines, "WM 0303", quantity_typed="", unit="", **now)
    sent(ines, "WM 0303", quantity_typed="70", **now)
    with pytest.raises(Several, match="0 gal"):
        sent(ines, "WM 0303", quantity_typed="1", **now)
    assert not Deviation.objects.exists()
    sent(ines, "WM 0303", quantity_typed="2", dispatched_at=NOW)
    assert "beside what came back" in Deviation.objects.get().sentence
    decided(plant, back, RELEASE)
    sent(ines, "WM 0303", quantity_typed="28", **now)
    assert packs(code="WM 0303").account.in_house == 0


def test_what_was_destroyed_is_an_exit(plant: Plant, back: ProductReturned) -> None:
    """80 sent - 30 back + 70 in house + 30 destroyed = 150."""
    decided(plant, back, DESTROY)
    found = packs(code="WM 0303")
    assert (found.account.gone, found.account.in_house) == (80, 70)
    assert [one.ended for one in found.back] == [DESTROY]


def test_a_part_that_came_back_carries_the_bars_of_its_lot(plant: Plant) -> None:
    """Milk that missed pasteurization is not released because it came back."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    with act(plant.actor("ines")) as a:
        place_on_hold(
            a, lot=day["run"].target_lot, lot_label="Finished 1", vessel="finished-1", since_at=NOW - 5 * HOUR,
            reason="diverted too late", bars_release="pasteurization",
        )  # fmt: skip
    row = take_back(plant.actor("ines"), said())
    assert RELEASE not in allowed_dispositions(Hold.objects.get(lot=row.part))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"code": "WM 9999"}, "code"), ({"condition": " "}, "condition"), ({"kept_where": ""}, "kept_where"),
        ({"reason": ""}, "reason"), ({"temperature_typed": "warm"}, "temperature"),
        ({"temperature_typed": "520"}, "temperature"), ({"returned_at": NOW + HOUR}, "returned_at"),
        ({"returned_at": NOW - 6 * HOUR}, "returned_at"), ({"unit": ""}, "unit"),
    ],
)  # fmt: skip
def test_nonsense_is_refused_beside_its_field(plant: Plant, changes: dict[str, Any], field: str) -> None:
    a_day(plant)
    with pytest.raises(Refused) as refusal:
        take_back(plant.actor("ines"), said(**changes))
    assert refusal.value.field == field and not ProductReturned.objects.exists()


def test_an_amended_return_changes_the_account_and_lifts_nothing(plant: Plant, back: ProductReturned) -> None:
    """The same form twice is one row; counted anew; then it did not happen at all: the hold is for two people."""
    ines = plant.actor("ines")
    again = said(form_id=back.form_id)
    assert take_back(ines, again).number == back.number
    with pytest.raises(DifferentContent):
        take_back(ines, said(form_id=back.form_id, quantity_typed="31"))
    counted = amend_return(ines, back.number, said(quantity_typed="25"), "counted again")
    assert packs(code="WM 0303").account.in_house == 95
    gone = amend_return(ines, counted.number, said(), "another shop's", void=True)
    assert packs(code="WM 0303").account.in_house == 70 and gone.quantity == 25
    assert Hold.objects.get().lot == back.part and not Hold.objects.exclude(lot=back.part).exists()
    with pytest.raises(Refused):
        amend_return(ines, back.number, said(), "again")


def test_the_pages_of_a_return(plant: Plant, client_for: Callable[[Person], Client]) -> None:
    """Typed by the operator; the tub, the dispatches and the scope name it; the part leads to its first lot."""
    a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    client = client_for(plant.people.ines)
    body = {
        "form_id": str(uuid.uuid4()), "code": "WM 0303", "consignee": "Corner shop",
        "returned_at": "2026-03-03T09:20", "quantity": "30", "unit": "gal", "temperature": "52",
        "condition": "lids whole", "reason": "their cooler failed", "kept_where": "cage 2",
    }  # fmt: skip
    wrong = client.post("/returns/new/", body | {"temperature": "520"})
    assert wrong.status_code == 422 and "their cooler failed" in wrong.content.decode()
    address = client.post("/returns/new/?code=WM%200303", body)["Location"]
    row = ProductReturned.objects.get()
    page = client.get(address).content.decode()
    assert "two people" in page and "52 °F" in page and "cage 2" in page
    assert "30 gal" in client.get(f"{address}amend/").content.decode() or row.quantity_typed == "30"
    for other in ("/dispatch/", f"/tub/{row.lot}/", "/recall/scope/?code=WM+0303"):
        assert "Corner shop" in client.get(other).content.decode() and "on hold" in client.get(other).content.decode()
    assert client.get(f"/tub/{row.part}/")["Location"] == f"/tub/{row.lot}/"
    assert "30 gal Corner shop (on hold)" in client.get("/recall/scope.csv?code=WM+0303").content.decode()
    amended = {**body, "form_id": str(uuid.uuid4()), "amend_reason": "never came", "void": "on"}
    assert client.post(f"{address}amend/", amended).status_code == 302
    assert "did not happen" in client.get(f"/returns/{row.number}/").content.decode()


def test_a_hold_of_the_whole_code_is_one_of_what_came_back_too(plant: Plant, back: ProductReturned) -> None:
    """Released or not, nothing of a held code leaves."""
    hold_by_hand(
        plant.actor("wren"), lot=back.lot, lot_label="WM 0303", vessel="", since_at=NOW - HOUR, reason="short weight"
    )
    decided(plant, back, RELEASE)
    with pytest.raises(Several, match="short weight"):
        sent(plant.actor("ines"), "WM 0303", quantity_typed="1", leaves_now=True, dispatched_at=NOW)


def test_pages_say_what_two_people_decided(
    plant: Plant, back: ProductReturned, client_for: Callable[[Person], Client]
) -> None:
    """On the return's page and on the list: on hold, then what became of it, with the reason and both names."""
    client = client_for(plant.people.wren)
    pages = (f"/returns/{back.number}/", "/dispatch/")
    assert all("on hold" in client.get(page).content.decode() for page in pages)
    decided(plant, back, DESTROY)
    one, several = (client.get(page).content.decode() for page in pages)
    assert "<strong>destroy</strong>. looked at" in one and "Wren Castell, Odile Marsh" in one
    assert "<strong>destroy</strong>" in several
