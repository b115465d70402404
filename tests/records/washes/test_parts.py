"""Parts washed by hand: the strips that read a strength, the look at them, and the line that waits for its parts."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import EquipmentDef, Plan, WashStepDef, from_json, to_json
from plant.people.models import Person
from records.deviations.models import Deviation, Hold
from records.flow.data import EndData
from records.flow.errors import Several
from records.flow.floor import floor_at
from records.flow.models import Movement, Wash
from records.flow.moving import amend_movement, end_movement
from records.freezer_runs import state as freezer_state
from records.freezer_runs.actions import draw_begins, draw_ends, say
from records.freezer_runs.models import DRAIN, FED, PURGED, FreezerEvent
from records.people.plans import plan_in_force
from records.run_rows.models import ENDED
from records.run_rows.queries import run_of
from records.washes import state
from records.washes.actions import record
from records.washes.data import ProgramWashData, StepData
from records.washes.models import WashStep
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, moved, pasteurized, ran, washed
from tests.records.flow.test_flow_pages import local
from tests.records.freezer_runs.made import begun, draw, drawn, plan_of_freezing, ready_plant, said, seen

Browser = Callable[[Person], Client]
MINUTE = timedelta(minutes=1)
# At least 1 min with all surfaces wet: 1 NYCRR 2.18 (farm item 11r); 100 to 200 mg/L is an invented label's.
WET = "1 NYCRR 2.18 (farm item 11r)"
HAND: dict[str, Any] = {"way": "by hand", "parts_of": "press-1"}
STEPS = (
    WashStepDef("h1", "plates-hand", "wash", ("plates",), "5", "110", "130", "°F", **HAND),
    WashStepDef(
        "h2", "plates-hand", "sanitize", ("plates",), "1", "", "", "°F", "100", "200", "mg/L", WET, strips=True, **HAND
    ),
    WashStepDef("h3", "plates-hand", "inspection", ("plates",), clause="21 CFR 117.35(d), from memory", **HAND),
)  # fmt: skip


def with_parts() -> Plan:
    """The small plan with Press 1's plates washed by hand."""
    plan = small_plan()
    parts = EquipmentDef("plates", "Plates and gaskets", "parts", 12)
    return replace(plan, equipment=(*plan.equipment, parts), wash_steps=STEPS)


def washing(**sanitizing: Any) -> ProgramWashData:
    """By hand from NOW: met, but for what a test changes of the sanitizing or, by `looked`, of the look."""
    looked = sanitizing.pop("looked", "yes")
    strips: dict[str, Any] = {"strength": "150", "strip_lot": "QT-7", "strip_expires": date(2026, 3, 3)}
    steps = (
        StepData(1, NOW, NOW + 6 * MINUTE, "120"),
        StepData(2, NOW + 7 * MINUTE, NOW + 9 * MINUTE, **(strips | sanitizing)),
        StepData(3, NOW + 10 * MINUTE, NOW + 11 * MINUTE, looked=looked),
    )
    return ProgramWashData(uuid.uuid4(), "plates", "plates-hand", steps)


@pytest.fixture
def press(plant: Plant) -> Plant:
    """That plan in force, half an hour ago; raw milk in Silo A, and Press 1 washed but for its plates."""
    in_force(plant, with_parts())
    made_ready(plant.actor("ines"), NOW - HOUR)
    moved(plant.actor("ines"), started_at=NOW - HOUR, ended_at=NOW - HOUR / 2)
    plant.at(NOW + 30 * MINUTE)
    return plant


def test_a_plan_says_which_line_waits_for_which_parts() -> None:
    assert from_json(to_json(with_parts())) == with_parts()
    assert not [one for one in problems(with_parts()) if "wash_steps" in one.path]

    def wrong(at: int, **changes: Any) -> set[str]:
        steps = [replace(one, **changes) if at == place else one for place, one in enumerate(STEPS)]
        found = problems(replace(with_parts(), wash_steps=tuple(steps)))
        return {one.path for one in found if one.path.startswith(f"wash_steps[{at}]")}

    assert "wash_steps[0].strips" in wrong(0, strips=True)  # strips read a strength, and it has none
    assert "wash_steps[1].parts_of" in wrong(1, parts_of="nowhere")
    assert "wash_steps[1].way" in wrong(1, way="by steam")
    assert "wash_steps[1].way" in wrong(1, way="out of place")  # the other steps say by hand


@pytest.mark.django_db
def test_a_line_waits_for_parts_that_nobody_washed(press: Plant) -> None:
    with pytest.raises(Several, match="Plates and gaskets"):
        ran(press.actor("ines"), started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)


@pytest.mark.django_db
def test_strips_to_their_last_day_and_a_good_look_prove_it(press: Plant) -> None:
    """Good until this day counts: 2026-03-03 is the day of the wash."""
    saved = record(press.actor("ines"), washing())
    assert state.judged([saved])[0].proven
    assert list(WashStep.objects.values_list("strip_lot", "strip_expires", "looked")) == [
        (None, None, None), ("QT-7", date(2026, 3, 3), None), (None, None, "yes"),
    ]  # fmt: skip
    ran(press.actor("ines"), started_at=NOW + 12 * MINUTE, ended_at=NOW + 20 * MINUTE)
    assert not Deviation.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"strip_expires": date(2026, 3, 2)}, "were good until 2026-03-02: they prove no strength"),
        ({"strip_lot": ""}, "The lot and the last day of the test strips are not recorded."),
        ({"strip_expires": None}, "The lot and the last day of the test strips are not recorded."),
        ({"strength": "90"}, "sanitize"),
        ({"strength": "250"}, "sanitize"),
        ({"looked": "no"}, "not found clean"),
        ({"looked": ""}, "Nobody said whether it was found clean."),
    ],
)
def test_what_is_missing_or_out_of_date_bars_the_line_and_is_a_deviation_after(
    press: Plant, changes: dict[str, Any], why: str
) -> None:
    """The wash is kept as it was said; product is refused beforehand, and held where it went on."""
    ines = press.actor("ines")
    saved = record(ines, washing(**changes))
    assert any(why in one for one in state.why_not_proven(state.judged([saved])[0]))
    with pytest.raises(Several, match="Plates and gaskets"):
        ran(ines, started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)
    ran(ines, started_at=NOW + 12 * MINUTE, ended_at=NOW + 20 * MINUTE)
    assert "Plates and gaskets" in Deviation.objects.get().sentence and Hold.objects.exists()


@pytest.mark.django_db
def test_parts_that_nobody_sanitized_bar_the_line(press: Plant) -> None:
    """Washed and looked at; the row of the sanitizing left empty, or of the day before alone."""
    ines = press.actor("ines")
    full = washing()
    record(ines, replace(full, steps=(full.steps[0], full.steps[2])))
    with pytest.raises(Several, match="nothing recorded says that they were sanitized"):
        ran(ines, started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)
    ran(ines, started_at=NOW + 12 * MINUTE, ended_at=NOW + 20 * MINUTE)
    assert "Plates and gaskets" in Deviation.objects.get().sentence and Hold.objects.exists()


@pytest.mark.django_db
def test_by_its_form(press: Plant, client_for: Browser) -> None:
    """The form asks for strips and the look, and says how it is washed; nonsense stands beside its field."""
    ines = client_for(press.people.ines)
    assert "by hand" in ines.get(reverse("records:washes")).content.decode()
    address = reverse("records:wash-new", args=["plates", "plates-hand"])
    page = ines.get(address).content.decode()
    assert "Lot of the test strips" in page and "was it found clean?" in page and "Temperature of the solution" in page
    sent = {"form_id": str(uuid.uuid4())}
    for at, (start, end) in enumerate(((0, 6), (7, 9), (10, 11)), 1):
        sent |= {f"started_{at}": local(NOW + start * MINUTE), f"ended_{at}": local(NOW + end * MINUTE)}
    sent |= {"temperature_1": "120", "strength_2": "150", "strip_lot_2": "QT-7", "looked_3": "yes"}
    refused = ines.post(address, sent | {"strip_expires_2": "the third"}).content.decode()
    assert "Write the day as 2026-03-03." in refused and "the third" in refused
    assert not Wash.objects.filter(vessel="plates").exists()
    assert ines.post(address, sent | {"strip_expires_2": "2026-03-03"}).status_code == 302
    saved = Wash.objects.filter(vessel="plates", what="washed").get()
    assert state.judged([saved])[0].proven
    text = ines.get(reverse("records:wash", args=[saved.number])).content.decode()
    assert "test strips lot QT-7, good until 2026-03-03" in text


# --- parts, and product that still ran


def parts_now(place: str = "press-1") -> list[str]:
    told = state.parts_unproven([place], clock.now(), now_in_force())
    return [sentence for _number, sentence in told.get(place, [])]


def now_in_force() -> Any:
    found = plan_in_force(clock.now())
    assert found is not None
    return found


def later(one: ProgramWashData, by: timedelta) -> ProgramWashData:
    steps = [replace(each, started_at=each.started_at + by, ended_at=each.ended_at + by) for each in one.steps]
    return replace(one, form_id=uuid.uuid4(), steps=tuple(steps))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("ended", "proven"),
    [(-1, True), (0, True), (1, False), (14, False)],  # min from the begin of the parts' wash
)
def test_a_wash_begun_before_product_ended_proves_nothing(press: Plant, ended: int, proven: bool) -> None:
    ines = press.actor("ines")
    record(ines, washing())
    ran(ines, started_at=NOW + 12 * MINUTE, ended_at=NOW + 15 * MINUTE + ended * MINUTE)
    record(ines, later(washing(), 15 * MINUTE))
    assert state.judged([Wash.objects.latest("number")])[0].proven
    assert bool(parts_now()) is not proven


@pytest.mark.django_db
def test_an_end_said_later_counts_and_a_run_without_one_goes_on(press: Plant) -> None:
    """While it runs by the record nothing shows the parts washed; its end, once said, is the one that counts."""
    ines = press.actor("ines")
    record(ines, washing())
    running = ran(ines, started_at=NOW + 12 * MINUTE, ended_at=None, quantity_typed="")
    record(ines, later(washing(), 15 * MINUTE))
    assert "since product last met them" in parts_now()[0]
    end_movement(ines, running.number, ended_with(NOW + 14 * MINUTE))
    assert parts_now() == []
    assert Movement.objects.get(number=running.number).ended_at is None


def ended_with(at: Any) -> Any:
    return EndData(at, "100", "gal", "", "level", False)


@pytest.mark.django_db
def test_product_out_of_a_vessel_meets_its_parts_too(plant: Plant) -> None:
    """Silo A's own parts: washed while the silo is emptied they count as not washed."""
    plan = with_parts()
    in_force(plant, replace(plan, wash_steps=tuple(replace(one, parts_of="silo-a") for one in STEPS)))
    ines = plant.actor("ines")
    made_ready(ines, NOW - HOUR)
    moved(ines, started_at=NOW - HOUR, ended_at=NOW - HOUR / 2)
    plant.at(NOW + 30 * MINUTE)
    record(ines, washing())
    assert parts_now("silo-a") == []
    ran(ines, started_at=NOW - 5 * MINUTE, ended_at=NOW + 5 * MINUTE)
    assert "since product last met them" in parts_now("silo-a")[0]


@pytest.mark.django_db
def test_a_run_and_the_next_one_behind_it_are_asked_for_no_parts(press: Plant) -> None:
    """The Floor says nothing of parts while product runs, nor between two runs; the second begins unhindered."""
    ines = press.actor("ines")
    record(ines, washing())
    ran(ines, started_at=NOW + 12 * MINUTE, ended_at=NOW + 20 * MINUTE)

    def told(moment: Any) -> list[tuple[int, str]]:
        place = next(one for one in floor_at(now_in_force(), moment) if one.vessel.code == "press-1")
        return place.unproven

    assert told(NOW + 14 * MINUTE) == [] and told(NOW + 25 * MINUTE) == []
    second = ran(ines, started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)
    assert second.pk and told(clock.now()) == []
    assert not Deviation.objects.exists()


# --- parts of the feeder, asked by the freezer's run

FEEDER = tuple(
    replace(one, places=("feeder-parts",), program="feeder-hand", parts_of="feeder", way="out of place")
    for one in STEPS
)


@pytest.fixture
def feeding(plant: Plant) -> Plant:
    """The plan of freezing with the feeder's parts, an hour after NOW; nobody washed them."""
    parts = EquipmentDef("feeder-parts", "Feeder parts", "parts", 12)
    equipment = (*plan_of_freezing().equipment, parts)
    return ready_plant(plant, equipment=equipment, wash_steps=FEEDER)


def fed(plant: Plant, run: int) -> None:
    """Filled now, looked at, the barrel purged."""
    ines = plant.actor("ines")
    say(ines, said(run, FED, ingredient="Hazelnuts", lot_code="HZ-1", allergens=("tree nuts",)))
    seen(ines, "freezer-seen", "freezer")
    seen(ines, "feeder-seen", "feeder")
    say(ines, said(run, PURGED, became=DRAIN))


def freezer_run(number: int) -> freezer_state.FreezerRun:
    found = run_of(FreezerEvent, number)
    assert found is not None
    return found


def feeder_parts() -> ProgramWashData:
    """Washed from 20 to 9 min ago."""
    ago = clock.now() - 20 * MINUTE - NOW
    return replace(later(washing(), ago), vessel="feeder-parts", program="feeder-hand")


@pytest.mark.django_db
def test_the_draw_waits_for_the_parts_of_the_feeder(feeding: Plant) -> None:
    """Refused beforehand, with the reason and nothing written; washed and filled anew it begins, and nothing is held.
    The next draw of the run is asked for no parts.
    """
    ines = feeding.actor("ines")
    run = begun(ines).number
    fed(feeding, run)
    with pytest.raises(Several, match="Feeder parts: nothing recorded says that they were washed"):
        draw_begins(ines, draw(run, begins_now=True))
    assert not Movement.objects.filter(via="freezer").exists()
    feeding.at(clock.now() + 30 * MINUTE)
    record(ines, feeder_parts())
    with pytest.raises(Several, match="Parts of the feeder when it was filled"):
        draw_begins(ines, draw(run, begins_now=True))  # what it was filled with before has met them
    fed(feeding, run)
    first = draw_begins(ines, draw(run, begins_now=True))
    assert first.movement and not Deviation.objects.exists()
    feeding.at(clock.now() + 5 * MINUTE)
    again = freezer_run(run)
    assert freezer_state.feeder_parts(again, clock.now(), now_in_force()) == []


@pytest.mark.django_db
def test_a_draw_without_the_feeder_is_asked_for_none_of_its_parts(feeding: Plant) -> None:
    ines = feeding.actor("ines")
    run = begun(ines).number
    seen(ines, "freezer-seen", "freezer")
    say(ines, said(run, PURGED, became=DRAIN))
    draw_begins(ines, draw(run, begins_now=True))
    assert not Deviation.objects.exists()
    feeding.at(clock.now() + 5 * MINUTE)
    say(ines, said(run, FED, ingredient="Hazelnuts", lot_code="HZ-1", allergens=("tree nuts",)))
    assert "Feeder parts" in Deviation.objects.get().sentence and Hold.objects.exists()


@pytest.mark.django_db
def test_a_draw_with_unwashed_parts_that_happened_is_held(feeding: Plant) -> None:
    ines = feeding.actor("ines")
    run = begun(ines, happened_at=clock.now() - 5 * MINUTE).number
    fed(feeding, run)
    feeding.at(clock.now() + 10 * MINUTE)
    row = draw_begins(ines, draw(run, happened_at=clock.now() - 5 * MINUTE))
    assert "Feeder parts" in Deviation.objects.get().sentence
    assert Hold.objects.filter(lot=Movement.objects.get(number=row.movement).target_lot).exists()


@pytest.mark.django_db
def test_the_next_run_after_a_wash_waits_for_the_parts_again(feeding: Plant) -> None:
    """Freezer and feeder washed between two runs, the parts not: they were washed before product met them."""
    ines = feeding.actor("ines")
    record(ines, later(feeder_parts(), 10 * MINUTE))  # until a minute from now
    feeding.at(clock.now() + 2 * MINUTE)
    run = begun(ines).number
    fed(feeding, run)
    draw_begins(ines, draw(run, begins_now=True))
    feeding.at(clock.now() + 10 * MINUTE)
    draw_ends(ines, drawn(run, quantity_typed="20", tubs="150"))
    say(ines, said(run, ENDED))
    feeding.at(clock.now() + 60 * MINUTE)
    for place in ("freezer", "feeder"):
        washed(ines, place, clock.now() - 40 * MINUTE)
    second = begun(ines).number
    fed(feeding, second)
    with pytest.raises(Several, match="Feeder parts: nothing recorded says that they were washed"):
        draw_begins(ines, draw(second, begins_now=True))
    feeding.at(clock.now() + 30 * MINUTE)
    record(ines, feeder_parts())
    fed(feeding, second)
    assert draw_begins(ines, draw(second, begins_now=True)).movement
    assert not Deviation.objects.filter(sentence__contains="Feeder parts").exists()


@pytest.mark.django_db
def test_a_run_amended_to_a_later_start_is_no_product_before_itself(press: Plant) -> None:
    ines = press.actor("ines")
    record(ines, washing())
    first = ran(ines, started_at=NOW + 12 * MINUTE, ended_at=NOW + 20 * MINUTE)
    amend_movement(
        ines, first.number, pasteurized(started_at=NOW + 14 * MINUTE, ended_at=NOW + 20 * MINUTE), "clock misread"
    )
    assert not Deviation.objects.exists()


@pytest.mark.django_db
def test_a_run_that_nobody_ended_ended_at_the_latest_when_its_line_was_washed(press: Plant) -> None:
    """An end forgotten asks for the parts once, not for ever: the book has the run end where its line's wash began."""
    ines = press.actor("ines")
    record(ines, washing())
    ran(ines, started_at=NOW + 12 * MINUTE, ended_at=None, quantity_typed="")
    press.at(NOW + 60 * MINUTE)
    washed(ines, "press-1", NOW + 35 * MINUTE)  # from NOW + 25 min
    assert "since product last met them" in parts_now()[0]
    record(ines, later(washing(), 26 * MINUTE))
    assert parts_now() == []


@pytest.mark.django_db
@pytest.mark.parametrize("allergens", [("tree nuts",), ("wheat",)])
def test_a_filling_told_of_after_its_draw_began_is_asked_too(feeding: Plant, allergens: tuple[str, ...]) -> None:
    """Filled before the draw, told later: the parts, and an allergen that the product does not declare."""
    ines = feeding.actor("ines")
    run = begun(ines).number
    seen(ines, "freezer-seen", "freezer")
    say(ines, said(run, PURGED, became=DRAIN))
    filled_at = clock.now() + MINUTE
    feeding.at(clock.now() + 5 * MINUTE)
    row = draw_begins(ines, draw(run, begins_now=True))
    assert not Deviation.objects.exists()
    feeding.at(clock.now() + 5 * MINUTE)
    say(ines, said(run, FED, ingredient="Nuts", lot_code="HZ-1", allergens=allergens, happened_at=filled_at))
    sentences = " ".join(Deviation.objects.values_list("sentence", flat=True))
    assert "Feeder parts: nothing recorded" in sentences
    assert ("does not declare" in sentences) is (allergens == ("wheat",))
    assert Hold.objects.filter(lot=Movement.objects.get(number=row.movement).target_lot).exists()
