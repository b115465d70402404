"""A control chart: the points in their order, the center, the control limits, and the points that signal."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from plant.pictures.placing import spread
from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, titled, words
from plant.pictures.time_plot import LEFT, SIZE, TOP, TimePlot, padded

WORDS: Mapping[str, str] = {
    "title": "Control chart",
    "point": "point",
    "center": "center",
    "limit": "control limit",
    "upper": "upper control limit",
    "lower": "lower control limit",
    "baseline": "limits come from the points up to here",
    "signal": "signal",
    "none": "no signal",
}


NAMES = 0.3


def control_chart_svg(
    points: Sequence[float],
    center: Sequence[float],
    lower: Sequence[float],
    upper: Sequence[float],
    signals: Mapping[int, str],
    unit: str,
    words_of: Mapping[str, str] | None = None,
    *,
    baseline: int = 0,
    ident: str = "control-chart",
    inks: Inks = SCREEN,
) -> str:
    """Return the chart: `points` counted from 1 (nan: none there) with a center and limits for each.

    `signals` point -> what it says; those points are wedges in the accent with their number, all others dots.
    `baseline` points from the left that the limits come from end at a dashed rule. Raises ValueError for lengths that
    differ, or without a point.
    """
    named = {**WORDS, **(words_of or {})}
    if not points or not len(points) == len(center) == len(lower) == len(upper):
        raise ValueError("a control chart needs points, and a center and two limits for each")
    there = [value for value in points if math.isfinite(value)]
    span = padded([*there, *center, *lower, *upper], least=1e-9)
    # A share of the width on the right is kept for the names of the limits.
    plot = TimePlot((0.5, 0.5 + len(points) / (1 - NAMES)), span, ident, inks)
    last = {name: plain(_short(series[-1])) for name, series in
            (("center", center), ("lower", lower), ("upper", upper))}  # fmt: skip
    shapes = _axes(plot, len(points), named["point"], unit)
    if 0 < baseline < len(points):
        x = plot.x(baseline + 0.5)
        shapes += titled(line(x, TOP, x, plot.floor, inks.ink, 1.5, "5 4"), named["baseline"])
    shapes += _steps(plot, center, inks.quiet, 1.5)
    shapes += _steps(plot, upper, inks.accent, 2.5) + _steps(plot, lower, inks.accent, 2.5)
    ends = (("limit", "upper", inks.accent), ("center", "center", inks.quiet), ("limit", "lower", inks.accent))
    heights = spread([plot.y(series[-1]) for series in (upper, center, lower)], 16, TOP, plot.floor)
    for (word, name, ink), y in zip(ends, heights, strict=True):
        shapes += words(plot.x(len(points) + 0.5) + 6, y + 4.5, f"{named[word]} {last[name]}", ink, SIZE, weight=700)
    shapes += plot.course([(place + 1.0, value) for place, value in enumerate(points) if math.isfinite(value)], 1.2)
    for number, value in enumerate(points, 1):
        if math.isfinite(value):
            shapes += _mark(plot, number, value, signals.get(number, ""), inks)
    return drawing(
        plot.width, plot.height, shapes, title=named["title"], desc=_in_words(named, last, unit, signals, len(points)),
        ident=ident, css_class="control-chart",
    )  # fmt: skip


def _axes(plot: TimePlot, count: int, point_word: str, unit: str) -> str:
    """Whole numbers across, values upward."""
    inks = plot.inks
    shapes = line(LEFT, plot.floor, plot.right, plot.floor, inks.ink, 2) + line(
        LEFT, TOP, LEFT, plot.floor, inks.ink, 2
    )
    places = [1.0] if count == 1 else [one for one in round_steps(1, count, min(count, 12)) if one == int(one)]
    for value in places:
        x = plot.x(value)
        shapes += line(x, plot.floor, x, plot.floor + 6, inks.ink, 1)
        shapes += words(x, plot.floor + 20, plain(value), inks.quiet, SIZE, anchor="middle", font=NUMBER_FONT)
    for value in round_steps(*plot.values, 7):
        y = plot.y(value)
        shapes += line(LEFT - 6, y, LEFT, y, inks.ink, 1)
        shapes += words(LEFT - 9, y + 4.5, plain(value), inks.quiet, SIZE, anchor="end", font=NUMBER_FONT)
    shapes += words(plot.right, plot.height - 8, point_word, inks.quiet, SIZE, anchor="end")
    return shapes + words(4, 16, unit, inks.quiet, SIZE)


def _steps(plot: TimePlot, values: Sequence[float], ink: str, width: float) -> str:
    """A limit or the center, a step for each point."""
    d = f"M{plot.x(0.5):.2f} {plot.y(values[0]):.2f}"
    for number, value in enumerate(values, 1):
        d += f"V{plot.y(value):.2f}H{plot.x(number + 0.5):.2f}"
    return path(d, ink, width)


def _mark(plot: TimePlot, number: int, value: float, signal: str, inks: Inks) -> str:
    x, y = plot.x(number), plot.y(value)
    if not signal:
        return titled(element("circle", cx=x, cy=y, r=3.4, fill=inks.ink), f"{number}: {plain(_short(value))}")
    wedge = path(f"M{x - 5:.2f} {y - 6:.2f}L{x + 6:.2f} {y:.2f}L{x - 5:.2f} {y + 6:.2f}Z", inks.ink, 0.8, inks.accent)
    high = y - 9 if y > TOP + 18 else y + 19
    name = words(x, high, str(number), inks.accent, SIZE, anchor="middle", weight=700)
    return titled(wedge + name, f"{number}: {plain(_short(value))}, {signal}")


def _in_words(
    named: Mapping[str, str], last: Mapping[str, str], unit: str, signals: Mapping[int, str], count: int
) -> str:
    said = [f"{named[name]} {last[name]} {unit}".rstrip() for name in ("center", "lower", "upper")]
    said += [f"{named['signal']} {number}: {text}" for number, text in sorted(signals.items()) if number <= count]
    return "; ".join(said if signals else [*said, named["none"]])


def _short(value: float) -> float:
    return float(f"{value:.5g}")
