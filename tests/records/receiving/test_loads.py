"""A load: its paper, its screen, unloading before and after a result, a positive, amendments."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import Settings
from plant.people.models import Person
from plant.process.residue import Residue
from records.deviations import queries as deviations
from records.deviations.errors import Refused
from records.deviations.holds import allowed_dispositions
from records.deviations.models import Deviation, Hold, HoldLift
from records.flow.actions import DifferentContent
from records.flow.common import plan_at
from records.flow.errors import Several
from records.flow.models import Movement, MovementEnd
from records.flow.queries import contents_at
from records.receiving import state
from records.receiving.actions import amend, arrive, say, screen, unloaded
from records.receiving.consequences import PENDING_BAR, RESIDUE_BAR
from records.receiving.data import SayData, UnloadedData
from records.receiving.models import REGULATOR_TOLD, LoadEvent
from records.run_rows.queries import run_of
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready, moved
from tests.records.receiving.made import MINUTE, arrival, arrived, screened, test_of, unloading

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """Silo A washed and sanitized."""
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    return plant


def residue(load: int) -> Residue:
    """What is known of a load now."""
    found = run_of(LoadEvent, load)
    assert found is not None
    return state.residue_at(found, clock.now())


def held() -> list[tuple[str, bool]]:
    """(bar, lifted) of every hold."""
    lifted = set(HoldLift.objects.values_list("hold", flat=True))
    return [(one.bars_release, one.number in lifted) for one in Hold.objects.order_by("number")]


def test_a_load_is_screened_unloaded_and_its_pounds_are_the_tickets(silo: Plant) -> None:
    """12,900 lb at the trade's 8.6 lb/gal are 1,500 gal (common practice)."""
    ines = silo.actor("ines")
    load = arrived(ines)
    row = LoadEvent.objects.get(number=load)
    assert (row.pounds, row.gallons) == (12900, 1500)
    screened(ines, load)
    unloading(ines, load, begins_now=True)
    silo.at(NOW + 35 * MINUTE)
    unloaded(ines, UnloadedData(uuid.uuid4(), load, clock.now()))
    end = MovementEnd.objects.get()
    assert (end.quantity_typed, end.unit, end.measured_by) == ("12900", "lb", "mass")
    assert contents_at(clock.now(), ["silo-a"])["silo-a"].quantity == 1500
    assert Movement.objects.get().source_name == "Nettle Farm"
    assert not Hold.objects.exists() and not Deviation.objects.exists()


def test_unloading_without_a_result_is_refused_beforehand(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines)
    with pytest.raises(Several, match="before unloading"):
        unloading(ines, load, begins_now=True)
    screened(ines, load, negative_control="no")
    with pytest.raises(Several, match="no result that counts"):
        unloading(ines, load, begins_now=True)
    assert not Movement.objects.exists()


def test_what_was_unloaded_without_one_is_held_until_the_result_itself_ends_it(silo: Plant) -> None:
    """The vessel and what it flows into wait; no person's signature but the result ends the wait."""
    ines = silo.actor("ines")
    load = arrived(ines)
    unloading(ines, load)
    assert held() == [(PENDING_BAR, False)]
    assert Deviation.objects.count() == 1  # the plan wanted it before
    hold = Hold.objects.get()
    assert "release" not in allowed_dispositions(hold)
    screened(ines, load, positive_control="no")
    assert held() == [(PENDING_BAR, False)]
    screened(ines, load)
    assert held() == [(PENDING_BAR, True)]
    assert not deviations.open_holds_of(hold.lot).exists() and not deviations.is_closed(Deviation.objects.get().number)


def test_where_the_plan_asks_before_processing_only_the_hold_stands(plant: Plant) -> None:
    in_force(plant, small_plan(settings=Settings(unloads_on_pending=True)))
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    ines = plant.actor("ines")
    load = arrived(ines)
    unloading(ines, load, begins_now=True)
    assert held() == [(PENDING_BAR, False)] and not Deviation.objects.exists()
    with pytest.raises(Several, match="on hold"):
        moved(ines, source="silo-a", source_name="", target="finished-1", via="press-1", product="whole-milk",
              start_now=True)  # fmt: skip


def test_another_load_without_a_result_in_the_same_silo_keeps_it_waiting(silo: Plant) -> None:
    ines = silo.actor("ines")
    one, two = arrived(ines), arrived(ines, ticket="4472", tanker="T-13", sample="S-2")
    unloading(ines, one)
    unloading(ines, two)
    screened(ines, one)
    assert not any(lifted for _bar, lifted in held())
    screened(ines, two, sample="S-2")
    assert all(lifted for _bar, lifted in held())


def test_a_positive_holds_for_good_and_walks_through_its_steps(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines)
    screened(ines, load)
    unloading(ines, load)
    screened(ines, load, "found", stage="repeat")
    assert residue(load) is Residue.PRESUMPTIVE
    assert held() == [(RESIDUE_BAR, False)]
    assert allowed_dispositions(Hold.objects.get()) == ("destroy", "as the regulator wrote")
    for _again in range(2):
        screened(ines, load)
    assert held() == [(RESIDUE_BAR, False)] and residue(load) is Residue.PRESUMPTIVE
    found = run_of(LoadEvent, load)
    assert found is not None
    assert [one.what for one in state.steps(found) if one.row is None][0] == REGULATOR_TOLD
    say(ines, SayData(uuid.uuid4(), load, REGULATOR_TOLD, clock.now(), "the inspector", "Destroy it; a letter comes."))
    found = run_of(LoadEvent, load)
    assert found is not None and REGULATOR_TOLD not in state.missing(found)


def test_a_positive_at_the_bay_is_a_deviation_and_refuses_unloading(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines)
    screened(ines, load, "found")
    assert Deviation.objects.get().subject == f"load {load}" and not Hold.objects.exists()
    with pytest.raises(Several, match="Nothing of this load can be processed"):
        unloading(ines, load, begins_now=True)
    unloading(ines, load)  # it was done all the same
    assert held() == [(RESIDUE_BAR, False)] and Deviation.objects.count() == 1


def test_an_amended_result_that_is_better_lifts_nothing_and_a_worse_one_holds(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines)
    unloading(ines, load)
    bad = screened(ines, load, positive_control="no")
    amend(ines, bad.number, test_of(load), "the control was right")
    assert residue(load) is Residue.NOT_FOUND and held() == [(PENDING_BAR, False)]
    good = screened(ines, load)
    assert held() == [(PENDING_BAR, True)]
    amend(ines, good.number, test_of(load, "found"), "read wrongly")
    assert [bar for bar, lifted in held() if not lifted] == [RESIDUE_BAR]


def test_the_same_form_answers_as_the_first_time_and_other_content_is_refused(silo: Plant) -> None:
    ines = silo.actor("ines")
    data = arrival()
    assert arrive(ines, data).number == arrive(ines, data).number
    with pytest.raises(DifferentContent):
        arrive(ines, replace(data, ticket="9"))
    load = LoadEvent.objects.get().number
    test = test_of(load)
    assert screen(ines, test).number == screen(ines, test).number
    assert LoadEvent.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"place": "finished-1"}, "place"),
        ({"product": "whole"}, "product"),
        ({"pounds": "0"}, "pounds"),
        ({"pounds": "12,9"}, "pounds"),
        ({"farms": []}, "farms"),
        ({"farms": [("", "12")]}, "farms"),
        ({"farms": [("Nettle Farm", "1"), ("nettle farm", "2")]}, "farms"),
        ({"tanker": ""}, "tanker"),
        ({"washed_at": NOW + 60 * MINUTE}, "washed_at"),
        ({"looks": "fine"}, "looks"),
    ],
)
def test_nonsense_is_refused_beside_its_field(silo: Plant, changes: dict[str, object], field: str) -> None:
    with pytest.raises(Refused) as refused:
        arrived(silo.actor("ines"), **changes)
    assert refused.value.field == field and not LoadEvent.objects.exists()


def test_a_confirmation_wants_a_certified_analyst(silo: Plant) -> None:
    load = arrived(silo.actor("ines"))
    with pytest.raises(Refused, match="certified"):
        screened(silo.actor("ines"), load, "found", stage="confirmation")




@pytest.mark.parametrize(
    ("changes", "pounds", "gallons", "said"),
    [
        ({}, "8600", "1000", "about 1000 gal at 8.6 lb/gal"),
        ({"family": "cream", "fat_percent": "40"}, "8400", "1001.2", "gal at 8.39 lb/gal"),
        ({"fat_percent": "36.6"}, "8412", "1000", "gal at 8.41 lb/gal"),  # raw cream that the plan has among raw milk
        ({"family": "other"}, "9200", None, ""),  # condensed: known by its tests alone
    ],
)
def test_the_tickets_gallons_are_by_the_density_of_the_product(
    plant: Plant, client_for: Any, changes: dict[str, str], pounds: str, gallons: str | None, said: str
) -> None:
    """The trade's 8.6 lb/gal for milk, the plan's fat for cream; what has no kind is given none."""
    plan = small_plan()
    raw = next(one for one in plan.products if one.code == "raw-milk")
    in_force(plant, replace(plan, products=(*plan.products, replace(raw, code="bought", name="Bought", **changes))))
    made_ready(plant.actor("tomas"), clock.now())
    number = arrived(plant.actor("ines"), product="bought", pounds=pounds, farms=[("Nettle Farm", pounds)])
    found = LoadEvent.objects.get(number=number).gallons
    assert found == (None if gallons is None else Decimal(gallons))
    page = client_for(plant.people.ines).get(reverse("records:load", args=[number])).content.decode()
    assert said in page and "E+" not in page.split("By the ticket")[1].split("</dd>")[0]


LAST_DAY = date(2026, 3, 4)


@pytest.mark.parametrize(
    ("zone", "day", "at", "result"),
    [
        ("America/Chicago", LAST_DAY, time(23, 30), Residue.NOT_FOUND),  # the 5th by UTC
        ("America/Chicago", LAST_DAY + DAY, time(0, 10), Residue.PENDING),
        ("Europe/Madrid", LAST_DAY, time(0, 10), Residue.NOT_FOUND),
        ("Europe/Madrid", LAST_DAY + DAY, time(0, 10), Residue.PENDING),  # still the 4th by UTC
        ("Europe/Madrid", LAST_DAY + 3 * DAY, time(12), Residue.PENDING),
    ],
)
def test_a_kits_last_day_is_the_plants_own(plant: Plant, zone: str, day: date, at: time, result: Residue) -> None:
    """A test counts through the last day of its kit by the plant's clocks, not by those of UTC."""
    plan = small_plan()
    if plan.plant.time_zone != zone:
        in_force(plant, replace(plan, plant=replace(plan.plant, time_zone=zone)))
    plant.at(datetime.combine(day, at, ZoneInfo(zone)).astimezone(UTC))
    load = arrived(plant.actor("ines"))
    screened(plant.actor("ines"), load, kit_expires=LAST_DAY)
    assert residue(load) == result
    found = run_of(LoadEvent, load)
    assert found is not None and state.residue_at(found, clock.now(), plan_at(clock.now())) == result


def test_a_kits_last_day_asks_no_query_for_each_load_of_a_list(
    silo: Plant, client_for: Callable[[Person], Client]
) -> None:
    """The list and the month, with one load on its kit's last day and with three."""
    ines = silo.actor("ines")
    browser = client_for(silo.people.ines)
    counts = []
    for tanker in ("T-1", "T-2", "T-3"):
        screened(ines, arrived(ines, tanker=tanker), kit_expires=NOW.date())
        for name in ("receiving", "receiving-month"):
            with CaptureQueriesContext(connection) as asked:
                assert browser.get(reverse(f"records:{name}")).status_code == 200
            counts.append(len(asked))
    assert counts[2:4] == counts[4:]
