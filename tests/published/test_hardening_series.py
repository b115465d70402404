"""Numerical conduction against exact solutions, and these against textbooks.

Incropera and others, Fundamentals of Heat and Mass Transfer, chapter 5; Cengel, Heat Transfer, chapter 4; Carslaw and
Jaeger, Conduction of Heat in Solids, 2nd edition: all from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erf, erfc, j0

from plant.process import hardening
from plant.process.hardening import Body, HeatTable, Shape

pytestmark = pytest.mark.once

PLAIN = hardening.constant_table(1000, 4.0, 0.5)
DIFFUSIVITY = 0.5 / 4e6
SIMPLE = (Shape.SLAB, Shape.CYLINDER, Shape.SPHERE)


@pytest.mark.proves(
    "hardening.series_roots",
    by="published",
    source="Incropera and others, table 5.1, first roots for Bi 0.1, 1, 10, 100 (from memory)",
)
@pytest.mark.parametrize(
    ("biot", "slab", "cylinder", "sphere"),
    [
        (0.1, 0.3111, 0.4417, 0.5423),
        (1, 0.8603, 1.2558, 1.5708),
        (10, 1.4289, 2.1795, 2.8363),
        (100, 1.5552, 2.3809, 3.1102),
    ],
)
def test_first_roots(biot, slab, cylinder, sphere):
    """Four decimals as printed."""
    found = [hardening.series_roots(shape, biot)[0] for shape in SIMPLE]
    assert found == pytest.approx([slab, cylinder, sphere], abs=5e-5)


@pytest.mark.proves(
    "hardening.cooling_ratio",
    by="published",
    source="Incropera and others, table 5.1, first factors for Bi 0.1, 1, 10, 100 (from memory)",
)
@pytest.mark.parametrize(
    ("biot", "slab", "cylinder", "sphere"),
    [
        (0.1, 1.0161, 1.0246, 1.0298),
        (1, 1.1191, 1.2071, 1.2732),
        (10, 1.2620, 1.5677, 1.9249),
        (100, 1.2731, 1.6015, 1.9990),
    ],
)
def test_first_factors(biot, slab, cylinder, sphere):
    """Late enough only the first term is left: C1 exp(-root2 Fo), four decimals of C1 as printed."""
    for shape, factor in zip(SIMPLE, (slab, cylinder, sphere), strict=True):
        root = hardening.series_roots(shape, biot)[0]
        late = hardening.cooling_ratio(shape, biot, 2.0) / math.exp(-2 * root**2)
        assert late == pytest.approx(factor, abs=6e-5)


@pytest.mark.proves(
    "hardening.cooling_ratio",
    by="published",
    source="Incropera, pipeline wall: Bi 0.313, Fo 5.64, 0.214; Cengel, shaft: Bi 0.537, Fo 1.07, 0.41 (from memory)",
)
def test_worked_examples_of_the_middle():
    """A wall from -20 in 60 °C reaches 42.9 °C; a steel shaft from 600 in 200 °C reaches 364 °C."""
    wall = hardening.cooling_ratio(Shape.SLAB, 0.313, 5.64)
    # The book takes root and factor between two rows of its table: 0.214 for 0.2123.
    assert wall == pytest.approx(0.214, abs=0.002)
    assert 60 - 80 * wall == pytest.approx(42.9, abs=0.2)
    shaft = hardening.cooling_ratio(Shape.CYLINDER, 80 * 0.1 / 14.9, 1.07)
    assert 200 + 400 * shaft == pytest.approx(364, abs=2)


@pytest.mark.proves(
    "hardening.hardening_time",
    by="published",
    source="Cengel, Heat Transfer, example of the egg: 5 cm sphere, Bi 47.8, 865 s (from memory)",
)
def test_egg_in_boiling_water():
    """From 5 to 70 °C in water of 95 °C with 1200 W/(m2 K); by symmetry from 95 to 30 °C in 5 °C: 865 s."""
    egg = hardening.constant_table(997, 0.627 / (0.151e-6 * 997) / 1000, 0.627)
    found = hardening.hardening_time(Body(Shape.SPHERE, 0.05), egg, 95, 5, 1200, 30)
    assert found.hours * 3600 == pytest.approx(865, abs=5)


@pytest.mark.proves(
    "hardening.tub_ratio",
    by="published",
    source="Cengel, Heat Transfer, short brass cylinder: 10 x 12 cm after 900 s at 60 W/(m2 K), 0.4 and 63 °C (from "
    "memory)",
)
def test_short_brass_cylinder():
    """0.8 x 0.5 by the charts, 63 °C from 120 in 25 °C; charts are read to a hundredth."""
    fourier = 33.9e-6 * 900
    found = hardening.tub_ratio(60 * 0.05 / 110, fourier / 0.05**2, 60 * 0.06 / 110, fourier / 0.06**2)
    assert found == pytest.approx(0.4, abs=0.01)
    assert 25 + 95 * found == pytest.approx(63, abs=1)


@pytest.mark.proves(
    "hardening.semi_infinite_ratio",
    by="published",
    source="Incropera and others, table B.2 (erf) and the buried water main: 0.68 m after 60 days (from memory)",
)
def test_water_main_that_does_not_freeze():
    """erf(0.5) is 0.5205; soil of 20 °C under a surface of -15 °C is at 0 °C in 0.68 m after 60 days."""
    assert hardening.semi_infinite_ratio(1.0, 1.0, 1.0) == pytest.approx(0.52050, abs=5e-6)
    left = hardening.semi_infinite_ratio(0.68, 0.138e-6, 60 * 86400)
    assert -15 + 35 * left == pytest.approx(0, abs=0.2)


@pytest.mark.proves(
    "hardening.semi_infinite_ratio", by="independent", source="the bell curve integrated with scipy.integrate.quad"
)
def test_error_function_by_quadrature():
    """2/sqrt(pi) times the integral of exp(-u2)."""
    depth, diffusivity, time = 0.013, 2.3e-7, 740.0
    end = depth / (2 * math.sqrt(diffusivity * time))
    by_hand = 2 / math.sqrt(math.pi) * quad(lambda u: math.exp(-u * u), 0, end)[0]
    assert hardening.semi_infinite_ratio(depth, diffusivity, time) == pytest.approx(by_hand, abs=1e-10)


@pytest.mark.proves(
    "hardening.cooling_ratio", by="independent", source="short times: the error function of a half-infinite solid"
)
def test_series_near_the_surface_at_once_is_the_half_infinite_solid():
    """Bi without end, Fo 0.005, a slab: the other side has felt nothing."""
    for place in (0.7, 0.8, 0.9, 0.95):
        series = hardening.cooling_ratio(Shape.SLAB, 1e8, 0.005, place)
        assert series == pytest.approx(hardening.semi_infinite_ratio(1 - place, 1.0, 0.005), abs=1e-5)


@pytest.mark.proves(
    "hardening.cooling_ratio", by="independent", source="lumped heat capacity, exact for a Biot number near 0"
)
@pytest.mark.parametrize(("shape", "sides"), [(Shape.SLAB, 1), (Shape.CYLINDER, 2), (Shape.SPHERE, 3)])
def test_body_that_conducts_perfectly_cools_as_a_whole(shape, sides):
    """exp(-n Bi Fo) with n = 1, 2, 3 surfaces a volume."""
    assert hardening.cooling_ratio(shape, 1e-3, 300) == pytest.approx(math.exp(-sides * 0.3), rel=1e-3)


@pytest.mark.proves(
    "hardening.series_roots", by="independent", source="the eigenvalue equations written with their quotients"
)
def test_roots_fulfil_their_equations():
    """x tan x, x J1/J0 and 1 - x cot x give back the Biot number."""
    for biot in (0.02, 3.0, 70.0):
        for x in hardening.series_roots(Shape.SLAB, biot, 6):
            assert x * math.tan(x) == pytest.approx(biot, rel=1e-6)
        for x in hardening.series_roots(Shape.SPHERE, biot, 6):
            assert 1 - x / math.tan(x) == pytest.approx(biot, rel=1e-6)
        for x in hardening.series_roots(Shape.CYLINDER, biot, 6):
            # J1 as minus the slope of J0.
            slope = (j0(x + 1e-6) - j0(x - 1e-6)) / 2e-6
            assert -x * slope / j0(x) == pytest.approx(biot, rel=1e-5)


@pytest.mark.proves("hardening.cool", by="independent", source="series of Carslaw and Jaeger, Biot 0.25 to infinite")
@pytest.mark.proves(
    "hardening.hardening_time", by="independent", source="series of Carslaw and Jaeger, Biot 0.25 to infinite"
)
@pytest.mark.proves(
    "hardening.constant_table", by="independent", source="series of Carslaw and Jaeger, Biot 0.25 to infinite"
)
@pytest.mark.parametrize("shape", SIMPLE)
@pytest.mark.parametrize("h", [5, 50, 1e7])
def test_constant_properties(shape, h):
    """The time to a quarter of the difference, within the error that is said and within a thousandth."""
    exact = brentq(
        lambda s: hardening.cooling_ratio(shape, h * 0.025 / 0.5, DIFFUSIVITY * s / 0.025**2) - 0.25, 20, 5e5
    )
    found = hardening.hardening_time(Body(shape, 0.05), PLAIN, 20, 0, h, 5)
    assert abs(found.hours * 3600 - exact) < found.error_hours * 3600
    assert found.hours * 3600 == pytest.approx(exact, rel=1e-3)


@pytest.mark.proves(
    "hardening.cool", by="independent", source="product solution of a cylinder with ends (Carslaw and Jaeger)"
)
@pytest.mark.proves("hardening.tub_ratio", by="independent", source="finite volumes in r and z")
@pytest.mark.parametrize("height", [0.05, 0.1, 0.17])
def test_tub_with_constant_properties(height):
    """The core after an hour and a half within 0.2 % of the difference, for flat and high tubs."""
    course = hardening.cool(Body(Shape.TUB, 0.1, height), PLAIN, 20, 0, 50, hours=1.5, cells=20)
    fourier = DIFFUSIVITY * 5400
    exact = hardening.tub_ratio(
        50 * 0.05 / 0.5, fourier / 0.05**2, 50 * height / 2 / 0.5, fourier / (height / 2) ** 2
    )  # fmt: skip
    assert course.core_c[-1] / 20 == pytest.approx(exact, abs=0.002)


@pytest.mark.proves(
    "hardening.cool", by="independent", source="error function of a half-infinite solid, surface at once"
)
def test_heat_that_enters_a_thick_slab_at_once():
    """2 k dT sqrt(t/(pi a)) through each face, before the middle feels anything."""
    course = hardening.cool(Body(Shape.SLAB, 0.3), PLAIN, 20, 0, 1e7, hours=1, cells=300)
    through = course.removed_kj_kg[-1] * 1000 * 1000 * 0.15
    assert through == pytest.approx(2 * 0.5 * 20 * math.sqrt(3600 / (math.pi * DIFFUSIVITY)), rel=0.003)
    assert course.core_c[-1] == pytest.approx(20, abs=1e-3)


@pytest.mark.proves(
    "hardening.cool",
    by="independent",
    source="Neumann's solution of freezing in a half-infinite body (Carslaw and Jaeger, section 11.2, from memory)",
)
def test_freezing_at_one_temperature_by_neumann():
    """Water-like, from 4 °C, surface at -20 °C at once: the heat through it after two hours within 1 %.

    The table melts over a tenth of a degree instead of at 0 °C.
    """
    cold, warm, latent, density = (2.2, 2.0), (0.6, 4.2), 300.0, 1000.0
    temperatures = np.array([-40.0, -0.05, 0.05, 20.0])
    heat = np.array([-latent - 39.95 * cold[1], -latent, 0.0, 19.95 * warm[1]])
    table = HeatTable(temperatures, heat, np.array([cold[0], cold[0], warm[0], warm[0]]), density)
    a_cold, a_warm = (k / (density * c * 1000) for k, c in (cold, warm))
    ratio = math.sqrt(a_cold / a_warm)

    def balance(x):
        warm_side = warm[0] / cold[0] * ratio * 4 / 20 * math.exp(-((x * ratio) ** 2)) / erfc(x * ratio)
        return math.exp(-x * x) / erf(x) - warm_side - x * latent * math.sqrt(math.pi) / (cold[1] * 20)

    front = brentq(balance, 1e-3, 3)
    time = 7200.0
    exact = 2 * cold[0] * 20 / erf(front) * math.sqrt(time / (math.pi * a_cold))
    course = hardening.cool(Body(Shape.SLAB, 0.3), table, 4, -20, 1e7, hours=2, cells=150)
    assert course.core_c[-1] == pytest.approx(4, abs=0.05)
    assert course.removed_kj_kg[-1] * 1000 * density * 0.15 == pytest.approx(exact, rel=0.01)
