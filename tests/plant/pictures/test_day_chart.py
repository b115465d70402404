"""The Day chart."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from plant.pictures.day_chart import (
    OUTSIDE,
    DayChart,
    Deviation,
    Hold,
    Lane,
    Mark,
    Movement,
    Note,
    Segment,
    Wash,
    day_chart_svg,
)
from plant.pictures.svg import PRINT, SCREEN, number
from plant.pictures.textures import FAMILIES, texture
from plant.pictures.type_width import text_width
from plant.process.limits import Outcome

pytestmark = pytest.mark.once

CHICAGO = ZoneInfo("America/Chicago")
START = datetime(2026, 3, 3, 5, tzinfo=CHICAGO)
SVG = "{http://www.w3.org/2000/svg}"


def at(hour: float) -> datetime:
    return START + timedelta(hours=hour - 5)


SILO = Lane(
    "Silo A", "limit raw, 45 °F", "3,000 gal",
    contents=(Segment(at(3), at(8), 0.1, 0.9, "raw milk"), Segment(at(8), at(31), 0.9, 0.2, "raw milk")),
    trace=tuple((at(5 + i / 4), 46.4 if i in (68, 69, 70) else 38.0) for i in range(97)),
    scale=(32, 50), limit=45, act_limit=43,
    marks=(Mark(at(9), Outcome.MET, "38.0 °F", 38.0), Mark(at(22.2), Outcome.NOT_MET, "46.4 °F", 46.4)),
    holds=(Hold(at(21.75)),),
    deviations=(Deviation(at(21.75), at(22.7), "deviation 12: 46.4 °F for 58 min"),),
)  # fmt: skip
VAT = Lane("Blend vat", "limit 45 °F", "1,200 gal", washes=(Wash(at(7), at(7.5), "sanitized"),))
CHART = DayChart(
    "Day chart", "Quillbrook Creamery (invented)", START, START + timedelta(hours=24), "America/Chicago", (SILO, VAT),
    shifts=((at(5), "morning shift"), (at(13), "evening shift")),
    movements=(Movement("Silo A", "Blend vat", at(10), at(11), "500 gal"), Movement(OUTSIDE, "Silo A", at(7), at(8))),
)  # fmt: skip


def _root(chart: DayChart = CHART, **options: object) -> ET.Element:
    return ET.fromstring(day_chart_svg(chart, **options))  # type: ignore[arg-type]


def _texts(root: ET.Element) -> list[str]:
    return [node.text or "" for node in root.iter(f"{SVG}text")]


def _busy(lanes: int) -> DayChart:
    """Return a day in which every vessel has everything, many readings and three deviations."""
    marks = tuple(Mark(at(5 + i / 4), list(Outcome)[i % 4], f"{i} °F", 38.0) for i in range(96))
    sentences = tuple(Deviation(at(h), at(h + 1), f"deviation {h}: 46.0 °F for 60 min") for h in (8, 9, 27))
    each = replace(SILO, marks=marks, deviations=sentences, washes=VAT.washes, notes=(Note(at(12), "start-up checks"),))
    names = [f"Vessel {i}" for i in range(lanes)]
    moves = tuple(
        Movement(a, b, at(9 + i), at(10 + i), "10 gal") for i, (a, b) in enumerate(zip(names, names[1:], strict=False))
    )
    return replace(CHART, lanes=tuple(replace(each, name=name) for name in names), movements=moves)


def test_the_chart_names_its_lanes_hours_and_shifts() -> None:
    """Lanes, limits, hours and shifts stand in words."""
    texts = _texts(_root())
    assert {"Silo A", "limit raw, 45 °F", "Blend vat", "05:00", "08:00", "morning shift", "evening shift"} <= set(texts)


def test_a_deviation_stands_with_its_sentence() -> None:
    """The sentence is on the chart and in its description."""
    root = _root()
    assert "deviation 12: 46.4 °F for 58 min" in _texts(root)
    assert "Silo A: deviation 12: 46.4 °F for 58 min" in (root.findtext(f"{SVG}desc") or "")


def test_a_hold_is_named_even_where_it_is_crowded() -> None:
    """The word 'on hold' is on the chart, beside its legend, on the screen and in print."""
    for options in ({}, {"print_": True, "width": 1000}):
        assert _texts(_root(_busy(14), **options)).count("on hold") == 14 + 1


@pytest.mark.parametrize("options", [{}, {"print_": True, "width": 1000}])
@pytest.mark.parametrize("lanes", [1, 7, 14])
def test_no_two_words_overlap(lanes: int, options: dict[str, object]) -> None:
    """In a day full of readings and deviations no line of text lies over another one or leaves the drawing."""
    root = _root(_busy(lanes), **options)
    body = [node for node in root if not (node.tag == f"{SVG}g" and node.get("transform"))]
    boxes = []
    for node in (text for part in body for text in part.iter(f"{SVG}text")):
        size = float(node.get("font-size") or 12)
        width = text_width(node.text or "", size, int(node.get("font-weight") or 400))
        x, y = float(node.get("x") or 0), float(node.get("y") or 0)
        left = x - width / 2 if node.get("text-anchor") == "middle" else x
        boxes.append((left, y - size * 0.72, left + width, y + 0.5, node.text))
    limit = float(root.get("width") or 0)
    for i, one in enumerate(boxes):
        assert one[0] >= 0 and one[2] <= limit + 0.5, one
        for other in boxes[i + 1 :]:
            meets = one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
            if meets and "on hold" not in (one[4], other[4]):  # that one is forced: it must be read
                raise AssertionError((one, other))


def test_fourteen_lanes_fit_a_landscape_page() -> None:
    """Fourteen vessels fit landscape A4 within 12 mm margins: (210 - 24) / (297 - 24) = 0.681 (ISO 216)."""
    lanes = tuple(replace(SILO if i % 3 else VAT, name=f"Vessel {i}") for i in range(14))
    root = _root(replace(CHART, lanes=lanes), print_=True, width=1000)
    assert float(root.get("height") or 0) / float(root.get("width") or 1) <= 0.76  # ten deviations' rows included
    plain = tuple(replace(lane, deviations=()) for lane in lanes)
    root = _root(replace(CHART, lanes=plain), print_=True, width=1000)
    assert float(root.get("height") or 0) / float(root.get("width") or 1) <= 0.681


def test_print_has_only_black_grays_and_the_accent() -> None:
    """In print nothing depends on a tint."""
    colors = set(re.findall(r'"(#[0-9a-f]{6})"', day_chart_svg(CHART, print_=True)))
    assert colors <= {PRINT.paper, PRINT.ink, PRINT.quiet, PRINT.hair, PRINT.accent}


def test_each_family_has_a_texture_of_its_own_in_black() -> None:
    """No two families share a texture once the tints are gone."""
    shapes = {re.sub(r' id="[^"]*"', "", texture("x", family, PRINT, False)) for family in FAMILIES}
    assert len(shapes) == len(FAMILIES)


def test_a_family_without_texture_counts_as_other() -> None:
    """A family that the chart does not know is drawn as 'other', never as a known one."""
    lane = replace(SILO, contents=(Segment(at(5), at(9), 0.5, 0.5, "whey"),))
    assert "url(#day-other)" in day_chart_svg(replace(CHART, lanes=(lane,)))


def test_a_silent_recorder_leaves_a_gap() -> None:
    """Where the trace has None the line is broken, not joined."""
    trace = ((at(6), 38.0), (at(7), 38.0), (at(8), None), (at(9), 38.0), (at(10), 38.0))
    whole = _root(
        replace(CHART, lanes=(replace(VAT, trace=tuple(p for p in trace if p[1]), scale=(32, 50)),), movements=())
    )
    broken = _root(replace(CHART, lanes=(replace(VAT, trace=trace, scale=(32, 50)),), movements=()))

    def lines(root: ET.Element) -> int:
        return sum(1 for node in root.iter(f"{SVG}path") if node.get("stroke-linejoin") == "round")

    assert (lines(whole), lines(broken)) == (1, 2)


def test_a_long_trace_is_drawn_by_its_extremes() -> None:
    """A day at one value a second stays a small drawing and keeps its single highest value."""
    trace = tuple((START + timedelta(seconds=i), 49.0 if i == 50_000 else 38.0) for i in range(86_400))
    svg = day_chart_svg(replace(CHART, lanes=(Lane("Silo A", trace=trace, scale=(32, 50), limit=45),), movements=()))
    line = re.search(r'<path d="([^"]*)" fill="none" stroke="#1c2333" stroke-width="1.5" stroke-linejoin', svg)
    assert line is not None
    heights = {pair.split()[1] for pair in re.split("[ML]", line.group(1))[1:]}
    assert len(svg) < 120_000
    assert len(heights) == 2


def test_the_line_is_heavy_only_within_a_deviation() -> None:
    """The records judge: a value beyond the limit that no deviation names is drawn like any other."""
    heavy = f'stroke="{SCREEN.accent}" stroke-width="3"'
    assert heavy in day_chart_svg(CHART)
    assert heavy not in day_chart_svg(replace(CHART, lanes=(replace(SILO, deviations=()),)))


def test_readings_too_close_together_share_a_mark_that_counts_them() -> None:
    """96 readings in a day are grouped, and the gravest outcome of each group shows."""
    assert "several readings, the gravest mark" in _texts(_root(_busy(1)))
    marks = tuple(Mark(at(9 + i / 60), Outcome.MET) for i in range(20)) + (Mark(at(9.1), Outcome.NOT_MET),)
    svg = day_chart_svg(replace(CHART, lanes=(replace(VAT, marks=marks),), movements=()))
    assert "×21" in svg
    assert svg.count(f'fill="{SCREEN.accent}"') >= 2  # the wedge in the lane, and the one in the legend


@pytest.mark.parametrize("count", [2, 30, 60, 96, 400])
def test_marks_never_overlap(count: int) -> None:
    """However many readings a day has, the marks in a lane stand apart and within the day."""
    marks = tuple(Mark(at(5 + 24 * i / count), list(Outcome)[i % 4]) for i in range(count))
    root = _root(replace(CHART, lanes=(replace(VAT, marks=marks),), movements=(), shifts=()))
    places = sorted(
        float(node.get("x") or 0)
        for node in root.iter(f"{SVG}rect")
        if (node.get("width"), node.get("height")) == ("16", "13")
    )
    assert len(places) >= 2
    assert all(b - a >= 16 for a, b in zip(places, places[1:], strict=False))
    assert places[0] >= 154 - 1 and places[-1] + 16 <= 1164 + 1


def test_a_clock_change_is_named() -> None:
    """The night that the clocks go back has its hour twice and says so (1 November 2026, 15 U.S.C. 260a)."""
    start = datetime(2026, 11, 1, tzinfo=CHICAGO)
    root = _root(replace(CHART, start_at=start, end_at=datetime(2026, 11, 2, tzinfo=CHICAGO), lanes=(VAT,), shifts=()))
    texts = _texts(root)
    assert "clocks go back" in texts
    assert texts.count("01:00") == 2 and {"CDT", "CST"} <= set(texts)


def test_a_day_in_progress_shows_now() -> None:
    """'Today so far' has a line at the present moment, from the caller."""
    assert "now" in _texts(_root(replace(CHART, now_at=at(14))))
    assert "now" not in _texts(_root())


def _legend(chart: DayChart) -> list[str]:
    (key,) = [node for node in _root(chart) if (node.get("transform") or "").startswith("translate(0 ")]
    return [node.text or "" for node in key.iter(f"{SVG}text")]


def test_the_legend_lists_only_what_is_drawn() -> None:
    """A recorder's line, a wash, a hold and each of the others is explained where it is on the chart, nowhere else."""
    whole = {"limit", "act from here", "recorded temperature", "reading", "washed or sanitized", "movement"}
    whole |= {"deviation", "on hold"}
    assert whole <= set(_legend(CHART))
    silent = replace(SILO, trace=tuple((moment, None) for moment, _value in SILO.trace))
    assert whole - set(_legend(replace(CHART, lanes=(silent, VAT)))) == {"recorded temperature"}
    bare = replace(CHART, lanes=(Lane("Silo A", contents=SILO.contents),), movements=())
    assert not whole & set(_legend(bare)) and "raw milk (height: how full)" in _legend(bare)


@pytest.mark.parametrize("width", [976, 1180])
def test_the_legend_stays_within_the_drawing(width: int) -> None:
    """Every mark, line and texture with its word, on a tablet's width too."""
    contents = tuple(Segment(at(5 + i), at(6 + i), None, None, family) for i, family in enumerate(FAMILIES))
    root = _root(replace(_busy(2), lanes=(*_busy(2).lanes, Lane("Room", contents=contents))), width=width)
    (key,) = [node for node in root if (node.get("transform") or "").startswith("translate(0 ")]
    ends = [float(node.get("x") or 0) + text_width(node.text or "", 11) for node in key.findall(f"{SVG}text")]
    lowest = max(float(node.get("y") or 0) for node in key.findall(f"{SVG}text"))
    top = float((key.get("transform") or "").split()[1].rstrip(")"))
    assert len(ends) == 4 + 9 + len(FAMILIES) + 1
    assert max(ends) <= width - 16 and top + lowest < float(root.get("height") or 0)


def test_a_vessel_whose_fill_is_not_known_is_dashed_and_says_so() -> None:
    """Its quantity stands in words; its height says nothing, and the legend says that."""
    contents = (Segment(at(5), at(12), None, None, "cream", "12 gal"), Segment(at(12), at(29), 0.5, 0.5, "cream"))
    root = _root(replace(CHART, lanes=(Lane("Cooler", contents=contents),), movements=()))
    assert {"cream, 12 gal", "cream", "how full is not known"} <= set(_texts(root))
    dashed = [node for node in root.iter(f"{SVG}path") if node.get("stroke-dasharray")]
    assert len(dashed) == 1
    known = replace(CHART, lanes=(Lane("Cooler", contents=contents[1:]),), movements=())
    assert "how full is not known" not in _texts(_root(known))


@pytest.mark.parametrize("options", [{}, {"print_": True}])
def test_arrows_that_run_together_keep_apart(options: dict[str, object]) -> None:
    """Five movements begun within eight minutes, over the same lanes, are five arrows that can be told apart."""
    lanes = tuple(replace(VAT, name=f"Vessel {i}") for i in range(8))
    moves = tuple(Movement(f"Vessel {i}", f"Vessel {i + 4}", at(9 + i / 30), at(10), f"{i} gal") for i in range(4)) + (
        Movement("Vessel 6", "Vessel 2", at(9.1), at(10)),
    )
    root = _root(replace(CHART, lanes=lanes, movements=moves), **options)
    shafts = sorted(
        float(found.group(1))
        for node in root.iter(f"{SVG}path")
        if node.get("stroke-width") == "1.4" and (found := re.search(r"L([\d.]+) [\d.]+$", node.get("d") or ""))
    )
    begun = 154 + 1010 * 4 / 24
    assert len(shafts) == 5
    assert all(b - a >= 9 for a, b in zip(shafts, shafts[1:], strict=False))
    assert begun - 12 <= shafts[0] and shafts[-1] <= begun + 1010 * 0.1 / 24 + 36  # none far from its moment


def test_a_low_lane_keeps_its_capacity_in_words() -> None:
    """Where there is no height for two lines, limit and capacity stand on one."""
    lanes = tuple(replace(VAT, name=f"Vessel {i}", marks=SILO.marks) for i in range(17))
    texts = _texts(_root(replace(CHART, lanes=lanes, movements=()), print_=True))
    assert texts.count("limit 45 °F · 1,200 gal") == 17


def test_a_movement_between_unknown_lanes_is_left_out() -> None:
    """A movement that touches no lane of the chart draws nothing."""
    moves = (Movement("Tank X", "Tank Y", at(9), at(10), "77 gal"),)
    assert "77 gal" not in day_chart_svg(replace(CHART, movements=moves))


def test_a_chart_without_lanes_says_so() -> None:
    """An empty plant gives a drawing, not an error."""
    assert "No vessel to show" in _texts(_root(replace(CHART, lanes=(), movements=())))


def test_hostile_names_stay_text() -> None:
    """Markup in any name is escaped."""
    evil = "<script>alert(1)</script>"
    lane = replace(SILO, name=evil, limit_label=evil, deviations=(Deviation(at(9), None, evil),))
    assert "<script" not in day_chart_svg(replace(CHART, title=evil, plant=evil, lanes=(lane,)))


def test_two_charts_on_a_page_share_no_id() -> None:
    """The ids of a drawing start with its own name."""
    ids = [set(re.findall(r' id="([^"]*)"', day_chart_svg(CHART, ident=name))) for name in ("one", "two")]
    assert ids[0] and not ids[0] & ids[1]


def test_the_same_day_gives_the_same_bytes() -> None:
    """No clock and no chance."""
    assert day_chart_svg(_busy(3)) == day_chart_svg(_busy(3))


def test_a_segment_from_yesterday_starts_part_full() -> None:
    """A fill from 03:00 to 08:00 that goes from 0.1 to 0.9 is 0.42 full when the day starts at 05:00."""
    lane = Lane("Silo A", contents=SILO.contents[:1])
    svg = day_chart_svg(replace(CHART, lanes=(lane,), movements=(), shifts=()))
    match = re.search(r'd="M154.00 ([\d.]+)L154.00 ([\d.]+)L', svg)
    assert match is not None
    floor, level = (float(value) for value in match.groups())
    top = 56 + 13 + 5  # the head, a mark and its margin
    assert (floor - level) / ((floor - top) * 0.82) == pytest.approx(0.1 + 0.8 * 2 / 5, abs=0.001)


def test_a_fill_over_a_clock_change_counts_elapsed_hours() -> None:
    """From 00:00 CDT to 04:00 CST on 1 November 2026 are five hours; at 02:00 CST three of them are over."""
    start = datetime(2026, 11, 1, 2, tzinfo=CHICAGO)
    lane = Lane("Silo A", contents=(Segment(start.replace(hour=0), start.replace(hour=4), 0.0, 1.0, "raw milk"),))
    day = replace(CHART, start_at=start, end_at=start + timedelta(hours=24), lanes=(lane,), movements=(), shifts=())
    match = re.search(r'd="M154.00 ([\d.]+)L154.00 ([\d.]+)L', day_chart_svg(day))
    assert match is not None
    floor, level = (float(value) for value in match.groups())
    assert (floor - level) / ((floor - 56 - 13 - 5) * 0.82) == pytest.approx(3 / 5, abs=0.001)


def test_words_are_the_callers() -> None:
    """The words of the legend come translated from outside."""
    assert "retenido" in _texts(_root(words={"on hold": "retenido"}))


def test_an_unknown_outcome_is_refused() -> None:
    """A reading whose outcome has no mark stops the drawing rather than look like a pass."""
    with pytest.raises(ValueError, match="."):
        day_chart_svg(replace(CHART, lanes=(replace(VAT, marks=(Mark(at(9), "fine"),)),)))


def test_every_coordinate_is_short() -> None:
    """No exponent and no long fraction gets into the drawing."""
    assert not re.search(r"\d\.\d{3,}|\de[-+]\d", day_chart_svg(CHART))
    assert number(0.1 + 0.2) == "0.3"
