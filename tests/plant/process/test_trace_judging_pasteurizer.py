"""A pasteurizer's trace judged: what is met, not met, not proven, and why."""

import time
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.limits import Limit, Outcome
from plant.process.pasteurization import Method
from plant.process.trace_judging import (
    Band,
    Bound,
    Cause,
    ClockCheck,
    FaultRules,
    FlowState,
    Indicated,
    Kind,
    Run,
    SetUpWindow,
    Watched,
    compare_recorder,
    judge_pasteurizer,
)
from plant.process.units import UnitError
from tests.trace_makers import COLD, HOT, MILK, channel, other, press, signal, silo, told

pytestmark = pytest.mark.once
few = settings(max_examples=50, deadline=None)
NAN = float("nan")
GOOD = [162.0] * 6


def found(trace):
    """The findings in short."""
    return told(judge_pasteurizer(trace).findings)


def about(kind, trace):
    """The findings about one thing."""
    return [one for one in judge_pasteurizer(trace).findings if one.kind is kind]


def test_a_good_run_is_met_throughout():
    """Each second of it, without a finding."""
    judged = judge_pasteurizer(press(GOOD))
    assert (judged.outcome, judged.findings) == (Outcome.MET, ())
    assert [(one.outcome, str(one.seconds), one.product_class, one.row) for one in judged.spans] == [
        (Outcome.MET, "5.000", "milk", "htst-milk")
    ]


def test_without_any_forward_flow_nothing_is_proven():
    """An empty judgement fails closed, and product that the trace never shows is said."""
    judged = judge_pasteurizer(press(GOOD, [0] * 6))
    assert (judged.spans, judged.outcome) == ((), Outcome.NOT_PROVEN)
    assert told(judged.findings) == [("product", "no forward flow seen", "not proven", 0, 5)]


def test_an_excursion_reaches_from_the_last_sample_in_limits_to_the_next():
    """One sample a tenth below: two seconds, its exact value, its row and clause, its lot."""
    (one,) = judge_pasteurizer(press([162, 161, 160.9, 161, 162])).findings
    assert (one.kind, one.cause, one.outcome, one.proven) == (Kind.TEMPERATURE, Cause.PROCESS, Outcome.NOT_MET, True)
    assert (one.start_ms, one.end_ms, one.seconds, one.extreme, one.unit) == (
        1000, 3000, 2, Fraction(1609, 10), "°F",
    )  # fmt: skip
    assert (one.rule, one.clause, one.lots) == ("htst-milk", "21 CFR 1240.61(b)", ("A",))
    assert one.sentence == "Forward flow at 160.9 °F, below the row 161 °F for 15 s; the hold of record is 16 s."


def test_one_sample_in_limits_alone_ends_no_excursion():
    """The first of two in a row does."""
    levels = [162, 160, 161, 160, 161, 161, 160, 161]
    assert [one[3:] for one in found(press(levels))] == [(0, 4), (5, 7)]


def test_a_diversion_that_works_is_no_finding():
    """It falls below the limit only once it is diverted, and comes back in forward flow at the limit."""
    levels = [162, 161.4, 160.8, 155, 161, 162]
    judged = judge_pasteurizer(press(levels, [1, 1, 0, 0, 1, 1]))
    assert judged.findings == ()
    assert [(one.kind.value, one.at_ms, float(one.temperature), float(one.beside)) for one in judged.crossings] == [
        ("cut-out", 2000, 161.4, 160.8), ("cut-in", 4000, 161.0, 155.0),
    ]  # fmt: skip


def test_cut_in_and_cut_out_below_the_row_are_not_met():
    """Besides the forward flow that they belong to."""
    assert found(press([162, 160.9, 155, 155, 160.9, 162], [1, 1, 0, 0, 1, 1])) == [
        ("temperature", "process", "not met", 0, 2),
        ("cut-out", "process", "not met", 2, 2),
        ("cut-in", "process", "not met", 4, 4),
        ("temperature", "process", "not met", 4, 5),
    ]


def test_a_crossing_without_a_temperature_is_not_proven():
    """No sample in the forward flow near it."""
    lost = channel([162, 162, 162], at=[0, 1000, 5000])
    judged = judge_pasteurizer(press([], temperature=lost, valve=signal([1, 1, 0, 0, 1, 1])))
    assert [(one.kind.value, one.outcome.value) for one in judged.crossings] == [
        ("cut-out", "not proven"), ("cut-in", "not proven"),
    ]  # fmt: skip
    assert ("cut-in", "nothing recorded", "not proven", 4, 4) in told(judged.findings)


def test_a_gap_is_not_proven_and_never_filled_in():
    """However warm its ends are."""
    assert found(
        press([], temperature=channel([162, 162, 162, 162], at=[0, 1000, 4000, 5000]), valve=signal([1] * 6))
    ) == [("temperature", "nothing recorded", "not proven", 1, 4)]


def test_a_trace_slower_than_the_plan_asks_is_not_proven_between_its_samples():
    """All of it is one finding, and a sample below is not lost in it."""
    slow = channel([162, 162, 160, 162], at=[0, 5000, 10000, 15000])
    assert found(press([], temperature=slow, valve=signal([1] * 16))) == [
        ("temperature", "recorded too slowly", "not proven", 0, 15),
        ("temperature", "process", "not met", 10, 10),
    ]


def test_two_samples_out_on_both_sides_of_a_gap_are_one_excursion():
    """The gap itself stays not proven."""
    lost = channel([162, 160, 159, 162], at=[0, 1000, 5000, 6000])
    assert found(press([], temperature=lost, valve=signal([1] * 7))) == [
        ("temperature", "process", "not met", 0, 6), ("temperature", "nothing recorded", "not proven", 1, 5),
    ]  # fmt: skip


def test_a_failed_sample_is_a_gap_even_in_a_fast_trace():
    """What the sensor says of itself counts."""
    assert found(press([162, NAN, 162, 162], temperature=channel([162, NAN, 162, 162], slowest_ms=9000))) == [
        ("temperature", "sensor reported a failure", "not proven", 0, 2)
    ]


def test_without_a_forward_flow_signal_nothing_is_proven():
    """The lowest temperature is said."""
    (one,) = judge_pasteurizer(replace(press([162, 150, 162]), forward=None)).findings
    assert (one.kind, one.cause, one.extreme, one.seconds) == (Kind.SIGNAL, Cause.NO_CHANNEL, 150, 2)
    assert judge_pasteurizer(replace(press(GOOD), forward=None)).seconds(Outcome.NOT_PROVEN) == 5


def test_a_gap_in_the_signal_is_not_proven():
    """Nobody knows where the product went."""
    assert found(press(GOOD, valve=signal([1, 1, 1], at=[0, 1000, 5000]))) == [
        ("forward-flow signal", "nothing recorded", "not proven", 1, 5)
    ]


def test_without_a_temperature_nothing_is_proven():
    """One finding for all forward flow."""
    trace = replace(press(GOOD), temperature=None)
    assert found(trace) == [("temperature", "no such channel", "not proven", 0, 5)]
    assert judge_pasteurizer(trace).seconds(Outcome.NOT_PROVEN) == 5


def test_water_is_not_judged():
    """A band without a class says that it was no product."""
    trace = replace(press([100.0] * 6), bands=(Band(0, 5000, ""),))
    judged = judge_pasteurizer(trace)
    assert (judged.findings, judged.spans) == ((), ())


def test_forward_flow_of_nothing_named_is_not_proven():
    """No row can be held against it."""
    trace = replace(press(GOOD), bands=(Band(0, 3000, "milk", "A"),))
    assert found(trace) == [("product", "no product named", "not proven", 3, 5)]


def test_a_class_without_a_row_is_not_proven():
    """Never judged by another's."""
    trace = replace(press(GOOD), bands=(Band(0, 5000, "raised", "A"),))
    assert ("temperature", "no row for the class", "not proven", 0, 5) in found(trace)


def test_each_product_has_its_own_row():
    """Mix from second 3 on needs 175 °F, and each finding names its own lot."""
    bands = (Band(0, 3000, "milk", "A"), Band(3000, 6000, "mix", "B"))
    set_ups = (SetUpWindow(0, 6000, "both", 25, ("milk", "mix"), 0),)
    levels = [162, 162, 175, 175, 174.9, 175, 175]
    (one,) = judge_pasteurizer(replace(press(levels), bands=bands, set_ups=set_ups)).findings
    assert (one.start_ms, one.end_ms, one.rule, one.lots) == (3000, 5000, "mix-htst", ("B",))


def test_of_two_products_at_once_the_stricter_row_counts():
    """Both lots are named."""
    bands = (Band(0, 5000, "milk", "A"), Band(2000, 5000, "mix", "B"))
    trace = replace(press(GOOD), bands=bands, set_ups=(SetUpWindow(0, 5000, "x", 25, ("milk", "mix"), 0),))
    (one,) = about(Kind.TEMPERATURE, trace)
    assert (one.start_ms, one.rule, one.lots) == (2000, "mix-htst", ("A", "B"))


def test_lots_are_those_that_flowed_in_the_finding():
    """Of one class several in a row."""
    bands = (Band(0, 2000, "milk", "A"), Band(2000, 4000, "milk", "B"), Band(4000, 6000, "milk", "C"))
    levels = [162, 162, 160, 162, 162, 162, 162]
    (one,) = judge_pasteurizer(replace(press(levels), bands=bands)).findings
    assert (one.start_ms, one.end_ms, one.lots) == (1000, 3000, ("A", "B"))


@pytest.mark.parametrize(
    ("ends", "cause", "rule"),
    [
        (Cause.TEST_OVERDUE, "test overdue", "test-holding-time"),
        (Cause.SEAL_BROKEN, "seal broken", "seals"),
        (Cause.PUMP_WORKED_ON, "pump worked on", "seals"),
    ],
)
def test_the_hold_is_not_proven_once_its_test_counts_no_more(ends, cause, rule):
    """From that very second on, though every temperature is met."""
    set_up = SetUpWindow(0, 5000, "s", 16, ("milk",), 0, counts_until_ms=3000, ended_by=ends)
    judged = judge_pasteurizer(replace(press(GOOD), set_ups=(set_up,)))
    assert told(judged.findings) == [("holding time", cause, "not proven", 3, 5)]
    assert judged.findings[0].rule == rule
    assert (judged.seconds(Outcome.MET), judged.seconds(Outcome.NOT_PROVEN)) == (3, 2)


def test_a_set_up_without_a_test_or_none_at_all_proves_no_hold():
    """Nor does one tested later."""
    untested = SetUpWindow(0, 5000, "s", 16, ("milk",), None)
    assert found(replace(press(GOOD), set_ups=(untested,))) == [
        ("holding time", "no test of record", "not proven", 0, 5)
    ]
    assert found(replace(press(GOOD), set_ups=())) == [("holding time", "no set-up named", "not proven", 0, 5)]
    later = replace(untested, tested_ms=2000)
    assert found(replace(press(GOOD), set_ups=(later,))) == [("holding time", "no test of record", "not proven", 0, 2)]


def test_a_set_up_that_does_not_cover_the_class_is_not_met():
    """It may hold long enough all the same."""
    trace = replace(press(GOOD), set_ups=(SetUpWindow(0, 5000, "cream", 16, ("raised",), 0),))
    (one,) = judge_pasteurizer(trace).findings
    assert (one.cause, one.outcome) == (Cause.NOT_COVERED, Outcome.NOT_MET)
    assert one.sentence == "The set-up cream is not approved for milk."


@pytest.mark.parametrize(("hold_s", "met"), [("15", True), ("14.999", False)])
def test_a_hold_a_millisecond_short_is_not_met(hold_s, met):
    """Exactly at the row's time it is."""
    set_up = SetUpWindow(0, 5000, "s", Decimal(hold_s), ("milk",), 0, method=Method.HTST)
    judged = judge_pasteurizer(replace(press(GOOD), set_ups=(set_up,)))
    assert (judged.outcome is Outcome.MET) == met
    if not met:
        (one,) = judged.findings
        assert (one.kind, one.cause, one.extreme, one.unit) == (
            Kind.HOLDING,
            Cause.HOLD_SHORT,
            Fraction(14999, 1000),
            "s",
        )


def test_a_hold_of_one_second_asks_for_the_row_of_one_second():
    """Of the rows that the hold is enough for the coolest counts: 191 °F."""
    set_ups = (SetUpWindow(0, 2000, "s", 1, ("milk",), 0),)
    assert judge_pasteurizer(replace(press([191.0] * 3), set_ups=set_ups)).outcome is Outcome.MET
    (one,) = judge_pasteurizer(replace(press([190.9] * 3), set_ups=set_ups)).findings
    assert (one.rule, one.seconds) == (HOT.key, 2)


def test_a_sealed_pump_is_not_judged_by_flow_and_a_meter_is():
    """Above its top rate the hold of record does not stand; without a flow trace it is not proven."""
    flow = channel([4999, 5000, 5000.1, 5000, 5000, 5000], unit="L/h", name="meter")
    sealed = replace(press(GOOD), flow=flow)
    assert judge_pasteurizer(sealed).findings == ()
    metered = SetUpWindow(0, 5000, "s", 16, ("milk",), 0, top_rate=Decimal(5000), top_rate_unit="L/h")
    assert found(replace(sealed, set_ups=(metered,))) == [("holding time", "flow too fast", "not met", 1, 3)]
    assert found(replace(press(GOOD), set_ups=(metered,))) == [("holding time", "no such channel", "not proven", 0, 5)]


def test_a_set_up_changed_in_forward_flow_is_not_met_and_diverted_it_is_no_finding():
    """It is changed stopped or diverted."""
    one = SetUpWindow(0, 3000, "milk", 16, ("milk",), 0)
    set_ups = (one, replace(one, start_ms=3000, end_ms=5000, name="mix"))
    assert found(replace(press(GOOD), set_ups=set_ups)) == [
        ("set-up", "set-up changed in forward flow", "not met", 3, 3)
    ]
    assert found(replace(press(GOOD, [1, 1, 0, 0, 0, 1]), set_ups=set_ups)) == []


def test_the_recorder_that_reads_higher_is_a_finding_and_takes_the_temperature_down():
    """Recorded 161.2 with the recorder 0.3 high is 160.9: the worse of recorded and corrected is judged."""
    run = Run(0, 5000, (Indicated(1000, Decimal("160.9"), "°F"),))
    judged = judge_pasteurizer(replace(press([161.2] * 6), runs=(run,)))
    assert told(judged.findings) == [
        ("temperature", "process", "not met", 0, 5), ("recorder", "recorder reads higher", "not met", 0, 5),
    ]  # fmt: skip
    hot, high = judged.findings
    assert (hot.extreme, high.extreme) == (Fraction(1609, 10), Fraction(3, 10))
    assert "Recorded were 161.2 °F" in hot.sentence and "reads 0.3 °F higher" in hot.sentence
    assert [one.difference for one in judged.comparisons] == [Fraction(3, 10)]


def test_a_recorder_that_reads_lower_never_rescues():
    """160.9 recorded stays below, though the indicating thermometer read 161.9."""
    run = Run(0, 5000, (Indicated(1000, Decimal("161.9"), "°F"),))
    trace = replace(press([160.9] * 6), runs=(run,))
    assert [one.extreme for one in judge_pasteurizer(trace).findings] == [Fraction(1609, 10)]


@pytest.mark.parametrize(("low", "fine"), [("163.0", True), ("163.1", False)])
def test_a_recorder_further_below_than_its_tolerance_proves_nothing(low, fine):
    """One degree itself is allowed."""
    run = Run(0, 5000, (Indicated(1000, Decimal(low), "°F"),))
    judged = judge_pasteurizer(replace(press(GOOD), runs=(run,), tolerance=Bound(1, "°F")))
    assert told(judged.findings) == ([] if fine else [("recorder", "out of tolerance", "not proven", 0, 5)])


def test_a_run_without_an_indicating_reading_is_not_proven():
    """Neither is forward flow outside of any run."""
    assert found(replace(press(GOOD), runs=(Run(0, 5000),))) == [("recorder", "not compared", "not proven", 0, 5)]
    short = replace(press(GOOD), runs=(Run(0, 2000, (Indicated(0, 163, "°F"),)),))
    assert found(short) == [("recorder", "not compared", "not proven", 2, 5)]


def test_the_worst_comparison_of_a_run_counts_for_all_of_it():
    """Taken at the end it corrects the start too."""
    read = (Indicated(1000, Decimal("162.5"), "°F"), Indicated(4000, Decimal("161.8"), "°F"))
    assert compare_recorder(channel(GOOD), Run(0, 5000, read)).difference == Fraction(1, 5)


def test_a_reading_where_the_trace_shows_nothing_compares_nothing():
    """Before its samples, after them, in a gap; with its own recorder reading it does."""
    given = channel([162, 162, NAN, 162], at=[1000, 2000, 3000, 9000])
    for at in (0, 2500, 3000, 5000, 10000):
        assert compare_recorder(given, Run(0, 9000, (Indicated(at, 162, "°F"),))) is None
    assert compare_recorder(given, Run(0, 9000, (Indicated(0, 162, "°F", recording=161),))).difference == -1
    assert compare_recorder(given, Run(0, 9000, (Indicated(1999, 161, "°F"),))).difference == 1


def test_contradicting_samples_the_worse_is_judged():
    """The lower for the heat; the finding says how many of its samples had two values."""
    given = channel(GOOD, contradicting=other([2000, 4000], [1609, 1630]))
    (one,) = judge_pasteurizer(press([], temperature=given, valve=signal([1] * 6))).findings
    assert (one.start_ms, one.end_ms, one.extreme, one.contradicting) == (1000, 3000, Fraction(1609, 10), 1)


def test_a_sample_that_one_record_calls_failed_proves_nothing_good():
    """And a bad value in the other record still counts as bad."""
    lost = other([2000], [0])
    lost = replace(lost, failed=lost.times_ms == 2000)
    good = channel(GOOD, contradicting=lost)
    assert found(press([], temperature=good, valve=signal([1] * 6))) == [
        ("temperature", "sensor reported a failure", "not proven", 1, 3)
    ]
    bad = channel([162, 162, 160, 162, 162, 162], contradicting=lost)
    assert found(press([], temperature=bad, valve=signal([1] * 6))) == [("temperature", "process", "not met", 1, 3)]


def test_a_spike_is_a_fault_and_a_dip_is_the_process():
    """A drop of 120 degrees and back between two seconds is no milk; one of two degrees is."""
    rules = FaultRules(fastest_per_s=10)
    levels = [162, 162, 40, 162, 162, 160, 162]
    assert found(press([], temperature=channel(levels, faults=rules), valve=signal([1] * 7))) == [
        ("temperature", "spike", "not proven", 1, 3), ("temperature", "process", "not met", 4, 6),
    ]  # fmt: skip
    fast = channel([162, 162, 40, 162, 162], faults=rules, slowest_ms=9000)
    assert found(press([], temperature=fast, valve=signal([1] * 5))) == [("temperature", "spike", "not proven", 1, 3)]


def test_a_jump_proves_nothing_until_somebody_reads_the_indicating_thermometer():
    """From then on the comparison speaks for it."""
    given = channel([162, 162, 182, 182, 182, 182], faults=FaultRules(fastest_per_s=10))
    run = Run(0, 5000, (Indicated(0, 162, "°F"), Indicated(4000, 183, "°F")))
    assert found(press([], temperature=given, valve=signal([1] * 6), runs=(run,))) == [
        ("temperature", "jump", "not proven", 1, 4)
    ]


def test_a_flat_line_takes_a_pass_away_and_never_a_miss():
    """Four seconds without change, in limits and below."""
    rules = FaultRules(flat_ms=4000)
    assert found(press([], temperature=channel([162.0] * 6, faults=rules), valve=signal([1] * 6))) == [
        ("temperature", "flat line", "not proven", 0, 5)
    ]
    judged = judge_pasteurizer(press([], temperature=channel([160.0] * 6, faults=rules), valve=signal([1] * 6)))
    assert judged.seconds(Outcome.NOT_MET) == 5


def cooled(levels, forward=None, **changes):
    """A good run whose cooled product is watched."""
    given = Watched(Kind.COOLING, channel(levels, name="outflow"), COLD, **changes)
    return replace(press([162.0] * len(levels), forward), watched=(given,))


def test_cooled_product_above_its_limit_is_not_met_while_flow_is_forward():
    """And diverted it is not looked at."""
    (one,) = judge_pasteurizer(cooled([45.0, 45.1, 45.0, 44.0])).findings
    assert (one.kind, one.start_ms, one.end_ms, one.extreme) == (Kind.COOLING, 0, 2000, Fraction(451, 10))
    assert one.sentence == "outflow: 45.1 °F; the limit is 45 °F or below."
    assert found(cooled([44.0, 60.0, 60.0, 44.0], [1, 0, 0, 1])) == []


def test_a_watched_limit_is_for_its_classes_alone():
    """Cultured products are excepted, say."""
    assert found(cooled([60.0] * 4, classes=("mix",))) == []
    assert len(found(cooled([60.0] * 4, classes=("milk",)))) == 1


def test_a_missing_channel_is_not_proven():
    """Nothing records what the plan watches."""
    trace = replace(press(GOOD), watched=(Watched(Kind.COOLING, None, COLD),))
    (one,) = judge_pasteurizer(trace).findings
    assert (one.outcome, one.sentence) == (Outcome.NOT_PROVEN, "Nothing records the temperature of cooled product.")


PRESSURE = Limit("p", "pressure difference", "psi", low=Decimal(0), act_low=Decimal(2))


def test_pressure_at_its_bound_is_not_above_it():
    """Strictly above at all times, diverted and stopped too; a tenth above is met, past the operating limit."""
    every = (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED)
    given = channel([3.0, 3.0, 0.0, 3.0, 3.0, 0.1, 3.0], unit="psi", name="pressure")
    watched = (Watched(Kind.PRESSURE, given, PRESSURE, every, strict=True),)
    judged = judge_pasteurizer(replace(press([162.0] * 7, [1, 1, 0, 0, 0, 0, 0]), watched=watched))
    assert told(judged.findings) == [
        ("pressure difference", "process", "not met", 1, 3),
        ("pressure difference", "process", "met, past the operating limit", 4, 6),
    ]
    assert judged.findings[0].sentence == "pressure: 0 psi; it has to be above 0 psi."


def test_a_strict_bound_from_above_is_said_as_below():
    """At the bound itself it is not met."""
    limit = Limit("p", "pressure", "psi", high=Decimal(3))
    watched = (Watched(Kind.LIMIT, channel([2.9, 3.0, 2.9], unit="psi", name="gauge"), limit, strict=True),)
    (one,) = judge_pasteurizer(replace(press([162.0] * 3), watched=watched)).findings
    assert one.sentence == "gauge: 3 psi; it has to be below 3 psi."


def test_a_recorder_without_any_sample_proves_nothing():
    """Neither the forward flow nor its cut-in and cut-out."""
    judged = judge_pasteurizer(replace(press(GOOD, [0, 1, 1, 1, 0, 0]), temperature=channel([])))
    assert (judged.seconds(Outcome.NOT_PROVEN), judged.seconds(Outcome.MET)) == (3, 0)
    assert [one.outcome for one in judged.crossings] == [Outcome.NOT_PROVEN, Outcome.NOT_PROVEN]


def test_a_hold_without_a_row_named_is_below_it_all_the_same():
    """Without a set-up the coolest row counts: below it none is met."""
    (one, _hold) = judge_pasteurizer(replace(press([160.0] * 3), set_ups=())).findings
    assert one.sentence == "Forward flow at 160 °F, below the row 161 °F for 15 s."


def test_the_way_to_a_critical_limit_is_not_said_twice():
    """Past the operating limit on the way is part of the excursion."""
    given = channel([3.0, 1.0, 0.0, 1.0, 3.0], unit="psi")
    watched = (Watched(Kind.PRESSURE, given, PRESSURE, strict=True),)
    assert found(replace(press([162.0] * 5), watched=watched)) == [("pressure difference", "process", "not met", 1, 3)]


def test_a_clock_that_is_off_is_not_proven_and_widens_the_lots():
    """Two seconds ahead: what it shows at 3 s was at 1 s, when another lot flowed."""
    bands = (Band(0, 2000, "milk", "A"), Band(2000, 6000, "milk", "B"))
    trace = replace(press([162, 162, 162, 160, 162, 162, 162]), bands=bands)
    (one,) = judge_pasteurizer(trace).findings
    assert one.lots == ("B",)
    checked = replace(trace, clock_ms=1000, clock_checks=(ClockCheck(1000, 2000),))
    hot, clock = sorted(judge_pasteurizer(checked).findings, key=lambda each: each.kind.value, reverse=True)
    assert (hot.lots, clock.kind, clock.cause, clock.proven) == (("A", "B"), Kind.CLOCK, Cause.CLOCK_OFF, False)
    assert found(replace(trace, clock_ms=1000))[0] == ("clock", "not checked", "not proven", 0, 6)


def test_two_set_ups_at_one_time_are_refused():
    """Nobody could say which one holds; the same for runs, and for what ends before it starts."""
    one = SetUpWindow(0, 3000, "a", 16, ("milk",), 0)
    for wrong in (
        {"set_ups": (one, replace(one, start_ms=2000, end_ms=5000))},
        {"runs": (Run(0, 3000), Run(1000, 5000))},
        {"bands": (Band(3000, 0, "milk"),)},
    ):
        with pytest.raises(CalculationError):
            judge_pasteurizer(replace(press(GOOD), **wrong))


def test_units_that_do_not_measure_the_same_are_refused():
    """A pressure is not held against a temperature."""
    with pytest.raises(UnitError):
        judge_pasteurizer(replace(press(GOOD), watched=(Watched(Kind.LIMIT, channel(GOOD, unit="psi"), COLD),)))


LEVELS = st.lists(st.sampled_from([160.0, 160.9, 161.0, 161.1, 162.0, NAN]), min_size=2, max_size=40)


@few
@given(LEVELS, st.data())
def test_warmer_never_lengthens_what_is_not_met_nor_shortens_what_is_met(levels, data):
    """Half a degree more everywhere."""
    forward = data.draw(st.lists(st.sampled_from([0, 1]), min_size=len(levels), max_size=len(levels)))
    cool = judge_pasteurizer(press(levels, forward))
    warm = judge_pasteurizer(press([one + 0.5 for one in levels], forward))
    assert warm.seconds(Outcome.MET) >= cool.seconds(Outcome.MET)
    assert warm.seconds(Outcome.NOT_MET) <= cool.seconds(Outcome.NOT_MET)


@few
@given(LEVELS, st.integers(0, 39))
def test_a_sample_left_out_never_helps(levels, place):
    """Without one of its samples a trace counts no more time as met."""
    if not 0 < place < len(levels) - 1:
        return
    at = [1000 * one for one in range(len(levels))]
    valve = signal([1] * len(levels))
    less = channel(levels[:place] + levels[place + 1 :], at=at[:place] + at[place + 1 :])
    whole = judge_pasteurizer(press([], temperature=channel(levels), valve=valve))
    part = judge_pasteurizer(press([], temperature=less, valve=valve))
    assert part.seconds(Outcome.MET) <= whole.seconds(Outcome.MET)


@few
@given(LEVELS, st.lists(st.sampled_from([0, 1, NAN]), min_size=40, max_size=40))
def test_every_second_of_forward_flow_has_one_verdict(levels, forward):
    """Spans are in order, apart, and as long as the forward flow and what nobody knows."""
    judged = judge_pasteurizer(press(levels, forward[: len(levels)]))
    counted = (FlowState.FORWARD, FlowState.UNKNOWN)
    assert sum(one.seconds for one in judged.spans) == sum(
        one.seconds for one in judged.segments if one.state in counted
    )
    assert all(one.end_ms <= after.start_ms for one, after in zip(judged.spans, judged.spans[1:], strict=False))


@few
@given(LEVELS)
def test_in_degrees_celsius_the_verdict_is_the_same(levels):
    """161 °F is 71.666... °C: the first hundredth that meets it is 71.67, as converted exactly."""
    celsius = [round((one - 32) / 1.8, 6) for one in levels]
    one = judge_pasteurizer(press(levels))
    other_unit = judge_pasteurizer(press([], temperature=channel(celsius, "°C", 6), valve=signal([1] * len(levels))))
    # 161 °F to six places of °C is 71.666667, which is a little warmer than 161 °F.
    assert [(each.outcome, each.start_ms, each.end_ms) for each in one.spans] == [
        (each.outcome, each.start_ms, each.end_ms) for each in other_unit.spans
    ]


def test_a_tank_limit_and_a_row_are_said_with_their_clauses():
    """Nothing is found without the rule that it breaks."""
    for one in judge_pasteurizer(press([160.0] * 4)).findings:
        assert one.rule == MILK.key and one.clause and one.basis
    assert silo([44.0, 44.0]).limits[0].limit.clause


def test_a_day_at_one_hertz_takes_a_fraction_of_a_second():
    """Temperature, two signals, flow, cooling and pressure; the bound is wide, for a slow machine."""
    count = 86_400
    noise = np.random.default_rng(20260303).integers(-5, 6, count) / 10
    end = (count - 1) * 1000
    set_up = SetUpWindow(0, end, "s", 16, ("milk",), 0, top_rate=Decimal(5000), top_rate_unit="L/h")
    watched = (
        Watched(Kind.COOLING, channel(40 + noise), COLD),
        Watched(Kind.PRESSURE, channel(4 + noise, "psi"), PRESSURE, strict=True),
    )
    trace = press(
        162 + noise, [1] * count, running=signal([1] * count), flow=channel(4900 + noise, "L/h"), set_ups=(set_up,),
        watched=watched,
    )  # fmt: skip
    spent = []
    for _turn in range(3):
        started = time.process_time()
        judged = judge_pasteurizer(trace)
        spent.append(time.process_time() - started)
    assert judged.seconds(Outcome.MET) == count - 1
    assert min(spent) < 0.5
