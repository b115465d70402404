"""The picture of the freezing curve."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.freezing_curve import WORDS, freezing_curve_svg
from plant.pictures.svg import SCREEN

pytestmark = pytest.mark.once

CURVE = [(-2.6, 0.0), (-3.3, 20.0), (-5.5, 50.0), (-10.0, 70.0), (-16.2, 80.9)]


def test_it_is_a_drawing_that_says_in_words_what_it_shows():
    """Title and description, the draw and both ends of the wanted range."""
    svg = freezing_curve_svg(CURVE, (-5.5, 50.2), (45, 55))
    root = ET.fromstring(svg)
    texts = ["".join(one.itertext()) for one in root]
    assert texts[0] == WORDS["title"]
    assert texts[1] == "draw −5.5 °C, 50.2 %; wanted from 45 %; wanted up to 55 %"


def test_draw_within_the_range_is_a_dot_and_out_of_it_a_wedge():
    """The shape differs, not only the ink."""
    assert "<circle" in freezing_curve_svg(CURVE, (-5.5, 50.2), (45, 55))
    out = freezing_curve_svg(CURVE, (-8, 63.7), (45, 55), out=True)
    assert "<circle" not in out
    assert f'fill="{SCREEN.accent}"' in out


@pytest.mark.parametrize("draw", [(-16.2, 80.9), (-2.6, 0.0), (4.0, 0.0), (20.0, 0.0), (-2.7, 3.0)])
def test_draw_anywhere_stays_in_the_drawing(draw):
    """At both ends and far above the start its words begin and end inside."""
    root = ET.fromstring(freezing_curve_svg(CURVE, draw))
    for one in root.iter("{http://www.w3.org/2000/svg}text"):
        assert 0 <= float(one.get("x")) <= 620


def test_curve_of_one_point_is_refused():
    """There is nothing to draw it over."""
    with pytest.raises(ValueError, match="no length"):
        freezing_curve_svg([(-2.6, 0.0)], (-2.6, 0.0))


def test_words_can_be_another_language():
    """And what they say is escaped."""
    assert "&lt;b&gt;" in freezing_curve_svg(CURVE, (-5.5, 50.2), words_of={"draw": "<b>"})
