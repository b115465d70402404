"""A wash against its plan."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import OutsideRange
from plant.process.limits import SEVERITY, Limit, Outcome
from plant.process.washing import (
    Measured,
    PlannedStep,
    WashedStep,
    flow_for_velocity_l_per_h,
    judge_chlorine,
    judge_hot_water,
    judge_step,
    judge_wash,
    line_velocity_m_s,
)

pytestmark = pytest.mark.once

CAUSTIC = PlannedStep(
    "caustic",
    (
        Limit("t", "time", "min", low=Decimal(10)),
        Limit("c", "temperature", "°F", low=Decimal(158), high=Decimal(176)),
        Limit("s", "conductivity", "mS/cm", low=Decimal(40)),
    ),
)
GOOD = {
    "time": Measured(Decimal(12), "min"),
    "temperature": Measured(Decimal(160), "°F"),
    "conductivity": Measured(Decimal(44), "mS/cm"),
}
NAMES = st.sampled_from(["rinse", "caustic", "acid", "sanitize"])


def outcomes(measured) -> dict[str, Outcome]:
    """Quantity -> its own outcome."""
    return {one.quantity: one.judged.outcome for one in judge_step(CAUSTIC, WashedStep("caustic", measured)).findings}


def test_every_quantity_has_its_own_result_and_reason() -> None:
    """Too cold is said of the temperature alone."""
    result = judge_step(CAUSTIC, WashedStep("caustic", {**GOOD, "temperature": Measured(Decimal(150), "°F")}))
    assert result.outcome is Outcome.NOT_MET
    told = {one.quantity: (one.judged.outcome, one.judged.reason) for one in result.findings}
    assert told["time"][0] is told["conductivity"][0] is Outcome.MET
    assert told["temperature"] == (Outcome.NOT_MET, "Read 150 °F: 8 °F below the limit of 158 °F.")


@pytest.mark.parametrize("quantity", list(GOOD))
def test_missing_value_is_not_proven(quantity) -> None:
    """None and absent are the same: nothing recorded."""
    assert outcomes({**GOOD, quantity: None})[quantity] is Outcome.NOT_PROVEN
    assert outcomes({name: one for name, one in GOOD.items() if name != quantity})[quantity] is Outcome.NOT_PROVEN


@pytest.mark.parametrize(
    "odd", [Measured(Decimal("NaN"), "min"), Measured(Decimal(12), "°F"), Measured(Decimal(12), ""),
            Measured(Decimal(-1), "min")]
)  # fmt: skip
def test_value_that_cannot_be_a_time_is_not_proven(odd) -> None:
    """Not a number, another kind of unit, no unit, below zero."""
    assert outcomes({**GOOD, "time": odd})["time"] is Outcome.NOT_PROVEN


def test_units_of_the_same_kind_compare() -> None:
    """600 s meet 10 min and 70 °C meets 158 °F, both at the bound."""
    measured = {**GOOD, "time": Measured(Decimal(600), "s"), "temperature": Measured(Decimal(70), "°C")}
    assert set(outcomes(measured).values()) == {Outcome.MET}


def test_limit_without_a_bound_is_not_proven() -> None:
    """A plan that names no limit for a quantity proves nothing of it."""
    step = PlannedStep("acid", (Limit("t", "time", "min"),))
    assert judge_step(step, WashedStep("acid", {"time": Measured(Decimal(9), "min")})).outcome is Outcome.NOT_PROVEN


def test_step_without_limits_is_met_once_it_is_recorded() -> None:
    """There is nothing to compare; without a record it is not proven."""
    assert judge_step(PlannedStep("drain"), WashedStep("drain", {})).outcome is Outcome.MET
    assert judge_step(PlannedStep("drain"), None).outcome is Outcome.NOT_PROVEN


def test_plan_without_steps_proves_nothing() -> None:
    """An empty plan fails closed."""
    assert judge_wash([], []).outcome is Outcome.NOT_PROVEN


def test_step_that_the_plan_does_not_have_is_not_proven() -> None:
    """A rinse after the sanitizer might undo it."""
    result = judge_wash([PlannedStep("sanitize")], [WashedStep("sanitize", {}), WashedStep("rinse", {})])
    assert result.outcome is Outcome.NOT_PROVEN
    assert result.order.outcome is Outcome.MET
    assert [one.outcome for one in result.steps] == [Outcome.MET, Outcome.NOT_PROVEN]


def test_step_left_out_leaves_the_others_in_their_places() -> None:
    """The second of three rinses is missing: it alone is named."""
    planned = [PlannedStep(name) for name in ("rinse", "caustic", "rinse", "acid", "rinse")]
    result = judge_wash(planned, [WashedStep(name, {}) for name in ("rinse", "caustic", "acid", "rinse")])
    assert [one.outcome for one in result.steps].count(Outcome.NOT_PROVEN) == 1
    assert result.order.outcome is Outcome.NOT_PROVEN


def test_misplaced_step_is_still_judged_by_its_values() -> None:
    """Of two exchanged steps one is named, and both have their own results."""
    planned = [PlannedStep("rinse"), CAUSTIC]
    result = judge_wash(planned, [WashedStep("caustic", GOOD), WashedStep("rinse", {})])
    assert result.order.reason == "Not done at its place in the order: rinse."
    assert [one.outcome for one in result.steps] == [Outcome.MET, Outcome.MET]
    assert result.outcome is Outcome.NOT_MET


@settings(max_examples=50)
@given(st.lists(NAMES, max_size=6), st.lists(NAMES, max_size=6))
def test_wash_is_met_only_when_done_exactly_as_planned(planned, done) -> None:
    """Whatever the names: no wash passes that is not the planned one."""
    result = judge_wash([PlannedStep(one) for one in planned], [WashedStep(one, {}) for one in done])
    assert (result.outcome is Outcome.MET) is (planned == done and bool(planned))
    worst = min([result.order.outcome, *(one.outcome for one in result.steps)], key=SEVERITY.index)
    assert result.outcome is worst


@settings(max_examples=50)
@given(st.sets(st.sampled_from(sorted(GOOD)), min_size=1))
def test_taking_values_away_never_leaves_a_step_met(missing) -> None:
    """Whatever is missing of a good step, it is not proven."""
    result = judge_step(
        CAUSTIC, WashedStep("caustic", {name: one for name, one in GOOD.items() if name not in missing})
    )
    assert result.outcome is Outcome.NOT_PROVEN
    assert {one.quantity for one in result.findings if one.judged.outcome is Outcome.NOT_PROVEN} == missing


def test_hot_water_without_a_row_proves_nothing() -> None:
    """No rule, no verdict."""
    given_values = Measured(Decimal(180), "°F"), Measured(Decimal(30), "min")
    assert judge_hot_water([], *given_values, True).outcome is Outcome.NOT_PROVEN


def test_hot_water_too_cold_stays_not_met_wherever_it_was_measured() -> None:
    """An unknown place makes nothing better; both reasons stand."""
    rows = [(Limit("t", "temperature", "°F", low=Decimal(170)), Limit("s", "time", "min", low=Decimal(5)))]
    judged = judge_hot_water(rows, Measured(Decimal(160), "°F"), Measured(Decimal(5), "min"), None)
    assert judged.outcome is Outcome.NOT_MET
    assert "10 °F below" in judged.reason
    assert "measured at the outlet" in judged.reason


def test_chlorine_without_a_limit_for_its_strength_is_not_proven() -> None:
    """The time alone is no rule."""
    judged = judge_chlorine(
        [Limit("t", "time", "s", low=Decimal(60))],
        Measured(Decimal(200), "mg/L"),
        Measured(Decimal(99), "s"),
        True,
        True,
    )
    assert judged.outcome is Outcome.NOT_PROVEN


def test_chlorine_above_the_label_is_not_met() -> None:
    """An upper bound counts as well."""
    rule = [
        Limit("c", "strength", "mg/L", low=Decimal(100), high=Decimal(200)),
        Limit("t", "time", "s", low=Decimal(60)),
    ]
    judged = judge_chlorine(rule, Measured(Decimal(201), "mg/L"), Measured(Decimal(60), "s"), True, True)
    assert (judged.outcome, judged.margin) == (Outcome.NOT_MET, -1)


@settings(max_examples=50)
@given(st.floats(0, 30_000), st.floats(10, 150))
def test_velocity_and_flow_are_inverse(flow, bore) -> None:
    """The flow for a flow's velocity is that flow."""
    velocity = line_velocity_m_s(flow, bore)
    if velocity <= 50:
        assert flow_for_velocity_l_per_h(velocity, bore) == pytest.approx(flow)


def test_velocity_falls_with_the_square_of_the_bore() -> None:
    """Twice the bore, a quarter of the velocity."""
    assert line_velocity_m_s(5000, 80) == pytest.approx(line_velocity_m_s(5000, 40) / 4)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [(line_velocity_m_s, (-1, 40)), (line_velocity_m_s, (float("nan"), 40)), (line_velocity_m_s, (1, 0)),
     (flow_for_velocity_l_per_h, (51, 40)), (flow_for_velocity_l_per_h, (1, 1001))],
)  # fmt: skip
def test_values_outside_the_range_are_refused(function, arguments) -> None:
    """With the range in the sentence."""
    with pytest.raises(OutsideRange):
        function(*arguments)
