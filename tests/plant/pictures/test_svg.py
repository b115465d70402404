"""The SVG elements: escaping and numbers."""

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.svg import drawing, element, escape, number, titled, words


def test_text_is_escaped_for_elements_and_attributes() -> None:
    """Markup in a name stays text, in an element and in an attribute."""
    assert escape("<b a=\"1\" b='2'> & ") == "&lt;b a=&quot;1&quot; b=&#39;2&#39;&gt; &amp; "


def test_characters_that_xml_forbids_become_spaces() -> None:
    """A control character or a lone surrogate in a name cannot break the document (XML 1.0, 2.2 Characters)."""
    svg = drawing(10, 10, words(0, 0, "a\x00b\x0bc\ud800d￿", "#000"), title="t", ident="i", css_class="c")
    assert ET.fromstring(svg).find("{http://www.w3.org/2000/svg}text") is not None


def test_a_number_has_at_most_two_decimals_and_no_exponent() -> None:
    """Coordinates are short and plain."""
    assert [number(v) for v in (1.0, 1.5, 1.239, -0.001, 1e7, 1e-9)] == ["1", "1.5", "1.24", "0", "10000000", "0"]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_value_that_is_not_finite_is_refused(value: float) -> None:
    """Nothing can be placed at 'not a number'."""
    with pytest.raises(ValueError, match="cannot place"):
        number(value)


def test_an_attribute_that_is_none_is_left_out() -> None:
    """Optional attributes do not appear empty."""
    assert element("g", fill=None, stroke_width=2) == '<g stroke-width="2"/>'


def test_a_drawing_names_itself_for_screen_readers() -> None:
    """A drawing is an image with a title and a description tied to it."""
    svg = drawing(10, 20, "", title="A & B", desc="more", ident="x", css_class="c")
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "x-t x-d"
    assert [child.text for child in root] == ["A & B", "more"]


def test_a_group_carries_its_tip() -> None:
    """The tip of a group is a title element, escaped."""
    assert titled("<g/>", "a<b") == "<g><title>a&lt;b</title><g/></g>"
