"""A recorder's clock beside the right time: what nobody compared, or was found off, proves no time.

The recorder's time is to be right: 1 NYCRR 3.27(a)(4), (5) (text consulted); five minutes are invented.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime

import pytest

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import AnswerDef, FrequencyDef, LimitDef, MonitoringDef
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.ledger.verify import verify
from records.traces import judging, watch
from records.traces.models import TraceJudged
from tests.conftest import Plant
from tests.factories import small_plan
from tests.records.traces.test_judging import HOUR, START, at, began, hold, hot, kept, standing

pytestmark = pytest.mark.django_db
LIMIT = LimitDef(
    "clock-right", "recorder clock", "plant rule, invented for the tests", "plant rule", "min", low="-5", high="5"
)
CHECK = MonitoringDef(
    "press-clock", "pasteurizing", ("press-1",), "Recorder's clock ahead", "Compare it.", "operator",
    AnswerDef("number", "min", low="-720", high="720"), FrequencyDef("run_ends", first=True), ("clock-right",),
    corrective_action="Set it.",
)  # fmt: skip


def traced() -> tuple[object, ...]:
    """The recorder asked for a clock that is right to five minutes."""
    first, *others = small_plan().traced
    return (replace(first, clock_s=300), *others)


@pytest.fixture
def asked(plant: Plant) -> Plant:
    """An hour's run, met but for the clock."""
    began(plant, checks=(CHECK,), bounds=(LIMIT,), traced=traced())
    record_reading(plant.actor("tomas"), hold("16.2", at(30)))
    kept("T-12", hot())
    return plant


def compared(plant: Plant, minutes: str, seen: datetime) -> None:
    """Somebody looked at both clocks."""
    said = ReadingData(
        form_id=uuid.uuid4(), monitoring_key="press-clock", subject="press-1", typed=minutes, observed_at=seen
    )
    record_reading(plant.actor("tomas"), said)


def judged() -> dict[str, str]:
    """The newest count of seconds."""
    newest = TraceJudged.objects.order_by("-number").first()
    assert newest is not None
    return newest.counted


def causes() -> set[tuple[str, str, str]]:
    """What stands at the press."""
    return {(one.about, one.cause, one.outcome) for one in standing()}


def test_a_clock_that_nobody_compared_proves_no_time(asked: Plant) -> None:
    """Silence is never a pass; a look at it later in the week mends that for what ran before."""
    judging.judge_place("press-1", START, at(3600))
    assert causes() == {("clock", "not checked", "not proven")}
    watch.look()
    compared(asked, "2", at(3650))
    assert watch.look() > 0
    assert causes() == set() and judged() == {"met": "3600.000"} and verify().good


def test_a_clock_found_off_reaches_back_to_when_it_was_right(asked: Plant) -> None:
    """Right at the twentieth minute, seven minutes ahead at the end: no moment in between is proven."""
    compared(asked, "-1", at(1200))
    judging.judge_place("press-1", START, at(3600))
    assert causes() == set()
    watch.look()
    compared(asked, "7", at(3650))
    watch.look()
    assert causes() == {("clock", "clock off", "not proven")}
    (one,) = standing()
    assert (one.start_at, one.end_at) == (at(1200), at(3600)) and "7" in one.sentence


def test_another_right_clock_is_no_reason_to_judge_again(asked: Plant) -> None:
    """Each morning's look costs nothing."""
    compared(asked, "0", START - HOUR)
    watch.look()
    judging.judge_place("press-1", START, at(3600))
    before = TraceJudged.objects.count()
    compared(asked, "1", at(3650))
    watch.look()
    assert TraceJudged.objects.count() == before and causes() == set()


def test_a_plan_that_asks_for_the_clock_without_a_check_is_warned_of() -> None:
    """It would never be proven."""
    plan = small_plan(traced=traced())
    assert any("recorder clock" in one.sentence for one in problems(plan))
    one = small_plan()
    mended = small_plan(traced=traced(), limits=(*one.limits, LIMIT), monitoring=(*one.monitoring, CHECK))
    assert not any("recorder clock" in one.sentence for one in problems(mended))
