"""The holding tube: its laws, its refusals, its edges."""

import doctest
import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import plant.process.holding_tube as tube
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.holding_tube import fittings, flow, guides, timing

pytestmark = pytest.mark.once

MILK = (1011.0, 0.0006)  # kg/m3, Pa s
BORE, LENGTH, FLOW = 0.047498, 14.28, 5.0 / 3600
BORES, FLOWS = st.floats(0.02, 0.1), st.floats(1e-5, 4e-3)  # Reynolds numbers up to 850,000
VISCOSITIES, KEYS = st.floats(3e-4, 1.0), st.sampled_from(sorted(tube.GUIDES))
few = settings(max_examples=50, deadline=None)


@pytest.mark.parametrize("module", [fittings, flow, guides, timing])
def test_examples_of_the_docstrings_run(module):
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_public_name_says_its_source():
    """Each public function's docstring has a line with its range and one with its source."""
    functions = [getattr(tube, name) for name in tube.__all__ if callable(getattr(tube, name)) and name[0].islower()]
    assert len(functions) >= 15
    assert [one.__name__ for one in functions if "Source:" not in one.__doc__ or "Range:" not in one.__doc__] == []


@few
@given(BORES, FLOWS, VISCOSITIES, KEYS)
def test_guide_never_exceeds_laminar_nor_falls_below_the_mean(bore, rate, viscosity, guide):
    """The fastest particle is faster than the mean and at most twice as fast."""
    stay = tube.residence(10.0, bore, rate, 1000.0, viscosity, guide)
    assert 1 < stay.ratio <= 2
    assert stay.mean_s / 2 <= stay.fastest_s < stay.mean_s


@few
@given(BORES, FLOWS, VISCOSITIES, KEYS)
def test_length_for_a_time_gives_that_time(bore, rate, viscosity, guide):
    """The tube that lengths_for names holds its fastest particle for the wanted time."""
    wanted = tube.lengths_for(15.0, bore, rate, 1000.0, viscosity, guide)
    assert wanted.mean_m < wanted.guide_m <= wanted.laminar_m
    if 0.01 <= wanted.guide_m <= 1000:
        stay = tube.residence(wanted.guide_m, bore, rate, 1000.0, viscosity, guide)
        assert stay.fastest_s == pytest.approx(15.0)


@few
@given(BORES, st.floats(1.0, 100.0), VISCOSITIES, KEYS, st.floats(0.01, 1.0))
def test_largest_flow_and_every_slower_one_holds_long_enough(bore, length, viscosity, guide, share):
    """At the largest flow, and at any share of it, the fastest particle stays the wanted time."""
    liquid = (1000.0, viscosity, guide)
    try:
        largest = tube.largest_flow_m3_per_s(15.0, length, bore, *liquid)
    except Infeasible:
        return
    assert tube.residence(length, bore, largest, *liquid).fastest_s >= 15.0 * (1 - 1e-9)
    if largest * share >= 1e-7:
        assert tube.residence(length, bore, largest * share, *liquid).fastest_s >= 15.0 * (1 - 1e-9)


def test_a_little_more_than_the_largest_flow_is_too_much():
    """Beyond the largest flow the hold is short at once."""
    largest = tube.largest_flow_m3_per_s(15.0, LENGTH, BORE, *MILK, "toledo")
    assert tube.residence(LENGTH, BORE, largest * 1.001, *MILK, "toledo").fastest_s < 15.0


def test_largest_flow_stops_below_the_laminar_dip():
    """A faster turbulent flow that holds is no answer when a laminar flow below it does not."""
    liquid = (1000.0, 0.005, "toledo")
    at_4000 = 4000 * 0.005 * math.pi * 0.05 / 4 / 1000
    hold = tube.residence(10.0, 0.05, at_4000 * 1.01, *liquid).fastest_s
    assert tube.residence(10.0, 0.05, at_4000 * 0.99, *liquid).fastest_s < hold
    largest = tube.largest_flow_m3_per_s(hold, 10.0, 0.05, *liquid)
    assert largest == pytest.approx(math.pi / 4 * 0.05**2 * 10.0 / (2 * hold))
    assert largest < at_4000


@few
@given(BORES, st.floats(1.0, 100.0), VISCOSITIES, st.floats(0.1, 0.99))
def test_hold_falls_as_the_rate_rises_when_all_is_laminar(bore, length, viscosity, share):
    """By the laminar guide, twice the rate is half the hold, in any unit of flow."""
    slow, fast = tube.hold_against_rate(length, bore, [1e-4 * share, 1e-4], 1000.0, viscosity, "laminar")
    assert fast == pytest.approx(slow * share)


def test_hold_jumps_up_where_flow_ceases_to_count_as_laminar():
    """At Reynolds number 4000 the ratio falls from 2.0, so the hold of a slightly faster flow is longer."""
    at_4000 = 4000 * 0.0006 * math.pi * BORE / 4 / 1011.0
    below, above = tube.hold_against_rate(LENGTH, BORE, [at_4000 * 0.999, at_4000 * 1.001], *MILK, "uk")
    assert above > below * 1.4


@pytest.mark.parametrize("guide", sorted(tube.GUIDES))
def test_every_guide_takes_two_below_4000(guide):
    """Just below Reynolds number 4000 the ratio is 2.0; at 4000 the guide's own begins."""
    assert tube.fastest_ratio(3999.999, guide) == 2.0
    assert tube.fastest_ratio(0.5, guide) == 2.0
    assert tube.fastest_ratio(4000, guide) == (2.0 if guide == "laminar" else tube.GUIDES[guide].ratio(4000))


def test_between_its_two_ratios_the_british_guide_takes_the_larger():
    """From 4000 to 20,000, both included, 1.33 holds; 1.25 only above."""
    assert [tube.fastest_ratio(one, "uk") for one in (4000, 20_000, 20_000.001)] == [1.33, 1.33, 1.25]


def test_each_guide_names_its_source_and_its_basis():
    """No guide stands without saying where it comes from and how far that was read."""
    assert all(one.source and one.basis and one.key == key for key, one in tube.GUIDES.items())


@few
@given(st.floats(1.05, 2.0))
def test_profile_is_fastest_in_the_middle_and_still_at_the_wall(ratio):
    """From the center to the wall the velocity falls from the ratio to nothing."""
    speeds = tube.velocity_profile(ratio, np.linspace(0, 1, 21))
    assert speeds[0] == pytest.approx(ratio)
    assert speeds[-1] == 0
    assert (np.diff(speeds) < 0).all()


@few
@given(st.lists(st.floats(0, 100), min_size=1, max_size=6), st.floats(0.01, 2), st.floats(1, 360), st.integers(0, 9))
def test_length_along_the_center_line_adds_up(straights, radius, angle, count):
    """Order does not matter, and equal bends count as often as they are there."""
    bends = [tube.Bend(radius, angle, count)]
    found = tube.centerline_length_m(straights, bends)
    assert found == pytest.approx(sum(straights) + count * tube.bend_length_m(radius, angle))
    assert found == pytest.approx(tube.centerline_length_m(straights[::-1], bends))


def test_slope_of_exactly_a_quarter_inch_a_foot_is_met():
    """The bound belongs to the limit: 10 in on 40 ft is met, a hair less is not; no float rounds it away."""
    assert tube.slope_of(0.25, 12.0).met
    assert tube.slope_of(Decimal("0.1") * 10, 48).met
    assert tube.slope_of(Fraction("0.00635"), Fraction("0.3048")).met
    assert not tube.slope_of(Decimal("0.2499"), 12).met


def test_tube_that_falls_does_not_meet_the_slope():
    """A part that goes down in the direction of flow has a negative slope."""
    found = tube.slope_of(-1, 48)
    assert (found.met, found.inches_per_foot) == (False, -0.25)


@few
@given(st.floats(10, 40), st.floats(30, 90), st.floats(30, 90))
def test_correction_by_weight_is_that_by_volume_times_the_specific_gravity(hold, product, water):
    """Equal weights of a denser product fill less volume: the hold is longer by its specific gravity."""
    if not 0.5 <= product / water <= 2:
        return
    by_volume = tube.product_hold_by_volume_s(hold, product, water)
    assert tube.product_hold_by_weight_s(hold, product, water) == pytest.approx(1.032 * by_volume)
    assert tube.product_hold_by_weight_s(hold, product, water, 1.0) == by_volume


def test_product_that_is_pumped_faster_than_water_is_held_shorter():
    """A shorter fill with product means a shorter hold."""
    assert tube.product_hold_by_volume_s(16.0, 58.0, 60.0) < 16.0


def test_governing_flow_is_the_fastest_whatever_its_pressure():
    """The flow at no homogenizing pressure governs; if another is faster, that one does and it is said."""
    usual = tube.governing_flow([tube.PumpReading(13_800, 9.7e-4), tube.PumpReading(0, 1e-3)])
    assert (usual.pressure_kpa, usual.flow_m3_per_s, usual.sentences) == (0, 1e-3, ())
    assert usual.fall == pytest.approx(0.03)
    odd = tube.governing_flow([tube.PumpReading(13_800, 1.1e-3), tube.PumpReading(0, 1e-3)])
    assert (odd.pressure_kpa, odd.flow_m3_per_s) == (13_800, 1.1e-3)
    assert "measure again" in odd.sentences[0]


@pytest.mark.parametrize("readings", [[], [tube.PumpReading(5000, 1e-3)]])
def test_homogenizer_must_be_measured_without_pressure(readings):
    """Without a reading at no homogenizing pressure there is no governing flow."""
    with pytest.raises(Infeasible, match="no homogenizing pressure"):
        tube.governing_flow(readings)


@pytest.mark.parametrize("product", sorted(tube.SALT_TESTS))
def test_salt_estimate_is_never_longer_than_the_test(product):
    """Water never makes a product's hold look too short in the published pairs, and the caution says so."""
    found = tube.salt_test_estimate(20.0, product)
    assert found.estimate_s < 20.0
    assert "flatters" in found.caution


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: tube.bore_area_m2(0.5), "bore"),
        (lambda: tube.volume_m3(0.05, -1), "length"),
        (lambda: tube.bulk_velocity_m_per_s(float("nan"), 0.05), "flow"),
        (lambda: tube.reynolds_number(1e-3, 0.05, 10, 0.001), "density"),
        (lambda: tube.reynolds_number(1e-3, 0.05, 1000, 0), "viscosity"),
        (lambda: tube.residence(10, 0.01, 0.05, 1000, 0.0003, "uk"), "Reynolds number"),
        (lambda: tube.lengths_for(0, 0.05, 1e-3, 1000, 0.001, "uk"), "holding time"),
        (lambda: tube.fastest_ratio(2e6, "uk"), "Reynolds number"),
        (lambda: tube.fastest_ratio(0, "uk"), "Reynolds number"),
        (lambda: tube.velocity_profile(2.5, [0.5]), "ratio"),
        (lambda: tube.velocity_profile(2.0, [1.5]), "share of the radius"),
        (lambda: tube.velocity_profile(2.0, [float("nan")]), "share of the radius"),
        (lambda: tube.bend_length_m(0.1, 0), "angle"),
        (lambda: tube.bend_length_m(0, 90), "radius"),
        (lambda: tube.centerline_length_m([-1]), "straight part"),
        (lambda: tube.slope_of(1, 0), "length"),
        (lambda: tube.slope_of(2, 1), "rise"),
        (lambda: tube.slope_of(float("inf"), 1), "rise"),
        (lambda: tube.product_hold_by_volume_s(16, 10, 60), "ratio of the fill times"),
        (lambda: tube.product_hold_by_weight_s(16, 60, 60, 2), "specific gravity"),
        (lambda: tube.hold_at_rate_s(16, 1, 3), "new rate"),
        (lambda: tube.pmo_length_in(1000, 1, 1.87), "flow"),
        (lambda: tube.salt_test_estimate(5, "milk"), "salt test"),
        (lambda: tube.governing_flow([tube.PumpReading(-1, 1e-3)]), "pressure"),
    ],
)
def test_value_outside_the_range_is_refused_by_name(call, named):
    """Each quantity outside its range is refused with its name, never extrapolated."""
    with pytest.raises(OutsideRange, match=named):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: tube.fastest_ratio(50_000, "house rule"),
        lambda: tube.residence(10, 0.05, 1e-3, 1000, 0.001, ""),
        lambda: tube.salt_test_estimate(20, "yogurt"),
        lambda: tube.hold_against_rate(10, 0.05, [[1e-3]], 1000, 0.001, "uk"),
    ],
)
def test_what_is_not_known_is_refused_with_a_sentence(call):
    """An unknown guide or product, or flows that are no list, give a sentence."""
    with pytest.raises(CalculationError):
        call()


def test_time_that_no_flow_meets_or_every_flow_meets_has_no_largest_flow():
    """A tube too short for any flow, and one that every flow of the range meets, are said to be so."""
    with pytest.raises(Infeasible, match="no flow is slow enough"):
        tube.largest_flow_m3_per_s(3600, 0.01, 0.003, 1000, 0.001, "laminar")
    with pytest.raises(Infeasible, match="every flow"):
        tube.largest_flow_m3_per_s(0.005, 1000, 0.3, 1000, 0.001, "uk")
