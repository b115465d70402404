"""Each farm's milk at pick-up: judged by the rule set, a deviation of the load, a hold of what it was unloaded into."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import LimitDef, Settings
from plant.people.models import Person
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.deviations.holds import DESTROY, OTHER_USE, RELEASE, propose_disposition, sign_disposition
from records.deviations.models import Deviation, Hold
from records.deviations.queries import open_holds
from records.flow.actions import LevelData, see_level
from records.flow.common import plan_at
from records.flow.errors import Several
from records.ledger.actions import act
from records.receiving.actions import amend, unloaded
from records.receiving.data import Pickup, UnloadedData
from records.receiving.farms import out_of_limits
from records.receiving.models import LoadEvent
from records.receiving.pickups import untold
from records.receiving.watch import look
from records.run_rows.queries import run_of
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, ran
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.made import MINUTE, arrival, arrived, screened, unloading
from tests.records.receiving.test_pages import arrival as typed

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db
TWO = [("Nettle Farm", "8000"), ("Oxbow Farm", "4900")]


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """Silo A ready."""
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    return plant


def picked(
    temperature: str, hours_before: float = 5, after_milking: float | None = None, after_start: float | None = None
) -> Pickup:
    """A pick-up so many hours before now, so many after the end of milking, and after a first milking's start."""
    at = clock.now() - hours_before * HOUR
    ended, began = (None if one is None else at - one * HOUR for one in (after_milking, after_start))
    return Pickup(temperature, at, ended, began)


@pytest.mark.parametrize(
    ("pickup", "wrong"),
    [
        (("39",), ""),
        (("45",), ""),
        (("47", 5, 1.5), ""),
        (("47", 5, 2.5), "47 °F at pick-up; 45 °F within 2 h"),
        (("47",), "not shown to be within 2 h"),
        (("51", 5, 1), "never a blend over 50 °F"),
        (("",), ""),
        (("60", 5, 1, 3.9), ""),
        (("60", 5, 1, 4.1), "50 °F within 4 h of its start and 45 °F within 2 h of its end"),
        (("60", 5, 2.5, 3.9), "of a first milking"),
        (("60", 5, None, 3), "of a first milking"),
        (("60", 5, None, 1.9), ""),
        (("47", 5, None, 1.9), ""),
        (("47", 5, None, 3), "of a first milking"),
    ],
)
def test_a_farms_milk_is_judged_at_its_pickup(silo: Plant, pickup: Any, wrong: str) -> None:
    """One of two farms: PMO Table 1, said with the farm's name; the load can always be recorded."""
    number = arrived(silo.actor("ines"), farms=TWO, pickups=[picked("38"), picked(*pickup)])
    found = [one.sentence for one in Deviation.objects.all()]
    assert len(found) == bool(wrong)
    for sentence in found:
        assert "Oxbow Farm: " in sentence and wrong in sentence and "PMO Table 1" in sentence
        assert "Nettle Farm" not in sentence
    assert LoadEvent.objects.get(number=number).farms[0]["temperature"] == "38"


def test_unloading_is_refused_beforehand_and_held_afterwards(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    with pytest.raises(Several, match="51 °F at pick-up"):
        unloading(ines, load, begins_now=True)
    assert [one.vessel for one in Hold.objects.all()] == [""]  # the load itself, while no tank has its milk
    unloading(ines, load)
    hold = Hold.objects.exclude(vessel="").get()
    assert hold.vessel == "silo-a" and hold.deviation == Deviation.objects.get(subject=f"load {load}").number


def test_an_amendment_for_the_worse_holds_and_one_for_the_better_closes_nothing(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("40")])
    screened(ines, load)
    unloading(ines, load)
    assert not Hold.objects.exists()
    first = LoadEvent.objects.get(number=load)
    worse = arrival(happened_at=first.happened_at, pickups=[picked("54")])
    row = amend(ines, load, worse, "the slip says 54")
    assert Hold.objects.count() == 1 and Deviation.objects.get().sentence.count("54 °F") == 1
    better = replace(worse, form_id=uuid.uuid4(), pickups=[picked("44")])
    amend(ines, row.number, better, "44 after all")
    assert Hold.objects.count() == 1 and Deviation.objects.count() == 1


def own_limit(high: str) -> LimitDef:
    """A limit of the plan on the row of two hours."""
    return LimitDef(
        "farm-own", "product temperature", "PMO Table 1", "state mirror", unit="°F", high=high, rule="farm-2h"
    )


def test_a_stricter_limit_of_the_plan_counts(silo: Plant) -> None:
    """42 °F is out by 40 °F."""
    plan = small_plan()
    in_force(silo, replace(plan, limits=(*plan.limits, own_limit("40"))))
    silo.at(clock.now() + MINUTE)
    arrived(silo.actor("ines"), pickups=[picked("42", 5, 3)])
    assert "40 °F within 2 h" in Deviation.objects.get().sentence


def test_a_laxer_limit_of_the_plan_does_not(silo: Plant) -> None:
    """60 °F in the plan, whoever confirmed it: 48 °F is out by the rule set's 45 °F."""
    load = arrived(silo.actor("ines"), pickups=[picked("48", 5, 3)])
    found = plan_at(clock.now())
    lax = replace(found, plan=replace(found.plan, limits=(*found.plan.limits, own_limit("60"))))
    row = LoadEvent.objects.get(number=load)
    assert out_of_limits(row, lax) == out_of_limits(row, found)
    assert "45 °F within 2 h" in out_of_limits(row, lax)[0]


@pytest.mark.parametrize(
    ("pickup", "field"),
    [
        (Pickup("380"), "farm_temperature_1"),
        (Pickup("-5"), "farm_temperature_1"),
        (Pickup("38", NOW + HOUR), "farm_picked_up_1"),
        (Pickup("38", NOW - HOUR, NOW - HOUR / 2), "farm_milking_ended_1"),
        (Pickup("38", NOW - HOUR, NOW - 3 * HOUR, NOW - 2 * HOUR), "farm_first_milking_1"),
        (Pickup("38", collected="weekly"), "farm_collected_1"),
    ],
)
def test_nonsense_is_refused_beside_its_field(silo: Plant, pickup: Pickup, field: str) -> None:
    with pytest.raises(Refused) as refused:
        arrived(silo.actor("ines"), pickups=[pickup])
    assert refused.value.field == field and not LoadEvent.objects.exists()


# --- hours since pick-up, the plan's own rule


@pytest.mark.parametrize(
    ("pickup", "wrong"),
    [
        (Pickup("38", NOW - 47 * HOUR), ""),
        (Pickup("38", NOW - 50 * HOUR), "picked up 50.1 h before; the plan allows 48 h"),
        (Pickup("38"), "nobody wrote when it was picked up"),
    ],
)
def test_hours_since_pickup_are_judged_where_the_plan_says_how_many(silo: Plant, pickup: Pickup, wrong: str) -> None:
    """The small plan says nothing of it; with 48 h what is longer, or not known, is a deviation of the plan's rule."""
    arrived(silo.actor("ines"), pickups=[pickup])
    assert not Deviation.objects.exists()
    in_force(silo, small_plan(settings=Settings(pickup_h=48)))
    arrived(silo.actor("ines"), pickups=[pickup])
    found = [(one.cause, one.sentence) for one in Deviation.objects.all()]
    assert len(found) == bool(wrong)
    for cause, sentence in found:
        assert cause == "not met" and wrong in sentence and "the plan's own rule" in sentence


# --- what two people decide


def decided(silo: Plant, hold: Hold, what: str) -> None:
    """Proposed by the supervisor, signed by the qualified individual."""
    said = propose_disposition(silo.actor("wren", "supervisor"), hold, what, "smelled, tasted, read again")
    sign_disposition(silo.actor("odile", "qualified individual"), said)


def test_a_release_by_two_people_lets_a_warm_load_be_unloaded(silo: Plant) -> None:
    """Its hold is the load's own; released, nothing bars it and its tank is not held again."""
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    decided(silo, Hold.objects.get(), RELEASE)
    silo.at(clock.now() + MINUTE)
    unloading(ines, load, begins_now=True)
    assert Hold.objects.count() == 1 and Deviation.objects.count() == 1


@pytest.mark.parametrize("what", [DESTROY, OTHER_USE])
def test_another_disposition_lifts_no_bar(silo: Plant, what: str) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    decided(silo, Hold.objects.get(), what)
    with pytest.raises(Several, match="51 °F at pick-up"):
        unloading(ines, load, begins_now=True)


def test_an_amended_slip_lifts_no_hold(silo: Plant) -> None:
    """51 °F, on hold; 'the slip says 44': barred until two people decide; unloaded, it is held there."""
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    first = LoadEvent.objects.get(number=load)
    row = amend(ines, load, arrival(happened_at=first.happened_at, pickups=[picked("44", 5, 1)]), "the slip says 44")
    with pytest.raises(Several, match="The load is on hold"):
        unloading(ines, load, begins_now=True)
    decided(silo, Hold.objects.get(), DESTROY)
    silo.at(clock.now() + MINUTE)
    with pytest.raises(Several, match="The load is not released; signed was: destroy"):
        unloading(ines, load, begins_now=True)
    unloading(ines, load)
    assert Hold.objects.get(vessel="silo-a").deviation == Deviation.objects.get(subject=f"load {load}").number
    assert row.amends == load


def test_what_was_proposed_before_a_worse_fact_decides_nothing(silo: Plant) -> None:
    """Proposed at 51 °F, the slip then says 60, and the old proposal is signed."""
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    said = propose_disposition(silo.actor("wren", "supervisor"), Hold.objects.get(), RELEASE, "read again")
    first = LoadEvent.objects.get(number=load)
    amend(ines, load, arrival(happened_at=first.happened_at, pickups=[picked("60")]), "the slip says 60")
    sign_disposition(silo.actor("odile", "qualified individual"), said)
    with pytest.raises(Several, match="60 °F at pick-up"):
        unloading(ines, load, begins_now=True)


def test_one_signature_lifts_no_bar(silo: Plant) -> None:
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    propose_disposition(silo.actor("wren", "supervisor"), Hold.objects.get(), RELEASE, "read again")
    with pytest.raises(Several, match="51 °F at pick-up"):
        unloading(ines, load, begins_now=True)


def test_a_worse_fact_after_the_signature_asks_for_another(silo: Plant) -> None:
    """51 °F was released; the slip says 60: barred and held again, until two people have decided on that too."""
    ines = silo.actor("ines")
    load = arrived(ines, pickups=[picked("51")])
    screened(ines, load)
    decided(silo, Hold.objects.get(), RELEASE)
    silo.at(clock.now() + MINUTE)
    first = LoadEvent.objects.get(number=load)
    amend(ines, load, arrival(happened_at=first.happened_at, pickups=[picked("60")]), "the slip says 60")
    with pytest.raises(Several, match="60 °F at pick-up"):
        unloading(ines, load, begins_now=True)
    decided(silo, open_holds().get(), RELEASE)
    unloading(ines, load, begins_now=True)


def test_a_residue_stays_barred_whatever_is_decided_of_the_temperature(silo: Plant) -> None:
    """A positive before or after: the load cannot be released, and a release that stood lets nothing through."""
    ines = silo.actor("ines")
    before = arrived(ines, tanker="T-1", pickups=[picked("51")])
    screened(ines, before, "found")
    with pytest.raises(Refused, match="Not possible for this product"):
        decided(silo, Hold.objects.filter(bars_release="").get(), RELEASE)
    after = arrived(ines, tanker="T-2", pickups=[picked("51")])
    decided(silo, open_holds().order_by("-number")[0], RELEASE)
    screened(ines, after, "found")
    for load in (before, after):
        with pytest.raises(Several, match="Nothing of this load can be processed"):
            unloading(ines, load, begins_now=True)


@pytest.mark.once
def test_the_held_load_has_its_pages(silo: Plant, client_for: Browser) -> None:
    """The list of holds, its disposition and the load say what it is, for a supervisor."""
    load = arrived(silo.actor("ines"), pickups=[picked("51")])
    wren = client_for(silo.people.wren)
    number = Hold.objects.get().number
    for address in (reverse("records:holds"), reverse("records:disposition-new", args=[number])):
        page = wren.get(address)
        assert page.status_code == 200 and f"Load {load} (T-12)" in page.content.decode()
    decided(silo, Hold.objects.get(), RELEASE)
    assert "its hold is lifted" in wren.get(reverse("records:load", args=[load])).content.decode()


# --- the rule set that tells milk collected daily from other milk


@pytest.fixture
def valley(silo: Plant) -> Plant:
    """The small plan under the second rule set."""
    plan = small_plan()
    in_force(silo, replace(plan, plant=replace(plan.plant, rule_set="eu", temperature_unit="C")))
    silo.at(clock.now() + MINUTE)
    return silo


@pytest.mark.parametrize(
    ("typed_c", "often", "wrong"),
    [
        ("6", "", ""),
        ("6.1", "", "nobody says that it is collected daily (8 °C)"),
        ("8", "daily", ""),
        ("8.1", "daily", "8 °C collected daily, 6 °C otherwise"),
        ("6", "not daily", ""),
        ("6.1", "not daily", "8 °C collected daily, 6 °C otherwise"),
        ("8.1", "", "8 °C collected daily"),
    ],
)
def test_milk_collected_daily_has_its_own_limit(valley: Plant, typed_c: str, often: str, wrong: str) -> None:
    arrived(valley.actor("ines"), pickups=[Pickup(typed_c, clock.now() - HOUR, collected=often)])
    found = [one.sentence for one in Deviation.objects.all()]
    assert len(found) == bool(wrong)
    assert all(wrong in one and "853/2004" in one for one in found)


def warm_from_the_cow(valley: Plant) -> int:
    """30 °C, milking ended half an hour ago; screened."""
    ines, now = valley.actor("ines"), clock.now()
    load = arrived(ines, pickups=[Pickup("30", now - HOUR / 4, now - HOUR / 2)])
    screened(ines, load)
    return load


def test_warm_milk_may_be_unloaded_while_it_can_be_processed_in_time(valley: Plant) -> None:
    """Nothing bars it within two hours of milking; past them, still in its tank, it is a deviation and held. Once."""
    load = warm_from_the_cow(valley)
    unloading(valley.actor("ines"), load, begins_now=True)
    valley.at(clock.now() + HOUR)
    assert look() == 0 and not Deviation.objects.exists()
    valley.at(clock.now() + HOUR)
    assert (look(), look()) == (1, 0)
    assert "30 °C at pick-up" in Deviation.objects.get().sentence and Hold.objects.get().vessel == "silo-a"


@pytest.mark.parametrize("released", [True, False])
def test_what_time_adds_is_told_beside_what_was_wrong_already(valley: Plant, released: bool) -> None:
    """Too long on the road by the plan; then not processed within two hours either, by law. Held for that too, once."""
    ines, now = valley.actor("ines"), clock.now()
    in_force(valley, replace(plan_at(now).plan, settings=Settings(pickup_h=1)))
    valley.at(now := now + MINUTE)
    load = arrived(ines, pickups=[Pickup("30", now - 75 * MINUTE, now - 80 * MINUTE)])
    screened(ines, load)
    first = Deviation.objects.get()
    assert first.cause == "not met" and "the plan allows 1 h" in first.sentence and "at pick-up" not in first.sentence
    if released:
        decided(valley, Hold.objects.get(), RELEASE)
    valley.at(clock.now() + MINUTE)
    unloading(ines, load, begins_now=released)
    assert look() == 0 and Hold.objects.filter(vessel="silo-a").count() == (0 if released else 1)
    valley.at(clock.now() + HOUR)
    assert (look(), look()) == (1, 0)
    second = Deviation.objects.exclude(number=first.number).get()
    assert second.cause == "legal rule" and second.subject == first.subject
    assert "30 °C at pick-up" in second.sentence and "the plan allows 1 h" in second.sentence
    assert Hold.objects.get(deviation=second.number).vessel == "silo-a"


@pytest.mark.parametrize(("told", "left"), [("Load 1 (T): Old Oxbow: warm; Elm: warm", ["Oxbow: warm"]), ("", None)])
def test_a_farm_is_not_taken_for_another_whose_name_ends_alike(
    valley: Plant, told: str, left: list[str] | None
) -> None:
    """Sentences are told apart as wholes; without any cause nothing is told."""
    load = run_of(LoadEvent, arrived(valley.actor("ines")))
    assert load is not None
    asked = ["Old Oxbow: warm", "Oxbow: warm", "Elm: warm"]
    if told:
        with act(valley.actor("ines")) as a:
            cause = Cause(LoadEvent.KIND, load.number, clock.now(), told)
            open_or_extend(
                a, in_force=plan_at(clock.now()), control_point="receiving", subject=f"load {load.number}",
                cause="not met", found=cause, since_at=clock.now(),
            )  # fmt: skip
    assert untold(load, "receiving", asked) == (asked if left is None else left)


def test_warm_milk_processed_in_time_is_no_deviation(valley: Plant) -> None:
    ines, load = valley.actor("ines"), warm_from_the_cow(valley)
    unloading(ines, load, begins_now=True)
    valley.at(clock.now() + HOUR / 2)
    unloaded(ines, UnloadedData(uuid.uuid4(), load, clock.now() - HOUR / 4))
    start = clock.now() - HOUR / 5
    ran(ines, started_at=start, ended_at=clock.now(), quantity_typed="12900", unit="lb", measured_by="mass")
    see_level(ines, LevelData(uuid.uuid4(), "silo-a", "0", "gal", clock.now()))
    valley.at(clock.now() + 3 * HOUR)
    assert look() == 0
    assert not [one for one in Deviation.objects.all() if "at pick-up" in one.sentence]


def test_warm_milk_at_the_bay_is_barred_once_its_time_is_over(valley: Plant) -> None:
    load = warm_from_the_cow(valley)
    valley.at(clock.now() + 2 * HOUR)
    with pytest.raises(Several, match="30 °C at pick-up"):
        unloading(valley.actor("ines"), load, begins_now=True)


@pytest.mark.once
def test_the_page_asks_how_often_it_is_collected(valley: Plant, client_for: Browser) -> None:
    """The field is there under this rule set, the first milking's is not; what was typed comes back."""
    ines = client_for(valley.people.ines)
    page = ines.get(reverse("records:load-new")).content.decode()
    assert "farm_collected_1" in page and "farm_first_milking_1" not in page
    warm_from_the_cow(valley)
    shown = ines.get(reverse("records:load", args=[LoadEvent.objects.earliest("number").number])).content.decode()
    assert "processed by" in shown


@pytest.mark.once
def test_the_page_asks_it_says_it_and_gives_it_back(silo: Plant, client_for: Browser) -> None:
    ines = client_for(silo.people.ines)
    form = typed(
        farm_temperature_2="51", farm_picked_up_2=local(clock.now() - 3 * HOUR),
        farm_milking_ended_2=local(clock.now() - 4 * HOUR), farm_first_milking_2=local(clock.now() - 8 * HOUR),
    )  # fmt: skip
    assert ines.post(reverse("records:load-new"), form).status_code == 302
    load = LoadEvent.objects.get().number
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    assert "Oxbow Farm: 51 °F at pick-up of a first milking" in page and "3 h before arrival" in page
    again = ines.get(reverse("records:load-amend", args=[load])).content.decode()
    assert 'name="farm_temperature_2" value="51"' in again
    assert f'value="{local(clock.now() - 4 * HOUR)}"' in again
    assert f'value="{local(clock.now() - 8 * HOUR)}"' in again and "first milking begun" in page
    wrong = ines.post(reverse("records:load-new"), typed(farm_temperature_1="51o", farm_picked_up_1="noon"))
    assert wrong.status_code == 422 and 'value="51o"' in wrong.content.decode()
