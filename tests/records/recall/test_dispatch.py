"""Dispatch: what is on hold may not leave; what left anyway is kept with its consequence, at once or when found out."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from uuid import UUID

import pytest
from django.test import Client

from plant.people.models import Person
from records.deviations.holds import hold_by_hand
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.actions import amend_movement
from records.flow.errors import DifferentContent, Refused, Several
from records.flow.models import Movement
from records.people.plans import plan_in_force
from records.recall import origins, watch
from records.recall.actions import amend_dispatch, dispatch
from records.recall.data import DispatchData
from records.recall.models import Dispatch
from records.recall.scope import scope
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, movement
from tests.records.recall.made import a_day, packed, sent

Browser = Callable[[Person], Client]


def held(plant: Plant, lot: UUID | None) -> Hold:
    """A lot held by hand."""
    assert lot is not None
    return hold_by_hand(
        plant.actor("wren"), lot=lot, lot_label="lot", vessel="", since_at=NOW - 9 * HOUR, reason="odd smell"
    )


def data(**changes: object) -> DispatchData:
    """80 gal to a shop, now."""
    values = {
        "form_id": uuid.uuid4(), "code": "WM 0303", "consignee": "Corner shop", "dispatched_at": NOW,
        "address": "1 Mill Lane", "quantity_typed": "80", "unit": "gal", "leaves_now": True,
    }  # fmt: skip
    return DispatchData(**{**values, **changes})  # type: ignore[arg-type]


def test_what_is_held_through_its_silo_may_not_leave_and_is_kept_when_it_has(plant: Plant) -> None:
    """Refused beforehand with its reason, and nothing is written; recorded afterwards it opens a deviation, once."""
    day = a_day(plant)
    held(plant, day["nettle"].target_lot)
    said = data()
    with pytest.raises(Several) as refusal:
        dispatch(plant.actor("ines"), said)
    assert refusal.value.sentences == ["WM 0303 is on hold: odd smell"] and not Dispatch.objects.exists()
    left = replace(said, leaves_now=False)
    row = dispatch(plant.actor("ines"), left)
    assert dispatch(plant.actor("ines"), left).number == row.number
    cause = DeviationCause.objects.get(cause_number=row.number)
    assert cause.sentence == "WM 0303 went to Corner shop and is on hold: odd smell"
    assert not watch.look(again=True)["dispatched and held"]


def test_a_scope_begins_from_the_deviation_of_what_left(plant: Plant) -> None:
    """It is of no place: its scope is that of the code that left."""
    day = a_day(plant)
    held(plant, day["nettle"].target_lot)
    row = dispatch(plant.actor("ines"), data(leaves_now=False))
    deviation = Deviation.objects.get(number=DeviationCause.objects.get(cause_number=row.number).deviation)
    in_force = plan_in_force(NOW)
    assert in_force is not None
    begun = origins.begin(origins.Asked(entry=deviation.number), in_force, NOW)
    assert [one.lot for one in scope(begun.start, in_force, NOW).packs] == [row.lot]


def test_a_hold_that_comes_later_finds_what_left(plant: Plant) -> None:
    """The watch opens the deviation once; another pass finds nothing new."""
    day = a_day(plant)
    row = sent(plant.actor("ines"), "WM 0303")
    assert not Deviation.objects.exists()
    held(plant, day["packs"].target_lot)
    assert watch.look(again=True)["dispatched and held"] == 1
    assert watch.look(again=True)["dispatched and held"] == 0
    assert DeviationCause.objects.filter(cause_number=row.number).count() == 1


def test_an_amendment_that_brings_held_product_into_what_left_opens_a_deviation(plant: Plant) -> None:
    """The hour of a packing was typed wrong: it was before anything held came into the tank, and then after it."""
    ines = plant.actor("ines")
    day = a_day(plant)
    held(plant, day["nettle"].target_lot)
    cream = packed(ines, "CR 0303", started_at=NOW - 3 * HOUR, quantity_typed="20")
    elsewhere = movement(
        source="finished-1", source_name="", target="", target_name="packed", code="CR 0303", product="whole-milk",
        started_at=NOW - 3 * HOUR, quantity_typed="20",
    )  # fmt: skip
    amend_movement(
        plant.actor("wren"), cream.number, replace(elsewhere, started_at=NOW - 7 * HOUR, ended_at=NOW - 6.5 * HOUR),
        "typed the wrong hour",
    )  # fmt: skip
    first = Deviation.objects.count()
    sent(ines, "CR 0303")
    assert Deviation.objects.count() == first and not watch.look(again=True)["dispatched and held"]
    amended = Movement.objects.get(amends=cream.number)
    amend_movement(plant.actor("wren"), amended.number, replace(elsewhere, form_id=uuid.uuid4()), "the first hour")
    assert watch.look(again=True)["dispatched and held"] == 1


def test_an_amendment_is_a_successor_and_one_form_is_one_row(plant: Plant) -> None:
    """The old row stays; other content under the same form is refused; nonsense is refused beside its field."""
    a_day(plant)
    ines = plant.actor("ines")
    said = data(leaves_now=False)
    row = dispatch(ines, said)
    with pytest.raises(DifferentContent):
        dispatch(ines, replace(said, consignee="Other shop"))
    for change, field in (
        ({"code": "nothing"}, "code"), ({"consignee": " "}, "consignee"), ({"quantity_typed": "a"}, "quantity"),
        ({"dispatched_at": NOW + HOUR}, "dispatched_at"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refusal:
            dispatch(ines, data(leaves_now=False, **change))
        assert refusal.value.field == field
    newer = amend_dispatch(ines, row.number, data(consignee="Other shop"), "wrong shop")
    assert newer.amends == row.number and Dispatch.objects.count() == 2
    with pytest.raises(Refused):
        amend_dispatch(ines, row.number, data(), "again")
    void = amend_dispatch(ines, newer.number, data(), "did not leave", void=True)
    assert void.void and void.consignee == "Other shop"


def test_the_pages(plant: Plant, client_for: Browser) -> None:
    """A refused form keeps what was typed; the list and the row show hold and amendments."""
    day = a_day(plant)
    held(plant, day["packs"].target_lot)
    client = client_for(plant.people.ines)
    body = {
        "form_id": str(uuid.uuid4()), "code": "WM 0303", "consignee": "Corner shop", "address": "1 Mill Lane",
        "dispatched_at": "2026-03-03T09:00", "quantity": "80", "unit": "gal", "begins_now": "1",
    }  # fmt: skip
    page = client.post("/dispatch/new/", body)
    assert page.status_code == 422 and "WM 0303 is on hold: odd smell" in page.content.decode()
    assert "1 Mill Lane" in page.content.decode()
    assert "It is on hold and may not leave:" in client.get("/dispatch/new/?code=WM 0303").content.decode()
    del body["begins_now"]
    answer = client.post("/dispatch/new/", body, follow=True)
    assert "went to Corner shop and is on hold" in answer.content.decode()
    assert "on hold: odd smell" in client.get("/dispatch/").content.decode()
    number = Dispatch.objects.get().number
    amended = client.post(
        f"/dispatch/{number}/amend/", body | {"form_id": str(uuid.uuid4()), "consignee": "Other shop", "reason": "slip"}
    )
    assert amended.status_code == 302
    assert "<s>" in client.get(f"/dispatch/{number}/").content.decode()
