"""Washing: rules and arithmetic that others publish."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import permutations

import pytest

from plant.process.limits import Limit, Outcome
from plant.process.washing import (
    Measured,
    PlannedStep,
    WashedStep,
    flow_for_velocity_l_per_h,
    judge_chlorine,
    judge_hot_water,
    judge_step,
    judge_trace,
    judge_wash,
    line_velocity_m_s,
)

pytestmark = pytest.mark.once

HOT = (Limit("170", "temperature", "°F", low=Decimal(170)), Limit("5", "time", "min", low=Decimal(5)))
# 21 CFR 129.80, as a textbook gives it (https://issuhub.com/view/index?id=5356&pageIndex=301): alternatives.
BOTTLED = [
    (Limit("77", "temperature", "°C", low=Decimal(77)), Limit("15", "time", "min", low=Decimal(15))),
    (Limit("94", "temperature", "°C", low=Decimal(94)), Limit("5", "time", "min", low=Decimal(5))),
]
CHLORINE = [
    Limit("100", "strength", "mg/L", low=Decimal(100)),
    Limit("1", "time", "min", low=Decimal(1)),
]


def degrees(value: str, unit: str = "°F") -> Measured:
    """A temperature as recorded."""
    return Measured(Decimal(value), unit)


def minutes(value: str) -> Measured:
    """A time as recorded."""
    return Measured(Decimal(value), "min")


@pytest.mark.proves(
    "washing.judge_hot_water",
    by="published",
    source="1 NYCRR 2.18 (farm item 11r): 77 °C (170 °F) for 5 min at the outlet "
    "(http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_1_s2.18)",
)
@pytest.mark.parametrize(
    ("temperature", "time", "outlet", "outcome"),
    [
        (degrees("170"), minutes("5"), True, Outcome.MET),
        (degrees("76.7", "°C"), minutes("5"), True, Outcome.MET),  # 170.06 °F: 170 °F governs, 77 is its rounding
        (degrees("169.9"), minutes("30"), True, Outcome.NOT_MET),
        (degrees("180"), Measured(Decimal(299), "s"), True, Outcome.NOT_MET),
        (degrees("170"), minutes("5"), False, Outcome.NOT_PROVEN),
        (degrees("170"), minutes("5"), None, Outcome.NOT_PROVEN),
        (None, minutes("5"), True, Outcome.NOT_PROVEN),
        (degrees("170"), None, True, Outcome.NOT_PROVEN),
    ],
)
def test_hot_water_at_the_outlet(temperature, time, outlet, outcome):
    """At the limit, below it, and what is not recorded."""
    assert judge_hot_water([HOT], temperature, time, outlet).outcome is outcome


@pytest.mark.proves(
    "washing.judge_hot_water",
    by="published",
    source="21 CFR 129.80: 77 °C 15 min or 94 °C 5 min (https://issuhub.com/view/index?id=5356&pageIndex=301)",
)
@pytest.mark.parametrize(
    ("celsius", "held", "outcome"),
    [
        ("77", "15", Outcome.MET),
        ("94", "5", Outcome.MET),
        ("93.9", "5", Outcome.NOT_MET),
        ("77", "14", Outcome.NOT_MET),
    ],
)
def test_rows_are_alternatives(celsius, held, outcome):
    """One row met whole is enough; parts of two rows are not."""
    assert judge_hot_water(BOTTLED, degrees(celsius, "°C"), minutes(held), True).outcome is outcome


@pytest.mark.proves(
    "washing.judge_chlorine",
    by="published",
    source="1 NYCRR 2.18 (farm item 11r): 1 min, all surfaces wet, pipes full, not used again "
    "(http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_1_s2.18); 100 mg/L from memory",
)
@pytest.mark.parametrize(
    ("strength", "seconds", "fresh", "wet", "outcome"),
    [
        ("100", "60", True, True, Outcome.MET),
        ("99", "60", True, True, Outcome.NOT_MET),
        ("150", "59", True, True, Outcome.NOT_MET),
        ("150", "60", False, True, Outcome.NOT_MET),
        ("150", "60", True, False, Outcome.NOT_MET),
        ("150", "60", None, True, Outcome.NOT_PROVEN),
        ("150", "60", True, None, Outcome.NOT_PROVEN),
        (None, "60", True, True, Outcome.NOT_PROVEN),
        ("150", None, True, True, Outcome.NOT_PROVEN),
    ],
)
def test_chlorine_strength_time_and_use(strength, seconds, fresh, wet, outcome):
    """Each of the four conditions by itself."""
    given = None if strength is None else Measured(Decimal(strength), "mg/L")
    held = None if seconds is None else Measured(Decimal(seconds), "s")
    assert judge_chlorine(CHLORINE, given, held, fresh, wet).outcome is outcome


# https://sanad.iau.ir/en/Article/1194555, a review of cleaning in place: ranges as printed.
REVIEW = [
    ("caustic", "concentration", "%", "0.5", "2"),
    ("caustic", "temperature", "°C", "70", "80"),
    ("caustic", "time", "min", "10", "30"),
    ("acid", "concentration", "%", "0.5", "1"),
    ("acid", "temperature", "°C", "55", "75"),
    ("acid", "time", "min", "5", "20"),
]


@pytest.mark.proves(
    "washing.judge_step",
    by="published",
    source="review of cleaning in place: caustic 0.5 to 2 %, 70 to 80 °C, 10 to 30 min; nitric acid 0.5 to 1 %, 55 to "
    "75 °C, 5 to 20 min (https://sanad.iau.ir/en/Article/1194555)",
)
@pytest.mark.parametrize(("step", "quantity", "unit", "low", "high"), REVIEW)
def test_ranges_of_the_review_hold_their_ends(step, quantity, unit, low, high):
    """Met at both ends, not met just outside, not proven without a value."""
    planned = PlannedStep(step, (Limit(step, quantity, unit, low=Decimal(low), high=Decimal(high)),))

    def outcome(value: str | None) -> Outcome:
        measured = {} if value is None else {quantity: Measured(Decimal(value), unit)}
        return judge_step(planned, WashedStep(step, measured)).outcome

    assert outcome(low) is outcome(high) is Outcome.MET
    assert outcome(str(Decimal(low) - Decimal("0.01"))) is Outcome.NOT_MET
    assert outcome(str(Decimal(high) + Decimal("0.01"))) is Outcome.NOT_MET
    assert outcome(None) is Outcome.NOT_PROVEN


@pytest.mark.proves(
    "washing.line_velocity_m_s",
    by="published",
    source="holding tubes worked out: 5000 and 6000 L/h in 1.870 in (0.7838 and 0.9406 m/s); 1.666e-4 m3/s in 34 mm "
    "(0.1835 m/s, https://mazurekgravity.in)",
)
@pytest.mark.parametrize(
    ("liters_per_h", "bore_mm", "velocity"),
    [(5000, 47.498, 0.7838), (6000, 47.498, 0.9406), (1.666e-4 * 3.6e6, 34, 0.1835)],
)
def test_velocity_of_worked_flows(liters_per_h, bore_mm, velocity):
    """Four decimals."""
    assert line_velocity_m_s(liters_per_h, bore_mm) == pytest.approx(velocity, abs=5.1e-5)


@pytest.mark.proves(
    "washing.flow_for_velocity_l_per_h",
    by="published",
    source="flow for 5 ft/s in sanitary tube of 16 gauge, gal/min by nominal size (common practice, from memory)",
)
@pytest.mark.parametrize(
    ("bore_in", "gallons_per_min"), [(1.370, 23), (1.870, 43), (2.370, 69), (2.870, 101), (3.834, 180)]
)
def test_flow_for_five_feet_a_second(bore_in, gallons_per_min):
    """Whole gallons a minute; 5 ft/s is 1.524 m/s."""
    flow = flow_for_velocity_l_per_h(1.524, bore_in * 25.4)
    assert flow / 60 / 3.785411784 == pytest.approx(gallons_per_min, abs=0.51)
    assert line_velocity_m_s(flow, bore_in * 25.4) == pytest.approx(1.524)


LOW, LEAST = HOT
STEP = range(0, 300_001, 10_000)  # five minutes, a sample each ten seconds


@pytest.mark.proves(
    "washing.judge_trace",
    by="published",
    source="7 Pa. Code 59.212(b): the recorder in the return line shows temperature and time "
    "(http://www.pacode.com/secure/data/007/chapter59/s59.212.html); 170 °F for 5 min: 1 NYCRR 2.18 (farm item 11r)",
)
@pytest.mark.parametrize(
    ("values", "outcome"),
    [
        ({}, Outcome.MET),
        ({150_000: "170"}, Outcome.MET),  # at the limit
        ({150_000: "169.9"}, Outcome.NOT_MET),  # twice two and a half minutes are not five on end
        (dict.fromkeys(range(0, 120001, 10000), "169"), Outcome.NOT_MET),
        ({150_000: None}, Outcome.NOT_PROVEN),  # a failed sensor
        (dict.fromkeys(range(100000, 130001, 10000), ""), Outcome.NOT_PROVEN),  # a gap of fifty seconds
        (dict.fromkeys(range(0, 50001, 10000), ""), Outcome.NOT_PROVEN),  # begun late
        (dict.fromkeys(range(250000, 300001, 10000), ""), Outcome.NOT_PROVEN),  # ended early
        (dict.fromkeys(STEP, ""), Outcome.NOT_PROVEN),  # nothing
        ({100_000: "", 110_000: "", 120_000: "", 250_000: "160"}, Outcome.NOT_MET),  # not even with its gap
    ],
)
def test_trace_of_a_sanitizing(values, outcome):
    """Colder once is not met, silence is never a pass."""
    given = [(at, values.get(at, "171")) for at in STEP]
    samples = [(at, None if value is None else Fraction(value)) for at, value in given if value != ""]
    assert judge_trace(LOW, LEAST, samples, 0, 300_000, slowest_ms=15_000).outcome is outcome
    contradicting = [*samples, (200_000, Fraction(120))]
    assert judge_trace(LOW, LEAST, contradicting, 0, 300_000, slowest_ms=15_000).outcome is not Outcome.MET


@pytest.mark.parametrize(
    ("percent", "outcome"),
    [("0.49", Outcome.NOT_MET), ("0.5", Outcome.MET), ("2", Outcome.MET), ("2.01", Outcome.NOT_MET)],
)
def test_trace_of_a_strength_holds_both_ends_of_the_review(percent, outcome):
    """Caustic 0.5 to 2 % (review, text consulted: limits-and-rules, R66): outside either end is not met."""
    both = Limit("c", "strength", "%", low=Decimal("0.5"), high=Decimal(2))
    samples = [(at, Fraction(percent)) for at in range(0, 300_001, 10_000)]
    assert judge_trace(both, LEAST, samples, 0, 300_000, slowest_ms=15_000).outcome is outcome


def test_a_spike_of_a_trace_is_forgiven_for_as_long_as_the_plan_says():
    """Colder between two hot samples thirty seconds apart: with thirty seconds, not with twenty."""
    samples = [(at, Fraction(160 if at in (100_000, 110_000) else 171)) for at in STEP]
    for dip_ms, outcome in ((30_000, Outcome.MET), (20_000, Outcome.NOT_MET)):
        assert judge_trace(LOW, LEAST, samples, 0, 300_000, slowest_ms=15_000, dip_ms=dip_ms).outcome is outcome


def rising(order: tuple[int, ...]) -> int:
    """The length of the longest rising subsequence, by trying every start."""
    best = [1] * len(order)
    for place, value in enumerate(order):
        best[place] = 1 + max((best[other] for other in range(place) if order[other] < value), default=0)
    return max(best)


@pytest.mark.proves(
    "washing.judge_wash", by="independent", source="longest rising subsequence of every order of five steps"
)
def test_only_the_planned_order_is_met_and_as_few_steps_as_possible_are_named():
    """120 orders: how many steps stand at another place, by another algorithm."""
    names = ("pre-rinse", "caustic", "rinse", "acid", "final rinse")
    planned = [PlannedStep(name) for name in names]
    for order in permutations(range(5)):
        result = judge_wash(planned, [WashedStep(names[place], {}) for place in order])
        assert (result.outcome is Outcome.MET) is (order == tuple(range(5)))
        named = result.order.reason.split(": ")[-1].rstrip(".").split(", ") if order != tuple(range(5)) else []
        assert len(named) == 5 - rising(order)


@pytest.mark.proves(
    "washing.judge_wash",
    by="published",
    source="7 Pa. Code 59.212(b)(1): a set regimen for each separate circuit, followed "
    "(http://www.pacode.com/secure/data/007/chapter59/s59.212.html)",
)
def test_regimen_that_was_not_followed_is_not_met():
    """A step left out is not proven, two exchanged are not met, followed is met."""
    planned = [PlannedStep(name) for name in ("rinse", "caustic", "rinse", "acid", "rinse")]

    def done(*names: str) -> Outcome:
        return judge_wash(planned, [WashedStep(name, {}) for name in names]).outcome

    assert done("rinse", "caustic", "rinse", "acid", "rinse") is Outcome.MET
    assert done("rinse", "caustic", "acid", "rinse") is Outcome.NOT_PROVEN
    assert done("rinse", "acid", "rinse", "caustic", "rinse") is Outcome.NOT_MET
