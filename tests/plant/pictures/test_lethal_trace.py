"""The picture of a trace and its lethal rate."""

import math
import xml.etree.ElementTree as ET

import pytest

from plant.pictures.lethal_trace import lethal_trace_svg, thinned
from plant.pictures.svg import PRINT, SCREEN

pytestmark = pytest.mark.once

SVG = "{http://www.w3.org/2000/svg}"
TRACE = [(0.0, 55.0), (10.0, 63.0), (30.0, 63.5), (40.0, 50.0)]
RATES = [(moment, 10 ** ((level - 63) / 4.3)) for moment, level in TRACE]


def drawn(trace=TRACE, rates=RATES, **options):
    return lethal_trace_svg(trace, rates, **{"unit": "°C", "time_unit": "minutes", **options})


def texts(svg):
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_lines_and_panels_are_named():
    """Limit, reference, rate, area and units stand in words."""
    svg = drawn(limit=62.78, reference=63, area_words="area: F = 25 min")
    assert {"limit 62.78 °C", "reference 63 °C", "lethal rate", "area: F = 25 min", "minutes"} <= set(texts(svg))


def test_limit_and_reference_are_told_apart_without_color():
    """They have different dashes."""
    dashes = {node.get("stroke-dasharray") for node in ET.fromstring(drawn(limit=63, reference=63)).iter(f"{SVG}line")}
    assert {"2 3", "7 4"} <= dashes


def test_readings_are_dots_while_they_are_few():
    """Four readings are four dots, each naming itself; of a day at 1 Hz none is drawn."""
    assert drawn().count("<circle") == 4
    long = [(float(one), 60 + math.sin(one / 100)) for one in range(5000)]
    assert "<circle" not in drawn(long, long)


def test_long_trace_keeps_its_extremes():
    """Thinned to a few points a column, the lowest and the highest of all stay."""
    long = [(one / 100, math.sin(one)) for one in range(50_000)]
    long[31_234] = (312.34, 40.0)
    kept = thinned(long)
    assert len(kept) <= 4 * 501
    assert (312.34, 40.0) in kept
    assert (kept[0], kept[-1]) == (long[0], long[-1])
    assert [one[0] for one in kept] == sorted(one[0] for one in kept)


@pytest.mark.parametrize("trace", [TRACE, [(0.0, 63.0), (15.0, 63.0)], [(5.0, -20.0), (6.0, 120.0)]])
@pytest.mark.parametrize("inks", [SCREEN, PRINT])
def test_everything_stays_within_the_drawing(trace, inks):
    """Level traces and steep ones fit."""
    svg = drawn(trace, [(moment, 1.0) for moment, _level in trace], limit=63, inks=inks)
    for node in ET.fromstring(svg).iter():
        for name, most in (("x", 640), ("x1", 640), ("cx", 640), ("y", 350), ("y1", 350), ("cy", 350)):
            assert 0 <= float(node.get(name, 0)) <= most


def test_trace_of_nothing_is_refused():
    """One moment, or two at the same time, make no trace."""
    with pytest.raises(ValueError, match="two moments"):
        drawn([(0.0, 63.0)])
    with pytest.raises(ValueError, match="two moments"):
        drawn([(1.0, 63.0), (1.0, 64.0)])
