"""The drawings of a tank: warming with its line, band and limit; a trace with its time out of limits."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import pytest

from plant.pictures.svg import SCREEN
from plant.pictures.tank_chart import Reached, Trace, trace_svg, warming_svg
from plant.pictures.time_plot import TimePlot, padded

SVG = "{http://www.w3.org/2000/svg}"
READINGS = [(0.0, 38.0), (1.0, 39.5), (2.0, 41.0)]
BAND = [(at, 37.8 + 1.4 * at, 38 + 1.5 * at, 38.2 + 1.6 * at) for at in range(6)]

pytestmark = pytest.mark.once


def nodes(svg: str, tag: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(f"{SVG}{tag}"))


def texts(svg: str) -> list[str]:
    return [one.text or "" for one in nodes(svg, "text")]


def titles(svg: str) -> list[str]:
    return [one.text or "" for one in nodes(svg, "title")]


def warming() -> str:
    return warming_svg(READINGS, 45, "°F", BAND, Reached(4.3, 4.7, 5.2))


def trace(**changes: object) -> str:
    values: dict[str, object] = {
        "readings": [(0.0, 40.0), (0.5, 46.0), (1.0, 44.0), (3.0, 41.0)], "bad": [False, True, False, False],
        "limits": {"limit": 45.0}, "out": [(0.0, 1.0)], "gaps": [(1.0, 3.0)], "deadline": None,
    }  # fmt: skip
    return trace_svg(Trace(**{**values, **changes}), "°F")  # type: ignore[arg-type]


def test_warming_tank_names_its_limit_and_when_it_is_reached() -> None:
    """In words on the drawing, and in its description for who cannot see it."""
    assert {"limit 45 °F", "limit reached after 4.7 h (4.3 to 5.2 h)"} <= set(texts(warming()))
    assert "limit reached after 4.7 h" in (nodes(warming(), "desc")[0].text or "")


def test_limit_stands_at_its_place_across_the_whole_plot() -> None:
    """A thick stroke in the accent, level."""
    strokes = [one for one in nodes(warming(), "line") if one.get("stroke") == SCREEN.accent]
    assert [(one.get("stroke-width"), one.get("y1") == one.get("y2")) for one in strokes] == [("3", True)]


def test_readings_out_of_limits_have_another_shape() -> None:
    """A wedge, not only another color: dots are circles, and their tips say the value."""
    svg = trace()
    assert len(nodes(svg, "circle")) == 3
    wedges = [one for one in nodes(svg, "path") if one.get("fill") == SCREEN.accent]
    assert len(wedges) == 1
    assert "0.5 h: 46 °F, out of limits" in titles(svg)


def test_band_without_a_forecast_is_left_out() -> None:
    """Readings and limit alone, for a tank that gets no forecast."""
    svg = warming_svg(READINGS, 45, "°F", (), None)
    assert nodes(svg, "path") == []
    assert len(nodes(svg, "circle")) == 3


def test_time_out_and_gap_are_bars_with_their_words() -> None:
    """What counts as out is filled, what is not proven open and dashed."""
    svg = trace()
    assert {"counts as out: 0 to 1 h", "not proven: 1 to 3 h"} <= set(titles(svg))
    assert [one.get("stroke-dasharray") for one in nodes(svg, "rect") if one.get("height") == "11"] == [None, "3 2"]


def test_no_line_is_drawn_over_a_gap() -> None:
    """The course ends at the last reading before it."""
    drawn = [one.get("d") or "" for one in nodes(trace(), "path") if one.get("fill") == "none"]
    assert [one.count("L") for one in drawn] == [2]
    whole = [one.get("d") or "" for one in nodes(trace(gaps=[]), "path") if one.get("fill") == "none"]
    assert [one.count("L") for one in whole] == [3]


def test_deadline_and_both_limits_are_named() -> None:
    """A dashed stroke by the time to cool; the limit afterwards beside the first."""
    svg = trace(deadline=2.0, limits={"limit": 45.0, "limit afterwards": 50.0})
    assert {"by 2 h", "limit 45 °F", "limit afterwards 50 °F"} <= set(texts(svg))


def test_a_drawing_without_readings_or_with_wrong_marks_is_refused() -> None:
    """Nothing to draw, or a reading without its verdict."""
    with pytest.raises(ValueError):
        warming_svg([], 45, "°F", (), None)
    with pytest.raises(ValueError):
        trace(bad=[True])


def test_words_of_the_reader_are_escaped() -> None:
    """A unit or a word with an angle is text, not markup."""
    svg = warming_svg(READINGS, 45, "<°F>", (), None, {"limit": "a & b"})
    assert "a & b 45 <°F>" in texts(svg)


def test_scale_holds_all_values_and_has_a_length() -> None:
    """With equal values too."""
    low, high = padded([5.0, 5.0], 2.0)
    assert high - low >= 2
    assert low < 5 < high
    low, high = padded([0.0, 10.0])
    assert (low, high) == (-1, 11)


@pytest.mark.parametrize("scale", [(1.0, 1.0), (2.0, 1.0), (math.nan, 1.0)])
def test_scale_without_length_is_refused(scale: tuple[float, float]) -> None:
    """Hours and values both need one."""
    with pytest.raises(ValueError, match="no length"):
        TimePlot(scale, (0, 1), "x", SCREEN)
    with pytest.raises(ValueError, match="no length"):
        TimePlot((0, 1), scale, "x", SCREEN)


def test_far_points_are_cut_and_never_break_the_drawing() -> None:
    """A band that runs off by a million stays a drawing."""
    far = [(0.0, -1e9, 38.0, 1e9), (5.0, -1e9, 46.0, 1e9)]
    svg = warming_svg(READINGS, 45, "°F", far, None)
    assert "e+" not in svg
    assert len(nodes(svg, "clipPath")) == 1
