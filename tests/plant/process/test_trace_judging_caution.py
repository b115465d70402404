"""A pasteurizer's trace in doubt: what must not come out as met, and what must not be a crash."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.limits import Limit, Outcome
from plant.process.trace_judging import (
    Band,
    Cause,
    FaultRules,
    FlowState,
    Indicated,
    Kind,
    Run,
    SetUpWindow,
    Watched,
    judge_pasteurizer,
)
from plant.process.trace_judging.cells import ENDED_BY
from plant.process.trace_judging.watching import Out, apart_from
from tests.trace_makers import channel, other, press, signal, told

pytestmark = pytest.mark.once
few = settings(max_examples=50, deadline=None)
NAN = float("nan")
GOOD = [162.0] * 6
PRESSURE = Limit("p", "pressure difference", "psi", low=Decimal(0), act_low=Decimal(2))


def found(trace):
    """The findings in short."""
    return told(judge_pasteurizer(trace).findings)


def test_a_reading_that_is_not_the_traces_own_ends_no_doubt():
    """Both thermometers at 162 °F, and the trace shows 182; or nothing at that moment."""
    given = channel([162, 162, 182, 182, 182, 182], faults=FaultRules(fastest_per_s=10))
    run = Run(0, 5000, (Indicated(0, 162, "°F"), Indicated(4000, 162, "°F", recording=162)))
    jump = [("temperature", "jump", "not proven", 1, 5)]
    assert found(press([], temperature=given, valve=signal([1] * 6), runs=(run,))) == jump
    lost = channel([162, 162, 182, NAN, 182, 182], faults=FaultRules(fastest_per_s=10))
    run = Run(0, 5000, (Indicated(0, 162, "°F"), Indicated(3500, 162, "°F", recording=162)))
    assert [one.end_ms for one in judge_pasteurizer(
        press([], temperature=lost, valve=signal([1] * 6), runs=(run,))
    ).findings if one.cause is Cause.JUMP][-1] == 5000  # fmt: skip


RANGE = FaultRules(lowest=32, highest=300)


def test_beyond_its_range_a_recorder_proves_nothing_good():
    """850 °F is a broken wire, no hot milk; far too cold still counts as too cold."""
    hot = press([], temperature=channel([162, 162, 850, 850, 162, 162], faults=RANGE), valve=signal([1] * 6))
    (one,) = judge_pasteurizer(hot).findings
    assert (one.cause, one.outcome, one.start_ms, one.end_ms, one.extreme) == (
        Cause.OUT_OF_RANGE, Outcome.NOT_PROVEN, 1000, 4000, 850,
    )  # fmt: skip
    assert one.sentence == (
        "recorder: 850 °F is beyond what the instrument can measure: a fault of the sensor. 3 s are not proven."
    )
    assert judge_pasteurizer(hot).seconds(Outcome.MET) == 2
    cold = press([], temperature=channel([162, 162, -40, 162, 162, 162], faults=RANGE), valve=signal([1] * 6))
    assert found(cold) == [("temperature", "process", "not met", 1, 3)]
    cut = press([], temperature=channel([850] * 4, faults=RANGE), valve=signal([0, 1, 1, 0]))
    assert [one.outcome for one in judge_pasteurizer(cut).crossings] == [Outcome.NOT_PROVEN] * 2


def test_several_contradictions_of_one_moment_the_worst_counts():
    """162.0, 170.0 and 160.9 at one second; forward beside diverted and failed."""
    given = channel([162.0] * 6, contradicting=other([2000, 2000], [1700, 1609]))
    (one,) = judge_pasteurizer(press([], temperature=given, valve=signal([1] * 6))).findings
    assert (one.outcome, one.extreme, one.contradicting) == (Outcome.NOT_MET, Fraction(1609, 10), 1)
    valve = signal([0] * 4, contradicting=other([1000, 1000], [0, 1], 0))
    judged = judge_pasteurizer(press([], temperature=channel([160.0] * 4), valve=valve))
    assert [(one.outcome, one.start_ms, one.end_ms) for one in judged.spans] == [(Outcome.NOT_MET, 1000, 2000)]


@pytest.mark.parametrize("cause", [one for one in Cause if one not in ENDED_BY])
def test_a_test_that_ends_for_no_known_reason_is_refused(cause):
    """Else nothing would be said of the hold."""
    window = SetUpWindow(0, 5000, "milk", 16, ("milk",), 0, 2000, ended_by=cause)
    with pytest.raises(CalculationError, match="broken seal"):
        judge_pasteurizer(press(GOOD, set_ups=(window,)))


def test_without_forward_flow_an_operating_limit_alone_is_no_pass():
    """Diverted throughout, on a band that reaches beyond the span: nothing is proven."""
    every = (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED)
    watched = (Watched(Kind.PRESSURE, channel([1.0] * 4, unit="psi"), PRESSURE, every, strict=True),)
    judged = judge_pasteurizer(press([162.0] * 4, [0] * 4, watched=watched, bands=(Band(-1, 9000, "milk", "A"),)))
    assert [one.outcome for one in judged.findings] == [Outcome.OPERATING]
    assert judged.outcome is Outcome.NOT_PROVEN


@few
@given(*[st.lists(st.tuples(st.integers(0, 30), st.integers(0, 5)), max_size=8).map(sorted)] * 2)
def test_times_out_that_touch_a_critical_one_are_found_as_by_looking_at_each(mine, others):
    """Also where the others overlap and one reaches beyond the next."""
    outs, given = ([Out(at, at + long, Fraction(0), 0) for at, long in some] for some in (mine, others))
    slow = [one for one in outs if not any(each.start <= one.end and one.start <= each.end for each in given)]
    assert apart_from(outs, given) == slow
