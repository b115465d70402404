"""Traces judged: each finding a record, a verdict and a deviation, once, whoever judges and however often."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from plant import clock
from plant.hazard_plan.content import AnswerDef, FrequencyDef, LimitDef, MonitoringDef
from plant.hazard_plan.stored import store
from plant.process.errors import CalculationError
from plant.process.said import say
from plant.process.trace_blocks import Samples
from records.checks.actions import amend_reading, record_reading
from records.checks.entry import ReadingData
from records.deviations.models import Deviation, DeviationCause, Hold
from records.judging.models import Verdict
from records.ledger.actions import WATCH, act
from records.ledger.models import Entry
from records.ledger.verify import verify
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.traces import beside, findings, judging, watch
from records.traces.blocks import Channel, keep
from records.traces.models import TraceFinding, TraceJudged
from records.traces.moments import to_ms
from records.traces.windows import Window
from tests.conftest import Plant
from tests.factories import small_plan
from tests.records.flow.made import moved, ran, washed

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)  # 06:00 in Chicago
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


def at(seconds: float) -> datetime:
    """A moment of the run."""
    return START + timedelta(seconds=seconds)


def kept(instrument: str, values: Any, unit: str = "°F", places: int = 1, first: float = 0, step_s: int = 1) -> None:
    """Samples, one each step, kept in an act of the watch."""
    times = round(at(first).timestamp() * 1000) + 1000 * step_s * np.arange(len(values), dtype=np.int64)
    samples = Samples(times, np.asarray(values, np.int64), np.zeros(len(values), np.bool_), places)
    with act(WATCH) as a:
        keep(a, Channel(instrument, instrument, unit, samples), None)


def pair(indicating: str, recording: str, seen: datetime) -> ReadingData:
    """Both thermometers, read at one moment."""
    return ReadingData(
        form_id=uuid.uuid4(),
        monitoring_key="press-thermometers",
        subject="press-1",
        typed=indicating,
        typed_second=recording,
        observed_at=seen,
    )


def hold(seconds: str, seen: datetime) -> ReadingData:
    """The holding time, read from the test of record."""
    return ReadingData(
        form_id=uuid.uuid4(), monitoring_key="press-hold", subject="press-1", typed=seconds, observed_at=seen
    )


def with_the_hold(
    plant: Plant, checks: tuple[MonitoringDef, ...] = (), bounds: tuple[LimitDef, ...] = (), **changes: Any
) -> int:
    """A version of the small plan that asks for the holding time of record, in force at once; its number."""
    one = small_plan()
    limit = LimitDef(
        "hold-milk", "holding time", "21 CFR 1240.61(b)", "text consulted", "s", low="15", rule="htst-milk"
    )
    check = MonitoringDef(
        "press-hold", "pasteurizing", ("press-1",), "Holding time", "Read it from the test report.", "operator",
        AnswerDef("number", "s", low="0", high="120"), FrequencyDef("run_ends", first=True), ("hold-milk",),
        corrective_action="Stop and divert.",
    )  # fmt: skip
    plan = small_plan(limits=(*one.limits, limit, *bounds), monitoring=(*one.monitoring, check, *checks), **changes)
    version = store(plan, plant.people.odile, clock.now())
    sign_plan(plant.people.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(plant.people.actor("hanne"), version, OWNER_SIGNS)
    return version.number


@pytest.fixture
def run(plant: Plant) -> Iterator[Plant]:
    """An hour of whole milk through Press 1, both thermometers and the holding time of record read once."""
    began(plant)
    record_reading(plant.actor("tomas"), hold("16.2", at(30)))
    yield plant


def began(plant: Plant, **changes: Any) -> None:
    """The run without the holding time."""
    plant.at(START - 24 * HOUR)
    with_the_hold(plant, **changes)
    plant.at(START - HOUR)
    moved(plant.actor("tomas"), started_at=START - 2 * HOUR)
    plant.at(at(3660))
    ran(plant.actor("tomas"), started_at=START, ended_at=at(3600))
    record_reading(plant.actor("tomas"), pair("163.2", "163.0", at(60)))
    kept("fd-press-1", [1] * 3601, "1", 0)


def hot(**dips: int) -> list[int]:
    """163.0 °F for an hour, tenths; `s100=1590` makes second 100 another."""
    values = [1630 + at % 3 for at in range(3601)]
    for name, value in dips.items():
        values[int(name[1:])] = value
    return values


def deviations() -> list[Deviation]:
    """Those that a trace is a cause of: an unwashed vessel of the test has its own."""
    numbers = DeviationCause.objects.filter(cause_kind=TraceFinding.KIND).values("deviation")
    return list(Deviation.objects.filter(number__in=numbers).order_by("number"))


def standing() -> list[TraceFinding]:
    """What stands at the press."""
    return findings.standing_rows(START - HOUR, at(7200), ["press-1"])


def test_an_hour_in_limits_is_met_and_said_to_be(run: Plant) -> None:
    """No finding; the record says how many seconds of forward flow were met, by which plan."""
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    assert standing() == [] and not deviations()
    judged = TraceJudged.objects.get()
    assert judged.counted == {"met": "3600.000"} and judged.plan_number == 2 and verify().good


def test_a_dip_of_one_second_is_found(run: Plant) -> None:
    """A finding with its rule, a verdict that keeps its numbers, a deviation at the CCP, the lot held."""
    kept("T-12", hot(s1234=1609))
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert (one.about, one.outcome, one.extreme, one.unit, one.seconds) == (
        "temperature", "not met", "160.9", "°F", "2.000"
    )  # fmt: skip
    assert one.rule == "htst-milk" and "1240.61" in one.clause and len(one.lots) == 1
    verdict = Verdict.objects.get(subject_kind="trace finding")
    assert (verdict.outcome, verdict.plan_number, verdict.numbers["extreme"]) == ("not met", 2, "160.9")
    (deviation,) = deviations()
    assert (deviation.control_point, deviation.subject, deviation.is_ccp) == ("pasteurizing", "press-1", True)
    assert DeviationCause.objects.get(deviation=deviation.number).cause_number == one.number
    assert Hold.objects.filter(deviation=deviation.number).exists() and verify().good


def test_judged_again_nothing_is_added(run: Plant) -> None:
    """By another process, or because its file came again."""
    kept("T-12", hot(s1234=1609))
    judging.judge_place("press-1", START, at(3600))
    before = Entry.objects.count()
    judging.judge_place("press-1", START, at(3600))
    judging.judge_instruments(["T-12"], at(1200), at(1300))
    assert Entry.objects.count() == before


def test_more_data_adds_to_the_finding(run: Plant) -> None:
    """A dip that the first file ends in goes on in the second: one story, one deviation."""
    values = hot(**{f"s{second}": 1605 for second in range(1790, 1820)})
    kept("T-12", values[:1800])
    judging.judge_place("press-1", START, at(1799))
    (first,) = [one for one in standing() if one.cause == "process"]
    kept("T-12", values[1800:], first=1800)
    judging.judge_place("press-1", at(1800), at(3600))
    (second,) = [one for one in standing() if one.cause == "process"]
    assert second.key == first.key and second.part == 1 and second.end_at > first.end_at
    assert len(deviations()) == 1 and verify().good


def test_what_is_no_longer_found_says_so_and_closes_nothing(plant: Plant) -> None:
    """A holding time entered late explains the run: the finding gets a verdict, its deviation stays for a person."""
    began(plant)
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert one.outcome == "not proven" and len(deviations()) == 1
    late = record_reading(plant.actor("tomas"), hold("16.2", at(30))).reading
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert standing() == [] and len(deviations()) == 1
    last = Verdict.objects.filter(subject_kind="trace finding", subject_number=one.number).last()
    assert last is not None and last.outcome == "met" and last.follows is not None
    wrong = hold("14.0", at(30))
    amend_reading(plant.actor("tomas"), late.number, wrong, "misread", day_closed=False)
    judging.judge_place("press-1", START, at(3600))
    assert len(standing()) == 1 and verify().good


def test_a_gap_is_never_a_pass(run: Plant) -> None:
    """Ten minutes without a sample in forward flow are not proven."""
    values = hot()
    kept("T-12", values[:1000])
    kept("T-12", values[1600:], first=1600)
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert (one.outcome, one.cause) == ("not proven", "nothing recorded")
    assert TraceJudged.objects.get().counted["not proven"].startswith("60")


def test_forward_flow_that_nobody_named_is_not_proven(run: Plant) -> None:
    """Flow after the run's end, with nothing recorded of it: no product is named, and nothing is proven."""
    kept("T-12", [*hot(), *[1630] * 600])
    kept("fd-press-1", [1] * 600, "1", 0, first=3601)
    judging.judge_place("press-1", START, at(4200))
    causes = {one.cause for one in standing()}
    assert "no product named" in causes and {one.outcome for one in standing()} == {"not proven"}


def test_a_late_reading_is_judged_with_its_run(run: Plant) -> None:
    """The recorder reads above the thermometer that was read late: the watch judges the run again."""
    kept("T-12", hot())
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    assert standing() == []
    run.at(at(4000))
    record_reading(run.actor("tomas"), pair("162.0", "163.0", at(1800)))
    assert watch.look() > 0
    assert "recorder reads higher" in {one.cause for one in standing()}
    before = Entry.objects.count()
    assert watch.look() >= 0 and Entry.objects.count() == before


def test_a_warm_silo_is_found(plant: Plant) -> None:
    """A tank's recorder against the plan's limit while it holds milk; before the milk nothing is asked."""
    plant.at(START)
    moved(plant.actor("tomas"), started_at=START - HOUR, ended_at=START - HOUR / 2)
    plant.at(START + 3 * HOUR)
    kept("T-20", [600] * 60 + [380] * 60 + [460] * 20 + [380] * 40, first=-7200, step_s=60)
    judging.judge_place("silo-a", START - 2 * HOUR, at(3600))
    rows = findings.standing_rows(START - 2 * HOUR, at(3600), ["silo-a"])
    assert [(one.outcome, one.extreme) for one in rows] == [("not met", "46")]
    (deviation,) = deviations()
    assert deviation.subject == "silo-a" and TraceJudged.objects.get().place == "silo-a"


def test_what_cannot_be_judged_is_not_proven(run: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """A calculation that refuses leaves a finding with its reason, never silence."""
    kept("T-12", hot())

    def refuses(_trace: object) -> None:
        raise CalculationError(say("two set-ups are at one time"))

    monkeypatch.setattr(judging, "judge_pasteurizer", refuses)
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert one.outcome == "not proven" and "two set-ups are at one time" in one.sentence and one.lots
    assert len(deviations()) == 1 and verify().good


def test_a_broken_wire_is_no_pass(run: Plant) -> None:
    """850 °F is beyond what the recorder reads (0 to 212 °F): not proven, whatever the limit says."""
    kept("T-12", hot(s1000=8500, s1001=8500, s1002=8500))
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert one.outcome == "not proven" and one.about == "temperature"


def test_each_version_of_the_plan_judges_its_own_part(run: Plant) -> None:
    """A stricter version in force at half past: its half is judged by it, the half before by the one before."""
    kept("T-12", hot())
    run.at(at(1700))
    second = with_the_hold(run, title="Quillbrook, third")
    assert second == 3
    run.at(at(3700))
    judging.judge_place("press-1", START, at(3600))
    parts = [(one.plan_number, one.counted) for one in TraceJudged.objects.order_by("start_at")]
    assert parts == [(2, {"met": "1700.000"}), (3, {"met": "1900.000"})] and standing() == []


def test_a_wash_that_the_trace_does_not_show_is_not_proven(plant: Plant) -> None:
    """Recorded, and the silo stayed cold; heat that nobody recorded is found as well. Neither opens one."""
    from dataclasses import replace

    plant.at(START - 24 * HOUR)
    silo = replace(small_plan().traced[2], wash_at="140", wash_min=5)
    with_the_hold(plant, traced=(*small_plan().traced[:2], silo))
    plant.at(START + 5 * HOUR)
    washed(plant.actor("tomas"), "silo-a", at(1800))
    kept("T-20", [380] * 120 + [1500] * 10 + [380] * 60, step_s=60)
    judging.judge_place("silo-a", START, at(3 * 3600))
    rows = findings.standing_rows(START, at(3 * 3600), ["silo-a"])
    assert [(one.about, one.cause, one.outcome) for one in rows] == [
        ("wash", "not shown by the trace", "not proven"),
        ("wash", "not recorded", "not proven"),
    ]
    assert deviations() == []


def test_what_was_poured_in_has_its_time_to_cool(plant: Plant) -> None:
    """45 °F within 30 minutes of the filling's end: in time it is met throughout, later it is not, and opens one."""
    from dataclasses import replace

    plant.at(START - 24 * HOUR)
    silo = replace(small_plan().traced[2], cool_limit="cold", cool_min=30, blend_limit="blend")
    bound = LimitDef("blend", "temperature", "plant rule, invented for the tests", "plant rule", "°F", high="50")
    with_the_hold(plant, bounds=(bound,), traced=(*small_plan().traced[:2], silo))
    plant.at(START + 5 * HOUR)
    moved(plant.actor("tomas"), started_at=START)  # until half past
    warm, cold = [600] * 50, [400] * 60
    kept("T-20", warm + cold, step_s=60)
    judging.judge_place("silo-a", START, at(60))
    assert findings.standing_rows(START, at(6600), ["silo-a"]) == []
    assert [one.counted for one in TraceJudged.objects.filter(place="silo-a")] == [{"met": "3600.000"}]
    moved(plant.actor("tomas"), started_at=at(6600))
    kept("T-20", [400] * 30 + [480] * 32 + [400] * 5, first=6600, step_s=60)
    judging.judge_place("silo-a", at(6600), at(6660))
    late = findings.standing_rows(START, at(6600 + 4020), ["silo-a"])
    assert [(one.about, one.cause, one.outcome, one.extreme) for one in late if one.about == "cooling"] == [
        ("cooling", "too late", "not met", "48")
    ]
    assert [one.control_point for one in deviations()] == ["raw-storage"]


def test_a_later_fill_never_warms_the_whole_above_its_bound(plant: Plant) -> None:
    """While it is cooled a blend may reach 50 °F, and no more."""
    from dataclasses import replace

    plant.at(START - 24 * HOUR)
    silo = replace(small_plan().traced[2], cool_limit="cold", cool_min=30, blend_limit="blend")
    bound = LimitDef("blend", "temperature", "plant rule, invented for the tests", "plant rule", "°F", high="50")
    with_the_hold(plant, bounds=(bound,), traced=(*small_plan().traced[:2], silo))
    plant.at(START + 5 * HOUR)
    moved(plant.actor("tomas"), started_at=START)
    moved(plant.actor("tomas"), started_at=at(7200))
    kept("T-20", [400] * 130 + [500, 501, 500] + [400] * 60, step_s=60)
    judging.judge_place("silo-a", START, at(9000))
    rows = findings.standing_rows(START, at(12000), ["silo-a"])
    assert [(one.about, one.outcome, one.extreme, one.seconds) for one in rows] == [
        ("cooling", "not met", "50.1", "120.000")
    ]


def test_a_value_that_dithers_is_one_finding(run: Plant) -> None:
    """Below for a second in every ten: after a while one finding with its count, and still one deviation."""
    dithering = ([1630] * 9 + [1605]) * 6
    kept("T-12", [1630] * 600 + dithering[:40])
    judging.judge_place("press-1", START, at(3600))
    assert len([one for one in standing() if one.about == "temperature" and one.outcome == "not met"]) == 4
    kept("T-12", dithering[40:] + [1630] * 2941, first=640)
    judging.judge_place("press-1", START, at(3600))
    (one,) = standing()
    assert (one.about, one.seconds, one.extreme) == ("temperature", "12.000", "160.5")
    assert "6 times within" in one.sentence
    assert len(deviations()) == 1 and verify().good


def test_the_picture_shows_the_limits_of_what_ran(run: Plant) -> None:
    """A limit of some classes stands where one of them was there; of a class that never was, nowhere in the window."""
    from dataclasses import replace

    run.at(at(4000))
    hot = next(one for one in small_plan().limits if one.key == "hot")
    limits = [
        replace(hot, key="hot-milk", products=("milk",), low="161"),
        replace(hot, key="hot-mix", products=("mix",), low="175"),
    ]
    check = next(one for one in small_plan().monitoring if "hot" in one.limits)
    asked = replace(check, limits=("hot-milk", "hot-mix"), instruments=("T-12",))
    others = tuple(one for one in small_plan().monitoring if one.key != check.key)
    plan = small_plan(limits=(*small_plan().limits, *limits), monitoring=(*others, asked), title="Two classes")
    version = store(plan, run.people.odile, clock.now())
    sign_plan(run.people.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(run.people.actor("hanne"), version, OWNER_SIGNS)
    run.at(at(9000))
    ran(run.actor("tomas"), started_at=at(5000), ended_at=at(6000))
    rules = beside.limits_of("T-12", "°F", "°F", Window(at(4500), at(8000)))
    critical = [(one.value, one.start_ms, one.end_ms) for one in rules if not one.act]
    assert critical == [(161.0, to_ms(at(5000)), to_ms(at(6000)))]
    empty = beside.limits_of("T-12", "°F", "°F", Window(at(7000), at(8000)))
    assert sorted(one.value for one in empty if not one.act) == [161.0, 175.0]
