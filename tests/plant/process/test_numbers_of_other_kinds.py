"""Numbers that are none, endless ones, those of numpy: worked rightly or refused in a sentence, never a traceback."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from plant.process.calibration import Stored, as_found_error, doubtful_readings
from plant.process.control_charts import individuals, run_rules, xbar_r, xbar_s
from plant.process.errors import CalculationError, Infeasible, OutsideRange, within
from plant.process.holding_tube import Bend, centerline_length_m, slope_of
from plant.process.limits import Limit, Outcome
from plant.process.mix import Ingredient, compose, to_steps
from plant.process.properties import boiling_point_c, vapor_pressure_kpa
from plant.process.standardizing import account, pearson_square, separate, skim_to, with_fat
from plant.process.washing import Measured, PlannedStep, WashedStep, judge_chlorine, judge_hot_water, judge_step

pytestmark = pytest.mark.once

DAY = datetime(2026, 3, 1, tzinfo=UTC)
HTST = (Limit("htst", "temperature", "°F", low=Decimal(161)),)


@pytest.mark.parametrize(
    "value",
    [
        math.inf, -math.inf, math.nan, None, "much", [1, 2], np.array([1.0, 2.0]), 10**400, -(10**400),
        Decimal("NaN"), Decimal("sNaN"), Decimal("-Infinity"), Decimal("1e400"), Fraction(10**400), 1j,
    ],
)  # fmt: skip
@pytest.mark.parametrize("bounds", [(0, 100), (0, None), (None, 100), (None, None)])
def test_what_is_no_number_lies_neither_below_nor_above(value, bounds):
    """Infinity is not 'below 0': it is no quantity at all."""
    with pytest.raises(OutsideRange) as caught:
        within("fat", value, *bounds, "%")
    assert str(caught.value).endswith("% is not a number")
    assert (caught.value.low, caught.value.high) == bounds


def test_what_is_a_number_keeps_its_side():
    """As before: below, above, outside."""
    for bounds, said in (((0, None), "is below 0"), ((None, -2), "is above -2"), ((0, 1), "outside the range 0 to 1")):
        with pytest.raises(OutsideRange, match=said):
            within("fat", np.float32(-1), *bounds)


def test_readings_of_numpy_are_readings():
    """An array of them, and an empty one."""
    plain = as_found_error([72.3, 72.2, 72.3], 72.0, reference_expanded=0.1, resolution=0.1)
    found = as_found_error(np.array([72.3, 72.2, 72.3]), np.float64(72), reference_expanded=0.1, resolution=0.1)
    assert found == plain
    with pytest.raises(CalculationError, match="No reading"):
        as_found_error(np.array([]), 72.0, reference_expanded=0.1, resolution=0.1)
    with pytest.raises(CalculationError, match="not a number"):
        as_found_error(np.array([[72.3, 72.2]]), 72.0, reference_expanded=0.1, resolution=0.1)


def test_masses_and_steps_of_numpy_are_weighed():
    """As the decimals that they print."""
    cream = Ingredient("cream", {"fat": 40}, step_kg=np.float64(0.1), least_kg=np.float64(1), most_kg=np.float64(90))
    sugar = Ingredient("sugar", {"sucrose": 100}, step_kg=np.float64(0.5))
    found = to_steps(compose([cream, sugar], np.array([84.96, 15.04]), wanted_kg=100))
    assert found.mix.masses_kg == (85.0, 15.0)


@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity"])
def test_a_stored_reading_that_is_no_number_is_named(value):
    """Nothing says whether it is in doubt."""
    readings = [Stored("a", DAY, Decimal("161.2"), "°F", HTST), Stored("b", DAY, Decimal(value), "°F", HTST)]
    with pytest.raises(OutsideRange, match="reading b"):
        doubtful_readings(readings, Decimal("0.4"), None, DAY)


def test_moments_without_a_zone_are_refused():
    """Nobody knows which came first."""
    naive = DAY.replace(tzinfo=None)
    reading = Stored("a", DAY, Decimal("161.2"), "°F", HTST)
    for given in (
        ([Stored("a", naive, Decimal("161.2"), "°F", HTST)], Decimal("0.4"), None, DAY),
        ([reading], Decimal("0.4"), naive, DAY),
        ([reading], Decimal("0.4"), None, naive),
    ):
        with pytest.raises(CalculationError, match="without its time zone"):
            doubtful_readings(*given)


def test_moments_of_several_zones_are_put_in_order():
    """14:00 at +02:00 is before 13:00 UTC."""
    east = timezone(timedelta(hours=2))
    early = Stored("early", datetime(2026, 3, 1, 14, tzinfo=east), Decimal("161.2"), "°F", HTST)
    late = Stored("late", datetime(2026, 3, 1, 13, tzinfo=UTC), Decimal("161.2"), "°F", HTST)
    doubt = doubtful_readings([late, early], Decimal("0.4"), DAY, DAY + timedelta(days=1))
    assert [one.stored.key for one in doubt.now_not_met] == ["early", "late"]


@pytest.mark.parametrize("chart", [xbar_r, xbar_s])
def test_scatter_of_rounding_alone_is_none(chart):
    """0.1 + 0.2 is 0.3 but for the last bit: limits around that would cry at every value."""
    rounded = [0.1 + 0.2, 0.3, 0.1 * 3, 0.3]
    with pytest.raises(Infeasible, match="do not scatter"):
        individuals(rounded)
    with pytest.raises(Infeasible, match="do not scatter"):
        individuals([5.0, 6.0], baseline=rounded)
    with pytest.raises(Infeasible, match="do not scatter"):
        chart([rounded[:2], rounded[2:]])
    assert individuals([1e6, 1e6 + 1e-4]).sigma > 0


def test_a_factor_of_ones_own_moves_the_limits_and_not_the_standard_deviation():
    """Twice the mean moving range; run rules still count in sigmas of MR-bar/d2 (1.128379...)."""
    values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    usual, own = individuals(values), individuals(values, factor=2)
    assert own.sigma == usual.sigma == pytest.approx(own.spread_mean / (2 / math.sqrt(math.pi)))
    assert own.location.upper[0] - own.mean == pytest.approx(2 * own.spread_mean)
    assert usual.location.upper[0] - usual.mean == pytest.approx(3 * usual.sigma)
    assert own.location.sigma[0] == own.sigma
    assert run_rules(own.location.points, own.mean, own.location.sigma) == run_rules(values, usual.mean, usual.sigma)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: separate(1e308, 3.8, 40, 0.05),
        lambda: separate(math.inf, 3.8, 40, 0.05, loss_kg=1),
        lambda: separate(math.nan, 3.8, 40, 0.05, loss_kg=1),
        lambda: skim_to(1e308, 4, 40, 0.05, 3),
        lambda: account(1e308, 3.8, 940, 40, 9050, 0.05),
        lambda: account(10_000, 3.8, 1e308, 40, 9050, 0.05),
        lambda: pearson_square(35, 4, 10, lean_kg=math.inf),
        lambda: pearson_square(35, 4, 10, total_kg=1e308),
        lambda: pearson_square(math.inf, 4, 10),
        lambda: pearson_square(35, -math.inf, 10),
        lambda: with_fat({"fat": 3.5, "protein": -1}, 4),
        lambda: with_fat({"fat": 3.5, "protein": 97}, 4),
        lambda: with_fat({"fat": 3.5, "protein": math.nan}, 4),
        lambda: with_fat({"fat": 3.5, "protein": "some"}, 4),
    ],
)
def test_masses_and_contents_that_cannot_be_are_refused(asked):
    """No separator takes 1e308 kg, and beside 3.5 % of fat there is no room for 97 % of protein."""
    with pytest.raises(OutsideRange):
        asked()


def test_all_that_the_fat_leaves_may_be_one_component():
    """100 less the fat belongs to the range, rounding or not."""
    assert with_fat({"fat": 3.3, "rest": 100 - 3.3}, 4)["rest"] == pytest.approx(96)


@pytest.mark.parametrize("recorded", ["NaN", "sNaN", "Infinity"])
def test_what_is_recorded_of_a_wash_as_no_number_proves_nothing(recorded):
    """The wash is not proven, whatever the limit."""
    warm = Limit("t", "temperature", "°F", low=Decimal(160))
    time = Limit("s", "time", "min", low=Decimal(5))
    strength = Limit("c", "strength", "mg/L", low=Decimal(100))
    odd, enough = Measured(Decimal(recorded), "°F"), Measured(Decimal(6), "min")
    found = judge_step(PlannedStep("caustic", (warm,)), WashedStep("caustic", {"temperature": odd}))
    assert found.outcome == Outcome.NOT_PROVEN
    assert "is not a number" in found.findings[0].judged.reason
    assert judge_hot_water([(warm, time)], odd, enough, True).outcome == Outcome.NOT_PROVEN
    odd = Measured(Decimal(recorded), "mg/L")
    assert judge_chlorine([strength, time], odd, enough, True, True).outcome == Outcome.NOT_PROVEN


def test_half_a_bend_is_no_bend():
    """A bend of 90 degrees one and a half times is one of 90 and one of 45."""
    with pytest.raises(CalculationError, match="whole numbers"):
        centerline_length_m([1.0], [Bend(0.1, 90, 1.5)])
    whole = centerline_length_m([1.0], [Bend(0.1, 90), Bend(0.1, 45)])
    assert whole == pytest.approx(1 + 0.1 * math.radians(135))
    assert centerline_length_m([], [Bend(0.1, 90, np.int64(2))]) == pytest.approx(0.1 * math.pi)


def test_a_slope_of_numpys_numbers_is_that_of_the_decimals_they_print():
    """An eighth of an inch in six is just 1 in 48."""
    assert slope_of(np.float64(0.125), np.int64(6)).met
    assert slope_of(np.float32(0.125), 6).rise_over_length == Fraction(1, 48)


@pytest.mark.parametrize("celsius", [0, 373.946])
def test_boiling_point_and_pressure_go_round_at_both_ends(celsius):
    """The printed pressures of the ends are rounded: 0 °C comes to 0.61121268 kPa, not 0.611213."""
    assert boiling_point_c(vapor_pressure_kpa(celsius)) == pytest.approx(celsius, abs=1e-6)
    there = boiling_point_c({0: 0.611213, 373.946: 22_064.0}[celsius])
    assert vapor_pressure_kpa(there) == pytest.approx({0: 0.611213, 373.946: 22_064.0}[celsius], rel=1e-6)


@pytest.mark.parametrize("pressure", [0.6112, 22_064.1, math.inf, math.nan, 0, -1])
def test_beyond_the_ends_nothing_boils(pressure):
    """A millionth is rounding; a hundred times that is not."""
    with pytest.raises(OutsideRange, match="pressure"):
        boiling_point_c(pressure)
