"""A tank's temperature over time: a warming one with its line, band and limit, and a trace with its time out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plant.pictures.scale import plain
from plant.pictures.svg import SCREEN, Inks, drawing, element, line, rect, titled, words
from plant.pictures.time_plot import SIZE, TOP, Point, TimePlot, padded
from plant.pictures.type_width import text_width

WORDS: Mapping[str, str] = {
    "hours": "hours",
    "limit": "limit",
    "warming": "Warming tank",
    "expected": "limit reached after",
    "trace": "Temperature over time",
    "out": "counts as out",
    "gap": "not proven",
    "deadline": "by",
    "out of limits": "out of limits",
    "to": "to",
}


@dataclass(frozen=True, slots=True)
class Reached:
    """When the limit is reached [h]: earliest, expected, latest."""

    earliest: float
    expected: float
    latest: float


def warming_svg(
    readings: Sequence[Point],
    limit: float,
    unit: str,
    band: Sequence[tuple[float, float, float, float]],
    reached: Reached | None,
    words_of: Mapping[str, str] | None = None,
    *,
    ident: str = "warming",
    inks: Inks = SCREEN,
) -> str:
    """Return the readings (hours, value) with the line through them, its band and the limit, values in `unit`.

    `band` is the line with its confidence interval as (hours, low, middle, high), drawn as far as it is given;
    `reached` is marked on the limit. Raises ValueError without readings.
    """
    named = {**WORDS, **(words_of or {})}
    hours = [one for one, _value in readings] + [one[0] for one in band]
    levels = [value for _hours, value in readings] + [limit, *(one[2] for one in band)]
    plot = TimePlot((min(hours), max(max(hours), min(hours) + 0.1)), padded(levels, 2.0), ident, inks)
    shapes = plot.axes(named["hours"], unit)
    if band:
        shapes += plot.band([(at, low, high) for at, low, _middle, high in band])
        shapes += plot.course([(at, middle) for at, _low, middle, _high in band])
    said = [f"{named['limit']} {plain(limit)} {unit}"]
    shapes += plot.level(limit, said[0], at_left=True)
    if reached is not None:
        text = _reached_words(reached, named)
        shapes += titled(_reached(plot, limit, reached), text)
        # A warming tank's line rises: the lower right corner is free.
        shapes += words(plot.right - 4, plot.floor - 10, text, inks.ink, SIZE, anchor="end")
        said.append(text)
    shapes += _readings(plot, readings, [value > limit for _at, value in readings], unit, named)
    said += [f"{plain(at)} h {plain(round(value, 2))} {unit}" for at, value in readings]
    return drawing(
        plot.width, plot.height, shapes, title=named["warming"], desc="; ".join(said), ident=ident,
        css_class="tank-chart",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trace:
    """What a drawing of a trace shows.

    `readings` (hours, value), `bad` says of each whether it is out of limits; `limits` by name; `out` and `gaps` are
    spans of hours that count as out and that are not proven; `deadline` [h] by when the limit is to be reached.
    """

    readings: Sequence[Point]
    bad: Sequence[bool]
    limits: Mapping[str, float]
    out: Sequence[Point] = ()
    gaps: Sequence[Point] = ()
    deadline: float | None = None


def trace_svg(
    trace: Trace,
    unit: str,
    words_of: Mapping[str, str] | None = None,
    *,
    ident: str = "trace",
    inks: Inks = SCREEN,
) -> str:
    """Return a trace with its limits, and under it what counts as out and what is not proven, values in `unit`.

    A gap's line is left out, for nobody knows it. Raises ValueError without readings.
    """
    named = {**WORDS, **(words_of or {})}
    hours = [at for at, _value in trace.readings] + ([] if trace.deadline is None else [trace.deadline])
    low, high = padded([value for _at, value in trace.readings] + list(trace.limits.values()), 2.0)
    # Room for the bars under the lowest reading.
    plot = TimePlot((min(hours), max(max(hours), min(hours) + 0.1)), (low - (high - low) / 7, high), ident, inks)
    shapes, said = plot.axes(named["hours"], unit), []
    for name, limit in trace.limits.items():
        said.append(f"{name} {plain(limit)} {unit}")
        # Named at the end from which the readings are farther; the lower one of two below its stroke.
        at_left = abs(trace.readings[0][1] - limit) > abs(trace.readings[-1][1] - limit)
        shapes += plot.level(limit, said[-1], below=limit < max(trace.limits.values()), at_left=at_left)
    if trace.deadline is not None:
        text = f"{named['deadline']} {plain(round(trace.deadline, 2))} h"
        said.append(text)
        shapes += titled(_deadline(plot, trace.deadline, text), text)
    for piece in _pieces(trace.readings, trace.gaps):
        shapes += plot.course(piece)
    for spans, key in ((trace.out, "out"), (trace.gaps, "gap")):
        for start, end in spans:
            text = f"{named[key]}: {plain(round(start, 2))} {named['to']} {plain(round(end, 2))} h"
            said.append(text)
            shapes += titled(_bar(plot, start, end, named[key], solid=key == "out"), text)
    shapes += _readings(plot, trace.readings, trace.bad, unit, named)
    return drawing(
        plot.width, plot.height, shapes, title=named["trace"], desc="; ".join(said), ident=ident,
        css_class="tank-chart",
    )  # fmt: skip


def _readings(
    plot: TimePlot, readings: Sequence[Point], bad: Sequence[bool], unit: str, named: Mapping[str, str]
) -> str:
    shapes = ""
    for (at, value), out in zip(readings, bad, strict=True):
        said = f"{plain(round(at, 2))} h: {plain(round(value, 2))} {unit}"
        said += f", {named['out of limits']}" if out else ""
        shapes += titled(plot.dot(at, value, out), said)
    return shapes


def _reached_words(reached: Reached, named: Mapping[str, str]) -> str:
    earliest, expected, latest = (plain(round(one, 1)) for one in (reached.earliest, reached.expected, reached.latest))
    return f"{named['expected']} {expected} h ({earliest} {named['to']} {latest} h)"


def _reached(plot: TimePlot, limit: float, reached: Reached) -> str:
    """A bracket on the limit from earliest to latest, an open diamond where it is expected."""
    y, ink = plot.y(limit), plot.inks.ink
    left, middle, right = (plot.x(one) for one in (reached.earliest, reached.expected, reached.latest))
    shapes = line(left, y - 9, left, y + 9, ink, 2)
    shapes += line(left, y, right, y, ink, 2)
    if reached.latest <= plot.hours[1]:
        shapes += line(right, y - 9, right, y + 9, ink, 2)
    diamond = f"M{middle - 7:.2f} {y:.2f}L{middle:.2f} {y - 7:.2f}L{middle + 7:.2f} {y:.2f}L{middle:.2f} {y + 7:.2f}Z"
    return shapes + element("path", d=diamond, fill=plot.inks.paper, stroke=ink, stroke_width=2)


def _deadline(plot: TimePlot, hours: float, text: str) -> str:
    """A dashed stroke at the moment by which the limit is to be reached, named at its head on the side with room."""
    x, room = plot.x(hours), text_width(text, SIZE)
    right = x + room + 6 < plot.right
    return line(x, TOP, x, plot.floor, plot.inks.ink, 1.4, "5 3") + words(
        x + 5 if right else x - 5, TOP + 11, text, plot.inks.ink, SIZE, anchor="start" if right else "end"
    )


def _bar(plot: TimePlot, start: float, end: float, word: str, *, solid: bool) -> str:
    """A bar above the hours: filled for what counts as out, open and dashed for what is not proven."""
    left, right = plot.x(start), plot.x(end)
    y, wide = plot.floor - 15, max(right - left, 2.0)
    if solid:
        bar = rect(left, y, wide, 11, plot.inks.accent)
    else:
        bar = element(
            "rect", x=left, y=y, width=wide, height=11, fill=plot.inks.paper, stroke=plot.inks.ink,
            stroke_dasharray="3 2",
        )  # fmt: skip
    if text_width(word, SIZE) + 4 > wide:
        return bar
    return bar + words((left + right) / 2, y - 4, word, plot.inks.ink, SIZE, anchor="middle")


def _pieces(readings: Sequence[Point], gaps: Sequence[tuple[float, float]]) -> list[list[Point]]:
    """The readings in rows without a gap between two of them."""
    starts = {start for start, _end in gaps}
    pieces: list[list[Point]] = [[]]
    for at, value in readings:
        pieces[-1].append((at, value))
        if any(abs(at - start) < 1e-9 for start in starts):
            pieces.append([])
    return [one for one in pieces if len(one) > 1]
