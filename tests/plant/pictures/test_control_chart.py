"""The control chart and the operating characteristic as drawings."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest

from plant.pictures.control_chart import control_chart_svg
from plant.pictures.oc_curve import oc_curve_svg

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"


def chart(points=(1.0, 2.0, 9.0, 2.0), signals=None, **more) -> ET.Element:
    """A chart with center 2 and limits 0 and 5."""
    count = len(points)
    chosen = {3: "one point beyond 3 sigma"} if signals is None else signals
    return ET.fromstring(control_chart_svg(points, [2.0] * count, [0.0] * count, [5.0] * count, chosen, "°F", **more))


def texts(root: ET.Element) -> list[str]:
    """The words of a drawing."""
    return [node.text or "" for node in root.iter(f"{SVG}text")]


def test_limits_and_signals_stand_there_in_words() -> None:
    """The numbers of the limits, and that of the point that signals."""
    assert {"control limit 5", "control limit 0", "center 2", "3"} <= set(texts(chart()))


def test_signal_differs_in_shape_and_says_why() -> None:
    """Three dots and one wedge; the wedge's tip says the rule."""
    root = chart()
    assert len(list(root.iter(f"{SVG}circle"))) == 3
    assert any(node.text == "3: 9, one point beyond 3 sigma" for node in root.iter(f"{SVG}title"))


def test_description_reads_without_the_picture() -> None:
    """Limits with their unit, then the signals, or that there is none."""
    desc = chart().find(f"{SVG}desc")
    assert desc is not None
    assert desc.text == (
        "center 2 °F; lower control limit 0 °F; upper control limit 5 °F; signal 3: one point beyond 3 sigma"
    )
    assert (chart(signals={}).find(f"{SVG}desc").text or "").endswith("no signal")  # type: ignore[union-attr]


def test_end_of_the_baseline_is_a_dashed_rule() -> None:
    """Between the second and the third point."""
    dashed = [node for node in chart(baseline=2).iter(f"{SVG}line") if node.get("stroke-dasharray")]
    assert len(dashed) == 1
    assert not [node for node in chart().iter(f"{SVG}line") if node.get("stroke-dasharray")]


def test_missing_point_leaves_a_gap_and_no_number() -> None:
    """The first moving range is none."""
    assert len(list(chart(points=(math.nan, 2.0, 9.0, 2.0)).iter(f"{SVG}circle"))) == 2


def test_every_place_lies_within_the_drawing() -> None:
    """One point or many, flat or steep."""
    for points in ((2.0,), (2.0, 2.0), tuple(float(one) for one in range(300)), (1e9, -1e9)):
        root = chart(points=points, signals={1: "x"})
        width, height = float(root.get("width") or 0), float(root.get("height") or 0)
        for node in root.iter(f"{SVG}circle"):
            assert 0 <= float(node.get("cx") or -1) <= width
            assert 0 <= float(node.get("cy") or -1) <= height
        for node in root.iter(f"{SVG}text"):
            assert 0 <= float(node.get("y") or -1) <= height


def test_series_of_different_length_are_refused() -> None:
    """A point without its limit is not drawn."""
    with pytest.raises(ValueError, match="needs points"):
        control_chart_svg([1.0], [1.0], [0.0, 0.0], [2.0], {}, "")
    with pytest.raises(ValueError, match="needs points"):
        control_chart_svg([], [], [], [], {}, "")


def test_curve_names_its_marks() -> None:
    """In words for a screen reader, in the order given; a mark off the curve is left out."""
    curve = [(float(one), 1 - one / 100) for one in range(0, 101, 5)]
    root = ET.fromstring(oc_curve_svg(curve, [(5.0, 0.95), (50.0, 0.5), (120.0, 0.01)]))
    desc = root.find(f"{SVG}desc")
    assert desc is not None
    assert desc.text == "passes with probability 0.95 at 5; passes with probability 0.5 at 50"
    assert len(list(root.iter(f"{SVG}circle"))) == 2


def test_words_can_be_said_in_another_language() -> None:
    """The drawing's words come from the caller."""
    svg = oc_curve_svg([(0.0, 1.0), (1.0, 0.0)], words_of={"title": "Curva característica"})
    assert re.search("Curva característica", svg)
    with pytest.raises(ValueError, match="two points"):
        oc_curve_svg([(0.0, 1.0)])


def test_a_limit_that_is_none_is_neither_drawn_nor_named() -> None:
    """None below at all, and none above at the second and the last point: two pieces of a line, named once."""
    none = math.nan
    svg = control_chart_svg([1.0, 2.0, 3.0, 2.0], [2.0] * 4, [none] * 4, [5.0, none, 4.0, none], {}, "°F")
    root = ET.fromstring(svg)
    assert "nan" not in svg
    assert [one for one in texts(root) if one.startswith("control limit")] == ["control limit 4"]
    desc = root.find(f"{SVG}desc")
    assert desc is not None and desc.text == "center 2 °F; upper control limit 4 °F; no signal"
    (accent,) = {path.get("d") for path in root.iter(f"{SVG}path") if path.get("stroke-width") == "2.5"}
    assert accent is not None and accent.count("M") == 2 and accent.count("H") == 2
