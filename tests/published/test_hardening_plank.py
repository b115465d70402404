"""Plank's formula against printed examples, and the numerical time against Pham's formula.

Plank's P and R: Caballero (ed.), Encyclopaedia of Food Science, Food Technology and Nutrition
(https://www.studmed.ru/view/caballero-b-ed-encyclopaedia-of-food-science-food-technology-and-nutrition-ten-volume-set_b8374cec3ea.html?page=272).
Singh and Heldman, Introduction to Food Engineering, chapter 7; Fellows, Food Processing Technology, chapter on
freezing; Pham, 1986: from memory.
"""

from __future__ import annotations

import pytest

from plant.process import hardening
from plant.process.freezing import Mix, freezing_point
from plant.process.hardening import Body, Conduction, Shape
from plant.process.properties import Composition

pytestmark = pytest.mark.once


@pytest.mark.proves(
    "hardening.plank", by="published", source="Singh and Heldman, chapter 7: sphere of 7 cm, 0.72 h (from memory)"
)
def test_sphere_in_an_air_blast():
    """Density 1000, 250 kJ/kg, k 1.2, h 50, -1.25 in -40 °C: 2603 s, 0.72 h."""
    found = hardening.plank(Body(Shape.SPHERE, 0.07), 1000, 250, -1.25, -40, 50, 1.2)
    assert found == pytest.approx(2603, abs=1)
    assert found / 3600 == pytest.approx(0.72, abs=0.005)


@pytest.mark.proves(
    "hardening.plank",
    by="published",
    source="5 cm of beef, scribd.com/document/537822892 (h from askfilo.com), 12.26 h worked out",
)
def test_slab_of_beef():
    """Density 970, water 73 % x 333.2 kJ/kg, k 1.1, h 5, -1.75 in -30 °C: 12.26 h."""
    found = hardening.plank(Body(Shape.SLAB, 0.05), 970, 0.73 * 333.2, -1.75, -30, 5, 1.1)
    assert found / 3600 == pytest.approx(12.26, abs=0.005)


@pytest.mark.proves(
    "hardening.plank", by="published", source="Caballero (ed.), Encyclopaedia of Food Science: P and R of three shapes"
)
@pytest.mark.parametrize(
    ("shape", "outer", "inner"),
    [(Shape.SLAB, 1 / 2, 1 / 8), (Shape.CYLINDER, 1 / 4, 1 / 16), (Shape.SPHERE, 1 / 6, 1 / 24)],
)
def test_factors_of_the_shapes(shape, outer, inner):
    """With everything else 1 the time is P a/h, then R a2/k."""
    slow_air = hardening.plank(Body(shape, 1), 1000, 1, 0, -1, 1, 500)
    slow_inside = hardening.plank(Body(shape, 1), 1000, 1, 0, -1, 1e7, 1)
    assert slow_air / 1e6 == pytest.approx(outer, abs=3e-4)
    assert slow_inside / 1e6 == pytest.approx(inner, rel=1e-5)


@pytest.mark.proves(
    "hardening.plank",
    by="published",
    source="Plank: cylinder as high as wide has P 1/6 and R 1/24, like a cube or sphere (from memory)",
)
def test_tub_as_high_as_wide():
    """The same as a sphere of its width."""
    given = (550, 90, -10, -30, 15, 0.4)
    tub = hardening.plank(Body(Shape.TUB, 0.2, 0.2), *given)
    assert tub == pytest.approx(hardening.plank(Body(Shape.SPHERE, 0.2), *given))


@pytest.mark.proves(
    "hardening.brick_factors",
    by="published",
    source="Singh and Heldman, chapter 7: lean beef 1 x 0.25 x 0.6 m, P 0.3, R 0.085 (from memory)",
)
@pytest.mark.proves(
    "hardening.plank_brick",
    by="published",
    source="Singh and Heldman, chapter 7: lean beef 1 x 0.25 x 0.6 m, 18.7 h (from memory)",
)
def test_block_of_beef():
    """R is read from a chart as 0.085 (0.0847 by the formula), so 18.7 h printed are 18.65."""
    assert hardening.brick_factors(2.4, 4) == pytest.approx((0.3, 0.085), abs=0.0005)
    found = hardening.plank_brick((1, 0.25, 0.6), 1050, 333.22 * 0.745, -1.75, -30, 30, 1.108)
    assert found / 3600 == pytest.approx(18.7, abs=0.1)


@pytest.mark.proves(
    "hardening.plank_brick",
    by="published",
    source="Fellows, Food Processing Technology: potato cubes of 5 cm, 2648 s (from memory)",
)
def test_cubes_of_potato():
    """Density 1180, 274 kJ/kg, k 2.5, h 30, -1 in -40 °C: 2648 s; 2.5 cm less than half of that."""
    found = hardening.plank_brick((0.05, 0.05, 0.05), 1180, 274, -1, -40, 30, 2.5)
    assert found == pytest.approx(2648, abs=2)
    assert hardening.plank_brick((0.025, 0.025, 0.025), 1180, 274, -1, -40, 30, 2.5) < found / 2


@pytest.mark.proves(
    "hardening.brick_factors",
    by="published",
    source="Plank: plate 1/2 and 1/8, square rod 1/4 and 1/16, cube (from memory)",
)
def test_ends_of_the_brick_chart():
    """A wide plate, a long rod of square section (as the long cylinder), a cube."""
    assert hardening.brick_factors(1000, 1000) == pytest.approx((1 / 2, 1 / 8), rel=3e-3)
    assert hardening.brick_factors(1, 1000) == pytest.approx((1 / 4, 1 / 16), rel=2e-3)
    assert hardening.brick_factors(1, 1) == pytest.approx((1 / 6, 1 / 24))
    assert hardening.brick_factors(1.001, 1.002) == pytest.approx((1 / 6, 1 / 24), rel=2e-3)


def pham_hours(body, table, start, air, core, h, *, freezing, liquid, solid, latent, k_frozen):
    """Pham's time for a slab: two stages, parted at 1.8 + 0.263 Tc + 0.105 Ta [h]; heats in J/(m3 K) and J/m3."""
    half = body.size_m / 2
    parting = 1.8 + 0.263 * core + 0.105 * air
    first = liquid * (start - parting) / ((start + parting) / 2 - air)
    second = (latent + solid * (parting - core)) / (parting - air)
    assert freezing > parting
    return half / h * (first + second) * (1 + h * half / k_frozen / 2) / 3600


@pytest.mark.proves(
    "hardening.hardening_time",
    by="published",
    source="Pham, J. Food Technology 21:209, 1986: freezing time of a slab within 10 % (from memory)",
)
@pytest.mark.parametrize(("size", "h"), [(0.04, 20), (0.08, 20), (0.06, 60)])
def test_food_of_77_percent_water_by_pham(size, h):
    """From 15 to -10 °C at the core in air of -30 °C; Pham's formula was fitted to such foods within 10 %.

    Its inputs are those of this food: 92 % of the water is ice at -10 °C, and frozen it conducts 1.9 W/(m K).
    """
    food = Mix(77, other_equivalents=7.8)
    composition = Composition(water=77, carbohydrate=23)
    table = hardening.ice_cream_table(food, composition, 1060, 0, Conduction.PARALLEL)
    assert freezing_point(food).temperature_c == pytest.approx(-0.6, abs=0.01)
    water, solids = 0.77, 0.23
    expected = pham_hours(
        Body(Shape.SLAB, size), table, 15, -30, -10, h,
        freezing=-0.6,
        liquid=1060e3 * (water * 4.18 + solids * 1.55),
        solid=1060e3 * (water * 2.05 + solids * 1.5),
        latent=1060e3 * 333.4 * water * 0.92,
        k_frozen=1.9,
    )  # fmt: skip
    found = hardening.hardening_time(Body(Shape.SLAB, size), table, 15, -30, h, -10)
    assert found.hours == pytest.approx(expected, rel=0.1)
