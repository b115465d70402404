"""A storage tank's trace judged: limits with time, cooling after filling, the washing that shows."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.cooling import CoolingRule, judge_cooling
from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Limit, Outcome
from plant.process.trace_judging import (
    Band,
    Cause,
    ClockCheck,
    CoolingAfter,
    FaultRules,
    Fill,
    Kind,
    TimedLimit,
    WashSign,
    judge_tank,
    washes_shown,
)
from tests.trace_makers import channel, other, silo, times, told

pytestmark = pytest.mark.once
few = settings(max_examples=50, deadline=None)
STEP = 900_000
LIMIT = Limit("raw", "temperature", "°F", high=Decimal(45), rule="raw-cold", clause="1 NYCRR 2.49(a)")
NAN = float("nan")


def found(trace):
    """The findings in short, times in quarters of an hour."""
    return [(*one[:3], one[3] // 900, one[4] // 900) for one in told(judge_tank(trace).findings)]


def test_a_cold_tank_is_met():
    """45.0 °F is in limits; all of the time with product counts."""
    judged = judge_tank(silo([44.0, 45.0, 45.0]))
    assert (judged.outcome, judged.findings, judged.held_s, judged.met_s) == (Outcome.MET, (), 1800, 1800)


def test_an_empty_tank_proves_nothing_and_is_not_asked():
    """However warm it gets."""
    judged = judge_tank(replace(silo([60.0, 60.0]), bands=()))
    assert (judged.findings, judged.outcome) == ((), Outcome.NOT_PROVEN)


def test_time_out_reaches_from_the_last_reading_in_limits_to_the_next():
    """A tenth above for one reading: half an hour."""
    (one,) = judge_tank(silo([45.0, 45.1, 45.0, 44.0])).findings
    assert (one.kind, one.outcome, one.seconds, one.extreme, one.rule, one.lots) == (
        Kind.STORAGE, Outcome.NOT_MET, 1800, Fraction(451, 10), "raw-cold", ("R",),
    )  # fmt: skip
    assert one.sentence == "Silo: 45.1 °F; the limit is 45 °F or below."


def test_readings_before_the_fill_and_after_the_end_do_not_count():
    """The tank was warm and empty."""
    trace = silo([70.0, 44.0, 44.0, 70.0])
    assert found(replace(trace, bands=(Band(STEP, 2 * STEP + 1, "raw", "R"),))) == []


@pytest.mark.parametrize(
    ("total", "at_once", "outcome"),
    [(3600, None, Outcome.OPERATING), (3599, None, Outcome.NOT_MET), (3600, 1800, Outcome.OPERATING),
     (3600, 1799, Outcome.NOT_MET), (0, None, Outcome.NOT_MET)],
)  # fmt: skip
def test_a_limit_with_time_is_exact_to_the_second(total, at_once, outcome):
    """Twice half an hour out, against what the plan allows altogether and at once."""
    trace = silo([45.0, 46.0, 45.0, 44.0, 46.0, 45.0])
    judged = judge_tank(replace(trace, limits=(TimedLimit(LIMIT, total, at_once),)))
    assert [one.outcome for one in judged.findings] == [outcome, outcome]


def test_past_an_operating_limit_is_said():
    """In limits all the same, and its time counts as met."""
    limit = replace(LIMIT, act_high=Decimal(42))
    judged = judge_tank(replace(silo([41.0, 43.0, 41.0]), limits=(TimedLimit(limit),)))
    assert [one.outcome for one in judged.findings] == [Outcome.OPERATING]
    assert (judged.outcome, judged.met_s) == (Outcome.OPERATING, 1800)


def test_the_way_to_the_critical_limit_is_not_said_twice():
    """And what is past the operating limit alone is."""
    limit = replace(LIMIT, act_high=Decimal(42))
    judged = judge_tank(replace(silo([41.0, 43.0, 46.0, 41.0, 41.0, 43.0, 41.0]), limits=(TimedLimit(limit),)))
    assert [one.outcome for one in judged.findings] == [Outcome.NOT_MET, Outcome.OPERATING]


def test_a_tank_is_too_cold_for_its_limit_from_below():
    """Both sides of a limit count."""
    limit = Limit("vat", "temperature", "°F", low=Decimal(33), high=Decimal(45))
    trace = replace(silo([40.0, 32.9, 40.0, 46.0, 40.0]), limits=(TimedLimit(limit),))
    assert [float(one.extreme) for one in judge_tank(trace).findings] == [32.9, 46.0]


def test_gaps_slow_traces_and_faults_are_not_proven():
    """As in a pasteurizer."""
    gap = channel([44.0] * 4, at=[0, STEP, 3 * STEP, 4 * STEP], slowest_ms=STEP, name="Silo")
    assert found(silo([], temperature=gap)) == [("storage", "nothing recorded", "not proven", 1, 3)]
    slow = channel([44.0] * 4, at=times(4, 2 * STEP), slowest_ms=STEP, name="Silo")
    assert found(silo([], temperature=slow)) == [("storage", "recorded too slowly", "not proven", 0, 6)]
    flat = channel([44.0] * 4, at=times(4, STEP), slowest_ms=STEP, faults=FaultRules(flat_ms=2 * STEP))
    assert found(silo([], temperature=flat)) == [("storage", "flat line", "not proven", 0, 3)]
    spike = channel([44.0, 99.0, 44.0], at=times(3, STEP), slowest_ms=STEP, faults=FaultRules(None, Fraction(1, 100)))
    assert found(silo([], temperature=spike)) == [("storage", "spike", "not proven", 0, 2)]
    assert found(replace(silo([44.0, 44.0]), temperature=None)) == [("storage", "no such channel", "not proven", 0, 1)]


def test_of_contradicting_samples_the_warmer_counts():
    """45.1 beside 44.0."""
    given = channel([44.0] * 3, at=times(3, STEP), slowest_ms=STEP, contradicting=other([STEP], [451]))
    assert [one.contradicting for one in judge_tank(silo([], temperature=given)).findings] == [1]


def test_a_product_without_a_limit_is_not_proven():
    """The limits of other classes do not speak for it."""
    trace = replace(silo([44.0] * 3), limits=(TimedLimit(LIMIT, classes=("milk",)),))
    assert found(trace) == [("storage", "no row for the class", "not proven", 0, 2)]


def test_the_correction_of_its_calibration_counts_where_it_is_worse():
    """44.8 read, 0.3 to add: 45.1; to take away it does not help."""
    for correction, extreme in ((Decimal("0.3"), [Fraction(451, 10)]), (Decimal("-0.3"), [])):
        given = channel([44.8] * 2, at=times(2, STEP), slowest_ms=STEP, correction=correction)
        assert [one.extreme for one in judge_tank(silo([], temperature=given)).findings] == extreme


# PMO Table 1 (a textbook's copy): 45 °F within 2 h, blends 50 °F at most.
RULE = CoolingAfter(45, "°F", 7200, 50)


def filled(levels, rule=RULE, at=0, **changes):
    """A tank that was filled, its cooling with a time."""
    return replace(silo(levels), fills=(Fill(at, rule),), **changes)


def test_a_fill_cooled_at_its_deadline_is_met():
    """Read at 45.0 °F after two hours to the second; before that the limit waits."""
    judged = judge_tank(filled([50, 50, 49, 49, 48, 47, 47, 46, 45, 44]))
    assert judged.findings == ()
    (one,) = judged.cooled
    assert (one.outcome, one.cooled_ms, one.deadline_ms) == (Outcome.MET, 8 * STEP, 8 * STEP)


def test_a_fill_too_warm_at_its_deadline_is_not_met():
    """By a tenth; the limit holds from then on."""
    judged = judge_tank(filled([50, 50, 49, 49, 48, 47, 47, 46, 45.1, 44]))
    assert [(one.kind, one.cause, one.extreme) for one in judged.findings] == [
        (Kind.COOLING, Cause.TOO_LATE, Fraction(451, 10)), (Kind.STORAGE, Cause.PROCESS, Fraction(451, 10)),
    ]  # fmt: skip


def test_a_crossing_between_two_readings_is_no_pass():
    """Warm at 1 h 45, cold at 2 h 15: nothing shows when."""
    given = channel([50, 46, 44], at=[0, 7 * STEP, 9 * STEP], slowest_ms=2 * STEP, name="Silo")
    judged = judge_tank(replace(silo([], temperature=given), fills=(Fill(0, RULE),)))
    assert [(one.kind.value, one.outcome.value) for one in judged.findings if one.kind is Kind.COOLING] == [
        ("cooling", "not proven")
    ]


def test_a_blend_above_its_own_bound_is_not_met():
    """50.1 °F while the cooling has its time."""
    judged = judge_tank(filled([50, 50.1, 49, 49, 48, 47, 46, 45, 44]))
    assert [(one.kind, one.extreme) for one in judged.findings] == [(Kind.COOLING, Fraction(501, 10))]
    assert judge_tank(filled([50, 60, 49, 49, 48, 47, 46, 45, 44], replace(RULE, never_above=None))).findings == ()


def test_a_fill_whose_time_still_runs_is_not_proven_while_it_is_warm():
    """Nothing is said of it yet, and it is no pass; cold already it is one."""
    judged = judge_tank(filled([50, 50, 49]))
    assert (judged.findings, judged.outcome) == ((), Outcome.NOT_PROVEN)
    assert [(one.outcome, one.cooled_ms) for one in judged.cooled] == [(Outcome.NOT_PROVEN, None)]
    assert judge_tank(filled([50, 50, 45])).outcome is Outcome.MET


def test_a_fill_that_left_warm_before_its_time_was_over_is_not_proven():
    """Pumped out after half an hour; cold by then nothing is said; a blend's own bound holds all the while."""
    bands = (Band(0, 2 * STEP, "raw", "R"),)
    judged = judge_tank(filled([50, 46, 49, 40, 40, 40, 40, 40, 40], bands=bands))
    (one,) = judged.findings
    assert (one.kind, one.outcome, one.end_ms, one.extreme, one.lots) == (
        Kind.COOLING, Outcome.NOT_PROVEN, 2 * STEP, 46, ("R",),
    )  # fmt: skip
    assert "left before its time of 120 min" in one.sentence and judged.met_s == 0
    cold = judge_tank(filled([50, 45, 49, 40, 40, 40, 40, 40, 40], bands=bands))
    assert (cold.findings, cold.cooled, cold.outcome) == ((), (), Outcome.MET)
    blend = judge_tank(filled([50.1, 45, 45, 40, 40, 40, 40, 40, 40], bands=bands))
    assert [each.outcome for each in blend.findings] == [Outcome.NOT_MET]
    away = judge_tank(filled([50] * 9, bands=(Band(4 * STEP, 5 * STEP, "raw", "R"),), at=9 * STEP))
    assert away.cooled == ()


def test_a_reading_in_doubt_at_the_deadline_cools_nothing():
    """In limits by one record, failed by another; and colder than the thermometer can measure."""
    levels = [50, 50, 49, 49, 48, 47, 47, 46, 45, 44]
    lost = replace(other([8 * STEP], [0]), failed=np.array([True]))
    for changes in ({"contradicting": lost}, {"faults": FaultRules(lowest=46)}):
        given = channel(levels, at=times(len(levels), STEP), slowest_ms=STEP, **changes)
        (one,) = judge_tank(replace(silo([], temperature=given), fills=(Fill(0, RULE),))).cooled
        assert (one.outcome, one.cooled_ms) == (Outcome.NOT_PROVEN, None)


def test_a_tank_below_the_range_of_its_thermometer_is_not_proven():
    """-200 °F is a broken wire; 850 °F is out of limits all the same, whatever wrote it."""
    rules = FaultRules(lowest=0, highest=250)
    given = channel([40, -200, 40, 850, 40], at=times(5, STEP), slowest_ms=STEP, faults=rules)
    assert found(silo([], temperature=given)) == [
        ("storage", "outside the instrument's range", "not proven", 0, 4),
        ("storage", "process", "not met", 2, 4),
    ]
    hot = channel([60.0, *[850.0] * 12, 60.0], at=times(14, 60_000), slowest_ms=60_000, faults=rules)
    assert judge_tank(replace(silo([], temperature=hot), bands=(), wash=WASH)).washings == ()


def test_a_class_without_a_limit_beside_one_that_has_it_is_not_proven():
    """Two products in one tank: the limit of one does not speak for the other."""
    limits = (TimedLimit(LIMIT, classes=("raw",)),)
    bands = (Band(0, 2 * STEP, "raw", "R"), Band(STEP, 2 * STEP, "milk", "M"))
    assert found(replace(silo([44.0] * 3), limits=limits, bands=bands)) == [
        ("storage", "no row for the class", "not proven", 1, 2)
    ]


@few
@given(st.lists(st.integers(430, 500), min_size=10, max_size=14), st.integers(0, 8))
def test_cooling_comes_to_the_same_as_the_cooling_of_the_calculator(levels, deadline):
    """plant.process.cooling, written for readings in floats: same outcome wherever it asks the same."""
    rule = CoolingAfter(45, "°F", max(deadline, 1) * 900)
    judged = judge_tank(filled([one / 10 for one in levels], rule))
    seconds = [900.0 * place for place in range(len(levels))]
    calculator = CoolingRule(high=45, within_s=max(deadline, 1) * 900)
    wanted = judge_cooling(seconds, [one / 10 for one in levels], calculator, longest_gap_s=900)
    (mine,) = judged.cooled
    assert mine.outcome is wanted.outcome


def test_a_cold_probe_before_the_milk_cools_nothing():
    """40 °F in the empty tank, then a gap over the deadline: not proven; warm at the deadline: not met."""
    given = channel([40, 44, 44], at=[0, STEP, 12 * STEP], slowest_ms=STEP, name="Silo")
    (one,) = judge_tank(replace(silo([], temperature=given), fills=(Fill(0, RULE),))).cooled
    assert (one.outcome, one.cooled_ms) == (Outcome.NOT_PROVEN, None)
    assert [each.outcome for each in judge_tank(filled([40.0, *[90.0] * 9])).cooled] == [Outcome.NOT_MET]


WASH = WashSign(140, "°F", 600)


def washed(levels, **changes):
    """An empty tank read each minute."""
    given = channel(levels, at=times(len(levels), 60_000), slowest_ms=60_000, name="Silo")
    return replace(silo([], temperature=given), **{"bands": (), "wash": WASH, **changes})


HEAT = [60.0, *[141.0] * 10, 150.0, 60.0]


def test_the_heat_of_a_wash_shows_from_its_first_hot_reading_to_its_last():
    """Ten minutes of it, as the plan's sign asks."""
    judged = judge_tank(washed(HEAT, washes=((0, 720_000),)))
    assert [(one.start_ms, one.end_ms, one.hottest, one.seconds) for one in judged.washings] == [
        (60_000, 660_000, 150, 600)
    ]
    assert judged.findings == ()


def test_a_wash_that_nobody_recorded_and_one_that_does_not_show_are_said():
    """Neither is proven."""
    assert told(judge_tank(washed(HEAT)).findings) == [("wash", "not recorded", "not proven", 60, 660)]
    short = washed([60.0, *[141.0] * 10, 60.0], washes=((0, 660_000),))
    assert told(judge_tank(short).findings) == [("wash", "not shown by the trace", "not proven", 0, 660)]


def test_a_gap_parts_the_heat_of_a_wash():
    """Ten minutes with a lost reading are not ten minutes on end."""
    assert judge_tank(washed([60.0, *[141.0] * 5, NAN, *[141.0] * 5, 60.0])).washings == ()


def test_heat_while_the_book_has_product_is_out_of_limits_and_looks_like_a_wash():
    """The thermometer is right and the book is wrong, or the other way round: a person finds out."""
    trace = washed(HEAT, bands=(Band(0, 720_000, "raw", "R"),))
    (one, *_rest) = [each for each in judge_tank(trace).findings if each.kind is Kind.STORAGE]
    assert (one.outcome, one.cause) == (Outcome.NOT_MET, Cause.WASHING)
    assert "looks like a wash" in one.sentence


@pytest.mark.proves("trace_judging.washes_shown", by="independent", source="runs of hot readings, counted in a loop")
@few
@given(st.lists(st.sampled_from([139.9, 140.0, 150.0, NAN]), min_size=1, max_size=40), st.integers(1, 5))
def test_washes_counted_in_a_loop_come_to_the_same(levels, minutes):
    """Runs of readings at 140 °F and above, long enough from the first to the last."""
    wanted, run = [], []
    for place, level in enumerate([*levels, 0.0]):
        if level >= 140:
            run.append(place)
            continue
        if run and run[-1] - run[0] >= minutes:
            wanted.append((run[0], run[-1], max(levels[one] for one in run)))
        run = []
    given = channel(levels, at=times(len(levels), 60_000), slowest_ms=60_000)
    shown = washes_shown(given, WashSign(140, "°F", minutes * 60))
    assert [(one.start_ms // 60_000, one.end_ms // 60_000, one.hottest) for one in shown] == wanted


def test_a_clock_that_nobody_checked_is_said():
    """Where the plan asks for it."""
    trace = replace(silo([44.0] * 3), clock_ms=60_000)
    assert found(trace) == [("clock", "not checked", "not proven", 0, 2)]
    assert found(replace(trace, clock_checks=(ClockCheck(0, 0),))) == []


def test_what_cannot_be_judged_is_refused():
    """No limit, no number in it, an end before the start, less than no time."""
    good = silo([44.0, 44.0])
    for wrong, error in (
        ({"limits": ()}, CalculationError),
        ({"limits": (TimedLimit(Limit("x", "t", "°F")),)}, CalculationError),
        ({"end_ms": -1}, CalculationError),
        ({"limits": (TimedLimit(LIMIT, -1),)}, OutsideRange),
        ({"fills": (Fill(0, replace(RULE, within_s=0)),)}, OutsideRange),
        ({"wash": replace(WASH, seconds=0)}, OutsideRange),
    ):
        with pytest.raises(error):
            judge_tank(replace(good, **wrong))


@few
@given(st.lists(st.integers(430, 470), min_size=2, max_size=30), st.data())
def test_warmer_milk_is_never_longer_in_limits(levels, data):
    """A degree more everywhere; and what is held is what the bands say."""
    end = (len(levels) - 1) * STEP
    start = data.draw(st.integers(0, end))
    bands = (Band(start, end, "raw", "R"),)
    cool = judge_tank(replace(silo([one / 10 for one in levels]), bands=bands))
    warm = judge_tank(replace(silo([one / 10 + 1 for one in np.array(levels)]), bands=bands))
    assert warm.met_s <= cool.met_s <= cool.held_s == Decimal(end - start) / 1000
