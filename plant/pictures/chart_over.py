"""The stored trace drawn over a photo of the paper chart: the trace, the limits, readings, and lines to check the fit.

Drawn in thousandths of the photo's width, without a ground of its own, so that it lies over the photo. For drawing
only: nothing is judged by it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from plant.pictures.chart_geometry import CircularFit, Fit
from plant.pictures.strip_columns import line as columns_of
from plant.pictures.strip_data import Rule, Spot, Trace
from plant.pictures.svg import SCREEN, TEXT_FONT, drawing, element, escape, number, titled
from plant.process.arrays import FloatArray

COLUMNS = 2880  # half a minute each of a day
FINEST_STEP = 1 / 720  # of a turn, or of a strip's marked length: half a degree
GRID = 100  # thousandths between two ruled lines of the grid

Points = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True)
class Over:
    """What lies over a photo whose height is `height` thousandths of its width, from `start_ms` to `end_ms`.

    `hours`: moments (ms) whose time lines are drawn, with their words, so that a wrong fit is seen.
    """

    fit: Fit
    height: float
    start_ms: int
    end_ms: int
    trace: Trace
    rules: tuple[Rule, ...] = ()
    spots: tuple[Spot, ...] = ()
    hours: tuple[tuple[int, str], ...] = ()
    values: tuple[tuple[float, str], ...] = ()  # the two marked values with their words: their lines are drawn


def chart_over_svg(over: Over, *, title: str, desc: str, ident: str = "chart-over") -> str:
    """The drawing as SVG, for laying over the photo."""
    inside = "".join(
        [
            *(_time_line(over, at, words) for at, words in over.hours),
            *(_value_line(over, value, words) for value, words in over.values),
            *(_limit(over, one) for one in over.rules),
            _trace(over),
            *(_spot(over, one) for one in over.spots),
        ]
    )
    return drawing(1000, over.height, inside, title=title, desc=desc, ident=ident, css_class="chart-over")


def grid_svg(height: float, marks: Iterable[tuple[float, float, str]], *, title: str) -> str:
    """A grid ruled over the photo, numbered in thousandths of its width, with the marks made so far and their names."""
    lines = []
    for at in range(0, 1001, GRID):
        lines.append(_ruled(f"M{at} 0V{number(height)}"))
        lines.append(_label(at + 4, 22, str(at)))
    for at in range(GRID, int(height) + 1, GRID):
        lines.append(_ruled(f"M0 {at}H1000"))
        lines.append(_label(4, at - 5, str(at)))
    crosses = "".join(_cross(x, y, words) for x, y, words in marks)
    inside = "".join(lines) + crosses
    return drawing(1000, height, inside, title=title, ident="chart-grid", css_class="chart-over")


def runs(over: Over) -> list[Points]:
    """The unbroken parts of the trace as places on the photo, dense enough to follow the paper's curves."""
    if over.end_ms <= over.start_ms or not len(over.trace):
        return []
    found = columns_of(over.trace, over.start_ms, over.end_ms, COLUMNS)
    step = (over.end_ms - over.start_ms) / COLUMNS
    parts: list[tuple[list[float], list[float]]] = []
    for at in np.flatnonzero(found.columns.count > 0).tolist():
        one = found.columns
        middle = over.start_ms + (at + 0.5) * step
        if not parts or not found.joined[at]:
            parts.append(([], []))
        times, values = parts[-1]
        # First, the extremes, last: the shortest dip of a column is seen.
        for value in dict.fromkeys((one.first[at], one.low[at], one.high[at], one.last[at])):
            times.append(middle)
            values.append(float(value))
    return [over.fit.place(*_dense(np.array(times), np.array(values), _finest(over.fit))) for times, values in parts]


def _finest(fit: Fit) -> float:
    whole = fit.turn_ms if isinstance(fit, CircularFit) else abs(fit.second_ms - fit.first_ms)
    return max(1.0, whole * FINEST_STEP)


def _dense(times: FloatArray, values: FloatArray, step: float) -> Points:
    """The same polyline in time and value with more points on its long steps: paper curves, lines in time do not."""
    pieces_t, pieces_v = [times[:1]], [values[:1]]
    for at in range(1, len(times)):
        more = max(1, math.ceil((times[at] - times[at - 1]) / step))
        share = np.arange(1, more + 1) / more
        pieces_t.append(times[at - 1] + share * (times[at] - times[at - 1]))
        pieces_v.append(values[at - 1] + share * (values[at] - values[at - 1]))
    return np.concatenate(pieces_t), np.concatenate(pieces_v)


def path_of(places: Points) -> str:
    """An SVG path through places; broken where the pen cannot have been."""
    written, pen_down = [], False
    for x, y in zip(*(one.tolist() for one in places), strict=True):
        if math.isnan(x) or math.isnan(y):
            pen_down = False
            continue
        written.append(f"{'L' if pen_down else 'M'}{number(round(x, 2))} {number(round(y, 2))}")
        pen_down = True
    return "".join(written)


def _trace(over: Over) -> str:
    """The line in the accent on a rim of paper, so that it stands out on any photo; a lone sample is a dot."""
    drawn = []
    for places in runs(over):
        d = path_of(places)
        if d.count("L") == 0 and d:
            d += "h0.01"  # a round cap makes it a dot
        drawn.append(d)
    d = "".join(drawn)
    if not d:
        return ""
    rim = _stroke(d, SCREEN.paper, 5, 0.75)
    return f'<g class="chart-over-trace">{rim}{_stroke(d, SCREEN.accent, 1.8)}</g>'


def _limit(over: Over, rule: Rule) -> str:
    """A limit, drawn for the time that it was in force: dashed where it is an operating limit."""
    start = max(over.start_ms, rule.start_ms if rule.start_ms is not None else over.start_ms)
    end = min(over.end_ms, rule.end_ms if rule.end_ms is not None else over.end_ms)
    if end <= start:
        return ""
    d = path_of(_along(over.fit, start, end, rule.value))
    rim = _stroke(d, SCREEN.paper, 3.4, 0.7)
    return titled(rim + _stroke(d, SCREEN.ink, 1.4, dash="8 5" if rule.act else None), rule.words)


def _along(fit: Fit, start: float, end: float, value: float) -> Points:
    if isinstance(fit, CircularFit):
        end = min(end, start + fit.turn_ms)  # once round is the whole circle
    steps = max(2, math.ceil((end - start) / _finest(fit)) + 1)
    times = np.linspace(start, end, min(steps, 20_000))
    return fit.place(times, np.full(len(times), value))


def _value_line(over: Over, value: float, words: str) -> str:
    d = path_of(_along(over.fit, over.start_ms, over.end_ms, value))
    return titled(_stroke(d, SCREEN.ink, 0.9, 0.75, dash="2 4"), words)


def _time_line(over: Over, at_ms: int, words: str) -> str:
    """The line along which the pen swings at a moment, between the two marked values."""
    fit = over.fit
    low, high = (
        (fit.inner_value, fit.outer_value) if isinstance(fit, CircularFit) else (fit.first_value, fit.second_value)
    )
    values = np.linspace(low, high, 24)
    x, y = fit.place(np.full(24, float(at_ms)), values)
    line = _stroke(path_of((x, y)), SCREEN.ink, 0.8, 0.7)
    if math.isnan(x[-1]):
        return line
    return line + _label(float(x[-1]), float(y[-1]), words, anchor="middle")


def _spot(over: Over, one: Spot) -> str:
    """A reading by a person, as a ring where the pen should have been then."""
    x, y = (float(at[0]) for at in over.fit.place(np.array([float(one.at_ms)]), np.array([one.value])))
    if math.isnan(x) or not over.start_ms <= one.at_ms <= over.end_ms:
        return ""
    ring = element("circle", cx=x, cy=y, r=5, fill="none", stroke=SCREEN.paper, stroke_width=4.5)
    ring += element("circle", cx=x, cy=y, r=5, fill="none", stroke=SCREEN.ink, stroke_width=2)
    return titled(ring, one.tip or one.words)


def _stroke(d: str, ink: str, width: float, opacity: float = 1.0, dash: str | None = None) -> str:
    return element(
        "path",
        d=d,
        fill="none",
        stroke=ink,
        stroke_width=width,
        stroke_opacity=opacity if opacity < 1 else None,
        stroke_dasharray=dash,
        stroke_linejoin="round",
        stroke_linecap="round",
    )


def _ruled(d: str) -> str:
    return _stroke(d, SCREEN.paper, 1.6, 0.6) + _stroke(d, SCREEN.ink, 0.5, 0.8)


def _label(x: float, y: float, words: str, anchor: str = "start") -> str:
    """Words with a rim of paper, readable on any photo."""
    return element(
        "text",
        escape(words),
        x=x,
        y=y,
        fill=SCREEN.ink,
        stroke=SCREEN.paper,
        stroke_width=4,
        paint_order="stroke",
        font_family=TEXT_FONT,
        font_size=18,
        text_anchor=anchor,
    )


def _cross(x: float, y: float, words: str) -> str:
    d = f"M{number(x - 12)} {number(y)}h24M{number(x)} {number(y - 12)}v24"
    return _stroke(d, SCREEN.paper, 5, 0.8) + _stroke(d, SCREEN.accent, 1.8) + _label(x + 8, y - 8, words)
