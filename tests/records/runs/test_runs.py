"""A run as it is recorded: its start is not started until its checks stand, and what flowed anyway is held."""

from __future__ import annotations

from datetime import timedelta

import pytest

from plant import clock
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.actions import amend_movement
from records.flow.errors import DifferentContent, Several
from records.flow.models import Movement, MovementEnd, PlantEvent
from records.ledger.models import Entry
from records.ledger.verify import verify
from records.people.plans import plan_in_force
from records.runs import starting
from records.runs.actions import amend, begin_start, product_in, product_out, say
from records.runs.models import (
    DIVERTED,
    ENDED,
    FORWARD,
    FORWARD_AGAIN,
    NOTE,
    PRODUCT_CHANGE,
    PRODUCT_IN,
    SET_UP,
    UNUSUAL,
    WASH,
    RunEvent,
)
from records.runs.queries import open_run, run_of, runs_between, set_ups_recorded
from tests.conftest import NOW, Plant
from tests.records.flow.made import made_ready, moved, movement
from tests.records.runs.made import MINUTE, answered, checked, event, out, planned, product, running, start

pytestmark = pytest.mark.django_db


@pytest.fixture
def press(plant: Plant) -> Plant:
    """The plan of runs in force, milk in Silo A."""
    planned(plant)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    return plant


def against(run: int) -> list[str]:
    """What stands against product now."""
    found, in_force = run_of(run), plan_in_force(clock.now())
    assert found is not None and in_force is not None
    return [one.sentence for one in starting.against(found, clock.now(), in_force)]


def state(run: int) -> str:
    """The state of a run now."""
    found = run_of(run)
    assert found is not None
    return found.state_at(clock.now())


def test_a_start_is_not_started_until_each_check_is_in_limits(press: Plant) -> None:
    """A check that failed stands against it until it is repeated in limits; nothing is written by what is refused."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    assert state(run) == "not started"
    assert against(run) == [
        "Seals whole: nothing recorded",
        "Diversion device moves both ways: nothing recorded",
        "Cut-in: nothing recorded",
    ]  # fmt: skip
    answered(ines, "cut-in", "167")
    answered(ines, "press-seals")
    answered(ines, "press-divert", "no")
    assert against(run) == ["Diversion device moves both ways: out of limits, no"]
    before = Entry.objects.count()
    with pytest.raises(Several, match="out of limits"):
        product_in(ines, product(run, begins_now=True))
    assert Entry.objects.count() == before and state(run) == "not started"
    press.at(NOW + 20 * MINUTE)
    answered(ines, "press-divert")
    assert against(run) == []
    row = product_in(ines, product(run, begins_now=True))
    assert (row.what, state(run)) == (PRODUCT_IN, "on product")
    moved_by_it = Movement.objects.get(number=row.movement)
    assert (moved_by_it.via, moved_by_it.source, moved_by_it.target) == ("press-1", "silo-a", "finished-1")
    assert moved_by_it.started_at == row.happened_at
    assert not DeviationCause.objects.filter(cause_number=row.number).exists()


def test_product_that_flowed_anyway_is_held_from_its_first_second(press: Plant) -> None:
    """A fact is never refused: it opens a deviation that names what stood against it, and holds what it went into."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    answered(ines, "press-seals")
    answered(ines, "cut-in", "167")
    press.at(NOW + 30 * MINUTE)
    row = product_in(ines, product(run, happened_at=NOW + 10 * MINUTE))
    causes = DeviationCause.objects.filter(cause_number=row.number)
    assert [one.sentence for one in causes] == [
        "Press 1: Whole milk flowed forward although this stood against it: "
        "Diversion device moves both ways: nothing recorded"
    ]
    holds = Hold.objects.filter(deviation=causes[0].deviation)
    moved_by_it = Movement.objects.get(number=row.movement)
    assert {one.lot for one in holds} >= {moved_by_it.target_lot}
    assert min(one.since_at for one in holds if one.lot == moved_by_it.target_lot) == NOW + 10 * MINUTE
    assert verify().good


def test_a_set_up_that_does_not_cover_the_product_stands_against_it(press: Plant) -> None:
    """Cream on milk's set-up: not until the set-up is changed, stopped or diverted."""
    ines = press.actor("ines")
    run = begin_start(ines, start(product="cream")).number
    checked(ines)
    assert against(run) == ["The set-up Milk does not cover this product."]
    say(ines, event(run, SET_UP, set_up="cream"))
    assert against(run) == [] and not Deviation.objects.filter(subject="press-1").exists()
    product_in(ines, product(run, product="cream", begins_now=True))
    press.at(NOW + 40 * MINUTE)
    row = say(ines, event(run, SET_UP, set_up="milk"))
    (cause,) = DeviationCause.objects.filter(cause_number=row.number)
    assert cause.sentence == "Press 1: the set-up was changed to Milk in forward flow"
    assert Hold.objects.filter(deviation=cause.deviation).exists()


def test_a_whole_run_goes_to_its_end(press: Plant) -> None:
    """Water, product, a diversion, another product, water, the end, the wash; its movements end with it."""
    ines = press.actor("ines")
    run = begin_start(ines, start(set_up="cream")).number
    checked(ines)
    say(ines, event(run, FORWARD))
    assert state(run) == "on water"
    first = product_in(ines, product(run, begins_now=True))
    press.at(NOW + 30 * MINUTE)
    with pytest.raises(Refused, match="product is flowing"):
        say(ines, event(run, ENDED))
    say(ines, event(run, DIVERTED, words="steam fell"))
    assert state(run) == "diverted"
    press.at(NOW + 32 * MINUTE)
    say(ines, event(run, FORWARD_AGAIN))
    assert state(run) == "on product"
    press.at(NOW + 60 * MINUTE)
    ends = {"quantity_typed": "250", "unit": "gal", "measured_by": "level"}
    second = product_in(ines, product(run, product="cream", **ends))
    assert second.what == PRODUCT_CHANGE
    assert MovementEnd.objects.get(movement=first.movement).ended_at == second.happened_at
    press.at(NOW + 90 * MINUTE)
    product_out(ines, out(run))
    assert state(run) == "on water" and MovementEnd.objects.get(movement=second.movement).quantity == 300
    press.at(NOW + 95 * MINUTE)
    say(ines, event(run, ENDED, words="Whole milk 250 gal, cream 300 gal; one diversion"))
    say(ines, event(run, WASH))
    assert state(run) == "ended" and open_run("press-1") is None
    assert PlantEvent.objects.filter(event="wash begun", subject="press-1").exists()
    with pytest.raises(Refused, match="ended"):
        product_in(ines, product(run))
    say(ines, event(run, NOTE, words="The pump sounded rough."))
    (found,) = runs_between(NOW, clock.now(), "press-1")
    assert [one.what for one in found.events][:4] == ["start begun", "forward flow begun", PRODUCT_IN, DIVERTED]
    assert set_ups_recorded("press-1", NOW, clock.now()) == [
        (found.first.happened_at, "cream"), (NOW + 95 * MINUTE, "")
    ]  # fmt: skip
    assert verify().good


def test_one_run_at_a_press_and_each_form_once(press: Plant) -> None:
    """A second start waits for the first one's end; the same form answers as the first time."""
    ines, tomas = press.actor("ines"), press.actor("tomas")
    data = start()
    row = begin_start(ines, data)
    assert begin_start(ines, data).number == row.number
    with pytest.raises(DifferentContent):
        begin_start(ines, start(form_id=data.form_id, chart_number="62"))
    with pytest.raises(Refused, match="not recorded as ended"):
        begin_start(tomas, start())
    checked(ines)
    into = product(row.number, begins_now=True)
    first = product_in(ines, into)
    press.at(NOW + 6 * MINUTE)
    assert product_in(ines, into).number == first.number and Movement.objects.filter(via="press-1").count() == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"place": "silo-a"}, "place"),
        ({"place": "nowhere"}, "place"),
        ({"set_up": "none"}, "set_up"),
        ({"product": "none"}, "product"),
        ({"happened_at": NOW + timedelta(hours=9)}, "happened_at"),
    ],
)
def test_nonsense_is_refused_beside_its_field(press: Plant, changes: dict[str, object], field: str) -> None:
    """Nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        begin_start(press.actor("ines"), start(**changes))
    assert refused.value.field == field and Entry.objects.count() == before


def test_events_lie_within_their_run_and_say_why(press: Plant) -> None:
    """Not before the start was begun; a diversion and an unusual occurrence in words."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    for data in (
        event(run, FORWARD, happened_at=NOW),
        event(run, DIVERTED),
        event(run, UNUSUAL, words="  "),
        event(run, "no such thing"),
        event(run + 1000, NOTE, words="x"),
        event(run, SET_UP, set_up="none"),
    ):
        with pytest.raises(Refused):
            say(ines, data)
    with pytest.raises(Refused, match="no product was flowing"):
        product_out(ines, out(run))
    assert RunEvent.objects.count() == 1


def test_an_event_is_amended_by_a_successor(press: Plant) -> None:
    """Both stay; the last counts; a void one did not happen; product is amended in its movement; who may is asked."""
    ines, tomas = press.actor("ines"), press.actor("tomas")
    run = running(ines).number
    press.at(NOW + 30 * MINUTE)
    row = say(ines, event(run, DIVERTED, words="steam"))
    told = event(run, DIVERTED, words="steam valve stuck", happened_at=NOW + 25 * MINUTE)
    with pytest.raises(Refused, match="Ines"):
        amend(tomas, row.number, told, "heard otherwise")
    with pytest.raises(Refused):
        amend(ines, row.number, told, " ")
    second = amend(ines, row.number, told, "the time was wrong")
    found = run_of(run)
    assert found is not None and found.events[-1].number == second.number and state(run) == "diverted"
    with pytest.raises(Refused, match="latest"):
        amend(ines, row.number, event(run, DIVERTED, words="x"), "again")
    amend(ines, second.number, event(run, DIVERTED), "it was the other press", void=True)
    assert state(run) == "on product" and RunEvent.objects.filter(run=run).count() == 4
    product_row = RunEvent.objects.get(what=PRODUCT_IN)
    with pytest.raises(Refused, match="movement"):
        amend(ines, product_row.number, event(run, PRODUCT_IN), "time")
    with pytest.raises(Refused, match="did not"):
        amend(ines, run, event(run, "start begun", set_up="milk"), "no", void=True)
    assert verify().good


def test_a_seal_that_is_not_whole_bars_the_start(press: Plant) -> None:
    """By the plan's own check: the run stays not started, and the sentence names the seals."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    checked(ines)
    press.at(NOW + 8 * MINUTE)
    answered(ines, "press-seals", "no")
    assert any("eals" in one for one in against(run))
    with pytest.raises(Several):
        product_in(ines, product(run, begins_now=True))


def test_product_amended_in_its_movement_is_amended_in_the_run(press: Plant) -> None:
    """Its times and its end follow the movement that stands; one that did not happen leaves the run on water."""
    ines = press.actor("ines")
    run = running(ines).number
    row = RunEvent.objects.get(what=PRODUCT_IN)
    press.at(NOW + 30 * MINUTE)
    earlier = amend_movement(
        ines, row.movement or 0, movement(via="press-1", source="silo-a", source_name="", target="finished-1",
        product="whole-milk", started_at=NOW + 4 * MINUTE + MINUTE, ended_at=None, quantity_typed="",
        unit="", measured_by="unknown"), "began a moment before",
    )  # fmt: skip
    found = run_of(run)
    assert found is not None and found.movement_at(clock.now()) == earlier.number
    product_out(ines, out(run))
    assert MovementEnd.objects.filter(movement=earlier.number).exists() and state(run) == "on water"
    amend_movement(ines, earlier.number, movement(), "it was the other press", void=True)
    found = run_of(run)
    assert found is not None and found.first_product() is None and state(run) == "not started"
    assert verify().good
