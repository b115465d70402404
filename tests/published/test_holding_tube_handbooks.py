"""The holding tube against handbooks, guides and a second method.

Addresses: UK guide https://ru.scribd.com/doc/43150024/PASTEURISER-Holding-Section-Holding-Time-Calculation ; Dickerson
https://doi.org/10.3168/jds.S0022-0302(68)87267-4 (abstract). "Recomputed" marks what follows from stated inputs by a
stated formula: it tests the formula, not nature.
"""

import math

import numpy as np
import pytest
from fluids.core import Reynolds
from fluids.friction import friction_factor
from scipy.integrate import quad

from plant.process import holding_tube as tube

pytestmark = pytest.mark.once

GALLON_M3, INCH_M = 0.003785411784, 0.0254
BORE_187 = 1.870 * INCH_M
TOLEDO = "Toledo, Fundamentals of Food Process Engineering, ch. 9, after Edgerton and Jones (from memory)"


# PMO Appendix I, table of HHST holding tubes for 1 gal/s (from memory): sanitary tube of 2, 2 1/2, 3, 4 in outside. The
# printed lengths are rounded, so no closer than half an inch, or the last printed digit where that is less.
@pytest.mark.proves("holding_tube.pmo_length_in", by="published", source="PMO Appendix I, HHST table (from memory)")
@pytest.mark.parametrize(
    ("hold", "bore", "printed"),
    [
        (1.0, 1.870, 168.0), (1.0, 2.370, 105.0), (1.0, 2.870, 71.4), (1.0, 3.834, 40.0),
        (0.5, 1.870, 84.0), (0.5, 2.370, 52.4), (0.5, 2.870, 35.7), (0.5, 3.834, 20.0),
        (0.1, 1.870, 16.8), (0.1, 2.370, 10.5), (0.1, 2.870, 7.14), (0.1, 3.834, 4.0),
        (0.05, 1.870, 8.40), (0.05, 2.370, 5.24), (0.05, 2.870, 3.57), (0.05, 3.834, 2.0),
        (0.01, 1.870, 1.68), (0.01, 2.370, 1.05), (0.01, 2.870, 0.714), (0.01, 3.834, 0.400),
    ],
)  # fmt: skip
def test_hhst_lengths_are_the_printed_ones(hold, bore, printed):
    """Length of a fully laminar tube for 1 gallon a second."""
    assert tube.pmo_length_in(1, hold, bore) == pytest.approx(printed, abs=min(0.5, 0.01 * printed))


@pytest.mark.proves("holding_tube.pmo_length_in", by="published", source="588 Q t / D^2, PMO Appendix I, recomputed")
@pytest.mark.parametrize(("bore", "length"), [(1.870, 168.1), (2.370, 104.7), (2.870, 71.4)])
def test_hhst_formula_gives_the_recomputed_lengths(bore, length):
    """588/D^2 to a tenth of an inch."""
    assert tube.pmo_length_in(1, 1, bore) == pytest.approx(length, abs=0.05)


@pytest.mark.proves("holding_tube.pmo_length_in", by="independent", source="exact gallon and inch: 2 x 231/(pi/4)")
@pytest.mark.proves("holding_tube.lengths_for", by="independent", source="exact gallon and inch: 2 x 231/(pi/4)")
def test_printed_588_is_the_rounded_exact_constant():
    """The exact constant is 588.24 by NIST's gallon and inch; the printed 588 makes tubes 0.04 % shorter."""
    assert 2 * 231 / (math.pi / 4) == pytest.approx(588.24, abs=0.005)
    exact_m = tube.lengths_for(1, BORE_187, GALLON_M3, 1000, 0.001, "laminar").guide_m
    assert exact_m / INCH_M / tube.pmo_length_in(1, 1, 1.870) == pytest.approx(588.24 / 588, abs=1e-5)


# 1000 gal/h in 1.87 in for 15 s; plug flow 294.1 Q t/D^2 = 350 in, at 0.8 of it 438 in, laminar 700 in; 0.593 m/s and
# Re about 57,000 with 0.5 mPa s (recomputed; density 1010 kg/m3 assumed here). The 700 is twice the rounded 350: 588.24
# gives 700.9, 588 gives 700.6, and the same line's 58.4 ft are 700.8.
@pytest.mark.proves("holding_tube.lengths_for", by="published", source="plug, 0.8 and laminar sums, recomputed")
@pytest.mark.proves("holding_tube.reynolds_number", by="published", source="1000 gal/h in 1.87 in, recomputed")
def test_thousand_gallons_an_hour():
    """Plug flow, the flat 0.8 (ratio 1.25) and laminar lengths in inches."""
    found = tube.lengths_for(15, BORE_187, 1000 * GALLON_M3 / 3600, 1010, 0.0005, "uk")
    inches = [one / INCH_M for one in (found.mean_m, found.guide_m, found.laminar_m)]
    assert inches == pytest.approx([350, 438, 700], abs=1)
    assert found.laminar_m / 0.3048 == pytest.approx(58.4, abs=0.05)
    assert found.velocity_m_per_s == pytest.approx(0.593, abs=5e-4)
    assert found.reynolds == pytest.approx(57_000, abs=500)


@pytest.mark.proves("holding_tube.bore_area_m2", by="published", source="5000 L/h in 1.870 in, recomputed")
@pytest.mark.proves("holding_tube.bulk_velocity_m_per_s", by="published", source="5000 L/h in 1.870 in, recomputed")
@pytest.mark.proves("holding_tube.volume_m3", by="published", source="5000 L/h in 1.870 in, recomputed")
@pytest.mark.proves("holding_tube.lengths_for", by="published", source=TOLEDO)
def test_five_thousand_litres_an_hour():
    """Area 1.7719e-3 m2, 0.7838 m/s, Re 62,700, ratio 1.215; 11.76 (20.83 L), 14.28 and 23.52 m for 15 s."""
    found = tube.lengths_for(15, BORE_187, 5.0 / 3600, 1011, 0.0006, "toledo")
    assert tube.bore_area_m2(BORE_187) == pytest.approx(1.7719e-3, abs=5e-8)
    assert tube.bulk_velocity_m_per_s(5.0 / 3600, BORE_187) == pytest.approx(0.7838, abs=5e-5)
    assert found.reynolds == pytest.approx(62_700, abs=50)
    assert found.ratio == pytest.approx(1.215, abs=5e-4)
    assert (found.mean_m, found.guide_m, found.laminar_m) == pytest.approx((11.76, 14.28, 23.52), abs=0.005)
    assert tube.volume_m3(BORE_187, found.mean_m) * 1000 == pytest.approx(20.83, abs=0.005)


# https://mazurekgravity.in, question on a 5 cP fluid food (inputs consulted). It loses the exponent of the flow:
# 1.666e-4 m3/s is the value that gives its Reynolds number.
@pytest.mark.proves("holding_tube.lengths_for", by="published", source="laminar design of a 5 cP food, 34 mm bore")
@pytest.mark.proves("holding_tube.reynolds_number", by="published", source="laminar design of a 5 cP food, 34 mm bore")
@pytest.mark.proves("holding_tube.bore_area_m2", by="published", source="laminar design of a 5 cP food, 34 mm bore")
@pytest.mark.parametrize("guide", sorted(tube.GUIDES))
def test_laminar_design_of_a_viscous_food(guide):
    """9.079e-4 m2, 0.1835 m/s, Re 1259, fastest 0.3670 m/s; 1.66 m for 4.536 s, by every guide alike."""
    found = tube.lengths_for(4.536, 0.034, 1.666e-4, 1009, 0.005, guide)
    assert tube.bore_area_m2(0.034) == pytest.approx(9.079e-4, abs=5e-8)
    assert found.velocity_m_per_s == pytest.approx(0.1835, abs=5e-5)
    assert tube.reynolds_number(1.666e-4, 0.034, 1009, 0.005) == pytest.approx(1259, abs=0.5)
    assert found.velocity_m_per_s * found.ratio == pytest.approx(0.3670, abs=5e-5)
    assert found.guide_m == pytest.approx(1.66, abs=0.005)


@pytest.mark.proves("holding_tube.residence", by="published", source=TOLEDO)
def test_check_case_of_eighteen_meters():
    """18 m of 1.87 in, 6000 L/h, 1012 kg/m3, 0.55 mPa s (recomputed): 0.9406 m/s, Re 82,206, 1.209, 19.14, 15.83 s."""
    stay = tube.residence(18, BORE_187, 6.0 / 3600, 1012, 0.00055, "toledo")
    assert stay.velocity_m_per_s == pytest.approx(0.9406, abs=5e-5)
    assert stay.reynolds == pytest.approx(82_206, abs=0.5)
    assert stay.ratio == pytest.approx(1.209, abs=5e-4)
    assert (stay.mean_s, stay.fastest_s) == pytest.approx((19.14, 15.83), abs=0.005)


@pytest.mark.proves("holding_tube.fastest_ratio", by="published", source=TOLEDO)
@pytest.mark.parametrize(
    ("reynolds", "ratio"), [(4000, 1.277), (10_000, 1.256), (20_000, 1.240), (50_000, 1.220), (100_000, 1.205)]
)
def test_correlation_gives_the_tabulated_ratios(reynolds, ratio):
    """1/(0.0336 log10 Re + 0.662) to three decimals."""
    assert tube.fastest_ratio(reynolds, "toledo") == pytest.approx(ratio, abs=5e-4)


@pytest.mark.proves("holding_tube.fastest_ratio", by="published", source="UK guide on holding sections (consulted)")
@pytest.mark.parametrize(("reynolds", "ratio"), [(3999, 2.0), (4000, 1.33), (25_000, 1.25)])
def test_british_guide_gives_its_ratios(reynolds, ratio):
    """2.0 below 4000, 1.33 at 4000, 1.25 above 20,000; more cautious than the flat 1.2 everywhere."""
    assert tube.fastest_ratio(reynolds, "uk") == ratio
    assert tube.fastest_ratio(reynolds, "flat-1.2") <= ratio


# White, Fluid Mechanics, ch. 6: mean/center velocity = 1/(1 + 1.3 sqrt f) in a smooth pipe (from memory), with the
# friction factor of the library `fluids`. Another fit to other pipes: 3 %.
@pytest.mark.proves("holding_tube.fastest_ratio", by="independent", source="White (from memory), friction from fluids")
@pytest.mark.parametrize("reynolds", [5_000, 10_000, 50_000, 100_000, 500_000])
def test_correlation_agrees_with_the_log_law(reynolds):
    """Ratio of center to mean velocity by the friction factor of a smooth pipe."""
    log_law = 1 + 1.3 * math.sqrt(friction_factor(Re=reynolds, eD=0))
    assert tube.fastest_ratio(reynolds, "toledo") == pytest.approx(log_law, rel=0.03)


@pytest.mark.proves("holding_tube.reynolds_number", by="independent", source="fluids.core.Reynolds")
@pytest.mark.proves("holding_tube.bulk_velocity_m_per_s", by="independent", source="fluids.core.Reynolds")
@pytest.mark.parametrize(("flow", "bore"), [(1e-4, 0.02), (1.4e-3, 0.0475), (6e-3, 0.0974)])
def test_reynolds_number_is_the_librarys(flow, bore):
    """The library's function, fed with velocity from the area of a circle that numpy integrates."""
    radii = np.linspace(0, bore / 2, 2001)
    velocity = flow / np.trapezoid(2 * np.pi * radii, radii)
    assert tube.reynolds_number(flow, bore, 1030, 0.002) == pytest.approx(Reynolds(velocity, bore, 1030, 0.002))
    assert tube.bulk_velocity_m_per_s(flow, bore) == pytest.approx(velocity)


@pytest.mark.proves("holding_tube.velocity_profile", by="independent", source="scipy.integrate.quad, continuity")
@pytest.mark.parametrize("ratio", [1.15, 1.2, 1.25, 1.33, 1.6, 2.0])
def test_profile_carries_the_mean_flow(ratio):
    """The mean over the cross-section is 1, whatever the ratio."""
    mean, _error = quad(lambda share: 2 * share * tube.velocity_profile(ratio, share), 0, 1, limit=200)
    assert mean == pytest.approx(1, abs=1e-6)


@pytest.mark.proves(
    "holding_tube.velocity_profile", by="published", source="Bird, Stewart, Lightfoot ch. 5 (from memory)"
)
def test_one_seventh_power_law_is_at_its_known_ratio():
    """The 1/7 power law has a center velocity of 60/49 of the mean, and half way to the wall 0.5^(1/7) of that."""
    assert tube.velocity_profile(60 / 49, 0.5) == pytest.approx(60 / 49 * 0.5 ** (1 / 7), rel=1e-9)


@pytest.mark.proves("holding_tube.residence", by="independent", source="particles followed through the profile, numpy")
@pytest.mark.parametrize("guide", ["laminar", "toledo"])
def test_first_particle_out_is_the_fastest_one(guide):
    """Of many particles spread over the radius, each at its own velocity, the first leaves after the holding time."""
    viscosity = 0.02 if guide == "laminar" else 0.0005
    stay = tube.residence(12, BORE_187, 1e-3, 1010, viscosity, guide)
    speeds = stay.velocity_m_per_s * tube.velocity_profile(stay.ratio, np.linspace(0, 0.999, 1000))
    assert (12 / speeds).min() == pytest.approx(stay.fastest_s)


@pytest.mark.proves("holding_tube.hold_against_rate", by="independent", source="hold = L/v_max at each flow, numpy")
@pytest.mark.proves("holding_tube.largest_flow_m3_per_s", by="independent", source="search over 200,000 flows, numpy")
@pytest.mark.parametrize(("guide", "viscosity"), [("laminar", 0.02), ("toledo", 0.0006), ("uk", 0.004), ("uk", 0.0006)])
def test_largest_flow_is_what_a_search_finds(guide, viscosity):
    """The last of many flows before the first that is too fast, with the hold written out anew."""
    flows = np.linspace(1e-5, 4e-3, 200_000)
    velocity = flows / (math.pi / 4 * BORE_187**2)
    reynolds = 1010 * velocity * BORE_187 / viscosity
    turbulent = {
        "laminar": np.full_like(flows, 2.0),
        "toledo": 1 / (0.0336 * np.log10(reynolds) + 0.662),
        "uk": np.where(reynolds > 20_000, 1.25, 1.33),
    }[guide]
    holds = 12 / (velocity * np.where(reynolds < 4000, 2.0, turbulent))
    ours = tube.hold_against_rate(12, BORE_187, flows[::5000], 1010, viscosity, guide)
    assert ours == pytest.approx(holds[::5000])
    first_bad = int(np.argmax(holds < 15))
    found = tube.largest_flow_m3_per_s(15, 12, BORE_187, 1010, viscosity, guide)
    assert flows[first_bad - 1] <= found <= flows[first_bad]


@pytest.mark.proves(
    "holding_tube.product_hold_by_volume_s", by="published", source="PMO Appendix I test 11 (from memory)"
)
@pytest.mark.proves(
    "holding_tube.product_hold_by_weight_s", by="published", source="PMO Appendix I test 11 (from memory)"
)
def test_water_time_becomes_milk_time():
    """By volume 16.2 x 62.5/60.0 = 16.875 s; by weight 1.032 x 16.2 x 61.0/62.0 = 16.449 s (recomputed)."""
    assert tube.product_hold_by_volume_s(16.2, 62.5, 60.0) == pytest.approx(16.875, abs=5e-4)
    assert tube.product_hold_by_weight_s(16.2, 61.0, 62.0) == pytest.approx(16.449, abs=5e-4)


@pytest.mark.proves(
    "holding_tube.product_hold_by_weight_s", by="independent", source="volumes from weights and densities"
)
def test_weight_and_volume_tell_the_same_hold():
    """A pump of 0.98 of its water rate, measured by either fill, gives one hold."""
    water_rate, product_rate = 1.0, 0.98
    by_volume = tube.product_hold_by_volume_s(16.0, 40 / product_rate, 40 / water_rate)
    by_weight = tube.product_hold_by_weight_s(16.0, 40 / (1.032 * product_rate), 40 / water_rate)
    assert by_volume == pytest.approx(16.0 / 0.98)
    assert by_weight == pytest.approx(by_volume)


@pytest.mark.proves("holding_tube.hold_at_rate_s", by="independent", source="tube volume over flow")
def test_hold_at_another_rate_is_that_of_the_same_volume():
    """20 L at 1.25 L/s takes 16 s, at 1.6 L/s 12.5 s."""
    assert tube.hold_at_rate_s(20 / 1.25, 1.25, 1.6) == pytest.approx(20 / 1.6)


# Dickerson and others, J. Dairy Sci. 51:1731, 1968 (abstract): fastest particle in tubes sized by salt; ratios from it.
@pytest.mark.proves("holding_tube.salt_test_estimate", by="published", source="Dickerson, J. Dairy Sci. 51:1731, 1968")
@pytest.mark.parametrize(
    ("product", "sized", "measured", "ratio"),
    [
        ("mix-16.5", 26, 21.9, 0.842),
        ("mix-10", 26, 23.5, 0.904),
        ("cream-40", 26, 22.7, 0.873),
        ("condensed-40", 26, 17.2, 0.662),
        ("milk", 16, 15.8, 0.988),
        ("chocolate-milk", 16, 15.5, 0.969),
    ],
)
def test_salt_test_flatters_by_the_published_ratios(product, sized, measured, ratio):
    """In the tube of the trial the estimate is the measured time, and the ratio the recomputed one."""
    found = tube.salt_test_estimate(sized, product)
    assert found.estimate_s == pytest.approx(measured)
    assert found.test.ratio == pytest.approx(ratio, abs=5e-4)


@pytest.mark.proves(
    "holding_tube.slope_of", by="published", source="PMO item 16p(B): 0.25 in/ft or 2.1 cm/m (from memory)"
)
def test_slope_of_the_ordinance_in_both_units():
    """A quarter of an inch a foot is met; so is 2.1 cm a meter, which is the rounded 2.083."""
    assert tube.slope_of(0.25, 12).met
    assert tube.slope_of(2.1, 100).met
    assert not tube.slope_of(2.0, 100).met
    assert float(tube.LEAST_SLOPE) * 100 == pytest.approx(2.083, abs=5e-4)


@pytest.mark.proves("holding_tube.bend_length_m", by="independent", source="sum of short chords, numpy")
@pytest.mark.proves("holding_tube.centerline_length_m", by="independent", source="sum of short chords, numpy")
def test_bend_is_as_long_as_its_chords():
    """A half circle of 6 in radius walked in 100,000 chords; a tube of two straights and that bend."""
    angles = np.linspace(0, math.pi, 100_001)
    points = 0.1524 * np.stack([np.cos(angles), np.sin(angles)])
    walked = np.hypot(*np.diff(points, axis=1)).sum()
    assert tube.bend_length_m(0.1524, 180) == pytest.approx(walked, rel=1e-9)
    assert tube.centerline_length_m([5, 5.5], [tube.Bend(0.1524, 180)]) == pytest.approx(10.5 + walked)


@pytest.mark.proves(
    "holding_tube.governing_flow", by="independent", source="common practice, no source; sorted by hand"
)
def test_homogenizer_is_fastest_without_pressure():
    """A homogenizer that slips more the higher its pressure governs by its flow with none."""
    readings = [tube.PumpReading(pressure, 1e-3 * (1 - pressure / 5e5)) for pressure in (13_800, 6_900, 0)]
    found = tube.governing_flow(readings)
    assert (found.pressure_kpa, found.flow_m3_per_s) == (0, 1e-3)
    assert found.fall == pytest.approx(13_800 / 5e5)
