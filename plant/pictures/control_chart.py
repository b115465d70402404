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

    A limit that is nan is none at that point; one that is nan throughout is not drawn. `signals` point -> what it says;
    those points are wedges in the accent with their number, all others dots. `baseline` points from the left that the
    limits come from end at a dashed rule. Raises ValueError for lengths that differ, or without a point.
    """
    named = {**WORDS, **(words_of or {})}
    if not points or not len(points) == len(center) == len(lower) == len(upper):
        raise ValueError("a control chart needs points, and a center and two limits for each")
    there = [value for value in points if math.isfinite(value)]
    bounds = {"upper": upper, "center": center, "lower": lower}
    known = {name: [one for one in series if math.isfinite(one)] for name, series in bounds.items()}
    span = padded([*there, *(one for series in known.values() for one in series)], least=1e-9)
    # A share of the width on the right is kept for the names of the limits.
    plot = TimePlot((0.5, 0.5 + len(points) / (1 - NAMES)), span, ident, inks)
    last = {name: plain(_short(known[name][-1])) for name in ("center", "lower", "upper") if known[name]}
    shapes = _axes(plot, len(points), named["point"], unit)
    if 0 < baseline < len(points):
        x = plot.x(baseline + 0.5)
        shapes += titled(line(x, TOP, x, plot.floor, inks.ink, 1.5, "5 4"), named["baseline"])
    shapes += _steps(plot, center, inks.quiet, 1.5)
    shapes += _steps(plot, upper, inks.accent, 2.5) + _steps(plot, lower, inks.accent, 2.5)
    sides = (("limit", "upper", inks.accent), ("center", "center", inks.quiet), ("limit", "lower", inks.accent))
    ends = [one for one in sides if known[one[1]]]
    heights = spread([plot.y(known[name][-1]) for _word, name, _ink in ends], 16, TOP, plot.floor)
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
    """A limit or the center, a step for each point; a gap where there is none."""
    d, before = "", math.nan
    for number, value in enumerate(values, 1):
        if math.isfinite(value):
            begin = "" if math.isfinite(before) else f"M{plot.x(number - 0.5):.2f} {plot.y(value):.2f}"
            d += f"{begin}V{plot.y(value):.2f}H{plot.x(number + 0.5):.2f}"
        before = value
    return path(d, ink, width) if d else ""


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
    said = [f"{named[name]} {last[name]} {unit}".rstrip() for name in ("center", "lower", "upper") if name in last]
    said += [f"{named['signal']} {number}: {text}" for number, text in sorted(signals.items()) if number <= count]
    return "; ".join(said if signals else [*said, named["none"]])


def _short(value: float) -> float:
    return float(f"{value:.5g}")
