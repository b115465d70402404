"""The limit gauge."""

import re
import xml.etree.ElementTree as ET

import pytest

from plant.pictures.gauge import gauge_svg
from plant.pictures.svg import SCREEN
from plant.process.limits import Outcome

SVG = "{http://www.w3.org/2000/svg}"
READINGS = [(37.2, "05:12", Outcome.MET), (44.0, "09:00", Outcome.OPERATING)]


def _gauge(**changes: object) -> str:
    values: dict[str, object] = {
        "scale_low": 35, "scale_high": 50, "limit_low": None, "limit_high": 45, "act_low": None, "act_high": 43,
        "readings": READINGS, "unit": "°F",
    }  # fmt: skip
    return gauge_svg(**{**values, **changes})  # type: ignore[arg-type]


def _texts(svg: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_the_limits_are_named_with_their_values() -> None:
    """A limit and an operating limit stand on the gauge in words."""
    assert {"limit 45", "act above 43"} <= set(_texts(_gauge()))


def test_the_limit_stands_at_its_place_on_the_scale() -> None:
    """45 on a scale from 35 to 50 stands two thirds along (14 units of margin each side of 380)."""
    strokes = [n for n in ET.fromstring(_gauge()).iter(f"{SVG}line") if n.get("stroke-width") == "3"]
    assert [float(n.get("x1") or 0) for n in strokes] == [round(14 + (380 - 28) * 10 / 15, 2)]


def test_the_new_reading_is_named_once_it_is_given() -> None:
    """A reading joins the gauge only when the caller says that it is saved."""
    assert not any(text.startswith("now") for text in _texts(_gauge()))
    assert "now 46.4 °F" in _texts(_gauge(new=46.4, new_outcome=Outcome.NOT_MET))


def test_a_reading_without_a_verdict_is_never_drawn_as_in_limits() -> None:
    """Without a verdict an in-limits value is an open dot and a value beyond the limit a wedge."""
    within, beyond = _gauge(readings=[], new=40), _gauge(readings=[], new=46)
    assert f'r="8" fill="{SCREEN.paper}"' in within
    assert "<circle" not in beyond


def test_a_value_beyond_the_scale_stands_at_its_end() -> None:
    """A value that is off the scale is drawn as an arrow within the drawing."""
    svg = _gauge(readings=[(99.0, "10:00", Outcome.NOT_MET)])
    xs = [float(x) for x in re.findall(r"[ML](-?[\d.]+) ", svg)]
    assert xs and all(0 <= x <= 380 for x in xs)


@pytest.mark.parametrize("limits", [(45, 43), (50, 49), (35, 35), (36, 35.2)])
@pytest.mark.parametrize("width", [200, 380])
def test_names_of_limits_keep_apart_and_inside(limits: tuple[float, float], width: float) -> None:
    """However close the limits are, no name runs out of the drawing or over another one in its row."""
    from plant.pictures.type_width import text_width

    root = ET.fromstring(_gauge(limit_high=limits[0], act_high=limits[1], width=width))
    boxes = []
    for node in root.iter(f"{SVG}text"):
        if (node.text or "").startswith(("limit", "act")):
            left = float(node.get("x") or 0)
            right = left + text_width(node.text or "", 14, int(node.get("font-weight") or 400))
            assert left >= 0 and right <= width
            boxes.append((float(node.get("y") or 0), left, right))
    (y1, left1, right1), (y2, left2, right2) = boxes
    assert y1 != y2 or right1 < left2 or right2 < left1


@pytest.mark.parametrize(("low", "high"), [(5, 5), (6, 5)])
def test_a_scale_without_length_is_refused(low: float, high: float) -> None:
    """A gauge needs a scale."""
    with pytest.raises(ValueError, match="no length"):
        _gauge(scale_low=low, scale_high=high)


def test_an_unknown_outcome_is_refused() -> None:
    """A reading whose outcome has no mark is not drawn as something else."""
    with pytest.raises(ValueError, match="no mark"):
        _gauge(readings=[(40.0, "05:00", "fine")])


def test_words_are_the_callers() -> None:
    """The words come translated from outside."""
    assert "límite 45" in _texts(_gauge(words={"limit": "límite"}))


def test_a_hostile_time_stays_text() -> None:
    """Markup in a label is escaped."""
    assert "<script" not in _gauge(readings=[(40.0, "<script>", Outcome.MET)])


def test_the_same_input_gives_the_same_bytes() -> None:
    """The drawing has no clock and no chance in it."""
    assert _gauge(new=44) == _gauge(new=44)
