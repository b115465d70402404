"""Readings on the water before product, washes, seals and set-ups: what they let stand against forward flow.

Limits are those of published rows, each named; the others are invented for the tests.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest

from plant import clock
from plant.hazard_plan.content import FrequencyDef, LimitDef
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.checks.queries import due_between
from records.deviations.models import DeviationCause, Hold
from records.flow.errors import Several
from records.flow.models import Movement
from records.judging.queries import governing
from records.people.plans import plan_in_force
from records.runs import starting
from records.runs.actions import begin_start, product_in, product_out, say
from records.runs.models import DIVERTED, ENDED, FORWARD, FORWARD_AGAIN, SET_UP
from records.runs.queries import deviations_of, product_expected, run_of
from records.traces.circumstances import pasteurizer_case
from records.workshop.telling import untold
from tests.conftest import NOW, Plant
from tests.factories import limits
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import (
    HOUR,
    MINUTE,
    answered,
    check,
    checked,
    event,
    out,
    plan_of_runs,
    planned,
    product,
    running,
    start,
)
from tests.records.workshop.made import sealed

pytestmark = pytest.mark.django_db

FIRST = FrequencyDef("run_ends", first=True)
OF_CLASSES = (
    # Base row 161 °F; 5 °F more for fat of 10 percent and more: 21 CFR 1240.61(b), table and footnote 1.
    LimitDef("in-milk", "temperature", "21 CFR 1240.61(b)", "text consulted", "°F", low="161", products=("milk",)),
    LimitDef("in-cream", "temperature", "21 CFR 1240.61(b)", "text consulted", "°F", low="166", products=("raised",)),
    # The pasteurized side above the raw side at all times: 7 Pa. Code 59.216c(a)(1); 0.1 psi: plant rule of the tests.
    LimitDef("above", "pressure", "7 Pa. Code 59.216c(a)(1)", "state mirror", "psi", low="0.1"),
)


@pytest.fixture
def press(plant: Plant) -> Plant:
    """Cut-in judged by class, both thermometers, the pressure; the press and Finished 1 washed; milk in Silo A."""
    readings = (
        replace(check("cut-in", "Cut-in", ("in-milk", "in-cream"), FIRST, kind="number", unit="°F"), early_min=30),
        check("both", "Both thermometers", ("in-milk", "in-cream"), FIRST, kind="pair", unit="°F"),
        check("pressure", "Pasteurized less raw", ("above",), FrequencyDef("before_use", valid_min=180),
              kind="number", unit="psi", low="-50", high="50"),
    )  # fmt: skip
    kept = tuple(one for one in plan_of_runs().monitoring if one.key != "cut-in")
    planned(plant, limits=(*limits(), *OF_CLASSES), monitoring=(*kept, *readings))
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    return plant


def against(run: int) -> list[str]:
    """What stands against product now."""
    found, in_force = run_of(run), plan_in_force(clock.now())
    assert found is not None and in_force is not None
    return [one.sentence for one in starting.against(found, clock.now(), in_force)]


def outcome(reading: int) -> str:
    """The verdict of a reading."""
    return governing(Reading.KIND, [reading])[reading].outcome


def thermometers(plant: Plant) -> None:
    """Both read alike on the water, hot enough for either class."""
    record_reading(plant.actor("ines"), ReadingData(uuid.uuid4(), "press-1", "both", typed="167", typed_second="167"))


def all_answered(plant: Plant) -> None:
    """Every check before product in limits, but cut-in, which is not read yet."""
    checked(plant.actor("ines"), cut_in="")
    thermometers(plant)
    answered(plant.actor("ines"), "pressure", "3")


@pytest.mark.parametrize("key", ["cut-in", "both"])
def test_what_is_not_read_yet_bars_the_first_product(press: Plant, key: str) -> None:
    """Cut-in and both thermometers are read at the start (ATCP 65.66(3)(f), a state rule): without one of them the
    start is not started, and product that flowed all the same is held from its first second."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    checked(ines, cut_in="" if key == "cut-in" else "167")
    answered(ines, "pressure", "3")
    if key == "cut-in":
        thermometers(press)
    (said,) = against(run)
    assert said.endswith(": nothing recorded")
    with pytest.raises(Several, match="nothing recorded"):
        product_in(ines, product(run, begins_now=True))
    press.at(NOW + 30 * MINUTE)
    if key == "cut-in":  # read twenty minutes too late, within the plan's grace: the first milk went without it
        answered(ines, "cut-in", "167")
    row = product_in(ines, product(run, happened_at=NOW + 10 * MINUTE))
    (cause,) = DeviationCause.objects.filter(cause_number=row.number)
    assert cause.sentence.endswith("nothing recorded")
    holds = Hold.objects.filter(deviation=cause.deviation, lot=Movement.objects.get(number=row.movement).target_lot)
    assert min(one.since_at for one in holds) == NOW + 10 * MINUTE


def test_thermometers_read_on_the_water_vouch_for_the_recorder_of_that_run(press: Plant) -> None:
    """The recorder is checked at the start of a run, ATCP 65.66(3)(d): before its product."""
    ines = press.actor("ines")
    run = running_with_pressure(press)
    press.at(NOW + 30 * MINUTE)
    product_out(ines, out(run))
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    (first,) = pasteurizer_case("press-1", NOW, clock.now(), in_force).trace.runs  # type: ignore[union-attr]
    assert len(first.indicated) == 1 and first.indicated[0].at_ms <= first.start_ms
    press.at(NOW + 50 * MINUTE)
    product_in(ines, product(run, happened_at=NOW + 35 * MINUTE))
    _first, again = pasteurizer_case("press-1", NOW, clock.now(), in_force).trace.runs  # type: ignore[union-attr]
    assert again.indicated == ()


def test_what_was_read_in_the_minute_of_the_first_product_came_before_it(press: Plant) -> None:
    """A form says the time to the minute: product at 06:05 after a reading at 06:05:40 is no product without it."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    press.at(NOW + 6 * MINUTE + timedelta(seconds=40))
    answered(ines, "cut-in", "161.4")
    row = product_in(ines, product(run, happened_at=NOW + 6 * MINUTE))
    assert not DeviationCause.objects.filter(cause_number=row.number).exists()


def test_cut_in_on_water_is_judged_by_what_the_start_is_for(press: Plant) -> None:
    """161 °F is met for milk and 160.9 is not (21 CFR 1240.61(b)); on a set-up changed over to cream, 166 °F."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    low = answered(ines, "cut-in", "160.9")
    row = Reading.objects.get(number=low)
    assert (row.product_class, row.product, outcome(low)) == ("milk", "", "not met")
    assert against(run) == ["Cut-in: out of limits, 160.9 °F"]
    with pytest.raises(Several, match=r"160\.9"):
        product_in(ines, product(run, begins_now=True))
    press.at(NOW + 8 * MINUTE)
    assert outcome(answered(ines, "cut-in", "161.0")) == "met" and against(run) == []
    say(ines, event(run, SET_UP, set_up="cream", product="cream"))
    assert product_expected("press-1", clock.now()) == "cream"
    press.at(NOW + 10 * MINUTE)
    assert outcome(answered(ines, "cut-in", "165.9")) == "not met"
    assert outcome(answered(ines, "cut-in", "166.0")) == "met"


def test_a_reading_on_water_answers_what_the_run_asks_at_its_first(press: Plant) -> None:
    """Cut-in read five minutes before product is the reading that the plan asks of this run; it is not asked again."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    read = answered(ines, "cut-in", "161.4")
    press.at(NOW + 10 * MINUTE)
    product_in(ines, product(run, begins_now=True))
    press.at(NOW + 40 * MINUTE)
    (due,) = due_between(NOW, NOW + HOUR, clock.now(), keys=["cut-in"])
    assert due.reading is not None and due.reading.number == read


def test_a_recorder_above_the_indicating_thermometer_stands_against_product(press: Plant) -> None:
    """It never reads higher: 1 NYCRR 2.45(b)(2) for the vat, text consulted; continuous flow the same, from memory."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    answered(ines, "cut-in", "161")
    record_reading(ines, ReadingData(uuid.uuid4(), "press-1", "both", typed="162", typed_second="162.5"))
    (said,) = against(run)
    assert said.startswith("Both thermometers: out of limits")


@pytest.mark.parametrize(("typed", "stands"), [("0", True), ("-1", True), ("0.1", False)])
def test_the_pasteurized_side_is_above_the_raw_side(press: Plant, typed: str, stands: bool) -> None:
    """At all times: 7 Pa. Code 59.216c(a)(1), 1 NYCRR 3.26(a). An equal pressure is not above."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    answered(ines, "cut-in", "161")
    answered(ines, "pressure", typed)
    assert bool(against(run)) is stands


def test_a_press_that_nothing_recorded_says_was_sanitized_does_not_begin(press: Plant) -> None:
    """Its first product after a wash: refused while it has not begun; what flowed is kept and held, by the movement."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    all_answered(press)
    answered(ines, "cut-in", "161")
    press.at(NOW + 30 * HOUR)
    found, in_force = run_of(run), plan_in_force(clock.now())
    assert found is not None and in_force is not None
    assert "sanitized 30 h before" in starting.not_clean(found, clock.now(), in_force)
    with pytest.raises(Several, match="Press 1 was sanitized 30 h before"):
        product_in(ines, product(run, begins_now=True))
    row = product_in(ines, product(run))
    causes = DeviationCause.objects.filter(cause_number=row.movement)
    assert any("sanitized" in one.sentence for one in causes)
    assert Hold.objects.filter(deviation__in=[one.deviation for one in causes]).exists()


def test_a_changed_set_up_is_read_again_before_product_goes_forward(press: Plant) -> None:
    """Cut-in and thermometers of the set-up now in use (daily at the start of a run, ATCP 65.66(3)(f); at each change:
    common practice, no source). Without them forward flow of product is a deviation with its hold."""
    ines = press.actor("ines")
    run = running_with_pressure(press)
    press.at(NOW + 30 * MINUTE)
    say(ines, event(run, DIVERTED, words="change over"))
    say(ines, event(run, SET_UP, set_up="cream", product="whole-milk"))
    assert against(run) == ["Cut-in: nothing recorded", "Both thermometers: nothing recorded"]
    press.at(NOW + 32 * MINUTE)
    row = say(ines, event(run, FORWARD_AGAIN))
    causes = DeviationCause.objects.filter(cause_number=row.number)
    assert any("Cut-in: nothing recorded" in one.sentence for one in causes)
    assert Hold.objects.filter(deviation=causes[0].deviation).exists()


def running_with_pressure(plant: Plant) -> int:
    """A run with milk in it, every check before use answered; its number."""
    answered(plant.actor("ines"), "pressure", "3")
    thermometers(plant)
    return running(plant.actor("ines")).number


def test_a_seal_found_broken_in_a_run_holds_and_asks_who_told_the_regulator(press: Plant) -> None:
    """No operation without unbroken seals, ATCP 65.68(1),(5); the regulator is told, 65.68(6)(a)."""
    ines = press.actor("ines")
    run = running_with_pressure(press)
    press.at(NOW + 30 * MINUTE)
    saved = sealed(press, what="found broken")
    assert saved.deviation is not None and Hold.objects.filter(deviation=saved.deviation.number).exists()
    assert any("seal at" in one and "broken" in one for one in against(run))
    found = run_of(run)
    assert found is not None and deviations_of([found], clock.now()) == {run: {saved.deviation.number}}
    in_force = plan_in_force(clock.now())
    assert in_force is not None and [one.act.number for one in untold("press-1", in_force)] == [saved.row.number]
    press.at(NOW + 60 * MINUTE)
    product_out(ines, out(run))
    with pytest.raises(Several, match="seal"):
        product_in(ines, product(run, begins_now=True))


def test_water_forward_while_something_stands_against_it_is_kept_and_holds_nothing(press: Plant) -> None:
    """Forward flow on water touches no product: a fact without a deviation."""
    ines = press.actor("ines")
    run = begin_start(ines, start()).number
    row = say(ines, event(run, FORWARD))
    assert against(run) and not DeviationCause.objects.filter(cause_number=row.number).exists()




def test_a_press_that_ran_yesterday_and_was_not_washed_since_bars_the_start(press: Plant) -> None:
    """Each day of use it is washed: 7 Pa. Code 59.212(a), state mirror; a wash and a sanitizing lift it."""
    ines = press.actor("ines")

    run = begin_start(ines, start()).number
    checked(ines)
    product_in(ines, product(run))
    press.at(NOW + 60 * MINUTE)
    product_out(ines, out(run))
    say(ines, event(run, ENDED))
    press.at(NOW + 90 * MINUTE)
    again = begin_start(ines, start()).number
    found, in_force = run_of(again), plan_in_force(clock.now())
    assert found is not None and in_force is not None
    assert starting.not_clean(found, clock.now(), in_force) == ""
    press.at(NOW + timedelta(days=1))
    sentence = starting.not_clean(found, clock.now(), in_force)
    assert "ran on 2026-03-03 and was not washed since" in sentence and "59.212(a)" in sentence
    made_ready(ines, NOW + timedelta(days=1) - MINUTE, "press-1")
    assert starting.not_clean(found, clock.now(), in_force) == ""
