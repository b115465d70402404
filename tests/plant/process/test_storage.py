"""A warming tank's forecast, and the clocks of storage, washing and running."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import OutsideRange
from plant.process.plant_calendar import PlantCalendar
from plant.process.storage import (
    NoForecast,
    Warming,
    confidence_band,
    crossing,
    daily_wash_clock,
    fit_line,
    raw_storage_clock,
    run_hours_clock,
    t_quantile,
    time_to_limit,
    warming_stretch,
)

pytestmark = pytest.mark.once

START = datetime(2026, 6, 8, 11, tzinfo=UTC)
HOUR = timedelta(hours=1)
LIMIT = Decimal(45)


def at(hours):
    return START + hours * HOUR


def tank(*values, every=0.5):
    return [(at(place * every), Decimal(str(value))) for place, value in enumerate(values)]


def test_tank_warming_on_a_line_reaches_the_limit_where_the_line_does():
    """From 38 °F at 2 °F an hour, 45 °F is reached after three and a half hours."""
    found = time_to_limit(tank(38, 39, 40, 41), LIMIT)
    assert isinstance(found, Warming)
    assert abs(found.expected - at(3.5)) < timedelta(seconds=1)
    assert found.per_hour == pytest.approx(2)


def test_scatter_widens_the_interval_around_the_expected_moment():
    """With scatter the limit may be reached earlier or later, in this order."""
    found = time_to_limit(tank(38, 39.3, 39.8, 41.2, 41.9), LIMIT)
    assert isinstance(found, Warming)
    assert found.earliest < found.expected < found.latest
    assert found.per_hour_low < found.per_hour < found.per_hour_high


def test_more_confidence_widens_the_interval():
    """99 % reaches further than 90 %."""
    readings = tank(38, 39.3, 39.8, 41.2, 41.9, 43.1)
    wide, narrow = (time_to_limit(readings, LIMIT, confidence) for confidence in (0.99, 0.90))
    assert isinstance(wide, Warming)
    assert isinstance(narrow, Warming)
    assert wide.earliest <= narrow.earliest
    assert wide.latest > narrow.latest


def test_step_of_the_thermometer_is_a_floor_for_the_scatter():
    """Readings on one line by chance of rounding still have an interval."""
    exact, stepped = (time_to_limit(tank(38, 39, 40, 41), LIMIT, resolution=step) for step in (Decimal(0), Decimal(1)))
    assert isinstance(exact, Warming)
    assert isinstance(stepped, Warming)
    assert stepped.latest - stepped.earliest > timedelta(minutes=30) > exact.latest - exact.earliest


def test_earliest_is_never_before_the_last_reading():
    """Close below the limit with much scatter the earliest moment is now, not the past."""
    readings = tank(40, 42, 41.5, 43.6, 43.9, 44.9)
    found = time_to_limit(readings, LIMIT)
    assert isinstance(found, Warming)
    assert found.earliest == readings[-1][0]


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ([], NoForecast.TOO_FEW),
        (tank(38, 39), NoForecast.TOO_FEW),
        (tank(38, 39, 40, every=0.1), NoForecast.TOO_SHORT),
        (tank(38, 39, 45), NoForecast.REACHED),
        (tank(38, 38, 38, 38), NoForecast.NOT_WARMING),
        (tank(41, 40, 39, 38), NoForecast.NOT_WARMING),
        (tank(38, 38.4, 37.9, 38.3), NoForecast.NOT_WARMING),
        (tank(38, 38.1, 38.2, 38.3), NoForecast.TOO_FAR),
        (tank(38, 39, 40, every=0), NoForecast.TOO_SHORT),
    ],
)
def test_no_forecast_without_ground_for_one(readings, reason):
    """Each reason not to forecast: too few, too short, reached, not warming, too far."""
    assert time_to_limit(readings, LIMIT) is reason


def test_order_of_readings_does_not_matter():
    """A reading entered late takes its place by its time."""
    readings = tank(38, 39.3, 39.8, 41.2)
    assert time_to_limit(readings[::-1], LIMIT) == time_to_limit(readings, LIMIT)


def test_warming_stretch_starts_at_the_last_coldest_reading():
    """Steady readings before the warming do not flatten its rate."""
    readings = tank(39, 38, 38, 39, 40)
    assert warming_stretch(readings) == readings[2:]
    assert warming_stretch([]) == []


def test_line_needs_three_points_apart():
    """Two points, or points at one x, have no scatter to judge by."""
    for x in ([0.0, 1.0], [1.0, 1.0, 1.0]):
        with pytest.raises(ValueError, match="three points|same x"):
            fit_line(x, [1.0] * len(x))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: fit_line([0.0, 1.0, 2.0], [1.0, float("nan"), 3.0]),
        lambda: fit_line([0.0, 1.0, float("inf")], [1.0, 2.0, 3.0]),
        lambda: fit_line([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], -1.0),
        lambda: t_quantile(1.0, 5),
        lambda: t_quantile(0.0, 5),
        lambda: t_quantile(0.95, 0),
        lambda: crossing(fit_line([0.0, 1.0, 2.0], [1.0, 2.0, 3.0]), float("nan")),
        lambda: confidence_band(fit_line([0.0, 1.0, 2.0], [1.0, 2.0, 3.0]), float("inf")),
        lambda: time_to_limit(tank(38, 39.3, 39.8, 41.2), LIMIT, confidence=1.0),
        lambda: raw_storage_clock(at(0), at(1), 73),
        lambda: raw_storage_clock(at(0), at(1), 0),
        lambda: run_hours_clock([], None, at(1), Decimal(-1)),
    ],
)
def test_what_is_outside_its_range_is_refused(wrong):
    """No number, no confidence, more hours than the rule."""
    with pytest.raises(OutsideRange):
        wrong()


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=4, max_size=12), st.floats(-20, 20))
def test_band_is_narrowest_in_the_middle_of_the_readings(noise, away):
    """It holds the line everywhere, and widens from the mean of the moments outward."""
    x = [float(place) for place in range(len(noise))]
    line = fit_line(x, [38 + one for one in noise], 0.1)
    low, middle, high = confidence_band(line, line.mean_x + away)
    centre = confidence_band(line, line.mean_x)
    assert low <= middle <= high
    assert high - low >= centre[2] - centre[0] - 1e-9


@settings(deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=4, max_size=12), st.floats(0.1, 5))
def test_interval_holds_the_expected_crossing(noise, slope):
    """Whenever there is an interval the expected crossing lies in it."""
    x = [float(place) for place in range(len(noise))]
    found = crossing(fit_line(x, [slope * one + extra for one, extra in zip(x, noise, strict=True)]), 20.0)
    if found is not None:
        lowest, expected, highest = found
        assert lowest <= expected + 1e-6
        assert expected <= highest + 1e-6


def test_interval_covers_the_truth_as_often_as_it_says():
    """Of 2,000 simulated tanks 95 % reach the limit inside the interval; three standard errors are 1.5 %."""
    chance = np.random.default_rng(20260608)
    x = list(np.linspace(0, 4, 9))
    inside = 0
    for _ in range(2000):
        found = crossing(fit_line(x, [38 + 2 * one + chance.normal(0, 0.5) for one in x]), 48.0)
        assert found is not None
        inside += found[0] <= 5 <= found[2]
    assert abs(inside / 2000 - 0.95) < 0.015


def test_raw_storage_clock_allows_seventy_two_hours_from_first_product():
    """The limit's own moment is in time, one second more is past."""
    clock = raw_storage_clock(at(0), at(70))
    assert (clock.limit_at, clock.left, clock.clause) == (at(72), 2 * HOUR, "7 Pa. Code 59.212(a)")
    assert not raw_storage_clock(at(0), at(72)).past(at(72))
    assert raw_storage_clock(at(0), at(72) + timedelta(seconds=1)).past(at(72) + timedelta(seconds=1))


def test_stricter_raw_storage_clock_is_the_plants_own_rule():
    """Forty-eight hours are no law."""
    assert (raw_storage_clock(at(0), at(1), 48).limit_at, raw_storage_clock(at(0), at(1), 48).basis) == (
        at(48),
        "plant rule",
    )


def test_raw_storage_clock_counts_real_hours_across_a_clock_change():
    """Seventy-two hours over 8 March 2026 end an hour later on the plant's clocks."""
    calendar = PlantCalendar("America/Chicago", (), "06:00")
    first = datetime(2026, 3, 7, 12, tzinfo=UTC)
    limit_at = raw_storage_clock(first, first).limit_at
    assert limit_at is not None
    assert (calendar.local(first).hour, calendar.local(limit_at).hour) == (6, 7)


def test_daily_wash_is_due_by_the_end_of_the_plant_day_of_use():
    """First used at 02:00 at night, the day ends at 06:00."""
    calendar = PlantCalendar("America/Chicago", (), "06:00")
    assert daily_wash_clock(at(20), at(21), calendar).limit_at == at(24)
    assert daily_wash_clock(at(0), at(21), calendar).left == 3 * HOUR


def test_hours_run_stand_still_while_the_line_does():
    """Two runs of two hours since the wash leave six of ten; while it stands there is no limit moment."""
    clock = run_hours_clock([(at(1), at(3)), (at(5), at(7))], at(0), at(9), Decimal(10))
    assert (clock.left, clock.limit_at, clock.past(at(9))) == (6 * HOUR, None, False)


def test_hours_run_name_the_moment_while_running():
    """On since 05:00 after two hours before, ten hours are full eight hours later."""
    clock = run_hours_clock([(at(1), at(3)), (at(5), None)], at(0), at(6), Decimal(10))
    assert clock.limit_at == at(13)


def test_hours_run_before_the_wash_do_not_count():
    """A full wash starts the clock anew; runs at once count once; too long is past."""
    assert run_hours_clock([(at(0), at(4))], at(2), at(5), Decimal(10)).left == 8 * HOUR
    assert run_hours_clock([(at(0), at(4)), (at(1), at(4))], None, at(5), Decimal(10)).left == 6 * HOUR
    assert run_hours_clock([(at(0), at(11))], None, at(12), Decimal(10)).past(at(12))
