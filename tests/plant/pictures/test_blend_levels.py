"""Streams as bars, leveled out by their blend."""

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.blend_levels import LEFT, RIGHT, Level, blend_levels_svg
from plant.pictures.svg import SCREEN

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
STREAMS = [("cream", 25.0, "25 kg"), ("skim", 75.0, "75 kg")]
FAT = Level("fat", [40, 0], 10, 10, 10)


def texts(svg):
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def rects(svg, fill):
    return [
        {key: float(node.get(key)) for key in ("x", "y", "width", "height")}
        for node in ET.fromstring(svg).iter(f"{SVG}rect")
        if node.get("fill") == fill and node.get("stroke") is None
    ]


def test_drawing_names_its_streams_the_level_and_what_was_wanted():
    """Words carry what the picture shows."""
    svg = blend_levels_svg(STREAMS, [FAT])
    assert {"cream", "skim", "25 kg", "75 kg", "fat, %", "blend 10.000", "wanted 10"} <= set(texts(svg))
    assert "cream 25 kg, skim 75 kg" in ET.fromstring(svg)[1].text
    assert ET.fromstring(svg)[0].text == "Streams and their blend"


def test_width_of_a_bar_is_its_share_of_the_mass():
    """The solid part of the cream is a quarter of the width."""
    [solid] = rects(blend_levels_svg(STREAMS, [FAT], width=640), SCREEN.ink)
    assert solid["width"] == pytest.approx((640 - LEFT - RIGHT) / 4, abs=0.02)


def test_what_stands_above_the_level_fills_what_is_missing_below():
    """The solid area is as large as the hatched one: the balance of the component."""
    svg = blend_levels_svg(STREAMS, [FAT])
    [solid] = rects(svg, SCREEN.ink)
    gap = [
        node
        for node in ET.fromstring(svg).iter(f"{SVG}rect")
        if node.get("stroke") == SCREEN.quiet and node.get("fill") == "none"
    ]
    [hatched] = gap
    assert solid["width"] * solid["height"] == pytest.approx(
        float(hatched.get("width")) * float(hatched.get("height")), rel=1e-3
    )


def test_stream_without_mass_is_left_out():
    """What is not used has no bar and no line in the list."""
    svg = blend_levels_svg([*STREAMS, ("water", 0.0, "0 kg")], [FAT._replace(percents=[40, 0, 0])])
    assert "water" not in texts(svg)


def test_range_whose_ends_would_stand_on_each_other_is_one_name():
    """9.9 and 10 beside a blend of 12 are named together."""
    svg = blend_levels_svg(STREAMS, [FAT._replace(blend=12, low=9.9, high=10)])
    assert "wanted 9.9–10" in texts(svg)


@settings(max_examples=50)
@given(st.lists(st.floats(0.001, 1e5), min_size=1, max_size=40), st.floats(0, 100))
def test_everything_stays_inside_the_drawing(masses, percent):
    """However uneven the masses, numbers and bars lie between the edges and numbers keep apart."""
    streams = [(f"stream {place}", mass, f"{mass:.3f} kg") for place, mass in enumerate(masses)]
    svg = blend_levels_svg(streams, [Level("fat", [percent] * len(masses), percent)])
    root = ET.fromstring(svg)
    assert all(0 <= one["x"] <= 640 for one in rects(svg, "none"))
    numbers = [float(one.get("x")) for one in root.iter(f"{SVG}text") if re.fullmatch(r"\d+", one.text or "")]
    assert all(0 <= x <= 640 for x in numbers)
    below = [
        float(one.get("x"))
        for one in root.iter(f"{SVG}text")
        if re.fullmatch(r"\d+", one.text or "") and one.get("text-anchor") == "middle"
    ]
    assert len(below) == len(masses)
    assert all(right - left >= 13.98 for left, right in zip(below, below[1:], strict=False))


@pytest.mark.parametrize(
    ("streams", "levels"), [([], [FAT]), (STREAMS, []), (STREAMS[:1], [FAT]), ([("a", 0.0, ""), ("b", 0.0, "")], [FAT])]
)
def test_nothing_to_draw_is_refused(streams, levels):
    """No streams, no level, contents that do not go with the streams, or no mass."""
    with pytest.raises(ValueError, match="blend"):
        blend_levels_svg(streams, levels)


def test_hostile_name_stays_text():
    """Markup in a name is escaped."""
    assert "<script" not in blend_levels_svg([("<script>", 1.0, "1 kg"), STREAMS[1]], [FAT])


def test_words_are_the_callers():
    """The words come translated from outside."""
    assert "mezcla 10.000" in texts(blend_levels_svg(STREAMS, [FAT], words={"level": "mezcla"}))


def test_same_input_gives_the_same_bytes():
    """No clock and no chance."""
    assert blend_levels_svg(STREAMS, [FAT]) == blend_levels_svg(STREAMS, [FAT])
