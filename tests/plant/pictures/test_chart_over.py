"""The trace over the photo: it lies on the ink of a chart that was drawn without our code; limits and readings too."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image

from plant.pictures.chart_geometry import CircularFit, StripFit
from plant.pictures.chart_over import Over, chart_over_svg, grid_svg, path_of, runs
from plant.pictures.photo_size import photo_size
from plant.pictures.strip_data import Rule, Spot, Trace
from tests.records.charts.drawn import HEIGHT, PEN, WIDTH, chart_png, marks

pytestmark = pytest.mark.once

HOUR = 3_600_000
MIDNIGHT = int(datetime(2026, 3, 2, tzinfo=UTC).timestamp() * 1000)


def trace(hours: list[float], values: list[float], failed: list[bool] | None = None) -> Trace:
    """Samples at these hours of the day."""
    times = np.array([MIDNIGHT + round(at * HOUR) for at in hours], np.int64)
    return Trace(times, np.array(values), np.array(failed or [False] * len(hours), np.bool_))


def fit() -> CircularFit:
    """By the marks that a person makes on the drawn chart."""
    number = {name: float(text) for name, text in marks().items() if name not in ("turns", "unit")}
    inner, outer = (
        math.hypot(number[f"{one}_x"] - number["center_x"], number[f"{one}_y"] - number["center_y"])
        for one in ("inner", "outer")
    )
    center, mark = (number["center_x"], number["center_y"]), (number["mark_x"], number["mark_y"])
    return CircularFit(*center, inner, 100.0, outer, 220.0, *mark, MIDNIGHT + 12 * HOUR, 24 * HOUR, True)


def over(given: Trace, **changes: Any) -> Over:
    """A day over the drawn chart."""
    values: dict[str, Any] = {"fit": fit(), "height": 750.0, "start_ms": MIDNIGHT, "trace": given}
    return Over(**(values | {"end_ms": MIDNIGHT + 24 * HOUR} | changes))


def test_trace_lies_on_the_ink_of_the_photo() -> None:
    """A morning with a ramp, a hold and a dip, drawn by Pillow and by us: never more than three pixels apart."""
    hours = [one / 60 for one in range(5 * 60, 17 * 60)]
    values = [130 + 40 * math.sin(one / 2) + (25 if 9 < one < 10 else 0) for one in hours]
    image = Image.open(BytesIO(chart_png(list(zip(hours, values, strict=True))))).convert("RGB")
    ink = np.argwhere((np.abs(np.asarray(image).astype(int) - PEN).sum(axis=2)) < 60)  # rows: y, x
    (places,) = runs(over(trace(hours, values)))
    for x, y in zip(places[0][::15] * WIDTH / 1000, places[1][::15] * WIDTH / 1000, strict=True):
        assert np.hypot(ink[:, 1] - x, ink[:, 0] - y).min() < 3


def test_shortest_dip_is_drawn() -> None:
    """One second of a day at one a second."""
    times = MIDNIGHT + 1000 * np.arange(24 * 3600, dtype=np.int64)
    values = np.full(24 * 3600, 162.0)
    values[7 * 3600 + 11] = 120.0
    (places,) = runs(over(Trace(times, values, np.zeros(24 * 3600, np.bool_))))
    radii = np.hypot(places[0] - 500, places[1] - 375)
    wanted = fit().radius(np.array([120.0, 162.0]))
    assert radii.min() == pytest.approx(wanted[0]) and np.median(radii) == pytest.approx(wanted[1])


def test_long_steps_follow_the_paper() -> None:
    """Two samples six hours apart: a quarter circle between them, not its chord."""
    (places,) = runs(over(trace([0, 6, 12, 18], [160.0] * 4)))
    assert np.hypot(places[0] - 500, places[1] - 375) == pytest.approx(
        np.full(len(places[0]), fit().radius(np.array([160.0]))[0])
    )


def test_line_is_broken_where_nothing_was_recorded() -> None:
    """A gap and a failed sensor: three runs."""
    hours = [*(one / 60 for one in range(60)), *(5 + one / 60 for one in range(60))]
    failed = [False] * 90 + [True] + [False] * 29
    assert len(runs(over(trace(hours, [160.0] * 120, failed)))) == 3


def test_nothing_recorded_draws_nothing() -> None:
    """No samples, and a chart that has just been put on."""
    assert runs(over(trace([], []))) == []
    assert runs(over(trace([1.0], [160.0]), end_ms=MIDNIGHT)) == []
    assert "chart-over-trace" not in chart_over_svg(over(trace([], [])), title="t", desc="d")


def parsed(svg: str) -> ElementTree.Element:
    """The drawing as a tree; a fault in it would raise."""
    return ElementTree.fromstring(svg)


def test_limits_readings_hours_and_values_are_drawn_with_their_words() -> None:
    """Words for whoever points or listens; what somebody typed stays text."""
    svg = chart_over_svg(
        over(
            trace([1, 2], [160.0, 161.0]),
            rules=(Rule(161.0, "limit 161 °F at least"), Rule(158, "act <b>", act=True, end_ms=MIDNIGHT)),
            spots=(Spot(MIDNIGHT + HOUR, 161.5, "161.5", tip="161.5 °F <script>"), Spot(0, 1.0, "long ago")),
            hours=((MIDNIGHT + 12 * HOUR, "12:00"),),
            values=((100.0, "100 °F"), (220.0, "220 °F")),
        ),
        title="a <chart>",
        desc="by marks",
    )
    text = " ".join(parsed(svg).itertext())
    for words in ("limit 161 °F at least", "161.5 °F <script>", "12:00", "100 °F", "a <chart>"):
        assert words in text
    assert "act <b>" not in text and "long ago" not in text  # neither falls into the chart's time
    assert 'viewBox="0 0 1000 750"' in svg


def test_limit_is_a_whole_circle_and_no_more() -> None:
    """However long the chart ran."""
    svg = chart_over_svg(
        over(trace([], []), end_ms=MIDNIGHT + 90 * HOUR, rules=(Rule(161.0, "limit"),)), title="t", desc="d"
    )
    assert svg.count("L") < 2 * 1500


def test_grid_is_numbered_in_thousandths_of_the_width() -> None:
    """Lines at each hundred both ways, and the marks made so far with their names."""
    tree = parsed(grid_svg(750, [(500, 375, "The center <x>")], title="grid"))
    text = [one for one in tree.itertext() if one.strip()]
    assert text.count("700") == 2 and text.count("800") == 1 and "The center <x>" in text


def test_strip_is_drawn_by_its_corners() -> None:
    """A straight line stays straight."""
    given = StripFit(100, 500, MIDNIGHT, 0, 900, 100, MIDNIGHT + HOUR, 200)
    (places,) = runs(over(trace([0, 0.5], [0.0, 100.0]), fit=given, end_ms=MIDNIGHT + HOUR))
    assert (places[0][-1], places[1][-1]) == pytest.approx((500, 300), abs=0.5)


def test_path_is_broken_where_the_pen_cannot_have_been() -> None:
    """nan lifts the pen."""
    assert path_of((np.array([0, 1, math.nan, 2.0]), np.array([0, 1, 1, 2.0]))) == "M0 0L1 1M2 2"


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_size_of_a_photo(kind: str) -> None:
    """As a browser shows it."""
    assert photo_size(chart_png(kind=kind)) == (WIDTH, HEIGHT)


@pytest.mark.parametrize(("orientation", "size"), [(1, (40, 30)), (3, (40, 30)), (6, (30, 40)), (8, (30, 40))])
def test_turned_photo_has_its_sides_changed(orientation: int, size: tuple[int, int]) -> None:
    """A tablet held upright: Exif orientation 5 to 8 (Exif 2.3, 4.6.4, from memory)."""
    image, data = Image.new("RGB", (40, 30)), BytesIO()
    exif = image.getexif()
    exif[0x0112] = orientation
    image.save(data, "JPEG", exif=exif)
    assert photo_size(data.getvalue()) == size


@pytest.mark.parametrize("data", [b"", b"\xff\xd8\xff\xe0 no more", b"\x89PNG\r\n\x1a\n" + bytes(40), b"RIFF....WEBP"])
def test_damaged_photo_has_no_size(data: bytes) -> None:
    """And is no error."""
    assert photo_size(data) is None
