"""Freezing of ice-cream mix against Leighton, the course that teaches his method, and tables of sugar solutions.

Leighton, J. Dairy Sci. 10:300, 1927
(https://scribd.com/document/474416779/LEIGHTON-1927-ON-THE-CALCULATION-OF-THE-FREEZING-POINT-ICE-CREAM); Guelph,
freezing curve calculation (https://www.scribd.com/document/488724925/FreezingCurveCalculation); the table of sucrose
after Goff and Hartel, Ice Cream, 7th edition, from memory; Clarke, The Science of Ice Cream
(https://fliphtml5.com/rtvxf/bmfv/The_science_of_ice_creme/43).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from plant.process import freezing
from plant.process.freezing import CornSyrup, Mix

pytestmark = pytest.mark.once

GUELPH = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4, dextrose_equivalent=42)


@pytest.mark.proves(
    "freezing.molal_depression_c", by="published", source="Leighton, 1927: lactose of milk, 0.306 °C by 1.86 x molality"
)
@pytest.mark.proves(
    "freezing.salts_depression_c",
    by="published",
    source="Leighton, 1927: salts of milk, 0.244 °C printed, 0.2446 exact",
)
def test_milk_by_leighton():
    """4.9 % lactose, 8.99 % solids-not-fat, 87.11 % water: 0.306 and 0.245, together 0.55 °C, that of milk."""
    milk = Mix(87.11, msnf=8.99)
    lactose = freezing.molal_depression_c(100 * 4.9 / 87.11, 342.3)
    salts = freezing.salts_depression_c(milk)
    assert lactose == pytest.approx(0.3057, abs=0.00005)
    assert salts == pytest.approx(0.2446, abs=0.00005)
    assert lactose + salts == pytest.approx(0.55, abs=0.005)


@pytest.mark.proves(
    "freezing.sucrose_depression_c",
    by="published",
    source="sucrose table (Goff and Hartel, 7th edition, from memory): lactose of milk as sucrose, 0.329 °C",
)
def test_milk_by_the_table_reads_a_little_cold():
    """0.329 °C for the lactose, 0.57 °C in all: 0.02 °C more than milk has, as the cautions say."""
    assert freezing.sucrose_depression_c(100 * 4.9 / 87.11) == pytest.approx(0.329, abs=0.0005)
    assert freezing.freezing_point(Mix(87.11, msnf=8.99)).temperature_c == pytest.approx(-0.574, abs=0.005)


@pytest.mark.proves(
    "freezing.sucrose_depression_c",
    by="published",
    source="Pickering and Leighton as tabulated by Goff and Hartel, Ice Cream, 7th edition (from memory)",
)
@pytest.mark.parametrize(
    ("grams", "depression"),
    [(3, 0.18), (15, 0.90), (30, 1.86), (60, 3.85), (90, 6.23), (120, 8.92), (150, 11.41), (180, 13.68)],
)
def test_rows_of_the_sucrose_table(grams, depression):
    """As printed."""
    assert freezing.sucrose_depression_c(grams) == depression


@pytest.mark.proves(
    "freezing.sucrose_depression_c",
    by="published",
    source="CRC Handbook, concentrative properties of aqueous solutions: sucrose (from memory)",
)
@pytest.mark.parametrize(
    ("percent", "depression"),
    [(4, 0.23), (10, 0.63), (14, 0.93), (20, 1.47), (28, 2.37), (32, 2.94), (36, 3.63), (40, 4.45)],
)
def test_another_table_of_sucrose(percent, depression):
    """The dairy table lies within 0.08 °C of the chemists' one."""
    grams = 100 * percent / (100 - percent)
    assert freezing.sucrose_depression_c(grams) == pytest.approx(depression, abs=0.08)


@pytest.mark.proves(
    "freezing.sucrose_depression_c",
    by="published",
    source="Clarke, The Science of Ice Cream: 12 % sucrose freezes at about -0.77 °C",
)
def test_sucrose_in_a_textbook_figure():
    """Table -0.82, ideal -0.74, figure -0.77 °C: within 0.05."""
    grams = 100 * 12 / 88
    assert freezing.sucrose_depression_c(grams) == pytest.approx(0.77, abs=0.05)
    assert freezing.sucrose_depression_c(grams) == pytest.approx(0.82, abs=0.005)
    assert freezing.molal_depression_c(grams, 342.3) == pytest.approx(0.74, abs=0.005)


@pytest.mark.proves(
    "freezing.sucrose_equivalents", by="published", source="Guelph freezing curve calculation: SE 20.66 g/100 g"
)
@pytest.mark.proves(
    "freezing.freezing_point", by="published", source="Guelph freezing curve calculation: start of freezing -2.59 °C"
)
def test_mix_of_the_course():
    """SE 20.66; in 100 g of water 34.43; table 2.116; salts 0.474; -2.59 °C."""
    found = freezing.freezing_point(GUELPH)
    assert freezing.sucrose_equivalents(GUELPH) == found.equivalents == pytest.approx(20.66, abs=0.005)
    assert found.equivalents_in_water == pytest.approx(34.43, abs=0.005)
    assert found.sugars_c == pytest.approx(2.116, abs=0.0005)
    assert found.salts_c == pytest.approx(0.474, abs=0.0005)
    assert found.temperature_c == pytest.approx(-2.59, abs=0.005)


@pytest.mark.proves(
    "freezing.salts_depression_c",
    by="published",
    source="Guelph freezing curve calculation: 4.26 for degrees Fahrenheit",
)
def test_factor_of_the_salts_in_fahrenheit():
    """4.26 printed, 2.37 x 1.8 = 4.266."""
    in_fahrenheit = freezing.salts_depression_c(GUELPH) * 1.8
    assert in_fahrenheit == pytest.approx(4.26 * 12 / 60, abs=0.0015)


@pytest.mark.proves(
    "freezing.temperature_at",
    by="published",
    source="Guelph freezing curve calculation, worked out for its mix (table from memory)",
)
@pytest.mark.proves(
    "freezing.freezing_curve",
    by="published",
    source="Guelph freezing curve calculation, worked out for its mix (table from memory)",
)
@pytest.mark.parametrize(
    ("frozen", "temperature"),
    [(10, -2.88), (20, -3.255), (30, -3.75), (40, -4.45), (50, -5.48), (60, -7.11), (70, -9.985), (80, -15.53)],
)
def test_freezing_curve_of_the_course_mix(frozen, temperature):
    """To the digits worked out; the drawn curve passes there."""
    assert freezing.temperature_at(GUELPH, frozen) == pytest.approx(temperature, abs=0.005)
    curve, shares = freezing.freezing_curve(GUELPH, 800)
    between = PchipInterpolator(shares, curve)
    assert between(frozen) == pytest.approx(temperature, abs=0.01)


@pytest.mark.proves(
    "freezing.frozen_at",
    by="published",
    source="Guelph freezing curve calculation, worked out for its mix (table from memory)",
)
@pytest.mark.proves(
    "freezing.draw",
    by="published",
    source="Guelph freezing curve calculation, worked out for its mix (table from memory)",
)
@pytest.mark.parametrize(
    ("temperature", "frozen"),
    [(-4, 33.9), (-5, 45.7), (-5.5, 50.2), (-6, 53.9), (-8, 63.7), (-10, 70.0), (-12, 74.3), (-15, 79.2)],
)
def test_water_frozen_at_the_draw(temperature, frozen):
    """Within 0.3 % of the water: the table is coarse."""
    assert freezing.frozen_at(GUELPH, temperature) == pytest.approx(frozen, abs=0.3)
    assert freezing.draw(GUELPH, temperature).frozen_percent == freezing.frozen_at(GUELPH, temperature)


@pytest.mark.proves(
    "freezing.draw",
    by="published",
    source="University of Guelph, ice cream manufacture: about half of the water is frozen at the draw (from memory)",
)
def test_about_half_of_the_water_is_frozen_at_the_draw():
    """A usual mix drawn at -5 to -6 °C."""
    assert freezing.draw(GUELPH, -5, 40, 60).met
    assert freezing.draw(GUELPH, -6, 40, 60).met


@pytest.mark.proves(
    "freezing.frozen_at", by="independent", source="scipy.optimize.brentq on depressions of the water that is left"
)
@pytest.mark.proves(
    "freezing.temperature_at", by="independent", source="the depressions of a mix with less water, written again"
)
@pytest.mark.parametrize("temperature", [-2.7, -3.3, -4.4, -5.5, -7, -9, -12, -16])
def test_share_by_searching(temperature):
    """Look for the share at which what is left freezes there."""

    def apart(share):
        left = 60 * (1 - share)
        sugars = freezing.sucrose_depression_c(100 * 20.66 / left)
        return temperature + sugars + 2.37 * 12 / left

    share = brentq(apart, 0, 0.8087)
    assert freezing.frozen_at(GUELPH, temperature) == pytest.approx(100 * share, abs=1e-6)
    assert freezing.temperature_at(GUELPH, 100 * share) == pytest.approx(temperature, abs=1e-6)


@pytest.mark.proves(
    "freezing.frozen_limit",
    by="published",
    source="end of the sucrose table, 180 g/100 g (from memory): about 0.80 of the water for the Guelph mix",
)
@pytest.mark.proves("freezing.frozen_limit", by="independent", source="share at which 60 (1 - f) holds 20.66/1.8 g")
def test_where_the_method_ends():
    """0.8087: 11.478 g of the 60 g of water are left."""
    most, coldest = freezing.frozen_limit(GUELPH)
    assert most == pytest.approx(80, abs=1)
    assert 60 * (1 - most / 100) == pytest.approx(20.66 / 1.8)
    assert coldest == pytest.approx(-(13.68 + 2.37 * 12 / (20.66 / 1.8)))


@pytest.mark.proves(
    "freezing.corn_syrup_factor",
    by="published",
    source="Guelph freezing curve calculation: DE/100, 0.42 at 42 DE; by molecular weight 342/429 = 0.80 (from memory)",
)
def test_two_conventions_for_corn_syrup():
    """0.42 or 0.80; the start moves from -2.59 to -2.75 °C (with the rounded 0.80; -2.744 with 342.3 x 42/18016)."""
    assert freezing.corn_syrup_factor(42) == 0.42
    assert freezing.corn_syrup_factor(42, CornSyrup.MOLAR_MASS) == pytest.approx(342 / 429, abs=0.002)
    other = replace(GUELPH, corn_syrup=CornSyrup.MOLAR_MASS)
    assert freezing.freezing_point(other).temperature_c == pytest.approx(-2.75, abs=0.01)


@pytest.mark.proves(
    "freezing.equivalence_by_molar_mass",
    by="published",
    source="Goff and Hartel, Ice Cream: relative freezing point depression, monosaccharides 1.9 (from memory)",
)
@pytest.mark.parametrize(
    ("name", "mass", "factor"),
    [("dextrose", 180.16, 1.9), ("lactose", 342.3, 1.0), ("sorbitol", 182.17, 1.9), ("glycerol", 92.09, 3.7)],
)
def test_relative_freezing_power(name, mass, factor):
    """To the digit printed."""
    assert freezing.equivalence_by_molar_mass(mass) == pytest.approx(factor, abs=0.05), name


@pytest.mark.proves(
    "freezing.sucrose_equivalents",
    by="published",
    source="Goff and Hartel, Ice Cream, 7th edition: HFCS 1.8, dextrose and fructose 1.9 (from memory)",
)
def test_syrups_and_monosaccharides():
    """5 g of each: 9 and 9.5 g."""
    assert freezing.sucrose_equivalents(Mix(60, hfcs=5)) == 9
    assert freezing.sucrose_equivalents(Mix(60, monosaccharides=5)) == 9.5
    assert freezing.sucrose_equivalents(Mix(60, other_equivalents=3)) == 3
