"""A family of lots in layers."""

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.lot_family import HIGH, WIDTH, Member, lot_family_svg

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
FAMILY = [
    Member("silo", "Silo A", "from 04:10", 1.0, 1.0, root=True),
    Member("vat", "Blend vat", "from 06:00", 0.25, 0.25),
    Member("cream", "Cream tank", "from 06:00", 0.1, 0.6),
    Member("packs", "Packs", "from 09:00", 0.0, 1.0),
]
LINKS = [("silo", "vat"), ("silo", "cream"), ("vat", "packs"), ("cream", "vat")]


def boxes(svg):
    """Corner of each member's box, by its name."""
    found = {}
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        box, name = group.find(f"{SVG}rect"), group.find(f"{SVG}text")
        found[name.text] = (float(box.get("x")), float(box.get("y")))
    return found


def test_names_notes_and_shares_are_said():
    """A share, bounds of one, and one that is unknown."""
    said = [node.text for node in ET.fromstring(lot_family_svg(FAMILY, LINKS)).iter(f"{SVG}text")]
    assert {"Silo A", "Blend vat", "from 09:00", "100 %", "25 %", "10-60 %", "unknown"} <= set(said)


def test_what_feeds_another_stands_above_it():
    """Layers go down in the order of arrival."""
    places = boxes(lot_family_svg(FAMILY, LINKS))
    assert places["Silo A"][1] < places["Blend vat"][1] < places["Packs"][1]


def test_a_way_back_is_dashed():
    """Rework goes up again at the side and makes no loop of the layers."""
    svg = lot_family_svg(FAMILY, [*LINKS, ("packs", "vat")])
    assert svg.count('stroke-dasharray="5 3"') == lot_family_svg(FAMILY, LINKS).count('stroke-dasharray="5 3"') + 1
    assert boxes(svg) == boxes(lot_family_svg(FAMILY, LINKS))


def test_the_beginning_has_a_thick_edge():
    """One sees where it began without color."""
    edges = re.findall(r'stroke-width="3"', lot_family_svg(FAMILY, LINKS))
    assert len(edges) == 1


@settings(max_examples=50)
@given(st.integers(1, 30), st.lists(st.tuples(st.integers(0, 29), st.integers(0, 29)), max_size=60))
def test_boxes_never_overlap_and_stay_inside(count, pairs):
    """Whatever the links, loops and links to itself included."""
    members = [Member(str(one), f"Lot {one}", "", 0.0, one / 30) for one in range(count)]
    svg = lot_family_svg(members, [(str(a), str(b)) for a, b in pairs if a < count and b < count])
    root, places = ET.fromstring(svg), sorted(boxes(svg).values())
    assert len(set(places)) == count
    for x, y in places:
        assert 0 <= x <= float(root.get("width")) - WIDTH and 0 <= y <= float(root.get("height")) - HIGH
    for (x1, y1), (x2, y2) in zip(places, places[1:], strict=False):
        assert y1 != y2 or x2 - x1 >= WIDTH


@pytest.mark.parametrize(("members", "links"), [([], []), (FAMILY[:1] * 2, []), (FAMILY, [("silo", "nowhere")])])
def test_a_family_that_cannot_be_is_refused(members, links):
    """Nobody in it, one key twice, or a link into nothing."""
    with pytest.raises(ValueError, match="family"):
        lot_family_svg(members, links)


def test_description_tells_the_links():
    """For those who do not see it."""
    root = ET.fromstring(lot_family_svg(FAMILY, LINKS, {"to": "a", "title": "Familia"}))
    assert root[0].text == "Familia"
    assert "Silo A, from 04:10, share 100 %, a Blend vat, Cream tank" in root[1].text


def test_hostile_name_stays_text():
    """Markup in a name is escaped."""
    assert "<script" not in lot_family_svg([Member("a", "<script>")], [])
