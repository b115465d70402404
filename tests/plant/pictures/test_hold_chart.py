"""The chart of temperature and holding time."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from plant.pictures.hold_chart import hold_chart_svg
from plant.pictures.svg import PRINT, SCREEN

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
ROWS = [(161.0, 15.0, "161 °F for 15 s"), (191.0, 1.0, "191 °F for 1 s"), (212.0, 0.01, "212 °F for 0.01 s")]


def chart(temperature: float = 165.0, hold_s: float = 16.0, met: bool = True, **more: object) -> str:
    """The chart of milk's rows."""
    return hold_chart_svg(ROWS, temperature, hold_s, "°F", met, **more)  # type: ignore[arg-type]


def places(svg: str) -> list[tuple[float, float]]:
    """The corners of the rows: the middles of the squares."""
    squares = [one for one in ET.fromstring(svg).iter(f"{SVG}rect") if one.get("width") == "8"]
    return [(float(one.get("x") or 0) + 4, float(one.get("y") or 0) + 4) for one in squares]


def test_each_row_has_its_corner_and_its_words() -> None:
    """Hotter stands further right, shorter lower down."""
    svg = chart()
    said = {node.text for node in ET.fromstring(svg).iter(f"{SVG}text")}
    assert {words for _heat, _time, words in ROWS} <= said
    corners = places(svg)
    assert corners == sorted(corners) and [y for _x, y in corners] == sorted(y for _x, y in corners)


def test_the_edge_runs_through_every_corner() -> None:
    """A staircase: down at each temperature to its time."""
    svg = chart()
    edge = next(
        one.get("d") or ""
        for one in ET.fromstring(svg).iter(f"{SVG}path")
        if one.get("stroke") == SCREEN.accent and one.get("stroke-width") == "3"
    )
    for x, y in places(svg):
        assert re.search(rf"[HM]{x:.2f}(?: [0-9.]+)?V{y:.2f}", edge)


def test_a_row_that_another_makes_needless_is_no_step() -> None:
    """Hotter and longer than another row asks nothing less."""
    rows = [(175.0, 25.0, "a"), (180.0, 30.0, "b")]
    svg = hold_chart_svg(rows, 170, 10, "°F", False)
    edge = next(one.get("d") or "" for one in ET.fromstring(svg).iter(f"{SVG}path") if one.get("stroke-width") == "3")
    assert edge.count("V") == 1


def test_the_mark_tells_by_shape_and_by_word() -> None:
    """A dot where a row is met, a wedge where none is, each named, twice: in its place and below."""
    met, missed = chart(), chart(160.0, met=False)
    assert met.count("<circle") == 2 and "165 °F, 16 s: met" in met
    assert missed.count("<circle") == 0 and "160 °F, 16 s: not met" in missed


def test_words_can_be_given() -> None:
    """In the reader's language."""
    svg = chart(named={"met": "cumple", "title": "Temperatura y tiempo"}, point_words="165 °F, 16 s", desc="x < y")
    assert "165 °F, 16 s: cumple" in svg and "Temperatura y tiempo" in svg and "x &lt; y" in svg


def test_a_time_of_nothing_stands_at_the_foot() -> None:
    """A logarithm has no zero."""
    ET.fromstring(chart(hold_s=0.0, met=False))


def test_print_is_on_white() -> None:
    """No warm ground on paper."""
    assert "#fffdf6" not in chart(inks=PRINT) and "#fffdf6" in chart()


@pytest.mark.parametrize(
    ("rows", "temperature", "hold_s"),
    [([], 161, 15), (ROWS, float("nan"), 15), (ROWS, 161, float("inf")), ([(161.0, 0.0, "a")], 161, 15)],
)
def test_nothing_to_draw_is_refused(rows: list[tuple[float, float, str]], temperature: float, hold_s: float) -> None:
    """No row, or what is no number."""
    with pytest.raises(ValueError, match="needs rows"):
        hold_chart_svg(rows, temperature, hold_s, "°F", False)
