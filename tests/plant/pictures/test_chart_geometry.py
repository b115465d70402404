"""Where the pen was on the paper, against another way of finding it: paper turned, the arm's swing searched for.

Plane geometry; the clock face of a 24-hour chart as anybody can read it.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from plant.pictures.chart_geometry import DOWN, CircularFit, NoFit, PenArm, StripFit, pen_arm

pytestmark = pytest.mark.once

HOUR = 3_600_000
DAY = 24 * HOUR
NOON = 20_515 * DAY + 12 * HOUR


def face(**changes: Any) -> CircularFit:
    """A 24-hour chart around (500, 400): 100 °F at 100, 200 °F at 300; noon at the top, hours clockwise."""
    values: dict[str, Any] = {
        "center_x": 500.0,
        "center_y": 400.0,
        "inner": 100.0,
        "inner_value": 100.0,
        "outer": 300.0,
        "outer_value": 200.0,
        "mark_x": 500.0,
        "mark_y": 100.0,
        "mark_ms": NOON,
        "turn_ms": DAY,
        "clockwise": True,
    }
    return CircularFit(**(values | changes))


@pytest.mark.parametrize(
    ("hours", "value", "at"),
    [
        (0, 200, (500, 100)),  # top
        (6, 200, (800, 400)),  # a quarter on: right
        (12, 200, (500, 700)),  # half a turn: bottom
        (-6, 100, (400, 400)),  # a quarter back: left, on the inner circle
        (24, 150, (500, 200)),  # the next turn lies over the first
    ],
)
def test_hours_of_a_clock_face(hours: int, value: float, at: tuple[float, float]) -> None:
    """Noon at the top, six at the right, midnight at the bottom, as on a 24-hour dial."""
    x, y = face().place(np.array([NOON + hours * HOUR]), np.array([float(value)]))
    assert (x[0], y[0]) == pytest.approx(at, abs=1e-9)


def test_hours_the_other_way_round() -> None:
    """Six at the left."""
    x, y = face(clockwise=False).place(np.array([NOON + 6 * HOUR]), np.array([200.0]))
    assert (x[0], y[0]) == pytest.approx((200, 400))


def by_matrices(fit: CircularFit, at_ms: int, value: float) -> complex:
    """The same point found another way, in complex numbers: the recorder stands still, the paper turns under it.

    The arm swings about a fixed pivot until its tip is as far from the center as the value asks: a root is searched,
    no law of cosines is used. What is written is then turned back with the paper.
    """
    arm = fit.arm
    assert arm is not None
    center = complex(fit.center_x, fit.center_y)
    pivot = complex(arm.pivot, 0)

    def tip(radius: float) -> complex:
        def miss(swing: float) -> float:
            return abs(pivot - arm.length * cmath.exp(-1j * arm.side * swing)) - radius

        return pivot - arm.length * cmath.exp(-1j * arm.side * brentq(miss, 0.0, math.pi, xtol=1e-15))

    def wanted(v: float) -> float:
        share = (v - fit.inner_value) / (fit.outer_value - fit.inner_value)
        return fit.inner + share * (fit.outer - fit.inner)

    mark = complex(fit.mark_x, fit.mark_y) - center
    way = 1 if fit.clockwise else -1
    # Where the mark was written on the recorder, and so how the paper lay then.
    paper_then = mark / tip(abs(mark))
    turned = cmath.exp(2j * math.pi * way * (at_ms - fit.mark_ms) / fit.turn_ms)
    return center + paper_then * turned * tip(wanted(value))


@given(
    length=st.floats(150, 600),
    share=st.floats(0.72, 1.4),
    side=st.sampled_from([1, -1]),
    clockwise=st.booleans(),
    hours=st.floats(-30, 30),
    value=st.floats(100, 200),
    angle=st.floats(0, 6.28),
    radius=st.floats(120, 290),
)
def test_pen_arm_against_a_recorder_that_turns_its_paper(
    length: float, share: float, side: int, clockwise: bool, hours: float, value: float, angle: float, radius: float
) -> None:
    """Wherever the arm reaches, both ways of finding the point agree to a thousandth of a thousandth."""
    pivot = length * share
    if not abs(pivot - length) < 99 or pivot + length < 301:
        return  # the arm does not sweep from inside the inner circle to outside the outer one
    fit = face(
        arm=PenArm(length, pivot, side),
        clockwise=clockwise,
        mark_x=500 + radius * math.cos(angle),
        mark_y=400 + radius * math.sin(angle),
    )
    at = NOON + round(hours * HOUR)
    x, y = (float(one[0]) for one in fit.place(np.array([at]), np.array([value])))
    other = by_matrices(fit, at, value)
    assert (x, y) == pytest.approx((other.real, other.imag), abs=1e-3)


def test_time_lines_are_arcs_about_the_pivot() -> None:
    """All that is written at one moment lies an arm's length from one point, which is a pivot's from the center."""
    fit = face(arm=PenArm(280.0, 300.0, 1))
    x, y = fit.place(np.full(5, NOON + 5 * HOUR), np.linspace(100, 200, 5))
    # The circle through three of the points, by its determinant; the other two must lie on it.
    (x1, x2, x3), (y1, y2, y3) = x[:3], y[:3]
    twice = 2 * (x1 * (y2 - y3) + x2 * (y3 - y1) + x3 * (y1 - y2))
    s1, s2, s3 = x1**2 + y1**2, x2**2 + y2**2, x3**2 + y3**2
    px = (s1 * (y2 - y3) + s2 * (y3 - y1) + s3 * (y1 - y2)) / twice
    py = (s1 * (x3 - x2) + s2 * (x1 - x3) + s3 * (x2 - x1)) / twice
    assert np.hypot(x - px, y - py) == pytest.approx(np.full(5, 280.0))
    assert math.hypot(px - 500, py - 400) == pytest.approx(300.0)


@pytest.mark.parametrize("bends_clockwise", [True, False])
@pytest.mark.parametrize(("length", "pivot"), [(280.0, 300.0), (300.0, 260.0), (310.0, 310.0)])
def test_bend_is_what_was_said(length: float, pivot: float, bends_clockwise: bool) -> None:
    """Followed outward, the line goes clockwise (y grows downward) or the other way."""
    fit = face(arm=pen_arm(length, pivot, bends_clockwise, 100, 300))
    x, y = fit.place(np.full(2, NOON), np.array([100.0, 200.0]))
    inner, outer = np.arctan2(y - 400, x - 500)
    turned = math.remainder(outer - inner, 2 * math.pi)
    assert (turned > 0) == bends_clockwise


@given(
    x=st.floats(100, 900),
    y=st.floats(0, 800),
    armed=st.booleans(),
    clockwise=st.booleans(),
)
def test_reading_a_point_is_placing_it_again(x: float, y: float, armed: bool, clockwise: bool) -> None:
    """The time and value of a point, placed, is the point."""
    fit = face(clockwise=clockwise, arm=PenArm(300.0, 305.0, 1) if armed else None)
    if math.hypot(x - 500, y - 400) < 20:
        return
    at, value = fit.read(x, y, NOON)
    assert NOON <= at <= NOON + DAY
    if fit.radius(np.array([value]))[0] > 0:
        back = fit.place(np.array([at]), np.array([value]))
        assert (back[0][0], back[1][0]) == pytest.approx((x, y), abs=0.05)  # a millisecond is 4e-6 of a degree


def test_where_no_pen_writes_nothing_is_drawn() -> None:
    """Beyond the center, and beyond the arm: nan, never a wrong place."""
    x, _y = face().place(np.array([NOON, NOON]), np.array([49.0, 51.0]))
    assert np.isnan(x).tolist() == [True, False]  # 50 °F is the center itself
    short = face(arm=PenArm(120.0, 200.0, 1))
    x, _y = short.place(np.array([NOON, NOON]), np.array([200.0, 212.0]))
    assert np.isnan(x).tolist() == [False, True]  # it reaches 320
    with pytest.raises(NoFit):
        face().read(500, 400, NOON)


@pytest.mark.parametrize(
    ("changes", "mark"),
    [
        ({"outer": 100.0}, "outer_x"),
        ({"outer": 90.0}, "outer_x"),
        ({"outer_value": 100.0}, "outer_value"),
        ({"turn_ms": 0}, "mark_x"),
        ({"mark_x": 501.0, "mark_y": 401.0}, "mark_x"),
        ({"arm": PenArm(50.0, 400.0, 1)}, "mark_x"),
    ],
)
def test_marks_that_give_no_drawing_are_named(changes: dict[str, Any], mark: str) -> None:
    """Which one to look at again."""
    with pytest.raises(NoFit) as refused:
        face(**changes)
    assert refused.value.mark == mark and str(refused.value.sentence)


@pytest.mark.parametrize(
    ("length", "pivot", "mark"),
    [(50, 400, "arm_length"), (-5, 300, "arm_length"), (300, 0, "arm_length"), (100, 200, "arm_bend")],
)
def test_arm_that_cannot_be_is_refused(length: float, pivot: float, mark: str) -> None:
    """Too short, none, or one whose lines come back to the same direction at both circles."""
    with pytest.raises(NoFit) as refused:
        pen_arm(length, pivot, True, 100, 300)
    assert refused.value.mark == mark


def strip(**changes: Any) -> StripFit:
    """An hour from left to right over 800, 0 to 200 °F from bottom to top over 400."""
    values: dict[str, Any] = {
        "first_x": 100.0,
        "first_y": 500.0,
        "first_ms": NOON,
        "first_value": 0.0,
        "second_x": 900.0,
        "second_y": 100.0,
        "second_ms": NOON + HOUR,
        "second_value": 200.0,
    }
    return StripFit(**(values | changes))


def test_strip_is_linear_both_ways() -> None:
    """Half an hour is the middle; 50 °F a quarter up; before the first corner it goes on."""
    x, y = strip().place(np.array([NOON + HOUR // 2, NOON - HOUR // 8]), np.array([50.0, 0.0]))
    assert x.tolist() == [500, 0] and y.tolist() == [400, 500]
    assert strip().read(500, 400, 0) == (NOON + HOUR // 2, 50.0)


def test_strip_that_runs_down_the_photo() -> None:
    """Time along y, values along x."""
    fit = strip(runs=DOWN)
    x, y = fit.place(np.array([NOON + HOUR // 4]), np.array([50.0]))
    assert (x[0], y[0]) == (300, 400)
    assert fit.read(300, 400, 0) == (NOON + HOUR // 4, 50.0)


@pytest.mark.parametrize(
    ("changes", "mark"),
    [
        ({"second_x": 102.0}, "second_x"),
        ({"second_y": 498.0}, "second_x"),
        ({"second_ms": NOON}, "second_at"),
        ({"second_value": 0.0}, "second_value"),
    ],
)
def test_corners_that_give_no_drawing_are_named(changes: dict[str, Any], mark: str) -> None:
    """Which one to look at again."""
    with pytest.raises(NoFit) as refused:
        strip(**changes)
    assert refused.value.mark == mark


def test_marks_may_be_in_celsius_or_upside_down() -> None:
    """Values may fall outward; nothing says which way a scale grows."""
    fit = replace(face(), inner_value=200.0, outer_value=100.0)
    assert fit.radius(np.array([100.0, 200.0])).tolist() == [300, 100]
