"""The drawing of growth over time."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.growth_chart import growth_svg
from plant.pictures.svg import SCREEN

SVG = "{http://www.w3.org/2000/svg}"
COURSE = [(0.0, 0.0), (1.0, 0.2), (2.0, 0.5)]

pytestmark = pytest.mark.once


def texts(svg: str) -> list[str]:
    return [one.text or "" for one in ET.fromstring(svg).iter(f"{SVG}text")]


def desc(svg: str) -> str:
    return next(ET.fromstring(svg).iter(f"{SVG}desc")).text or ""


def test_end_is_named_with_what_is_possible() -> None:
    """The estimate, and lowest to highest, in words too."""
    svg = growth_svg(COURSE, 0.4, 0.7)
    assert "at the end 0.5 (0.4 to 0.7)" in texts(svg)
    assert desc(svg) == "at the end 0.5 (0.4 to 0.7)"


def test_maximum_near_the_growth_is_drawn() -> None:
    """A stroke in the accent with its word."""
    svg = growth_svg(COURSE, 0.4, 0.7, 0.9)
    assert "maximum 0.9" in texts(svg)
    assert SCREEN.accent in svg


def test_maximum_far_above_is_only_said() -> None:
    """It would press the line flat."""
    svg = growth_svg(COURSE, 0.4, 0.7, 7.8)
    assert "maximum 7.8" not in texts(svg)
    assert "maximum 7.8" in desc(svg)


def test_no_growth_is_a_level_line_and_not_a_fault() -> None:
    """Nothing grew: the scale still has a length."""
    assert "at the end 0 (0 to 0)" in texts(growth_svg([(0.0, 0.0), (5.0, 0.0)], 0.0, 0.0))


def test_a_course_of_one_moment_is_refused() -> None:
    """Without a length of time there is nothing to draw."""
    with pytest.raises(ValueError):
        growth_svg([(0.0, 0.0)], 0, 0)
