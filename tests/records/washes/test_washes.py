"""Washes by a program: judged, not proven, product after them, once for a form, amended; their pages."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import Plan, TracedDef, WashStepDef, from_json, to_json
from plant.hazard_plan.written import read
from plant.people.models import Person
from records.deviations.models import Deviation, DeviationCause, DeviationClosing, Hold, HoldLift
from records.flow.actions import DifferentContent
from records.flow.errors import Refused, Several
from records.flow.models import Wash
from records.people.plans import plan_in_force
from records.reports.moved import washes as washes_of_day
from records.review.ready_data import ready_at
from records.traces import watch
from records.washes import state
from records.washes.actions import amend, record
from records.washes.anew import follow_traces
from records.washes.data import ProgramWashData, StepData
from records.washes.models import WashStep
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, moved, ran
from tests.records.flow.test_flow_pages import local
from tests.records.traces.made_traces import kept, samples

Browser = Callable[[Person], Client]
MINUTE = timedelta(minutes=1)
# 77 °C (170 °F) for at least 5 min at the outlet: 1 NYCRR 2.18, farm item 11r (text consulted in a state mirror).
HOT = "1 NYCRR 2.18 (farm item 11r)"
STEPS = (
    WashStepDef("s1", "silo-wash", "pre-rinse", ("silo-a",), minutes="3"),
    WashStepDef(
        "s2", "silo-wash", "alkaline wash", ("silo-a",), "10", "155", "185", "°F", "0.5", "1.5", "%"
    ),
    WashStepDef("s3", "silo-wash", "sanitize", ("silo-a",), "5", "170", clause=HOT),
)  # fmt: skip


def with_program(plan: Plan | None = None) -> Plan:
    """The small plan with a program for Silo A."""
    return replace(plan or small_plan(), wash_steps=STEPS)


def wash(start: datetime, **changes: Any) -> ProgramWashData:
    """A wash that meets the program."""
    steps = (
        StepData(1, start, start + 4 * MINUTE),
        StepData(2, start + 4 * MINUTE, start + 16 * MINUTE, "160", "1.0"),
        StepData(3, start + 16 * MINUTE, start + 21 * MINUTE, "171"),
    )
    values = {"form_id": uuid.uuid4(), "vessel": "silo-a", "program": "silo-wash", "steps": steps}
    return ProgramWashData(**(values | changes))


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """A plant whose plan washes Silo A by a program, half an hour later."""
    in_force(plant, with_program())
    plant.at(NOW + 30 * MINUTE)
    return plant


def test_a_plan_without_programs_says_as_before_and_a_wrong_program_is_refused() -> None:
    assert "wash_steps" not in to_json(small_plan())
    assert from_json(to_json(with_program())) == with_program()
    assert not [one for one in problems(with_program()) if "wash_steps" in one.path]
    wrong = replace(STEPS[1], step="soak", temperature_low="190", places=("nowhere",))
    paths = {one.path for one in problems(replace(with_program(), wash_steps=(STEPS[0], wrong)))}
    assert {"wash_steps[1].step", "wash_steps[1].temperature_high", "wash_steps[1].places"} <= paths


@pytest.mark.django_db
def test_a_wash_that_meets_its_program_is_two_acts_and_lets_product_in(silo: Plant) -> None:
    ines = silo.actor("ines")
    data = wash(NOW)
    saved = record(ines, data)
    assert list(Wash.objects.order_by("number").values_list("what", flat=True)) == ["washed", "sanitized"]
    found = state.judged([saved])[0]
    assert found.proven and found.plan_number
    both = washes_of_day(NOW - MINUTE, NOW + 60 * MINUTE, programs=True)
    assert [(one["program"], one["verdict"], len(one["steps"])) for one in both] == [
        ("silo-wash", "met", 3), ("silo-wash", "met", 1),
    ]  # fmt: skip
    assert record(ines, data) == saved and WashStep.objects.count() == 3
    with pytest.raises(DifferentContent):
        record(ines, replace(data, steps=data.steps[:2]))
    moved(ines, started_at=clock.now() - 5 * MINUTE, ended_at=clock.now())
    assert not Deviation.objects.exists()


@pytest.mark.django_db
def test_a_missing_or_cold_step_is_not_proven_and_bars_product(silo: Plant) -> None:
    """169 °F is not the 170 °F of the rule; a step without record is not proven. Product in anyway: a deviation."""
    ines = silo.actor("ines")
    data = wash(NOW)
    cold = replace(data.steps[2], temperature="169")
    saved = record(ines, replace(data, steps=(data.steps[0], cold)))
    why = state.why_not_proven(state.judged([saved])[0])
    assert washes_of_day(NOW - MINUTE, NOW + 60 * MINUTE, programs=True)[0]["why"] == why
    assert [one.split(":")[0] for one in why] == ["alkaline wash", "sanitize"]
    with pytest.raises(Several, match="not proven by its program"):
        moved(ines, started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)
    moved(ines, started_at=clock.now() - 5 * MINUTE, ended_at=clock.now())
    assert "not proven by its program" in Deviation.objects.get().sentence


@pytest.mark.django_db
def test_floor_vessel_and_ready_say_that_a_wash_is_not_proven(silo: Plant, client_for: Browser) -> None:
    """Neither clean nor sanitized: the sentence, with the way to the wash, until a wash is proven."""
    actor, ines = silo.actor("ines"), client_for(silo.people.ines)
    data = wash(NOW)
    saved = record(actor, replace(data, steps=(data.steps[0], *data.steps[2:])))
    said = f"washed, not proven by its program (wash {saved.number}): alkaline wash"
    link = reverse("records:wash", args=[saved.number])
    pages = [reverse("records:floor"), reverse("records:vessel", args=["silo-a"]), reverse("records:ready")]
    for page in pages:
        text = ines.get(page).content.decode()
        assert said in text and link in text and "washed, not proven" in text
    plan = plan_in_force(clock.now())
    assert plan is not None
    (against,) = (one for one in ready_at(plan, clock.now()) if one.vessel and one.vessel.code == "silo-a")
    assert [one.sentence for one in against.of("against") if said in one.sentence]
    record(actor, wash(NOW, form_id=uuid.uuid4(), steps=tuple(
        replace(one, started_at=one.started_at + 2 * MINUTE, ended_at=one.ended_at + 2 * MINUTE) for one in data.steps
    )))  # fmt: skip
    assert all("not proven by its program" not in ines.get(page).content.decode() for page in pages[1:2])

@pytest.mark.django_db
def test_each_program_gives_its_states_beside_one_of_sanitizing_alone(plant: Plant) -> None:
    """A sanitizing within a wash is proven by that wash's step; one that failed is made good by one alone."""
    alone = WashStepDef("a1", "hot-alone", "sanitize", ("silo-a",), "5", "170", clause=HOT)
    in_force(plant, replace(small_plan(), wash_steps=(*STEPS, alone)))
    plant.at(NOW + 30 * MINUTE)
    ines = plant.actor("ines")
    plan = replace(small_plan(), wash_steps=(*STEPS, alone))
    assert [state.gives(state.program(plan, one)) for one in ("silo-wash", "hot-alone")] == [
        ("washed", "sanitized"), ("sanitized",),
    ]  # fmt: skip
    data = wash(NOW)
    record(ines, replace(data, steps=(*data.steps[:2], replace(data.steps[2], temperature="169"))))
    washed, sanitized = Wash.objects.order_by("number")
    by_part = state.judged([washed, sanitized], apart=True)
    assert [one.proven for one in by_part] == [True, False] and [len(one.steps) for one in by_part] == [2, 1]
    with pytest.raises(Several, match="sanitized, not proven by its program"):
        moved(ines, started_at=clock.now(), ended_at=None, quantity_typed="", start_now=True)
    again = StepData(1, NOW + 22 * MINUTE, NOW + 28 * MINUTE, "172")
    record(ines, wash(NOW, program="hot-alone", steps=(again,)))
    moved(ines, started_at=clock.now() - MINUTE, ended_at=clock.now())
    assert not Deviation.objects.exists()


@pytest.mark.django_db
def test_a_trace_that_contradicts_or_is_silent_makes_a_step_worse(plant: Plant, client_for: Browser) -> None:
    """Typed 171 °F for 5 min: proven only once the recorder shows it; colder, it is not met, and drawn on the page."""
    traced = TracedDef("T-12", "Return line", "silo-a", "wash temperature", "raw-storage", "°F", "15")
    steps = (*STEPS[:2], replace(STEPS[2], recorder="T-12"))
    plan = replace(small_plan(), wash_steps=steps, traced=(traced,))
    assert not [one for one in problems(plan) if "recorder" in one.path]
    assert [one for one in problems(replace(plan, traced=())) if one.path == "wash_steps[2].recorder"]
    in_force(plant, plan)
    plant.at(NOW + 30 * MINUTE)
    saved = record(plant.actor("ines"), wash(NOW))
    assert state.why_not_proven(state.judged([saved])[0]) == ["sanitize: No trace of this time is kept."]
    address = reverse("records:wash", args=[saved.number])
    ines = client_for(plant.people.ines)
    assert "T-12: no trace of this time is kept" in ines.get(address).content.decode()
    kept(samples(NOW + 16 * MINUTE, [1715] * 20, step_ms=10_000))
    assert "its gaps prove nothing" in state.why_not_proven(state.judged([saved])[0])[0]
    kept(samples(NOW + 16 * MINUTE + timedelta(seconds=200), [1715] * 11, step_ms=10_000))
    assert state.judged([saved])[0].proven
    text = ines.get(address).content.decode()
    assert "<svg" in text and "The trace shows" in text
    kept(samples(NOW + 18 * MINUTE, [1500], step_ms=10_000))  # another file says otherwise
    assert "for no longer than" in state.why_not_proven(state.judged([saved])[0])[0]


@pytest.mark.django_db
def test_strength_and_flow_of_a_step_have_to_show_in_their_channels(plant: Plant, client_for: Browser) -> None:
    """Typed 12 mS/cm and 60 gal/min: met only once each channel shows it; weaker, stronger or slower is not met."""
    names = {"T-12": ("wash temperature", "°F"), "C-1": ("wash strength", "mS/cm"), "F-1": ("wash flow", "gal/min")}
    traced = tuple(
        TracedDef(key, f"Return line {key}", "silo-a", what, "raw-storage", unit, "15")
        for key, (what, unit) in names.items()
    )
    caustic = replace(
        STEPS[1], strength_low="10", strength_high="20", strength_unit="mS/cm", flow_low="50", flow_unit="gal/min",
        recorder="T-12", strength_recorder="C-1", flow_recorder="F-1",
    )  # fmt: skip
    plan = replace(small_plan(), wash_steps=(caustic,), traced=traced)
    assert from_json(to_json(plan)) == plan and not [one for one in problems(plan) if "wash_steps" in one.path]
    wrong = replace(caustic, strength_recorder="F-1", flow_low="")
    paths = {one.path for one in problems(replace(plan, wash_steps=(wrong,)))}
    assert {"wash_steps[0].strength_recorder", "wash_steps[0].flow_recorder"} <= paths
    in_force(plant, plan)
    plant.at(NOW + 30 * MINUTE)
    saved = record(plant.actor("ines"), wash(NOW, steps=(StepData(1, NOW, NOW + 12 * MINUTE, "160", "12", "60"),)))
    kept(samples(NOW, [1600] * 73, step_ms=10_000))
    kept(samples(NOW, [120] * 73, step_ms=10_000), "C-1", "Return line", "mS/cm")

    def traces() -> dict[str, str]:
        (one,) = state.judged([saved])
        assert one.result is not None
        return {each.quantity: each.judged.outcome.value for each in one.result.steps[0].findings}

    assert traces() | {"time": "met"} == {
        "time": "met", "temperature": "met", "strength": "met", "flow": "met", "trace": "met",
        "trace of the strength": "met", "trace of the flow": "not proven",
    }  # fmt: skip
    kept(samples(NOW, [600] * 73, step_ms=10_000), "F-1", "Return line", "gal/min")
    assert state.judged([saved])[0].proven
    text = client_for(plant.people.ines).get(reverse("records:wash", args=[saved.number])).content.decode()
    assert text.count("<svg") == 1 and "1. ≥ 50 gal/min" in text and "1. ≤ 20 mS/cm" in text
    kept(samples(NOW + 5 * MINUTE, [250] * 6, step_ms=10_000), "C-1", "Return line", "mS/cm")  # stronger than it may be
    kept(samples(NOW + 5 * MINUTE, [300] * 6, step_ms=10_000), "F-1", "Return line", "gal/min")
    found = traces()
    assert found["trace of the strength"] == found["trace of the flow"] == "not met" and found["trace"] == "met"


HOT_FOR_FIVE, COLD = [1715] * 31, [1500] * 31


@pytest.fixture
def traced_tank(plant: Plant) -> Plant:
    """Finished 1's sanitizing has to show in the return line's recorder, T-12."""
    traced = TracedDef("T-12", "Return line", "finished-1", "wash temperature", "raw-storage", "°F", "15")
    steps = tuple(replace(one, places=("finished-1",)) for one in (*STEPS[:2], replace(STEPS[2], recorder="T-12")))
    in_force(plant, replace(small_plan(), wash_steps=steps, traced=(traced,)))
    plant.at(NOW + 30 * MINUTE)
    return plant


def poured(plant: Plant) -> None:
    """Pasteurized milk into the tank after its wash, as a fact."""
    into = {"product": "whole-milk", "source_name": "Oxbow Farm", "load": None}
    moved(plant.actor("ines"), started_at=clock.now() - 5 * MINUTE, ended_at=clock.now(), target="finished-1", **into)


@pytest.mark.django_db
def test_a_trace_that_comes_late_and_contradicts_reaches_the_product(traced_tank: Plant, client_for: Browser) -> None:
    """Proven when the product went in; another file shows 150 °F: a deviation and a hold, once, told on its page."""
    kept(samples(NOW + 16 * MINUTE, HOT_FOR_FIVE, step_ms=10_000))
    record(traced_tank.actor("ines"), wash(NOW, vessel="finished-1"))
    poured(traced_tank)
    watch.look()
    assert not Deviation.objects.exists()
    kept(samples(NOW + 16 * MINUTE, COLD, step_ms=10_000))
    watch.look()
    watch.look()
    (found,) = Deviation.objects.all()
    assert found.subject == "finished-1" and "for no longer than" in found.sentence
    (held,) = Hold.objects.all()
    assert held.deviation == found.number and held.vessel == "finished-1"
    assert follow_traces([("T-12", NOW, NOW + 30 * MINUTE)]) == 0
    sanitized = Wash.objects.get(what="sanitized")
    page = client_for(traced_tank.people.ines).get(reverse("records:wash", args=[sanitized.number]))
    assert f"Deviation {found.number}: " in page.content.decode()


@pytest.mark.django_db
def test_a_trace_that_comes_late_and_proves_opens_and_closes_nothing(traced_tank: Plant) -> None:
    """Unproven when the product went in: what that opened waits for a person; the wash counts from then on."""
    saved = record(traced_tank.actor("ines"), wash(NOW, vessel="finished-1"))
    poured(traced_tank)
    (before,) = Deviation.objects.all()
    assert "No trace of this time is kept" in before.sentence
    kept(samples(NOW + 16 * MINUTE, HOT_FOR_FIVE[:20], step_ms=10_000))  # a part of it: as unproven as before
    watch.look()
    kept(samples(NOW + 16 * MINUTE + timedelta(seconds=200), HOT_FOR_FIVE[:11], step_ms=10_000))
    watch.look()
    assert state.judged([saved])[0].proven
    assert list(Deviation.objects.all()) == [before] and DeviationCause.objects.count() == 1
    assert not DeviationClosing.objects.exists() and not HoldLift.objects.exists()


@pytest.mark.django_db
def test_unproven_then_contradicted_is_told_to_the_deviation_that_waits(traced_tank: Plant) -> None:
    """Silence first, then a trace that shows it too cold: a further cause of the same deviation, and no second hold."""
    record(traced_tank.actor("ines"), wash(NOW, vessel="finished-1"))
    poured(traced_tank)
    kept(samples(NOW + 16 * MINUTE, COLD, step_ms=10_000))
    watch.look()
    causes = list(DeviationCause.objects.order_by("number").values_list("cause_kind", flat=True))
    assert causes == ["movement", "wash"] and Deviation.objects.count() == Hold.objects.count() == 1


@pytest.mark.django_db
def test_what_ran_through_an_unclean_line_later_is_held_too(plant: Plant) -> None:
    """The press's wash amended to too cold: both tanks that it filled before its next wash are held."""
    steps = tuple(replace(one, places=("press-1",)) for one in STEPS)
    second = replace(small_plan().vessels[2], code="finished-2", name="Finished 2", flow_order=9, walk_order=9)
    in_force(plant, replace(small_plan(), vessels=(*small_plan().vessels, second), wash_steps=steps))
    plant.at(NOW + 12 * HOUR)
    ines = plant.actor("ines")
    made_ready(ines, NOW + HOUR, "silo-a", "finished-1", "finished-2")
    data = wash(NOW + HOUR, vessel="press-1")
    record(ines, data)
    moved(ines, started_at=NOW + 2 * HOUR)
    rows = [
        ran(ines, started_at=NOW + HOUR * at, target=to, quantity_typed="50")
        for at, to in ((3, "finished-1"), (4, "finished-2"), (5, "finished-1"))
    ]
    opened = Deviation.objects.count()
    row = WashStep.objects.get(place_in=2)
    amend(ines, row.number, replace(data.steps[1], temperature="120"), uuid.uuid4(), "misread")
    (found,) = Deviation.objects.all()[opened:]
    assert found.subject == "press-1"
    held = Hold.objects.filter(deviation=found.number)
    assert sorted(one.lot for one in held) == sorted({one.target_lot for one in rows})


@pytest.mark.django_db
def test_a_step_amended_for_the_worse_reaches_the_product_that_went_in(silo: Plant) -> None:
    ines = silo.actor("ines")
    data = wash(NOW)
    record(ines, data)
    moved(ines, started_at=clock.now() - 5 * MINUTE, ended_at=clock.now())
    row = WashStep.objects.get(place_in=2)
    with pytest.raises(Refused, match="Write why"):
        amend(ines, row.number, replace(data.steps[1], temperature="120"), uuid.uuid4(), " ")
    amend(ines, row.number, replace(data.steps[1], temperature="120"), uuid.uuid4(), "misread")
    assert "alkaline wash" in Deviation.objects.get().sentence


@pytest.mark.django_db
def test_nonsense_is_refused_beside_its_field(silo: Plant) -> None:
    ines = silo.actor("ines")
    data = wash(NOW)
    for change, field in (
        ({"temperature": "900"}, "temperature_2"), ({"strength": "101"}, "strength_2"),
        ({"ended_at": data.steps[1].started_at}, "ended_2"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            record(ines, replace(data, steps=(replace(data.steps[1], **change),)))
        assert refused.value.field == field
    assert not Wash.objects.exists()


@pytest.mark.django_db
def test_the_pages_carry_a_wash(silo: Plant, client_for: Browser) -> None:
    """Refused with what was typed kept, recorded, judged on its page, amended, listed."""
    ines = client_for(silo.people.ines)
    plain = ines.get("/vessel/silo-a/washed/").content.decode()
    assert "Record the steps: silo-wash" in plain and "it is not proven" in plain  # nobody goes the plain way unwarned
    address = reverse("records:wash-new", args=["silo-a", "silo-wash"])
    sent = {"form_id": str(uuid.uuid4()), "started_1": local(NOW), "ended_1": "", "temperature_2": "hot"}
    answer = ines.post(address, sent)
    assert answer.status_code == 422 and 'value="hot"' in answer.content.decode()
    sent = {"form_id": str(uuid.uuid4())}
    for one in wash(NOW).steps:
        at = one.place_in
        sent |= {f"started_{at}": local(one.started_at), f"ended_{at}": local(one.ended_at)}
        sent |= {f"temperature_{at}": one.temperature, f"strength_{at}": one.strength, f"flow_{at}": ""}
    answer = ines.post(address, sent, follow=True)
    text = answer.content.decode()
    assert "Every step of the program is recorded" in text and HOT in text
    row = WashStep.objects.get(place_in=3)
    amending = reverse("records:wash-step-amend", args=[row.number])
    said = {"form_id": str(uuid.uuid4()), "started": local(row.started_at), "ended": local(row.ended_at)}
    answer = ines.post(amending, said | {"temperature": "160", "reason": "misread"}, follow=True)
    assert "Not proven by its program" in answer.content.decode()
    listed = ines.get(reverse("records:washes")).content.decode()
    assert "not proven" in listed and "silo-wash" in listed


@pytest.mark.django_db
def test_a_line_that_is_no_vessel_is_washed_by_the_invented_plants_program(plant: Plant, client_for: Browser) -> None:
    """The separator: listed, its form opens, and a wash without its alkaline step makes it not clean."""
    demo = read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8"))
    separator = tuple(one for one in demo.equipment if one.code == "separator")
    steps = tuple(replace(one, places=("separator",)) for one in demo.wash_steps if "separator" in one.places)
    small = small_plan()
    in_force(plant, replace(small, equipment=(*small.equipment, *separator), wash_steps=steps))
    plant.at(NOW + 30 * MINUTE)
    ines = client_for(plant.people.ines)
    text = ines.get(reverse("records:washes")).content.decode()
    for program in {one.program for one in steps}:
        address = reverse("records:wash-new", args=["separator", program])
        assert address in text and ines.get(address).status_code == 200
    done = tuple(
        StepData(at, NOW + (5 * at) * MINUTE, NOW + (5 * at + 5) * MINUTE, "100" if at == 1 else "") for at in (1, 3)
    )
    record(plant.actor("ines"), wash(NOW, vessel="separator", program="line-cip", steps=done))
    assert "washed, not proven" in ines.get(reverse("records:washes")).content.decode()
