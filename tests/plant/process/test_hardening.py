"""Hardening: heat is conserved, the laws of similarity hold, and what cannot be is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import hardening
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.freezing import Mix, frozen_limit
from plant.process.hardening import Body, Conduction, HeatTable, Shape
from plant.process.properties import Composition

pytestmark = pytest.mark.once

MIX = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)
TABLE = hardening.ice_cream_table(MIX, hardening.mix_composition(MIX, 12), 1097, 100)
PLAIN = hardening.constant_table(1000, 4.0, 0.5)
SIMPLE = st.sampled_from([Shape.SLAB, Shape.CYLINDER, Shape.SPHERE])
TUB = Body(Shape.TUB, 0.2, 0.25)


def hours(body, *, table=TABLE, start=-5.5, air=-30.0, h=15.0, core=-18.0, cells=12, **more):
    """The time to the core temperature on one grid [h]."""
    return hardening.cool(body, table, start, air, h, core_c=core, cells=cells, **more).reached_s / 3600


# --- the numerical solution


@settings(max_examples=15, deadline=None)
@given(SIMPLE, st.floats(0.02, 0.2), st.floats(-8, 10), st.floats(3, 100))
def test_no_heat_is_lost(shape, size, start, h):
    """What the surface gave off is what the inside lacks, at every moment."""
    course = hardening.cool(Body(shape, size), TABLE, start, -30, h, core_c=-18)
    lost = course.held_kj_kg[0] - course.held_kj_kg
    assert np.allclose(course.removed_kj_kg, lost, rtol=0, atol=1e-8)
    assert (np.diff(course.held_kj_kg) < 0).all()


def test_no_heat_is_lost_from_a_tub():
    """In two dimensions too, with ends that differ."""
    course = hardening.cool(TUB, TABLE, -5.5, -30, 15, hours=3, ends_w_m2k=(30, 2), cells=8)
    assert np.allclose(course.removed_kj_kg, course.held_kj_kg[0] - course.held_kj_kg, rtol=0, atol=1e-8)
    assert course.reached_s is None
    assert course.times_s[-1] == pytest.approx(3 * 3600)


@settings(max_examples=10, deadline=None)
@given(SIMPLE, st.floats(0.03, 0.1), st.floats(5, 50), st.floats(1.2, 3))
def test_twice_the_size_takes_four_times_as_long_in_air_that_takes_half(shape, size, h, factor):
    """Similar bodies: size x f and h/f make the time x f2."""
    one, other = hours(Body(shape, size), h=h), hours(Body(shape, size * factor), h=h / factor)
    assert other == pytest.approx(one * factor**2, rel=1e-3)


@settings(max_examples=10, deadline=None)
@given(SIMPLE, st.floats(0.03, 0.1), st.floats(5, 50))
def test_what_helps_makes_it_faster(shape, size, h):
    """Thinner, more air, colder air, a warmer wish, better conducting: each is faster."""
    usual = hours(Body(shape, size), h=h)
    assert hours(Body(shape, size * 0.8), h=h) < usual
    assert hours(Body(shape, size), h=h * 1.5) < usual
    assert hours(Body(shape, size), h=h, air=-35) < usual
    assert hours(Body(shape, size), h=h, core=-15) < usual
    assert hours(Body(shape, size), h=h, table=hardening.with_conductivity(TABLE, 1.5)) < usual


def test_shapes_stand_in_their_order():
    """Of one width: slab slowest, then the long cylinder, then the tub as high as wide, then the sphere."""
    tub = hours(Body(Shape.TUB, 0.1, 0.1))
    slab, cylinder, sphere = (hours(Body(one, 0.1)) for one in (Shape.SLAB, Shape.CYLINDER, Shape.SPHERE))
    assert slab > cylinder > tub > sphere


def test_high_tub_is_a_long_cylinder_and_a_flat_one_a_slab():
    """Twelve times as high as wide, and twelve times as wide as high."""
    high, flat = Body(Shape.TUB, 0.06, 0.72), Body(Shape.TUB, 0.72, 0.06)
    assert hours(high, cells=6) == pytest.approx(hours(Body(Shape.CYLINDER, 0.06), cells=6), rel=0.01)
    assert hours(flat, cells=60) == pytest.approx(hours(Body(Shape.SLAB, 0.06), cells=6), rel=0.02)


def test_tub_upside_down_takes_as_long():
    """Top and bottom may change places."""
    one, other = (hours(TUB, cells=8, ends_w_m2k=ends) for ends in ((40.0, 3.0), (3.0, 40.0)))
    assert one == pytest.approx(other, rel=1e-6)
    assert one > hours(TUB, cells=8, ends_w_m2k=(40.0, 15.0))


def test_core_is_never_colder_than_the_mean_nor_this_than_the_surface():
    """And each only cools."""
    course = hardening.cool(Body(Shape.CYLINDER, 0.1), TABLE, 4, -30, 15, core_c=-18)
    assert (course.core_c >= course.mean_c - 1e-6).all()
    assert (course.mean_c >= course.surface_c - 1e-6).all()
    assert (np.diff(course.core_c) < 1e-3).all()
    assert course.core_c[-1] == pytest.approx(-18, abs=1e-3)
    assert course.times_s[-1] == course.reached_s


def test_error_falls_by_four_on_each_grid_twice_as_fine():
    """Second order, when nothing but smooth freezing happens: the estimate holds the rest of the error."""
    body = Body(Shape.SLAB, 0.1)
    finest = hours(body, cells=96)
    errors = [abs(hours(body, cells=cells) - finest) for cells in (6, 12, 24)]
    assert 3 < errors[0] / errors[1] < 5
    found = hardening.hardening_time(body, TABLE, -5.5, -30, 15, -18, cells=6)
    assert abs(found.hours - finest) < found.error_hours < 4 * abs(found.hours - finest)


def test_mix_that_still_has_to_freeze_takes_longer():
    """From 4 °C all the ice is still to be made."""
    assert hours(Body(Shape.SLAB, 0.05), start=4) > 1.5 * hours(Body(Shape.SLAB, 0.05))


def test_wall_adds_to_the_air():
    """A millimeter of board, and none."""
    assert hardening.overall_h_w_m2k(15) == 15
    assert hardening.overall_h_w_m2k(15, ((0.001, 0.06),)) == pytest.approx(12)


# --- the product


def test_colder_holds_less_heat_and_conducts_better():
    """The heat rises with temperature; ice conducts better than water."""
    assert (np.diff(TABLE.enthalpy_kj_kg) > 0).all()
    conductivity = np.interp([-30, -18, -10, -5, 0], TABLE.temperature_c, TABLE.conductivity_w_mk)
    assert (np.diff(conductivity) < 0).all()


def test_ice_goes_on_where_the_table_of_sucrose_ends():
    """No step there, more ice below, never all of the water."""
    end = frozen_limit(MIX)[1]
    assert hardening.ice_fraction(MIX, end - 1e-6) == pytest.approx(hardening.ice_fraction(MIX, end + 1e-6), abs=1e-6)
    shares = [hardening.ice_fraction(MIX, at) for at in (-15, -18, -25, -40)]
    assert shares == sorted(shares)
    assert shares[-1] < 1


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 3), st.floats(0.01, 3), st.floats(0, 1))
def test_two_models_bound_each_other(one, other, share):
    """Pieces in the worse conductor conduct less than side by side, and both lie between the two parts."""
    around, pieces = sorted((one, other))
    apart = hardening.maxwell_eucken_w_mk(around, pieces, share)
    beside = hardening.parallel_w_mk(np.array([around, pieces]), np.array([1 - share, share]))
    assert around - 1e-9 <= apart <= beside + 1e-9 <= pieces + 2e-9


def test_parallel_ice_conducts_better_than_ice_apart():
    """So the time by Maxwell and Eucken is the longer one."""
    parallel = hardening.ice_cream_table(
        MIX, hardening.mix_composition(MIX, 12), 1097, 100, Conduction.PARALLEL
    )  # fmt: skip
    assert (parallel.conductivity_w_mk >= TABLE.conductivity_w_mk - 1e-12).all()
    assert hours(Body(Shape.SLAB, 0.1), table=parallel) < hours(Body(Shape.SLAB, 0.1))


def test_air_makes_it_lighter_and_conduct_less():
    """Half the density at 100 %, and less than half the conductivity."""
    dense = hardening.ice_cream_table(MIX, hardening.mix_composition(MIX, 12), 1097, 0)
    assert TABLE.density_kg_m3 == dense.density_kg_m3 / 2
    assert (TABLE.conductivity_w_mk < dense.conductivity_w_mk / 2).all()
    assert np.array_equal(TABLE.enthalpy_kj_kg, dense.enthalpy_kj_kg)


# --- series and Plank


@settings(max_examples=50, deadline=None)
@given(SIMPLE, st.floats(0.01, 1000), st.floats(0.01, 2), st.floats(0, 1))
def test_difference_left_falls_with_time_and_toward_the_surface(shape, biot, fourier, place):
    """Between 1 and 0, less later, less outward."""
    here = hardening.cooling_ratio(shape, biot, fourier, place)
    assert -1e-6 <= here <= 1 + 1e-6
    assert hardening.cooling_ratio(shape, biot, fourier * 1.1, place) <= here + 1e-9
    assert hardening.cooling_ratio(shape, biot, fourier, place / 2) >= here - 1e-9


@settings(max_examples=50, deadline=None)
@given(SIMPLE, st.floats(1e-3, 1e6))
def test_roots_rise_by_about_pi(shape, biot):
    """One root in each stretch."""
    roots = hardening.series_roots(shape, biot, 10)
    assert (np.diff(roots) > 2).all()
    assert (np.diff(roots) < 4.8).all()


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 50), st.floats(1, 20))
def test_brick_factors_lie_between_cube_and_plate(first, more):
    """P from 1/6 to 1/2, R from 1/24 to 1/8."""
    outer, inner = hardening.brick_factors(first, first * more)
    assert 1 / 6 - 1e-9 <= outer <= 1 / 2
    assert 1 / 24 - 1e-6 <= inner <= 1 / 8


def test_plank_takes_a_tub_faster_than_either_of_its_parts():
    """As the long cylinder and the slab between its ends together."""
    given_ = (550, 90, -10, -30, 15, 0.4)
    tub = hardening.plank(Body(Shape.TUB, 0.2, 0.25), *given_)
    assert tub < hardening.plank(Body(Shape.CYLINDER, 0.2), *given_) < hardening.plank(Body(Shape.SLAB, 0.2), *given_)


def test_brick_with_its_sides_in_any_order():
    """The shortest leads, wherever it stands."""
    given_ = (1050, 248.25, -1.75, -30, 30, 1.108)
    assert hardening.plank_brick((1, 0.25, 0.6), *given_) == hardening.plank_brick((0.6, 1, 0.25), *given_)


# --- refusals


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Body(Shape.SLAB, 0.0001),
        lambda: Body(Shape.TUB, 0.2, 3),
        lambda: hours(Body(Shape.SLAB, 0.1), start=31),
        lambda: hours(Body(Shape.SLAB, 0.1), air=-41),
        lambda: hours(Body(Shape.SLAB, 0.1), h=0.4),
        lambda: hours(Body(Shape.SLAB, 0.1), cells=3),
        lambda: hours(TUB, cells=61),
        lambda: hours(Body(Shape.SLAB, 0.1), core=float("nan")),
        lambda: hardening.cool(Body(Shape.SLAB, 0.1), TABLE, -5, -30, 15, hours=60 * 24 + 1),
        lambda: hardening.hardening_time(TUB, TABLE, -5, -30, 15, -18, cells=31),
        lambda: hardening.ice_fraction(MIX, -41),
        lambda: hardening.maxwell_eucken_w_mk(1, 0.5, 1.01),
        lambda: hardening.maxwell_eucken_w_mk(0, 0.5, 0.5),
        lambda: hardening.overall_h_w_m2k(15, ((0.2, 0.06),)),
        lambda: hardening.cooling_ratio(Shape.SLAB, 1, 0.001),
        lambda: hardening.cooling_ratio(Shape.SLAB, 0, 1),
        lambda: hardening.cooling_ratio(Shape.SLAB, 1, 1, 1.1),
        lambda: hardening.semi_infinite_ratio(-0.01, 1e-6, 1),
        lambda: hardening.series_roots(Shape.SLAB, 1, 201),
        lambda: hardening.brick_factors(2, 1.9),
        lambda: hardening.plank(Body(Shape.SLAB, 0.05), 0, 250, -1, -30, 15, 1),
        lambda: hardening.constant_table(1000, 0, 0.5),
        lambda: hardening.with_conductivity(TABLE, 0),
        lambda: TABLE.heat_at(-41),
    ],
)
def test_outside_its_range_it_refuses(wrong):
    """Each bound is kept."""
    with pytest.raises(OutsideRange):
        wrong()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: Body(Shape.SLAB, 0.1, 0.2), "a tub has a height"),
        (lambda: Body(Shape.TUB, 0.1), "a tub has a height"),
        (lambda: hours(Body(Shape.SLAB, 0.1), core=-5), "already as cold"),
        (lambda: hours(Body(Shape.SLAB, 0.1), start=-30), "colder than the product"),
        (lambda: hardening.cool(Body(Shape.SLAB, 0.1), TABLE, -5, -30, 15), "a core temperature or for a time"),
        (lambda: hours(Body(Shape.SLAB, 0.1), ends_w_m2k=(15.0, 15.0)), "only a tub"),
        (lambda: hardening.series_roots(Shape.TUB, 1), "slab, a cylinder or a sphere"),
        (lambda: HeatTable(np.array([0.0, 1.0]), np.array([1.0, 0.0]), np.ones(2), 1000), "must rise"),
        (lambda: HeatTable(np.array([0.0]), np.array([1.0]), np.ones(1), 1000), "at least two"),
        (lambda: hardening.parallel_w_mk(np.array([1.0]), np.array([1.0, 2.0])), "each part"),
        (
            lambda: hardening.ice_cream_table(MIX, Composition(water=70, fat=30), 1097, 100),
            "must have the water of the mix",
        ),
        (lambda: hardening.mix_composition(MIX, 5), "not to 100"),
        (lambda: hardening.plank_brick((0.1, 0.1), 1000, 250, -1, -30, 15, 1), "three sides"),
    ],
)
def test_what_makes_no_sense_is_refused_with_a_sentence(wrong, says):
    """Shapes, wishes and tables that cannot be."""
    with pytest.raises(CalculationError, match=says):
        wrong()


def test_room_not_colder_than_the_wish_is_infeasible():
    """-18 °C in air of -18 °C never; and nearly so not within 60 days."""
    with pytest.raises(Infeasible, match="nothing becomes -18"):
        hours(Body(Shape.SLAB, 0.1), air=-18)
    with pytest.raises(Infeasible, match="within 60 days"):
        hours(Body(Shape.SLAB, 1.5), air=-18.001, h=1)
    with pytest.raises(Infeasible, match="freezes nothing"):
        hardening.plank(Body(Shape.SLAB, 0.05), 1000, 250, -10, -10, 15, 1)


def test_composition_with_ice_already_in_it_is_refused():
    """The ice comes from the curve."""
    frozen = Composition(water=59.7, fat=12, carbohydrate=28, ice=0.3)
    with pytest.raises(CalculationError, match="none of it frozen"):
        hardening.ice_cream_table(MIX, frozen, 1097, 100)


def test_tables_of_equal_mixes_are_equal():
    """The same given, the same table: nothing is drawn by lot."""
    again = hardening.ice_cream_table(replace(MIX), hardening.mix_composition(MIX, 12), 1097, 100)
    assert np.array_equal(again.conductivity_w_mk, TABLE.conductivity_w_mk)
