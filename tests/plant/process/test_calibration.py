"""Checking instruments."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.calibration import (
    Stored,
    as_found_error,
    boiling_point_at_altitude_c,
    doubtful_intervals,
    doubtful_readings,
    judge_tolerance,
    lead_error_c,
    pt100_resistance_ohm,
    pt100_temperature_c,
    pt100_tolerance_c,
    standard_pressure_kpa,
    two_point,
)
from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Limit, Outcome
from plant.process.units import UnitError

pytestmark = pytest.mark.once

DAY = datetime(2026, 3, 1, tzinfo=UTC)
COLD = (Limit("tank", "temperature", "°F", high=Decimal(45)),)
HOT = (Limit("htst", "temperature", "°F", low=Decimal(161)),)
tenths = st.integers(400, 500).map(lambda one: Decimal(one) / 10)


def stored(key: str, value: str, hours: float = 0, limits=HOT, unit: str = "°F") -> Stored:
    """A reading of the first of March, so many hours in."""
    return Stored(key, DAY + timedelta(hours=hours), Decimal(value), unit, limits)


def test_correction_gives_the_true_values_at_both_points() -> None:
    """And the indicated values back."""
    check = two_point(32.4, 32.0, 211.0, 208.7)
    assert (check.corrected(32.4), check.corrected(211.0)) == pytest.approx((32.0, 208.7))
    assert check.indicated(check.corrected(161.0)) == pytest.approx(161.0)
    assert check.error(211.0) == pytest.approx(2.3)


def test_correction_is_refused_beyond_its_points() -> None:
    """A freezer reading is not corrected from ice and boiling water."""
    check = two_point(0.4, 0, 98.9, 98.3)
    for beyond in (0.39, 98.91, math.nan):
        with pytest.raises(OutsideRange):
            check.corrected(beyond)


@pytest.mark.parametrize(
    "points", [(0, 0, 0, 100), (0, 100, 100, 0), (11, 0, 98, 98), (0, 0, 88, 99), (math.nan, 0, 1, 1)]
)
def test_points_that_make_no_sense_are_refused(points) -> None:
    """Not rising, or off by more than ten degrees."""
    with pytest.raises(CalculationError):
        two_point(*points)


@settings(max_examples=50)
@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 1))
def test_correction_is_the_same_in_fahrenheit(low_error, high_error, share) -> None:
    """Unit-invariant: corrected in one unit and turned into the other."""
    celsius = two_point(low_error, 0, 98.3 + high_error, 98.3)
    fahrenheit = two_point(32 + 1.8 * low_error, 32, 32 + 1.8 * (98.3 + high_error), 32 + 1.8 * 98.3)
    reading = celsius.read_low + share * (celsius.read_high - celsius.read_low)
    reading_f = min(max(32 + 1.8 * reading, fahrenheit.read_low), fahrenheit.read_high)
    assert fahrenheit.corrected(reading_f) == pytest.approx(32 + 1.8 * celsius.corrected(reading), abs=1e-6)


def test_pressure_and_boiling_point_fall_with_altitude() -> None:
    """Monotone over the whole range."""
    heights = range(-500, 11_001, 250)
    pressures = [standard_pressure_kpa(one) for one in heights]
    boiling = [boiling_point_at_altitude_c(one) for one in heights]
    assert pressures == sorted(pressures, reverse=True)
    assert boiling == sorted(boiling, reverse=True)


@pytest.mark.parametrize("height", [-501, 11_001, math.inf])
def test_altitude_beyond_the_layer_is_refused(height) -> None:
    """The formula holds in the lowest layer alone."""
    with pytest.raises(OutsideRange):
        standard_pressure_kpa(height)


@settings(max_examples=50)
@given(st.floats(-200, 850), st.sampled_from([100.0, 500.0, 1000.0]))
def test_resistance_and_temperature_are_inverse(celsius, r0) -> None:
    """Both ways, below and above 0 °C."""
    assert pt100_temperature_c(pt100_resistance_ohm(celsius, r0), r0) == pytest.approx(celsius, abs=1e-7)


@pytest.mark.parametrize("edge", [-200.0, 0.0, 850.0])
def test_ends_of_the_range_convert(edge) -> None:
    """The lowest, the joint and the highest temperature."""
    assert pt100_temperature_c(pt100_resistance_ohm(edge)) == pytest.approx(edge, abs=1e-7)


@pytest.mark.parametrize("ohm", [18.51, 390.49, math.nan])
def test_resistance_beyond_the_range_is_refused(ohm) -> None:
    """Nothing is extrapolated."""
    with pytest.raises(OutsideRange):
        pt100_temperature_c(ohm)


def test_thin_film_has_a_narrower_range() -> None:
    """Class A: 450 °C for wire wound, 300 °C for thin film."""
    assert pt100_tolerance_c(450, "A") == pytest.approx(1.05)
    with pytest.raises(OutsideRange):
        pt100_tolerance_c(301, "A", "thin film")
    with pytest.raises(CalculationError):
        pt100_tolerance_c(20, "D")


def test_leads_read_too_high_and_none_adds_nothing() -> None:
    """More lead, more error."""
    errors = [lead_error_c(72, ohm) for ohm in (0.0, 0.1, 0.2, 1.0)]
    assert errors[0] == pytest.approx(0, abs=1e-9)
    assert errors == sorted(errors)


def test_error_needs_readings_that_show_scatter() -> None:
    """One reading alone says nothing of its own repeatability."""
    with pytest.raises(CalculationError, match="shows no scatter"):
        as_found_error([72.1], 72, reference_expanded=0.1, resolution=0.1)
    with pytest.raises(CalculationError, match="No reading"):
        as_found_error([], 72, reference_expanded=0.1, resolution=0.1)


def test_scatter_seen_counts_when_it_is_larger_than_the_known() -> None:
    """The worse of the two."""
    wild = as_found_error([71.0, 73.0], 72, reference_expanded=0, resolution=0.1, repeatability=0.01)
    calm = as_found_error([72.0, 72.0], 72, reference_expanded=0, resolution=0.1, repeatability=0.05)
    assert wild.repeatability_u == pytest.approx(1.0)
    assert wild.degrees == pytest.approx(1.0, rel=0.01)
    assert (calm.repeatability_u, calm.degrees) == (pytest.approx(0.05 / 2**0.5), math.inf)


def test_coverage_is_named_and_two() -> None:
    """k = 2, 95.45 % when everything is known well."""
    found = as_found_error([72.0], 72, reference_expanded=0.1, resolution=0.1, repeatability=0.0)
    assert found.coverage_k == 2
    assert found.confidence == pytest.approx(0.9545, abs=5e-5)


@pytest.mark.parametrize(
    "wrong", [{"reference_expanded": -0.1}, {"resolution": 0}, {"reference_k": 0.5}, {"repeatability": -1},
              {"resolution": math.nan}]
)  # fmt: skip
def test_uncertainties_that_cannot_be_are_refused(wrong) -> None:
    """Below zero, zero resolution, a coverage factor below one."""
    with pytest.raises(OutsideRange):
        as_found_error([72.0, 72.1], 72, **{"reference_expanded": 0.1, "resolution": 0.1, **wrong})


@settings(max_examples=50)
@given(st.floats(-2, 2), st.floats(0, 0.5), st.floats(0.1, 1))
def test_met_with_its_uncertainty_is_met_without(error, expanded, tolerance) -> None:
    """The guarded verdict never passes what the simple one fails."""
    found = as_found_error([error], 0, reference_expanded=expanded, resolution=1e-6, repeatability=0)
    conformity = judge_tolerance(found, tolerance)
    if conformity.outcome is Outcome.MET:
        assert conformity.simple
    if not conformity.simple:
        assert conformity.outcome is not Outcome.MET


def test_whole_error_reaches_back_to_the_last_good_calibration() -> None:
    """The first day after it is corrected as much as the last one before the failed one."""
    readings = [stored("early", "161.2", 1), stored("late", "161.2", 47)]
    doubt = doubtful_readings(readings, Decimal("0.4"), DAY, DAY + timedelta(days=2))
    assert [float(one.corrected) for one in doubt.now_not_met] == pytest.approx([160.8, 160.8])


def test_moments_of_the_calibrations_belong_to_the_doubt_and_nothing_beyond() -> None:
    """At both ends in, just outside out; without a last good one everything before."""
    readings = [stored(str(hour), "161.0", hour) for hour in (-1, 0, 24, 25)]
    doubt = doubtful_readings(readings, Decimal(1), DAY, DAY + timedelta(days=1))
    assert [one.stored.key for one in doubt.now_not_met] == ["0", "24"]
    unknown = doubtful_readings(readings, Decimal(1), None, DAY + timedelta(days=1))
    assert [one.stored.key for one in unknown.now_not_met] == ["-1", "0", "24"]


def test_lists_are_sorted_by_time_and_then_key() -> None:
    """However they come in."""
    readings = [stored("b", "161", 3), stored("c", "161", 1), stored("a", "161", 3)]
    doubt = doubtful_readings(reversed(readings), Decimal(1), None, DAY + timedelta(days=1))
    assert [one.stored.key for one in doubt.now_not_met] == ["c", "a", "b"]


def test_correction_never_rescues() -> None:
    """Not met as read stays with those that missed, and is listed apart."""
    doubt = doubtful_readings([stored("a", "160.8")], Decimal("-0.5"), None, DAY)
    assert [one.stored.key for one in doubt.now_met] == ["a"]
    assert doubt.now_met[0].as_read.outcome is Outcome.NOT_MET
    assert doubt.now_not_met == ()


def test_upper_limit_doubts_thermometers_that_read_low() -> None:
    """44.8 on a thermometer 0.5 low was 45.3."""
    doubt = doubtful_readings(
        [stored("a", "44.8", limits=COLD), stored("b", "44.5", limits=COLD)], Decimal("-0.5"), None, DAY
    )
    assert [one.stored.key for one in doubt.now_not_met] == ["a"]
    assert doubt.now_not_met[0].as_corrected.reasons == ("Corrected, 45.3 °F: 0.3 °F above the limit of 45 °F.",)


def test_uncertainty_widens_the_doubt() -> None:
    """The worse end of the interval counts."""
    readings = [stored("a", "161.5"), stored("b", "161.7")]
    assert not doubtful_readings(readings, Decimal("0.4"), None, DAY).now_not_met
    wide = doubtful_readings(readings, Decimal("0.4"), None, DAY, Decimal("0.2")).now_not_met
    assert [one.stored.key for one in wide] == ["a"]
    assert float(wide[0].corrected) == pytest.approx(160.9)


def test_reading_in_another_unit_than_its_limit_is_doubted_by_its_own_error() -> None:
    """An error in °C for a reading in °C against 161 °F."""
    doubt = doubtful_readings([stored("a", "72.0", unit="°C")], Decimal("0.5"), None, DAY)
    assert [one.stored.key for one in doubt.now_not_met] == ["a"]
    with pytest.raises(UnitError):
        doubtful_readings([stored("a", "72.0", unit="kPa")], Decimal("0.5"), None, DAY)


def test_failed_calibration_before_the_good_one_is_refused() -> None:
    """For readings and for traces; a limit is needed too."""
    with pytest.raises(CalculationError, match="before the last good"):
        doubtful_readings([], Decimal(1), DAY, DAY - timedelta(seconds=1))
    with pytest.raises(CalculationError, match="before the last good"):
        doubtful_intervals([0, 1], [1, 2], 1, 5, 4, low=0)
    with pytest.raises(CalculationError, match="limit is needed"):
        doubtful_intervals([0, 1], [1, 2], 1, None, 4)


@settings(max_examples=50)
@given(st.lists(tenths, max_size=12), st.integers(-20, 20).map(lambda one: Decimal(one) / 10))
def test_every_reading_in_the_time_is_in_one_list(values, error) -> None:
    """Nothing is lost and nothing told twice; no error, no doubt."""
    readings = [stored(str(place), str(value), place, COLD) for place, value in enumerate(values)]
    doubt = doubtful_readings(readings, error, None, DAY + timedelta(days=9))
    groups = (doubt.now_not_met, doubt.now_met, doubt.unchanged)
    assert sorted(int(one.stored.key) for group in groups for one in group) == list(range(len(values)))
    if error == 0:
        assert not doubt.now_not_met and not doubt.now_met


def test_stretch_of_a_trace_lies_between_the_limit_and_the_limit_plus_the_error() -> None:
    """Up through 72 and 72.5 and down again."""
    found = doubtful_intervals([0, 10, 20], [71, 73, 71], 0.5, None, 99, low=72)
    assert found == ((5.0, 7.5), (12.5, 15.0))


def test_stretches_are_cut_at_the_calibrations() -> None:
    """Only the time between the two."""
    assert doubtful_intervals([0, 100], [72.2, 72.2], 0.5, 30, 60, low=72) == ((30.0, 60.0),)
    assert doubtful_intervals([0, 100], [72.2, 72.2], 0.5, 200, 300, low=72) == ()


def test_neighboring_stretches_are_one() -> None:
    """A trace that stays in the band is one stretch whatever its samples."""
    assert doubtful_intervals([0, 1, 2, 3], [72.1, 72.3, 72.0, 72.4], 0.5, None, 9, low=72) == ((0.0, 3.0),)


def test_single_moment_on_the_limit_has_equal_ends() -> None:
    """A peak that just reaches the limit meets it for one moment, as read alone."""
    assert doubtful_intervals([0, 10, 20], [71, 72, 71], 0.5, None, 99, low=72) == ((10.0, 10.0),)


@settings(max_examples=50)
@given(
    st.lists(st.integers(700, 740), min_size=2, max_size=15),
    st.floats(-1, 1),
    st.floats(0, 0.5),
)
def test_more_uncertainty_never_doubts_less(values, error, spread) -> None:
    """Every stretch without it lies in a stretch with it, in order and apart."""
    times, levels = np.arange(len(values)), np.array(values) / 10
    narrow = doubtful_intervals(times, levels, error, None, 99, low=71.5, high=73)
    wide = doubtful_intervals(times, levels, error, None, 99, 71.5, 73, spread)
    for start, end in narrow:
        assert any(low <= start + 1e-9 and end <= high + 1e-9 for low, high in wide)
    assert all(one[1] < other[0] for one, other in zip(wide, wide[1:], strict=False))
