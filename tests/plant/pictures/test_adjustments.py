"""Measurements against the others."""

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.adjustments import adjustments_svg
from plant.pictures.svg import SCREEN

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
DAY = [("milk", -1.2), ("skim, fat %", 0.4), ("cream", 3.1)]


def texts(svg):
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_every_measurement_and_the_limit_are_said():
    """Names, values and both limits stand in words."""
    assert {"milk", "skim, fat %", "cream", "−1.2", "0.4", "3.1", "limit 2.39", "limit −2.39"} <= set(
        texts(adjustments_svg(DAY, 2.39))
    )


def test_what_is_beyond_the_limit_is_a_wedge():
    """Shape and color change, so that it is seen in black on white too."""
    within, beyond = adjustments_svg(DAY[:2], 2.39), adjustments_svg(DAY, 2.39)
    wedges = [node for node in ET.fromstring(beyond).iter(f"{SVG}path") if node.get("fill") == SCREEN.accent]
    assert (len(wedges), within.count("<path"), within.count("<circle"), beyond.count("<circle")) == (1, 0, 2, 2)


def test_everything_stays_inside_the_drawing():
    """However far off a measurement is and however long its name."""
    root = ET.fromstring(adjustments_svg([("a very long name " * 9, 1e6), ("b", -1e6)], 1.96))
    high = float(root.get("height"))
    for node in root.iter():
        for name, most in (("x", 640), ("cx", 640), ("y", high), ("cy", high)):
            assert 0 <= float(node.get(name, 0)) <= most


def test_title_and_description_say_what_the_picture_shows():
    """For those who do not see it."""
    root = ET.fromstring(adjustments_svg(DAY, 2.39, {"title": "Mediciones"}))
    assert (root[0].text, root[1].text) == ("Mediciones", "milk −1.2; skim, fat % 0.4; cream 3.1")


@pytest.mark.parametrize(("statistics", "limit"), [([], 2.0), (DAY, 0.0), (DAY, float("inf")), (DAY, float("nan"))])
def test_nothing_to_draw_is_refused(statistics, limit):
    """No measurement or no limit."""
    with pytest.raises(ValueError, match="needs"):
        adjustments_svg(statistics, limit)


def test_hostile_name_stays_text():
    """Markup in a name is escaped."""
    assert "<script" not in adjustments_svg([("<script>", 1.0)], 2)
