"""What a doubting engineer tried: none of it comes out as met."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from plant.process.cooling import CoolingRule, judge_cooling
from plant.process.errors import CalculationError, OutsideRange
from plant.process.lethality import f_value, reduction
from plant.process.limits import Limit, Outcome
from plant.process.lots import Origin, origin_shares, scope_forward
from plant.process.mix import Ingredient, compose, missed
from plant.process.pasteurization import (
    Homogenizer,
    Method,
    Product,
    ProductClass,
    Row,
    SetUp,
    Use,
    classify,
    covering,
    judge,
)
from plant.process.plant_calendar import PlantCalendar
from plant.process.sampling_plans import Plan, judge_samples, read_count, running_rule
from plant.process.standardizing import Stream, Target, blend, skim_to
from plant.process.storage import daily_wash_clock, raw_storage_clock, run_hours_clock, time_to_limit, warming_stretch
from plant.process.trace import below_limit
from plant.process.washing import Measured, PlannedStep, WashedStep, judge_chlorine, judge_hot_water, judge_step

pytestmark = pytest.mark.once

HTST = Row("htst", (ProductClass.MILK,), Method.HTST, Fraction(161), "°F", Fraction(15), "21 CFR 1240.61(b)", "read")
CHICAGO = ZoneInfo("America/Chicago")
HOUR = timedelta(hours=1)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.uint32, np.uint64, np.int16, np.int32, np.float32])
def test_a_small_number_of_numpy_wraps_round_to_nothing(kind):
    """150 °F is below 161 °F and 3 s below 15 s, whatever type says so; 165 °F for 16 s is met."""
    assert not judge(kind(150), "°F", 15, [HTST]).met
    assert not judge(165, "°F", kind(3), [HTST]).met
    assert judge(kind(165), "°F", kind(16), [HTST]).met


def test_a_cold_probe_before_the_milk_cools_nothing():
    """At 90 °F when the time was over: not met, though the empty tank was read at 40 °F."""
    found = judge_cooling([0, 60, 14_400, 20_000], [40, 90, 90, 90], CoolingRule(50, 14_400), longest_gap_s=20_000)
    assert found.outcome == Outcome.NOT_MET


def test_above_the_limit_at_the_deadline_is_not_proven_where_a_warmer_one_holds_afterwards():
    """49.9 °F at the deadline of 45 °F: only a later milking may do that, and nothing here says one came."""
    rule = CoolingRule(45, 7200, 50)
    found = judge_cooling([0, 3600, 7200, 20_000], [40, 49.9, 49.9, 49.9], rule, longest_gap_s=20_000)
    assert found.outcome == Outcome.NOT_PROVEN


def test_nothing_read_at_the_deadline_proves_no_staying_cold():
    """The trace ends an hour before."""
    found = judge_cooling([0, 3600], [90, 44], CoolingRule(45, 7200, 50), longest_gap_s=3600)
    assert found.outcome == Outcome.NOT_PROVEN


def test_two_readings_half_an_hour_apart_are_no_unbroken_time():
    """Nobody said that they may lie so far apart."""
    limit = Limit("vat", "temperature", "°F", low=Decimal(145))
    assert below_limit([0, 1800], [63.0, 63.0], limit).outcome == Outcome.NOT_PROVEN
    assert below_limit([0, 1800], [63.0, 63.0], limit, step_s=1800).outcome == Outcome.MET


def test_a_trace_coarse_throughout_proves_no_lethality():
    """Its steps are all alike, and yet each is half an hour in which nobody looked: as below_limit sees it."""
    times, levels = [0, 1800, 3600], [63.0, 63.0, 63.0]
    found = f_value(times, levels, 63, 4.3)
    assert (found.low_s, found.gaps_s) == (0, 3600)
    assert below_limit(times, levels, Limit("vat", "temperature", "°F", low=Decimal(145))).seconds_not_proven == 3600
    assert reduction(times, levels, "listeria").least.logs == 0
    assert f_value(times, levels, 63, 4.3, step_s=1800).low_s == pytest.approx(3600)


def test_masked_samples_are_refused():
    """A value under a mask is none."""
    limit = Limit("vat", "temperature", "°F", low=Decimal(145))
    with pytest.raises(CalculationError, match="masked"):
        below_limit([0, 1, 2], np.ma.array([63, 70.0, 63], mask=[0, 1, 0]), limit)


def pasteurizer(**changes):
    """A set-up for milk with 18 s of mean time in its tube, tested with the homogenizer running."""
    good = {"homogenizer": Homogenizer.RUNNING, "volume_l": 25.0, "top_rate_l_per_h": 5000.0, "hold_s": 15} | changes
    return SetUp("Milk", 161, "°F", good.pop("hold_s"), date(2026, 1, 5), True, (ProductClass.MILK,), **good)


def test_a_set_up_covers_nothing_while_nobody_says_what_the_homogenizer_does():
    """It was tested with it running; bypassed, the pump may run faster."""
    on = date(2026, 3, 3)
    assert not covering([pasteurizer()], ProductClass.MILK, [HTST], on)[0].covers
    assert covering([pasteurizer()], ProductClass.MILK, [HTST], on, homogenizer=Homogenizer.RUNNING)[0].covers


def test_a_tested_hold_of_the_whole_mean_time_is_none_of_the_fastest_particle():
    """25 L at 5000 L/h are 18 s on the mean; what passes first is ahead of it."""
    mean = pasteurizer(hold_s=18, homogenizer=Homogenizer.NONE)
    assert not covering([mean], ProductClass.MILK, [HTST], date(2026, 3, 3))[0].covers


@pytest.mark.parametrize("unsaid", ["", "no", 2])
def test_an_empty_answer_on_sweetener_is_not_no(unsaid):
    """Sweetened milk would get the cooler row."""
    with pytest.raises(CalculationError, match="added sweetener: say yes, no or not known"):
        classify(Product(Use.MILK_PRODUCT, 3, 12, sweetener_added=unsaid, concentrated=False))


def test_hours_pass_over_a_clock_change():
    """30 October 2026 12:00 in Chicago and 72 h are 2 November 11:00 there: the clock went back on the 1st."""
    filled = datetime(2026, 10, 30, 12, tzinfo=CHICAGO)
    found = raw_storage_clock(filled, datetime(2026, 11, 2, 11, 30, tzinfo=CHICAGO))
    assert found.left == -HOUR / 2
    ran = (datetime(2026, 11, 1, 0, tzinfo=CHICAGO), datetime(2026, 11, 1, 3, tzinfo=CHICAGO))
    now = datetime(2026, 11, 1, 4, tzinfo=CHICAGO)
    assert run_hours_clock([ran], None, now, Decimal(10)).left == 6 * HOUR


def test_a_wash_to_come_frees_no_hours():
    """Six hours run, three allowed."""
    at = datetime(2026, 6, 8, 6, tzinfo=CHICAGO)
    assert run_hours_clock([(at, None)], at + 100 * HOUR, at + 6 * HOUR, Decimal(3)).left == -3 * HOUR


def test_a_run_that_ends_before_it_starts_counts_for_no_hours():
    """Not 0 h run: nobody knows how many."""
    at = datetime(2026, 6, 8, 6, tzinfo=CHICAGO)
    with pytest.raises(CalculationError, match="ends before it starts"):
        run_hours_clock([(at, at + HOUR), (at + 5 * HOUR, at)], None, at + 6 * HOUR, Decimal(10))


def test_a_first_product_still_to_come_allows_no_longer_storage():
    """80 h left of 72 is a slip of the date; so is a wash day that has not begun."""
    now = datetime(2026, 6, 8, 6, tzinfo=CHICAGO)
    with pytest.raises(CalculationError, match="cannot come after"):
        raw_storage_clock(now + 8 * HOUR, now)
    with pytest.raises(CalculationError, match="cannot come after"):
        daily_wash_clock(now + 30 * HOUR, now, PlantCalendar("America/Chicago", (), "06:00"))
    assert raw_storage_clock(now, now).left == 72 * HOUR


@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity"])
def test_a_reading_that_is_no_number_forecasts_nothing(value):
    """It is neither warmer nor colder than the limit."""
    at = datetime(2026, 6, 8, 11, tzinfo=CHICAGO)
    tank = [(at + place * HOUR, Decimal(38 + place)) for place in range(4)]
    broken = [*tank[:2], (at + 2 * HOUR, Decimal(value)), *tank[3:]]
    with pytest.raises(OutsideRange, match="temperature"):
        time_to_limit(broken, Decimal(45))
    with pytest.raises(OutsideRange, match="temperature"):
        warming_stretch(broken)
    with pytest.raises(OutsideRange, match="limit"):
        time_to_limit(tank, Decimal(value))
    with pytest.raises(OutsideRange, match="resolution"):
        time_to_limit(tank, Decimal(45), resolution=Decimal(value))


def test_something_found_is_no_count():
    """'detected' says that there is some, not how many: above 0 for certain, below 10 never proven."""
    found = [read_count("detected")] * 5
    assert judge_samples(Plan(5, 0, Decimal(10)), found).outcome != Outcome.MET
    assert judge_samples(Plan(5, 0, Decimal(0)), found).outcome == Outcome.NOT_MET


def test_nothing_found_is_no_count():
    """'absent' in what was tested is not '0 per g': of a plan that counts it proves nothing."""
    absent = [read_count("absent")] * 5
    assert judge_samples(Plan(5, 0, Decimal(10)), absent).outcome == Outcome.NOT_PROVEN
    assert judge_samples(Plan(5, 2, Decimal(10), Decimal(100)), absent).outcome == Outcome.NOT_PROVEN
    assert judge_samples(Plan(5, 0, Decimal(0)), absent).outcome == Outcome.MET


@pytest.mark.parametrize(("n", "c"), [(5, 0.5), (4.5, 0)])
def test_a_plan_of_parts_of_samples_is_refused(n, c):
    """Half a sample above m is none that a plan allows."""
    with pytest.raises(CalculationError, match="whole number"):
        judge_samples(Plan(n, c, Decimal(10)), [])


def test_sanitizing_without_a_least_strength_shows_nothing():
    """An upper bound alone is met by plain water, and by cold water."""
    most = [Limit("c", "strength", "mg/L", high=Decimal(200)), Limit("t", "time", "min", low=Decimal(1))]
    water = judge_chlorine(most, Measured(Decimal(0), "mg/L"), Measured(Decimal(2), "min"), True, True)
    row = Limit("t", "temperature", "°C", high=Decimal(95)), Limit("s", "time", "min", low=Decimal(5))
    cold = judge_hot_water([row], Measured(Decimal(20), "°C"), Measured(Decimal(6), "min"), True)
    assert (water.outcome, cold.outcome) == (Outcome.NOT_PROVEN, Outcome.NOT_PROVEN)


def test_one_text_for_several_names_is_refused():
    """Letter by letter it would drop a vessel from the list."""
    with pytest.raises(CalculationError, match="as a list"):
        scope_forward([(1, "Farm", "A", 0, 1, 1)], [], Origin(movements=(1,)), "A Farm")


def test_a_farm_that_sent_nothing_in_the_window_has_no_scope():
    """The wrong day: neither an empty list of lots nor shares of nothing."""
    day = [(1, "Farm", "Silo", 0, 10, 5.0), (2, "Silo", None, 12, 13, 5.0)]
    wrong = Origin(("Farm",), 50, 60)
    with pytest.raises(CalculationError, match="nothing came from Farm"):
        scope_forward(day, [], wrong, ["Farm"])
    with pytest.raises(CalculationError, match="nothing came from Farm"):
        origin_shares(day, [], wrong, outside=["Farm"])


def test_milk_of_the_creams_own_fat_separates_into_nothing():
    """A sentence, not a division by nothing."""
    with pytest.raises(CalculationError):
        skim_to(100, 40, 40, 0.05, 40)


def test_a_name_written_wrongly_is_never_met():
    """An upper bound on a content that nothing has would always be."""
    milk = Stream("milk", {"fat": 4})
    with pytest.raises(CalculationError, match="is the name right"):
        blend([milk], [Target("fatt", None, 10)], total_kg=1)
    mix = compose([Ingredient("milk", {"fat": 4})], [1])
    with pytest.raises(CalculationError, match="is the name right"):
        missed(mix, [Target("fatt", None, 10)])
    assert missed(mix, [Target("egg solids", None, 1)]) == ()


def test_a_temperature_that_cannot_be_meets_no_upper_limit():
    """-4000 °F is no cold rinse."""
    row = PlannedStep("rinse", (Limit("t", "temperature", "°F", high=Decimal(115)),))
    washed = WashedStep("rinse", {"temperature": Measured(Decimal(-4000), "°F")})
    assert judge_step(row, washed).outcome == Outcome.NOT_PROVEN


def test_samples_of_one_day_count_once_at_whatever_hour():
    """Two days above the limit, then four samples of one day: the notice stands (two of the last four days)."""
    samples = [(datetime(2026, 1, 1, tzinfo=CHICAGO), Decimal(30)), (datetime(2026, 1, 2, tzinfo=CHICAGO), Decimal(30))]
    samples += [(datetime(2026, 1, 3, hour, tzinfo=CHICAGO), Decimal(1)) for hour in range(4)]
    assert running_rule(samples, Decimal(20))[-1].notice
