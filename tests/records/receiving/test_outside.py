"""Raw milk that came in by a movement alone: refused beforehand, held afterwards, until its load has a result."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import ProductDef, Settings
from plant.people.models import Person
from records.deviations.errors import Refused
from records.deviations.holds import allowed_dispositions
from records.deviations.models import Deviation, Hold
from records.flow.actions import amend_movement
from records.flow.choices import OUTSIDE
from records.flow.errors import Several
from records.flow.models import Movement
from records.flow.queries import held_lots_at
from records.receiving import outside
from records.receiving.actions import link, unlink
from records.receiving.consequences import PENDING_BAR, RESIDUE_BAR
from records.receiving.data import LinkData
from records.receiving.models import UNLOADING, LoadEvent
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, moved, movement, ran
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.made import MINUTE, arrived, screened
from tests.records.receiving.test_loads import held

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """Silo A, Press 1 and Finished 1 ready an hour ago."""
    made_ready(plant.actor("tomas"), NOW - HOUR)
    return plant


def came(plant: Plant, **changes: object) -> Movement:
    """Raw milk by a movement alone, in the last half hour."""
    return moved(plant.actor("ines"), load=None, **changes)


def linked(plant: Plant, load: int, row: Movement) -> LoadEvent:
    """The movement said to be the load's."""
    return link(plant.actor("ines"), LinkData(uuid.uuid4(), load, row.number))


@pytest.mark.parametrize("from_where", ["Nettle Farm", "our own parlor", "cans of Oxbow Farm"])
def test_raw_milk_that_has_not_begun_to_flow_needs_a_load(silo: Plant, from_where: str) -> None:
    with pytest.raises(Several, match="belongs to a load"):
        came(silo, start_now=True, source_name=from_where)
    assert not Movement.objects.exists()


@pytest.mark.parametrize("from_where", ["Nettle Farm", "our own parlor", "cans of Oxbow Farm"])
def test_what_flowed_all_the_same_is_held_with_all_that_it_flows_into(silo: Plant, from_where: str) -> None:
    came(silo, source_name=from_where, started_at=NOW - 50 * MINUTE, ended_at=NOW - 40 * MINUTE)
    run = ran(silo.actor("ines"), started_at=NOW - 30 * MINUTE, ended_at=NOW - 10 * MINUTE)
    hold = Hold.objects.filter(bars_release=PENDING_BAR).get()
    assert hold.vessel == "silo-a" and "release" not in allowed_dispositions(hold)
    assert run.target_lot in held_lots_at(clock.now())  # by computation, through the press
    assert Deviation.objects.filter(subject="silo-a").exists()


def test_where_the_plan_waits_for_processing_only_the_hold_stands(plant: Plant) -> None:
    in_force(plant, small_plan(settings=Settings(unloads_on_pending=True)))
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    came(plant, started_at=clock.now(), ended_at=clock.now())
    assert held() == [(PENDING_BAR, False)] and not Deviation.objects.exists()


def test_other_product_from_outside_and_raw_milk_within_the_plant_wait_for_nothing(silo: Plant) -> None:
    came(silo, product="whole-milk", target="finished-1")
    assert not Hold.objects.filter(bars_release=PENDING_BAR).exists()


def test_its_load_with_a_result_ends_the_wait_once(silo: Plant) -> None:
    row = came(silo)
    load = arrived(silo.actor("ines"), happened_at=row.started_at, washed_at=None)
    screened(silo.actor("ines"), load)
    assert held() == [(PENDING_BAR, False)]  # nobody has said yet that they belong together
    told = linked(silo, load, row)
    assert held() == [(PENDING_BAR, True)]
    assert not outside.waiting()
    with pytest.raises(Refused, match="belongs to a load already"):
        linked(silo, load, row)
    assert [one.what for one in LoadEvent.objects.filter(run=load)][-2:] == [UNLOADING, "unloading ended"]
    assert told.happened_at == row.started_at


def test_a_load_linked_without_a_result_waits_until_its_own_screen(silo: Plant) -> None:
    row = came(silo)
    load = arrived(silo.actor("ines"), happened_at=row.started_at, washed_at=None)
    linked(silo, load, row)
    screened(silo.actor("ines"), load, negative_control="no")
    assert all(not lifted for _bar, lifted in held())
    screened(silo.actor("ines"), load)
    assert all(lifted for _bar, lifted in held())


def test_a_positive_load_linked_holds_for_good(silo: Plant) -> None:
    row = came(silo)
    load = arrived(silo.actor("ines"), happened_at=row.started_at, washed_at=None)
    screened(silo.actor("ines"), load, "found")
    linked(silo, load, row)
    assert [bar for bar, lifted in held() if not lifted] == [PENDING_BAR, RESIDUE_BAR]


def test_raw_milk_without_a_load_keeps_a_screened_load_in_the_same_silo_waiting(silo: Plant) -> None:
    ines = silo.actor("ines")
    row = came(silo)
    first = arrived(ines, happened_at=NOW, washed_at=None)
    other = moved(ines, load=None, started_at=NOW, ended_at=NOW, source_name="Oxbow Farm")
    linked(silo, first, other)
    screened(ines, first)
    assert held() == [(PENDING_BAR, False), (PENDING_BAR, False)]
    second = arrived(ines, happened_at=row.started_at, washed_at=None)
    screened(ines, second, happened_at=NOW)
    linked(silo, second, row)
    assert all(lifted for _bar, lifted in held())


def test_a_link_taken_back_waits_again(silo: Plant) -> None:
    row = came(silo)
    ines = silo.actor("ines")
    load = arrived(ines, happened_at=row.started_at, washed_at=None)
    screened(ines, load)
    told = linked(silo, load, row)
    form = uuid.uuid4()
    assert unlink(ines, told.number, form, "of the other tanker").number == unlink(
        ines, told.number, form, "of the other tanker"
    ).number
    assert [(bar, lifted) for bar, lifted in held()] == [(PENDING_BAR, True), (PENDING_BAR, False)]
    assert [one.row.number for one in outside.waiting()] == [row.number]
    linked(silo, load, row)
    assert all(lifted for _bar, lifted in held())


def test_amended_into_another_vessel_it_is_held_there_and_void_lifts_nothing(silo: Plant) -> None:
    ines = silo.actor("ines")
    row = came(silo)
    data = movement(started_at=row.started_at, ended_at=row.ended_at, target="finished-1")
    again = amend_movement(ines, row.number, data, "wrong tank")
    assert {one.vessel for one in Hold.objects.filter(bars_release=PENDING_BAR)} == {"silo-a", "finished-1"}
    amend_movement(ines, again.number, replace(data, form_id=uuid.uuid4()), "it was not so", void=True)
    waits = [(bar, lifted) for bar, lifted in held() if bar == PENDING_BAR]
    assert waits == [(PENDING_BAR, False)] * 2
    with pytest.raises(Refused, match="Somebody else"):
        outside.end_wait(silo.actor("ines", role="supervisor"), row.number, "I was wrong")
    with pytest.raises(Refused, match="supervisor"):
        outside.end_wait(silo.actor("tomas"), row.number, "looked")
    outside.end_wait(silo.actor("wren"), row.number, "Seen: the tanker never came.")
    assert all(lifted for bar, lifted in held() if bar == PENDING_BAR)


def test_what_came_in_has_its_wait_ended_by_no_signature(silo: Plant) -> None:
    row = came(silo)
    with pytest.raises(Refused, match="only the result"):
        outside.end_wait(silo.actor("wren"), row.number, "it is good milk")
    assert held() == [(PENDING_BAR, False)]


@pytest.mark.once
def test_the_movement_form_leads_to_the_load_and_back(silo: Plant, client_for: Browser) -> None:
    """What was typed is carried to the load's paper; said to have happened alone it is kept and listed as waiting."""
    ines = client_for(silo.people.ines)
    typed = {
        "form_id": str(uuid.uuid4()), "source": OUTSIDE, "source_name": "Nettle Farm", "target": "silo-a",
        "target_name": "", "via": "", "product": "raw-milk", "started_at": local(NOW - 30 * MINUTE),
        "ended_at": local(NOW), "quantity": "4300", "unit": "lb", "uncertainty": "", "measured_by": "mass",
        "code": "", "note": "late",
    }  # fmt: skip
    asked = ines.post(reverse("records:movement-new"), typed)
    assert asked.status_code == 422 and "comes as a load" in asked.content.decode()
    assert 'name="to_load"' in asked.content.decode() and not Movement.objects.exists()
    for button in ("begins_now", "to_load"):
        to_load = ines.post(reverse("records:movement-new"), typed | {button: "1"})
        assert to_load.status_code == 302 and not Movement.objects.exists()
    paper = ines.get(to_load["Location"]).content.decode()
    assert 'value="4300"' in paper and 'value="Nettle Farm"' in paper and "unloading from" in paper
    assert ines.post(reverse("records:movement-new"), typed | {"as_typed": "on"}).status_code == 302
    row = Movement.objects.get()
    assert "Raw milk without a load" in ines.get(reverse("records:receiving")).content.decode()
    page = ines.get(reverse("records:load-of-movement", args=[row.number])).content.decode()
    assert "Its load is not in the book yet" in page
    load = arrived(silo.actor("ines"), happened_at=row.started_at, washed_at=None)
    screened(silo.actor("ines"), load)
    chosen = {"form_id": str(uuid.uuid4()), "run": str(load), "words": ""}
    assert ines.post(reverse("records:load-of-movement", args=[row.number]), chosen).status_code == 302
    assert held() == [(PENDING_BAR, True)]
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    event = LoadEvent.objects.get(what=UNLOADING)
    assert reverse("records:load-unlink", args=[event.number]) in page
    why = {"form_id": str(uuid.uuid4()), "reason": "of the other tanker"}
    assert ines.post(reverse("records:load-unlink", args=[event.number]), why).status_code == 302
    assert held() == [(PENDING_BAR, True), (PENDING_BAR, False)]


RAW_VESSEL, OTHER_VESSEL = "silo-a", "finished-1"
CREAM = ProductDef("cream-40", "Cream 40", "cream", "raised", "40", ("milk",), is_sold=False)
SOLD_CREAM = ProductDef("table-cream", "Table cream", "cream", "raised", "20", ("milk",))
CONDENSED = ProductDef("condensed", "Condensed skim", "other", "raised", "", ("milk",), is_sold=False)
SUGAR = ProductDef("sugar-syrup", "Sugar syrup", "other", "raised", "", (), is_sold=False)


@pytest.mark.parametrize(
    ("product", "target", "waits"),
    [
        (CREAM, RAW_VESSEL, True),
        (CREAM, OTHER_VESSEL, True),  # never sold as it is: raw wherever it goes
        (SOLD_CREAM, RAW_VESSEL, True),  # in a vessel of raw product it is raw
        (SOLD_CREAM, OTHER_VESSEL, False),
        (CONDENSED, RAW_VESSEL, True),
        (CONDENSED, OTHER_VESSEL, False),
        (SUGAR, RAW_VESSEL, False),
    ],
    ids=lambda one: getattr(one, "code", str(one)),
)
def test_bought_raw_product_waits_by_the_plans_data(
    silo: Plant, product: ProductDef, target: str, waits: bool
) -> None:
    """Raw cream, skim and condensed from outside wait as raw milk does; no name decides it."""
    plan = small_plan()
    in_force(silo, replace(plan, products=(*plan.products, product)))
    silo.at(clock.now() + MINUTE)
    came(silo, product=product.code, target=target, started_at=clock.now(), ended_at=clock.now())
    assert Hold.objects.filter(bars_release=PENDING_BAR).exists() is waits
    assert [one.row.product for one in outside.waiting()] == [product.code] * waits
    if waits and target == RAW_VESSEL:
        load = arrived(silo.actor("ines"), product=product.code, washed_at=None)
        known = LoadEvent.objects.get(number=load).gallons is not None
        assert known is (product.family != "other")  # condensed is known by its tests alone


def test_many_that_wait_ask_as_many_queries_as_one(silo: Plant, django_assert_num_queries: Callable[..., Any]) -> None:
    """Amended twice or not, of one lot: the number of queries does not grow with what waits."""
    came(silo, started_at=NOW - 50 * MINUTE, ended_at=NOW - 45 * MINUTE)
    with CaptureQueriesContext(connection) as one:
        assert len(outside.waiting()) == 1
    for minutes in (40, 30, 20):
        row = came(silo, started_at=NOW - minutes * MINUTE, ended_at=NOW - (minutes - 5) * MINUTE)
        for typed in ("400", "450"):
            data = movement(
                started_at=NOW - minutes * MINUTE, ended_at=NOW - (minutes - 5) * MINUTE, quantity_typed=typed
            )
            row = amend_movement(silo.actor("ines"), row.number, data, "read again")
    with django_assert_num_queries(len(one)):
        found = outside.waiting()
    assert len(found) == 4 and len(one) <= 9
    assert [each.row.quantity_typed for each in found] == ["450", "450", "450", "500"]
    for each in found:  # as each of them says by itself
        alone = outside.waiting_of(each.row.number)
        assert alone is not None and (alone.root, alone.holds) == (each.root, each.holds)


@pytest.mark.once
def test_the_month_names_what_no_load_brought(silo: Plant, client_for: Browser) -> None:
    row = came(silo, source_name="cans of Oxbow Farm")
    screened(silo.actor("ines"), arrived(silo.actor("ines")))
    browser = client_for(silo.people.wren)
    month = reverse("records:receiving-month")
    page = browser.get(month + "?month=2026-03").content.decode()
    assert "Raw milk without a load" in page and reverse("records:movement", args=[row.number]) in page
    assert "Each has a result that counts." not in page
    assert f"load of movement {row.number}" in browser.get(month + "?month=2026-03&as=csv").content.decode()
    before = browser.get(month + "?month=2026-02").content.decode()
    assert "Raw milk without a load" not in before


@pytest.mark.once
def test_it_is_a_load_stands_apart_from_what_records(silo: Plant, client_for: Browser) -> None:
    """The way to the load comes before the fields, the button that records after them."""
    typed = {
        "form_id": str(uuid.uuid4()), "source": OUTSIDE, "source_name": "Nettle Farm", "target": "silo-a",
        "target_name": "", "via": "", "product": "raw-milk", "started_at": local(NOW - 30 * MINUTE),
        "ended_at": local(NOW), "quantity": "4300", "unit": "lb", "uncertainty": "", "measured_by": "mass",
        "code": "", "note": "",
    }  # fmt: skip
    page = client_for(silo.people.ines).post(reverse("records:movement-new"), typed).content.decode()
    assert page.index('name="to_load"') < page.index('name="source_name"') < page.index('name="begins_now"')
