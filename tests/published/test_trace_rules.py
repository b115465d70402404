"""Traces against the printed rules: pairs of temperature and time, recorder, pressure, cooling, cut-in and cut-out.

Each trace is constructed so that its answer is known: at the printed value, one last digit off it, for counted seconds.
21 CFR 1240.61(b), (c): https://lexbuild.dev/ecfr/title-21/chapter-I/part-1240/section-1240.61 (text consulted).
21 CFR 131.3(b): https://www.govregs.com/regulations/expand/title21_chapterI-i1_part131_subpartA_section131.3 (read).
21 CFR 135.3: https://lexbuild.dev/ecfr/title-21/chapter-I/part-135/section-135.3 (text consulted).
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from plant.process.limits import Limit, Outcome
from plant.process.pasteurization import Method, ProductClass, Row
from plant.process.trace_judging import (
    Band,
    Bound,
    Cause,
    CoolingAfter,
    Fill,
    FlowState,
    Indicated,
    Kind,
    Run,
    SetUpWindow,
    WashSign,
    Watched,
    compare_recorder,
    flow_segments,
    greatest_passing,
    judge_pasteurizer,
    judge_tank,
    least_passing,
    washes_shown,
)
from tests.trace_makers import channel, press, signal, silo, times

pytestmark = pytest.mark.once

MILK, EGGNOG, INGREDIENT, MIX = ProductClass.MILK, ProductClass.EGGNOG, ProductClass.INGREDIENT, ProductClass.MIX
# Class, °F, s, clause; and °C as printed, rounded up by the law itself (none where it prints none).
PAIRS = [
    (MILK, "161", "15", "21 CFR 1240.61(b)", 72),
    (MILK, "191", "1", "21 CFR 1240.61(b)", 89),
    (MILK, "194", "0.5", "21 CFR 1240.61(b)", 90),
    (MILK, "201", "0.1", "21 CFR 1240.61(b)", 94),
    (MILK, "204", "0.05", "21 CFR 1240.61(b)", 96),
    (MILK, "212", "0.01", "21 CFR 1240.61(b)", 100),
    (EGGNOG, "175", "25", "21 CFR 1240.61(c)", 80),
    (EGGNOG, "180", "15", "21 CFR 1240.61(c)", 83),
    (INGREDIENT, "161", "15", "21 CFR 131.3(b)", None),
    (INGREDIENT, "191", "1", "21 CFR 131.3(b)", None),
    (INGREDIENT, "204", "0.05", "21 CFR 131.3(b)", None),
    (INGREDIENT, "212", "0.01", "21 CFR 131.3(b)", None),
    (MIX, "175", "25", "21 CFR 135.3", None),
]
TABLE = {
    kind: tuple(
        Row(f"{kind}-{low}", (kind,), Method.HTST if Decimal(hold) > 1 else Method.HHST, Decimal(low), "°F",
            Decimal(hold), clause, "text consulted")
        for one, low, hold, clause, _printed in PAIRS if one is kind
    )
    for kind in (MILK, EGGNOG, INGREDIENT, MIX)
}  # fmt: skip
# What hundredth of a degree Celsius is the first at or above each Fahrenheit: (F - 32)/1.8, worked by hand.
HUNDREDTHS = {"161": 7167, "175": 7945, "180": 8223, "191": 8834, "194": 9000, "201": 9389, "204": 9556, "212": 10000}


def run(kind, levels, hold, unit="°F", places=2, **changes):
    """A run of a class on a set-up of some hold, recorder and indicating thermometer alike."""
    end = 1000 * (len(levels) - 1)
    return press(
        [],
        temperature=channel(levels, unit, places),
        valve=signal([1] * len(levels)),
        bands=(Band(0, end, kind, "A"),),
        set_ups=(SetUpWindow(0, end, "s", Decimal(hold), (kind,), 0),),
        rows=TABLE,
        **changes,
    )


@pytest.mark.proves("trace_judging.judge_pasteurizer", by="published", source="21 CFR 1240.61(b), (c), 131.3(b), 135.3")
@pytest.mark.parametrize(("kind", "low", "hold", "clause", "_printed"), PAIRS)
def test_a_row_is_met_at_its_own_digits_and_missed_by_the_last(kind, low, hold, clause, _printed):
    """Temperature and time at the printed values throughout: met. A hundredth below in one second: two seconds out."""
    at = float(low)
    good = judge_pasteurizer(run(kind, [at] * 20, hold))
    assert (good.outcome, good.seconds(Outcome.MET)) == (Outcome.MET, 19)
    judged = judge_pasteurizer(run(kind, [*[at] * 7, round(at - 0.01, 2), *[at] * 12], hold))
    (one,) = judged.findings
    assert (one.kind, one.start_ms, one.end_ms, one.seconds) == (Kind.TEMPERATURE, 6000, 8000, 2)
    assert (one.extreme, one.unit, one.clause) == (Fraction(low) - Fraction(1, 100), "°F", clause)
    assert (judged.seconds(Outcome.MET), judged.seconds(Outcome.NOT_MET)) == (17, 2)


@pytest.mark.proves("trace_judging.judge_pasteurizer", by="published", source="21 CFR 1240.61(b), (c), 131.3(b), 135.3")
@pytest.mark.parametrize(("kind", "low", "hold", "_clause", "_printed"), PAIRS)
def test_a_hold_a_thousandth_short_is_not_that_row(kind, low, hold, _clause, _printed):
    """The pair is one: at the printed temperature with 0.001 s less, no second of forward flow is met."""
    judged = judge_pasteurizer(run(kind, [float(low)] * 5, str(Decimal(hold) - Decimal("0.001"))))
    assert (judged.outcome, judged.seconds(Outcome.NOT_MET)) == (Outcome.NOT_MET, 4)


@pytest.mark.proves(
    "trace_judging.least_passing", by="published", source="21 CFR 1240.61(b), (c): °C as printed beside °F"
)
@pytest.mark.parametrize(("low", "printed"), [(one[1], one[4]) for one in PAIRS if one[4]])
def test_printed_celsius_is_the_first_whole_degree_that_meets(low, printed):
    """The law rounds up to the whole degree; the hundredths are those of (F - 32)/1.8."""
    assert least_passing(Decimal(low), "°F", "°C", 0) == printed
    assert least_passing(Decimal(low), "°F", "°C", 2) == HUNDREDTHS[low]


@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="21 CFR 1240.61(b): 161 °F governs, not 72 °C"
)
def test_a_trace_in_celsius_is_judged_by_the_governing_fahrenheit():
    """71.67 °C is 161.006 °F and meets the row that is printed as 72 °C; 71.66 °C is 160.988 °F and does not."""
    assert judge_pasteurizer(run(MILK, [71.67] * 4, "15", "°C")).outcome is Outcome.MET
    (one,) = judge_pasteurizer(run(MILK, [71.67, 71.66, 71.67, 71.67], "15", "°C")).findings
    assert (one.extreme, one.unit, one.seconds) == (Fraction("160.988"), "°F", 2)


@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="21 CFR 1240.61(b), footnote 1: 5 °F more"
)
def test_the_raised_row_is_166_f():
    """Fat of 10 % and more, or sweetener: 165.9 °F is not met by cream, and is by milk."""
    raised = Row("raised", (ProductClass.RAISED,), Method.HTST, Decimal(166), "°F", Decimal(15), "footnote 1", "read")
    for level, outcome in ((166.0, Outcome.MET), (165.9, Outcome.NOT_MET)):
        trace = run(ProductClass.RAISED, [level] * 4, "15")
        assert judge_pasteurizer(replace(trace, rows={"raised": (raised,)})).outcome is outcome
    assert judge_pasteurizer(run(MILK, [165.9] * 4, "15")).outcome is Outcome.MET


# 1 NYCRR 2.45(b)(2): the recording thermometer never reads higher than the indicating one (vat wording; HTST from
# memory), http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_2_s2.45.
@pytest.mark.proves(
    "trace_judging.compare_recorder", by="published", source="1 NYCRR 2.45(b)(2) (vat; HTST from memory)"
)
@pytest.mark.parametrize(("indicating", "higher"), [("162.0", False), ("161.9", True), ("162.1", False)])
def test_the_recorder_never_reads_higher(indicating, higher):
    """Alike is allowed, a tenth higher is not, a tenth lower is."""
    read = Run(0, 3000, (Indicated(1000, Decimal(indicating), "°F"),))
    judged = judge_pasteurizer(run(MILK, [162.0] * 4, "15", places=1, runs=(read,)))
    assert [one.cause for one in judged.findings] == ([Cause.READS_HIGHER] if higher else [])
    assert (compare_recorder(channel([162.0] * 4), read).difference > 0) == higher


# Alabama 420-3-17-.05: an HTST recorder within 1 °F (text consulted, a mirror of state codes).
@pytest.mark.proves("trace_judging.judge_pasteurizer", by="published", source="Ala. 420-3-17-.05: recorder within 1 °F")
@pytest.mark.parametrize(("indicating", "proven"), [("163.0", True), ("163.1", False)])
def test_a_recorder_is_within_a_degree(indicating, proven):
    """A degree lower itself is within; further off it cannot serve the limit."""
    read = Run(0, 3000, (Indicated(1000, Decimal(indicating), "°F"),))
    judged = judge_pasteurizer(run(MILK, [162.0] * 4, "15", places=1, runs=(read,), tolerance=Bound(1, "°F")))
    assert (judged.outcome is Outcome.MET) == proven
    assert all(one.cause is Cause.OUT_OF_TOLERANCE and not one.proven for one in judged.findings)


# ATCP 65.66(3)(c) to (f): continuous trace, indicating thermometer, every period of forward flow, cut-in and cut-out,
# https://regulations.justia.com/states/wisconsin/atcp/atcp-55-89/chapter-atcp-65/subchapter-iv/section-atcp-65-66.
@pytest.mark.proves("trace_judging.flow_segments", by="published", source="ATCP 65.66(3)(e); 1 NYCRR 3.27(a)(10)")
def test_every_period_of_forward_flow_is_shown():
    """Two of them, to the second, and the diversion between."""
    valve = signal([0, 0, 1, 1, 1, 0, 0, 1, 1, 0])
    forward = [one for one in flow_segments(valve, None, 0, 9000) if one.state is FlowState.FORWARD]
    assert [(one.start_ms, one.end_ms) for one in forward] == [(2000, 5000), (7000, 9000)]


@pytest.mark.proves("trace_judging.judge_pasteurizer", by="published", source="ATCP 65.66(3)(c): a continuous trace")
def test_a_trace_that_is_not_continuous_is_not_proven():
    """A second lost of twenty, and the clause that asks for it."""
    levels = [162.0] * 20
    at = [one for one in times(20) if one != 9000]
    trace = press([], temperature=channel(levels[:-1], at=at), valve=signal([1] * 20))
    (one,) = judge_pasteurizer(trace).findings
    assert (one.clause, one.proven, one.start_ms, one.end_ms) == ("ATCP 65.66(3)(c)", False, 8000, 10000)


@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="ATCP 65.66(3)(f): cut-in and cut-out; 161 °F"
)
@pytest.mark.parametrize(("cut_in", "cut_out"), [(161.0, 161.0), (160.9, 161.0), (161.0, 160.9)])
def test_cut_in_and_cut_out_at_the_limit_are_met_and_below_it_are_not(cut_in, cut_out):
    """Each read where the valve goes to forward, and leaves it."""
    trace = press([150.0, cut_in, 163.0, cut_out, 158.0], [0, 1, 1, 1, 0])
    judged = judge_pasteurizer(trace)
    assert [(one.kind, one.outcome is Outcome.MET, one.temperature) for one in judged.crossings] == [
        (Kind.CUT_IN, cut_in >= 161, Fraction(str(cut_in))), (Kind.CUT_OUT, cut_out >= 161, Fraction(str(cut_out))),
    ]  # fmt: skip


# ATCP 65.68(1), (3), (5), http://wirules.elaws.us/rule/ATCP65.68(6)(d): no operation without unbroken seals; a holding
# time test at least every 6 months; La. 51 VII-313 likewise.
@pytest.mark.proves("trace_judging.judge_pasteurizer", by="published", source="ATCP 65.68(1), (3), (5); La. 51 VII-313")
@pytest.mark.parametrize(
    ("ends", "clause"),
    [(Cause.SEAL_BROKEN, "ATCP 65.68(1),(5)"), (Cause.TEST_OVERDUE, "La. 51 VII-313; ATCP 65.68(3),(4)")],
)
def test_forward_flow_after_a_broken_seal_or_an_overdue_test_is_not_proven(ends, clause):
    """From that second on."""
    set_up = SetUpWindow(0, 9000, "s", 15, (MILK,), 0, counts_until_ms=4000, ended_by=ends)
    (one,) = judge_pasteurizer(replace(run(MILK, [162.0] * 10, "15"), set_ups=(set_up,))).findings
    assert (one.clause, one.proven, one.start_ms, one.end_ms) == (clause, False, 4000, 9000)


# 7 Pa. Code 59.216c(a)(1), http://www.pacode.com/secure/data/007/chapter59/s59.216c.html; 1 NYCRR 3.26(a): pasteurized
# side above raw side at all times. Quebec P-29 r.1 s.11.7.7: 14 kPa above.
@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="7 Pa. Code 59.216c(a)(1); 1 NYCRR 3.26(a)"
)
@pytest.mark.parametrize("flow", [1, 0])
@pytest.mark.parametrize(("least", "met"), [(0.1, True), (0.0, False), (-0.1, False)])
def test_the_pasteurized_side_is_above_the_raw_side_at_all_times(flow, least, met):
    """Equal is not above, in forward flow and in diverted flow."""
    limit = Limit("p", "pressure difference", "psi", low=Decimal(0), clause="7 Pa. Code 59.216c(a)(1)")
    every = (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED)
    gauge = channel([2.0, 2.0, least, 2.0, 2.0], "psi", name="difference")
    watched = (Watched(Kind.PRESSURE, gauge, limit, every, strict=True),)
    judged = judge_pasteurizer(press([162.0] * 5, [1, flow, flow, flow, 1], watched=watched))
    assert [one.seconds for one in judged.findings] == ([] if met else [2])


@pytest.mark.proves("trace_judging.least_passing", by="published", source="Quebec P-29 r.1 s.11.7.7: 14 kPa (2 psi)")
def test_fourteen_kilopascals_are_just_above_two_psi():
    """14 kPa is 2.0305 psi: on a gauge of tenths 2.1 meets it, 2.0 does not; the printed 2 psi is rounded."""
    assert least_passing(14, "kPa", "psi", 1) == 21
    assert least_passing(2, "psi", "kPa", 2) == 1379


# 1 NYCRR 2.49(a), (b), https://regulations.justia.com/states/new-york/title-1/chapter-i/subchapter-a/part-2/: 45 °F.
@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="1 NYCRR 2.49(b): cooled to 45 °F or below"
)
@pytest.mark.parametrize(("warmest", "met"), [(45.0, True), (45.1, False)])
def test_pasteurized_milk_leaves_the_press_at_45_f_or_below(warmest, met):
    """At 45.0 °F it is met."""
    limit = Limit("c", "temperature", "°F", high=Decimal(45), clause="1 NYCRR 2.49(b)")
    watched = (Watched(Kind.COOLING, channel([38.0, warmest, 38.0, 38.0]), limit),)
    judged = judge_pasteurizer(press([162.0] * 4, watched=watched))
    assert [(one.kind, one.clause, one.seconds) for one in judged.findings] == (
        [] if met else [(Kind.COOLING, "1 NYCRR 2.49(b)", 2)]
    )


@pytest.mark.proves(
    "trace_judging.judge_tank", by="published", source="1 NYCRR 2.49(a); ATCP 65.40(2)(b): raw 45 °F or below"
)
@pytest.mark.parametrize(("warmest", "out_s"), [(45.0, 0), (45.1, 1800)])
def test_raw_milk_is_held_at_45_f_or_below(warmest, out_s):
    """A quarter of an hour on each side of the one warm reading."""
    judged = judge_tank(silo([44.0, 44.0, warmest, 44.0, 44.0]))
    assert judged.held_s - judged.met_s == out_s


@pytest.mark.proves(
    "trace_judging.greatest_passing", by="published", source="1 NYCRR 2.49: 45 °F; PMO Table 1: 50 °F (10 °C)"
)
def test_45_f_in_celsius_is_not_the_printed_seven():
    """45 °F is 7.222 °C: 7.22 meets it; 7 is printed. 50 °F is 10 °C exactly."""
    assert greatest_passing(45, "°F", "°C", 2) == 722
    assert greatest_passing(45, "°F", "°C", 0) == 7
    assert greatest_passing(50, "°F", "°C", 2) == 1000


# PMO Table 1 as a textbook prints it (https://issuhub.com/view/index/5299?pageIndex=392): 45 °F within 2 h of the
# end of milking, blends no warmer than 50 °F.
@pytest.mark.proves(
    "trace_judging.judge_tank", by="published", source="PMO Table 1, a textbook's copy: 2 h, 45 °F, blend 50 °F"
)
@pytest.mark.parametrize(
    ("at_two_hours", "warmest", "kinds"),
    [(45.0, 50.0, []), (45.1, 50.0, [Kind.COOLING, Kind.STORAGE]), (45.0, 50.1, [Kind.COOLING])],
)
def test_a_blend_is_cooled_within_two_hours(at_two_hours, warmest, kinds):
    """At two hours to the second; the blend never above 50 °F meanwhile."""
    rule = CoolingAfter(45, "°F", 7200, 50)
    levels = [49.0, warmest, 49.0, 49.0, 48.0, 47.0, 46.0, 46.0, at_two_hours, 44.0]
    judged = judge_tank(replace(silo(levels), fills=(Fill(0, rule),)))
    assert [one.kind for one in judged.findings] == kinds


# 1 NYCRR 2.18 (farm item 11r): 170 °F for 5 min,
# http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_1_s2.18 (a state mirror).
@pytest.mark.proves(
    "trace_judging.washes_shown", by="published", source="1 NYCRR 2.18 (farm item 11r): 170 °F for 5 min"
)
@pytest.mark.parametrize(("hot", "minutes", "shown"), [(170.0, 5, 1), (169.9, 5, 0), (170.0, 4, 0)])
def test_hot_water_at_170_f_for_five_minutes_shows(hot, minutes, shown):
    """Six readings a minute apart are five minutes."""
    levels = [60.0, *[hot] * (minutes + 1), 60.0]
    trace = channel(levels, at=times(len(levels), 60_000), slowest_ms=60_000)
    assert len(washes_shown(trace, WashSign(170, "°F", 300))) == shown


# Diverted within 1 s, PMO App. I test 5 (from memory): a trace at 1 Hz can show no more than that.
@pytest.mark.proves(
    "trace_judging.judge_pasteurizer", by="published", source="PMO App. I, test 5: diverts in 1 s (from memory)"
)
def test_a_device_that_stays_forward_below_the_limit_is_seen_in_the_next_second():
    """Below the limit and still forward in one sample: not met, with the second before it."""
    judged = judge_pasteurizer(press([161.5, 161.0, 160.0, 155.0], [1, 1, 1, 0]))
    assert [(one.kind, one.start_ms, one.end_ms) for one in judged.findings] == [
        (Kind.TEMPERATURE, 1000, 3000), (Kind.CUT_OUT, 3000, 3000),
    ]  # fmt: skip
