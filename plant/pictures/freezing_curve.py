"""The freezing curve: how much of the water is ice at each temperature, with the draw and the wanted range."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain
from plant.pictures.svg import SCREEN, Inks, drawing, line, rect, titled, words
from plant.pictures.time_plot import LEFT, SIZE, Point, TimePlot
from plant.pictures.type_width import text_width

WORDS: Mapping[str, str] = {
    "title": "Freezing curve",
    "temperature": "temperature, °C",
    "frozen": "% of the water frozen",
    "draw": "draw",
    "from": "wanted from",
    "up to": "wanted up to",
}


def freezing_curve_svg(
    curve: Sequence[Point],
    draw: Point,
    wanted: tuple[float | None, float | None] = (None, None),
    words_of: Mapping[str, str] | None = None,
    *,
    out: bool = False,
    ident: str = "freezing",
    inks: Inks = SCREEN,
) -> str:
    """Return percent frozen over temperature: the curve (°C, %), the draw as a dot, or a wedge when it is `out` of
    the wanted range, whose ends are limits.

    Raises ValueError without two points.
    """
    named = {**WORDS, **(words_of or {})}
    coldest, warmest = min(at for at, _frozen in curve), max(at for at, _frozen in curve)
    low, high = min(coldest, draw[0]), max(warmest, min(draw[0], 5.0))
    room = (high - low) / 20
    plot = TimePlot((low, high + 2 * room), (0.0, 100.0), ident, inks)
    shapes = plot.axes(named["temperature"], named["frozen"])
    label = f"{named['draw']} {plain(round(draw[0], 2))} °C, {plain(round(draw[1], 1))} %"
    desc = [label]
    for value, key in zip(wanted, ("from", "up to"), strict=True):
        if value is not None:
            text = f"{named[key]} {plain(round(value, 1))} %"
            shapes += plot.level(value, text, below=key == "from", at_left=True)
            desc.append(text)
    shapes += plot.course(sorted(curve), 2.2)
    x, y = plot.x(draw[0]), plot.y(draw[1])
    shapes += line(x, y, x, plot.floor, inks.quiet, 1, "4 3")
    shapes += titled(plot.dot(draw[0], draw[1], out), label)
    width = text_width(label, SIZE)
    # The curve is far above the axis left of the draw: the words stand there, or right of it where there is no room.
    fits = x - width - 20 > LEFT
    left, base = (x - width - 16 if fits else x + 10), plot.floor - 9
    shapes += rect(left - 3, base - 11, width + 6, 15, inks.paper)
    shapes += words(
        x - 8 if fits else left, base, label, inks.accent if out else inks.ink, SIZE, anchor="end" if fits else "start"
    )
    return drawing(
        plot.width,
        plot.height,
        shapes,
        title=named["title"],
        desc="; ".join(desc),
        ident=ident,
        css_class="freezing-curve",
    )
