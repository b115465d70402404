"""The holding tube's picture."""

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.svg import PRINT, SCREEN
from plant.pictures.tube import tube_svg

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
PROFILE = [(place / 20, 2 * (1 - (place / 10 - 1) ** 2)) for place in range(21)]


def drawn(fastest=16.0, mean=32.0, wanted=15.0, **options):
    return tube_svg(PROFILE, 2.0, fastest, mean, wanted, **options)


def texts(svg):
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_times_stand_there_in_words():
    """Fastest particle, mean and wanted time are named with their seconds."""
    assert {"fastest particle 16 s", "mean 32 s", "wanted 15 s"} <= set(texts(drawn()))


def test_times_stand_at_their_places():
    """On the ruler the fastest particle stands as far along as its share of the time of the mean."""
    circles = list(ET.fromstring(drawn()).iter(f"{SVG}circle"))
    fastest, mean = (float(node.get("cx")) - 24 for node in circles)
    assert fastest / mean == pytest.approx(0.5, abs=1e-3)


def test_hold_that_is_short_is_a_wedge_and_not_a_dot():
    """Out of limits is told by shape, so that it prints in black: one circle less, words in the accent."""
    short, enough = drawn(fastest=14.0), drawn()
    assert short.count("<circle") == enough.count("<circle") - 1
    assert f'fill="{SCREEN.accent}"' in short


@pytest.mark.parametrize("times", [(0.01, 0.02, 0.01), (3000, 3600, 25), (14, 14.1, 15), (15, 20, None)])
@pytest.mark.parametrize("inks", [SCREEN, PRINT])
def test_everything_stays_within_the_drawing(times, inks):
    """No word and no stroke lies outside, whatever the times."""
    root = ET.fromstring(drawn(*times, inks=inks, width=420))
    for node in root.iter():
        for name in ("x", "x1", "x2", "cx"):
            assert 0 <= float(node.get(name, 0)) <= 420


def test_drawing_has_a_title_and_escapes_words():
    """A screen reader hears the title; given words cannot break the drawing."""
    svg = drawn(tube_words='<b>"1.870 in"', named={"title": "Tube & times"})
    assert ET.fromstring(svg).findtext(f"{SVG}title") == "Tube & times"
    assert "<b>" not in svg


@pytest.mark.parametrize("times", [(0, 1, 1), (1, float("nan"), 1), (1, 1, float("inf"))])
def test_times_that_are_none_are_refused(times):
    """A time of nothing or of no number has no place on the ruler."""
    with pytest.raises(ValueError, match="positive times"):
        drawn(*times)
