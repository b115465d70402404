"""The strip chart: no extreme lost at any width, gaps left open, everything in words, alike on screen and on paper."""

from __future__ import annotations

import logging
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.strip_chart import (
    WORDS,
    Band,
    Channel,
    Rule,
    Spot,
    Stretch,
    Strip,
    Trace,
    in_unit,
    plot_columns,
    said_of,
    strip_chart_svg,
)
from plant.pictures.strip_panel import Scale, in_digits
from plant.pictures.strip_time import HOUR, MINUTE, milliseconds
from plant.pictures.svg import PRINT, SCREEN
from plant.pictures.type_width import text_width
from tests.plant.pictures.test_strip_columns import in_plain_python

pytestmark = pytest.mark.once

CHICAGO = "America/Chicago"
START = milliseconds(datetime(2026, 3, 3, 5, tzinfo=ZoneInfo(CHICAGO)))
SVG = "{http://www.w3.org/2000/svg}"
POINT = re.compile(r"([MLh])(-?[\d.]+)(?: (-?[\d.]+))?")
STATIC = Path(__file__).resolve().parents[3] / "static"

Point = tuple[float, float]


def trace(moments: Sequence[int], values: Sequence[float], failed: Sequence[int] = ()) -> Trace:
    """A trace from moments after START [ms]; `failed` by place."""
    marks = np.array([index in failed for index in range(len(moments))], dtype=np.bool_)
    return Trace(np.array(moments, dtype=np.int64) + START, np.array(values, dtype=np.float64), marks)


def seconds(count: int, value: float = 163.0) -> Trace:
    """One sample a second."""
    return trace(range(0, count * 1000, 1000), [value] * count)


def strip(channel: Channel, hours: float = 24, **more: object) -> Strip:
    """A strip of one channel from START on."""
    given_ = {"channels": (channel,), **more}
    return Strip("Strip chart", "Quillbrook Creamery", START, START + int(hours * HOUR), CHICAGO, **given_)  # type: ignore[arg-type]


def root(one: Strip, **options: object) -> ET.Element:
    """The drawing, read again as XML."""
    return ET.fromstring(strip_chart_svg(one, **options))  # type: ignore[arg-type]


def texts(drawn: ET.Element) -> list[str]:
    """Every line of text that is shown."""
    hidden = {id(node) for group in drawn.iter() if group.get("visibility") == "hidden" for node in group.iter()}
    return [node.text or "" for node in drawn.iter(f"{SVG}text") if id(node) not in hidden]


def of_class(drawn: ET.Element, name: str) -> list[ET.Element]:
    """The elements of a class."""
    return [node for node in drawn.iter() if node.get("class") == name]


def runs(path: ET.Element) -> list[list[Point]]:
    """A path's unbroken runs of places."""
    found: list[list[Point]] = []
    for kind, x, y in POINT.findall(path.get("d") or ""):
        if kind == "M":
            found.append([(float(x), float(y))])
        elif kind == "L":
            found[-1].append((float(x), float(y)))
    return found


def value_at(panel: ET.Element, y: float) -> float:
    """What a place of the plot stands for, by the scale that the drawing names."""
    top, floor, low, high = (float(panel.get(f"data-{name}") or "nan") for name in ("top", "floor", "low", "high"))
    return low + (floor - y) / (floor - top) * (high - low)


# --- nothing is lost


@settings(max_examples=60, deadline=None)
@given(
    values=st.lists(st.floats(-200, 300, allow_nan=False), min_size=2, max_size=300),
    hours=st.floats(0.01, 30),
    width=st.integers(360, 1500),
)
def test_no_extreme_is_lost(values: list[float], hours: float, width: int) -> None:
    """Any trace at any width: each column of the line reaches its least and its greatest sample, as plain Python finds
    them, at its own place."""
    length = int(hours * HOUR)
    moments = [at * length // len(values) for at in range(len(values))]
    one = strip(Channel("T-12", "°F", trace(moments, values)), length / HOUR)
    drawn = root(one, width=width)
    (panel,), (path,) = of_class(drawn, "strip-panel"), of_class(drawn, "strip-trace")
    (body,) = of_class(drawn, "strip-body")
    left, right = float(body.get("data-left") or 0), float(body.get("data-right") or 0)
    count = plot_columns(one, width)
    end = one.end_ms
    wanted = in_plain_python([START + at for at in moments], values, START, end, count)
    drawn_in: dict[int, list[float]] = {}
    for run in runs(path):
        for x, y in run:
            column = min(count - 1, max(0, int((x - left) / (right - left) * count)))
            drawn_in.setdefault(column, []).append(y)
    assert set(drawn_in) == set(wanted)
    top, floor = float(panel.get("data-top") or 0), float(panel.get("data-floor") or 0)
    for column, (low, high, *_rest) in wanted.items():
        unit = abs(value_at(panel, top) - value_at(panel, floor)) / (floor - top)
        assert value_at(panel, max(drawn_in[column])) == pytest.approx(low, abs=unit * 0.02)
        assert value_at(panel, min(drawn_in[column])) == pytest.approx(high, abs=unit * 0.02)


@pytest.mark.parametrize("width", [360, 480, 976, 1600])
@pytest.mark.parametrize("print_", [False, True])
def test_a_dip_of_one_second_is_seen_in_a_day(width: int, print_: bool) -> None:
    """86,400 samples, one of them at 120 °F: the line goes down to it, and the words say when."""
    values = [163.0] * 86_400
    values[7 * 3600] = 120.0
    one = strip(Channel("T-12", "°F", trace(range(0, 86_400_000, 1000), values)))
    drawn = root(one, width=width, print_=print_)
    (panel,), (path,) = of_class(drawn, "strip-panel"), of_class(drawn, "strip-trace")
    lowest = max((y, x) for run in runs(path) for x, y in run)
    assert value_at(panel, lowest[0]) == pytest.approx(120.0, abs=0.02)
    (body,) = of_class(drawn, "strip-body")
    left, right = float(body.get("data-left") or 0), float(body.get("data-right") or 0)
    assert lowest[1] == pytest.approx(left + (right - left) * 7 / 24, abs=1.0)
    assert "least 120.0 °F at 2026-03-03 12:00:00" in (drawn.findtext(f"{SVG}desc") or "")


def test_the_line_leaves_gaps_open_and_says_so() -> None:
    """Two hours missing: two runs, nothing between them, a bar along the foot, and the words."""
    moments = [*range(0, 6 * HOUR, MINUTE), *range(8 * HOUR, 24 * HOUR, MINUTE)]
    drawn = root(strip(Channel("T-5", "°F", trace(moments, [38.0] * len(moments)))))
    first, second = runs(of_class(drawn, "strip-trace")[0])
    (body,) = of_class(drawn, "strip-body")
    left, right = float(body.get("data-left") or 0), float(body.get("data-right") or 0)
    assert first[-1][0] == pytest.approx(left + (right - left) * 6 / 24, abs=1.5)
    assert second[0][0] == pytest.approx(left + (right - left) * 8 / 24, abs=1.5)
    shown = texts(drawn)
    assert {"nothing", "recorded"} <= set(shown) or shown.count("nothing recorded") > 1
    assert "times with nothing recorded: 1, 2 h 1 min in all" in (drawn.findtext(f"{SVG}desc") or "")


def test_a_gap_too_short_for_its_column_is_drawn_all_the_same() -> None:
    """Twenty seconds in a day are a quarter of a column: the bar is two units wide, and the legend explains it."""
    keep = [at for at in range(86_400) if not 40_000 <= at < 40_020]
    drawn = root(strip(Channel("T-5", "°F", trace([at * 1000 for at in keep], [38.0] * len(keep)))))
    bars = [node for node in drawn.iter(f"{SVG}rect") if (node.get("fill") or "").endswith("-silent)")]
    told = [node for node in bars if node.get("data-from")]
    assert [node.get("width") for node in told] == ["2"] and len(bars) == 2
    assert "nothing recorded" in texts(drawn)


def test_a_failed_sensor_has_words_of_its_own() -> None:
    """It is not the same as nothing recorded."""
    one = seconds(3600)
    failed = replace(one, failed=np.array([1000 <= at < 2500 for at in range(3600)]))
    drawn = root(strip(Channel("T-5", "°F", failed), 1))
    assert WORDS["failed"] in " ".join(texts(drawn)) and WORDS["silent"] not in texts(drawn)
    assert len(runs(of_class(drawn, "strip-trace")[0])) == 2


def test_nothing_is_missing_of_what_is_still_to_come() -> None:
    """A day of which six hours have passed: the rest is not yet silent."""
    one = strip(Channel("T-5", "°F", seconds(6 * 3600)), now_ms=START + 6 * HOUR)
    drawn = root(one)
    assert "now" in texts(drawn) and WORDS["silent"] not in texts(drawn)
    assert WORDS["silent"] in texts(root(replace(one, now_ms=START + 12 * HOUR)))


def test_a_sample_alone_is_a_dot() -> None:
    """A run of one sample is drawn, too."""
    drawn = root(strip(Channel("T-5", "°F", trace([0, 12 * HOUR], [38.0, 39.0]))))
    d = of_class(drawn, "strip-trace")[0].get("d") or ""
    drawn_alone = root(strip(Channel("T-5", "°F", trace([12 * HOUR], [39.0]))))
    alone = of_class(drawn_alone, "strip-trace")[0].get("d") or ""
    assert d.startswith("M") and re.fullmatch(r"M[\d.]+ [\d.]+h1\.2", alone)


def test_a_window_between_two_samples_shows_the_line_that_passes() -> None:
    """A logger of each ten minutes, seen for five: the line goes from edge to edge, and the words say no sample."""
    one = Channel("T-5", "°F", trace(range(0, 3 * HOUR, 10 * MINUTE), range(18)))
    near = replace(strip(one, 3), start_ms=START + 62 * MINUTE, end_ms=START + 67 * MINUTE)
    drawn = root(near)
    ((begin, end),) = runs(of_class(drawn, "strip-trace")[0])
    (panel,) = of_class(drawn, "strip-panel")
    assert begin[0] < 56 and end[0] > 900
    assert value_at(panel, begin[1]) == pytest.approx(6, abs=0.02)
    assert value_at(panel, end[1]) == pytest.approx(7, abs=0.02)
    assert "no sample has a value" in said_of(near)[0]


def test_contradicting_samples_are_a_thin_line_of_their_own() -> None:
    """Beside the first, thinner, in the legend and in the words."""
    one = Channel("T-5", "°F", seconds(3600), trace(range(600_000, 900_000, 1000), [150.0] * 300))
    drawn = root(strip(one, 1))
    (trace_,), (beside,) = of_class(drawn, "strip-trace"), of_class(drawn, "strip-beside")
    assert float(beside.get("stroke-width") or 9) < float(trace_.get("stroke-width") or 0)
    assert len(runs(beside)) == 1 and WORDS["beside"] in texts(drawn)
    assert "samples that contradict it: 300" in said_of(strip(one, 1))[0]
    (panel,) = of_class(drawn, "strip-panel")
    assert value_at(panel, runs(beside)[0][0][1]) == pytest.approx(150, abs=0.02)


# --- what stands beside the line


RULES = (Rule(161, "limit 161 °F at least"), Rule(163, "act below 163 °F", act=True))


def test_limits_are_ruled_and_named_right_of_the_plot() -> None:
    """Each at its value, its words beside the plot and never over the trace; an operating limit is dashed."""
    drawn = root(strip(Channel("T-12", "°F", seconds(3600), rules=RULES), 1))
    (panel,) = of_class(drawn, "strip-panel")
    (body,) = of_class(drawn, "strip-body")
    right = float(body.get("data-right") or 0)
    titled = {group.findtext(f"{SVG}title"): group.find(f"{SVG}line") for group in drawn.iter(f"{SVG}g")}
    for rule in RULES:
        stroke = titled[rule.words]
        assert stroke is not None and value_at(panel, float(stroke.get("y1") or 0)) == pytest.approx(
            rule.value, abs=0.02
        )
        assert (stroke.get("stroke-dasharray") is not None) == rule.act
    said = [node for node in drawn.iter(f"{SVG}text") if (node.text or "").startswith(("limit 161", "act below"))]
    assert len(said) == 2 and all(float(node.get("x") or 0) > right for node in said)


def test_a_limit_is_drawn_while_it_was_in_force() -> None:
    """A new version of the plan at noon: the old rule ends there, the new one begins."""
    noon = START + 12 * HOUR
    rules = (Rule(161, "limit 161", end_ms=noon), Rule(166, "limit 166", start_ms=noon))
    drawn = root(strip(Channel("T-12", "°F", seconds(60), rules=rules)))
    titled = {group.findtext(f"{SVG}title"): group.find(f"{SVG}line") for group in drawn.iter(f"{SVG}g")}
    old, new = titled["limit 161"], titled["limit 166"]
    assert old is not None and new is not None and old.get("x2") == new.get("x1")
    after = replace(strip(Channel("T-12", "°F", seconds(60), rules=rules)), start_ms=noon + HOUR)
    assert "limit 161" not in texts(root(after))


def test_readings_by_people_are_rings_on_the_trace_with_their_words() -> None:
    """At their moment and value; what is out of limits says so and finds room first."""
    spots = (Spot(START + HOUR, 163.4, "163.4"), Spot(START + HOUR + MINUTE, 158.0, "158.0 out of limits", out=True))
    drawn = root(strip(Channel("T-12", "°F", seconds(86_400), rules=RULES, spots=spots)))
    (panel,) = of_class(drawn, "strip-panel")
    rings = [node for node in drawn.iter(f"{SVG}circle") if node.get("r") == "4.2"]
    values = [value_at(panel, float(node.get("cy") or 0)) for node in rings[:2]]
    assert values == pytest.approx([163.4, 158.0], abs=0.02)
    assert "158.0 out of limits" in texts(drawn) and "163.4" not in texts(drawn)  # a minute apart: no room for both
    assert WORDS["reading"] in texts(drawn)
    assert "163.4" in [node.text for node in drawn.iter(f"{SVG}title")]


BANDS = (
    Band(START + 5 * HOUR, START + 8 * HOUR, "Whole milk", "milk"),
    Band(START + 8 * HOUR, START + 8 * HOUR + 5 * MINUTE, "Skim", "skim"),
    Band(START + 9 * HOUR, None, "Ice cream mix", "mix"),
)


def test_products_stand_along_the_top_in_words() -> None:
    """A textured band with its name in it; one too short has a number, and its name under the hours."""
    drawn = root(strip(Channel("T-12", "°F", seconds(86_400)), bands=BANDS))
    shown = texts(drawn)
    assert {"Whole milk", "Ice cream mix", "1"} <= set(shown)
    assert any(text.startswith("1: Skim, ") for text in shown)
    assert (
        len({node.get("id") for node in drawn.iter(f"{SVG}pattern")} & {"strip-milk", "strip-skim", "strip-mix"}) == 3
    )


def test_marked_times_have_brackets_and_sentences() -> None:
    """In words, by their moment; two at once in two rows; very many say how many more there are."""
    stretches = (
        Stretch(START + 7 * HOUR, START + 7 * HOUR + 45_000, "diverted 45 s: 120.0 °F below 161 °F"),
        Stretch(START + 7 * HOUR, START + 9 * HOUR, "finding: recorder and thermometer differ by 3 °F"),
    )
    one = strip(Channel("T-12", "°F", seconds(86_400)), stretches=stretches)
    drawn = root(one)
    placed = {node.text: float(node.get("y") or 0) for node in drawn.iter(f"{SVG}text")}
    assert abs(placed[stretches[0].words] - placed[stretches[1].words]) >= 14
    assert "diverted 45 s: 120.0 °F below 161 °F, 2026-03-03 12:00:00 to 2026-03-03 12:00:45" in said_of(one)
    many = tuple(Stretch(START + at * MINUTE, START + (at + 1) * MINUTE, f"finding number {at}") for at in range(60))
    crowded = root(replace(one, stretches=many))
    shown = [text for text in texts(crowded) if text.startswith("finding number")]
    (more,) = [text for text in texts(crowded) if "more" in text]
    assert more == f"and {60 - len(shown)} more: see the list" and len(said_of(replace(one, stretches=many))) == 61


def test_words_stay_within_the_drawing_and_apart() -> None:
    """No text runs over the right edge, at any width, with all there is to say."""
    one = strip(
        Channel(
            "T-12 Press 1 recording", "°F", seconds(86_400), rules=RULES,
            spots=tuple(Spot(START + at * HOUR, 163.0, "163.0 in limits, act") for at in range(0, 24, 2)),
        ),
        bands=BANDS,
        stretches=tuple(Stretch(START + at * HOUR, None, f"finding: a long sentence number {at}") for at in range(8)),
        now_ms=START + 23 * HOUR + 50 * MINUTE,
    )  # fmt: skip
    for width in (480, 760, 976, 1440):
        drawn = root(one, width=width)
        for group, x in _placed(drawn):
            size = float(group.get("font-size") or 12)
            room = text_width(group.text or "", size, int(group.get("font-weight") or 400))
            anchor = {"middle": 0.5, "end": 1.0}.get(group.get("text-anchor") or "", 0.0)
            assert x - anchor * room >= -1 and x + (1 - anchor) * room <= width + 1, (width, group.text)


def _placed(drawn: ET.Element) -> list[tuple[ET.Element, float]]:
    """Every shown text with its place across, moved by the groups around it."""
    found: list[tuple[ET.Element, float]] = []

    def walk(node: ET.Element, shift: float) -> None:
        if node.get("visibility") == "hidden":
            return
        moved = re.match(r"translate\((-?[\d.]+)", node.get("transform") or "")
        shift += float(moved[1]) if moved else 0.0
        if node.tag == f"{SVG}text":
            found.append((node, shift + float(node.get("x") or 0)))
        for inner in node:
            walk(inner, shift)

    walk(drawn, 0.0)
    return found


# --- units, scale, hours


def test_another_scale_moves_no_line() -> None:
    """161 °F is 71.667 °C (°C = (°F - 32) × 5/9, NIST SP 811, appendix B.8): the same place among the same things."""
    one = Channel("T-12", "°F", seconds(3600, 161.0), rules=RULES, spots=(Spot(START, 212.0, "212.0"),))
    celsius = in_unit(one, "°C")
    assert celsius.trace.values[0] == pytest.approx(71.6667, abs=1e-4)
    assert celsius.spots[0].value == pytest.approx(100.0) and celsius.rules[0].value == pytest.approx(71.6667, abs=1e-4)
    assert "°C" in texts(root(strip(celsius, 1))) and "°F" not in texts(root(strip(celsius, 1)))
    assert in_unit(celsius, "°F").trace.values == pytest.approx(one.trace.values)


@settings(max_examples=200, deadline=None)
@given(values=st.lists(st.floats(-1e5, 1e5, allow_nan=False), min_size=1, max_size=5))
def test_a_scale_holds_its_values_between_round_numbers(values: list[float]) -> None:
    """From round number to round number, few of them, evenly apart."""
    scale = Scale.of(values)
    assert scale.low <= min(values) and max(values) <= scale.high and scale.low < scale.high
    assert (scale.steps[0], scale.steps[-1]) == pytest.approx((scale.low, scale.high))
    assert 2 <= len(scale.steps) <= 10
    labels = [in_digits(value, scale.steps) for value in scale.steps]
    assert len(set(labels)) == len(labels)


def test_a_scale_says_no_number_where_there_is_nothing_to_place() -> None:
    """An empty window has no invented scale."""
    drawn = root(strip(Channel("T-5", "°F", trace([], []))))
    assert not [text for text in texts(drawn) if re.fullmatch(r"−?[\d.]+", text)]
    assert "nothing recorded" in texts(drawn)


def test_several_channels_share_the_hours() -> None:
    """Two panels, each with its own unit and scale, one axis under both."""
    flow = Channel("F-1 Flow", "gal/min", trace(range(0, 24 * HOUR, MINUTE), [30.0] * 1440), places=0)
    drawn = root(strip(Channel("T-12", "°F", seconds(86_400)), channels=(Channel("T-12", "°F", seconds(86_400)), flow)))
    first, second = of_class(drawn, "strip-panel")
    assert float(first.get("data-floor") or 0) < float(second.get("data-top") or 0)
    assert {"°F", "gal/min"} <= set(texts(drawn)) and texts(drawn).count("12:00") == 1


def test_the_repeated_hour_is_named_twice() -> None:
    """1 November 2026 in Chicago (15 U.S.C. 260a(a)): 25 hours, 01:00 twice, and the words."""
    start = milliseconds(datetime(2026, 11, 1, tzinfo=ZoneInfo(CHICAGO)))
    one = Strip("Strip chart", "", start, start + 4 * HOUR, CHICAGO, (Channel("T-5", "°F", trace([], [])),))
    shown = texts(root(one))
    assert shown.count("01:00") == 2 and {"CDT", "CST", "clocks go back"} <= set(shown)


# --- paper, escaping, refusals


FULL = strip(
    Channel(
        "T-12 Press 1 recording", "°F", seconds(86_400), trace(range(0, 900_000, 1000), [150.0] * 900), RULES,
        (Spot(START + HOUR, 163.4, "163.4"),),
    ),
    bands=BANDS,
    stretches=(Stretch(START + 7 * HOUR, START + 8 * HOUR, "finding"),),
)  # fmt: skip


def test_on_paper_it_is_ink_on_white() -> None:
    """No tint of the screen is printed, and nothing hidden is carried along."""
    printed = strip_chart_svg(FULL, print_=True)
    colors = set(re.findall(r"#[0-9a-f]{6}", printed))
    assert colors <= {PRINT.paper, PRINT.ink, PRINT.quiet, PRINT.hair, PRINT.accent}
    assert "hidden" not in printed and SCREEN.paper in strip_chart_svg(FULL)


def test_the_pdf_engine_knows_all_of_it(caplog: pytest.LogCaptureFixture) -> None:
    """WeasyPrint lays it out without a word of complaint."""
    from plant.signing.render import render_pdf

    page = f"""<!doctype html><html lang="en"><head><title>t</title><link rel="stylesheet" href="/static/css/fonts.css">
</head><body>{strip_chart_svg(FULL, width=640, print_=True)}</body></html>"""
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        pdf = render_pdf(page, static_dir=STATIC, created_at=datetime(2026, 3, 3, tzinfo=UTC), identifier="strip")
    assert pdf.startswith(b"%PDF") and [record.getMessage() for record in caplog.records] == []


def test_what_people_typed_is_escaped() -> None:
    """A name with markup is words, in the drawing and in what it says of itself."""
    name = "<script>alert(1)</script> & \"T'"
    drawn = root(strip(Channel(name, "°F", seconds(60)), 1, stretches=(Stretch(START, None, name),)))
    assert not list(drawn.iter(f"{SVG}script")) and name in (drawn.findtext(f"{SVG}desc") or "")


def test_it_says_what_it_shows() -> None:
    """A title, a description, a role; the same data give the same drawing."""
    drawn = root(FULL)
    assert drawn.get("role") == "img" and drawn.findtext(f"{SVG}title") == "Strip chart"
    desc = drawn.findtext(f"{SVG}desc") or ""
    for part in ("samples: 86,400", "limit 161 °F at least", "readings by people: 1", "Whole milk", "finding"):
        assert part in desc
    assert strip_chart_svg(FULL) == strip_chart_svg(FULL)
    ids = [node.get("id") for node in drawn.iter() if node.get("id")]
    assert len(ids) == len(set(ids))


def test_its_words_can_be_translated() -> None:
    """Every word of it comes from the caller where the caller has it."""
    said = {name: f"x{pattern}" for name, pattern in WORDS.items()}
    shown = texts(root(FULL, words=said))
    assert "xoperating limit" in shown and "operating limit" not in shown


@pytest.mark.parametrize(
    "wrong", [{"end_ms": START}, {"end_ms": START - 1}, {"channels": ()}], ids=["empty", "backward", "no channel"]
)
def test_what_cannot_be_drawn_is_refused(wrong: dict[str, object]) -> None:
    """A window without length, and no channel."""
    with pytest.raises(ValueError, match="strip"):
        replace(FULL, **wrong)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="wide"):
        strip_chart_svg(FULL, width=100)
