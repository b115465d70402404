"""The picture of hardening."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.hardening_chart import WORDS, hardening_svg

pytestmark = pytest.mark.once

CORE = [(0.0, -5.5), (4.0, -5.6), (8.0, -15.0), (8.5, -18.0)]
SURFACE = [(0.0, -9.0), (4.0, -25.0), (8.0, -28.0), (8.5, -28.4)]


def test_it_is_a_drawing_that_says_in_words_what_it_shows():
    """Title, the wanted temperature and when it is reached."""
    root = ET.fromstring(hardening_svg(CORE, SURFACE, -18))
    texts = ["".join(one.itertext()) for one in root]
    assert texts[0] == WORDS["title"]
    assert texts[1] == "wanted at the core −18 °C; reached after 8.5 h"


def test_lines_are_named_and_differ_without_color():
    """The core's line is whole, the surface's broken."""
    svg = hardening_svg(CORE, SURFACE, -18)
    assert svg.count('stroke-dasharray="6 4"') == 1
    assert ">core</text>" in svg
    assert ">surface</text>" in svg


def test_words_can_be_another_language():
    """And what they say is escaped."""
    assert "&lt;b&gt;" in hardening_svg(CORE, SURFACE, -18, {"core": "<b>"})


def test_no_time_is_refused():
    """A course needs some length."""
    with pytest.raises(ValueError, match="no length"):
        hardening_svg(CORE[:1], SURFACE[:1], -18)
