"""An operating characteristic: how likely a lot is to pass a sampling plan, against how bad it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain
from plant.pictures.svg import SCREEN, Inks, drawing, element, line, titled, words
from plant.pictures.time_plot import LEFT, SIZE, Point, TimePlot

WORDS: Mapping[str, str] = {
    "title": "Operating characteristic",
    "across": "share above m, %",
    "upward": "probability of passing",
    "mark": "passes with probability",
    "at": "at",
}


def oc_curve_svg(
    curve: Sequence[Point],
    marks: Sequence[Point] = (),
    words_of: Mapping[str, str] | None = None,
    *,
    ident: str = "oc-curve",
    inks: Inks = SCREEN,
) -> str:
    """Return the curve (how bad, probability) with `marks` on it, each led to both axes and named.

    Raises ValueError for a curve without length.
    """
    named = {**WORDS, **(words_of or {})}
    if len(curve) < 2:
        raise ValueError("a curve needs two points")
    plot = TimePlot((curve[0][0], curve[-1][0]), (0.0, 1.0), ident, inks)
    shapes = plot.axes(named["across"], named["upward"])
    said = []
    for bad, chance in marks:
        if not curve[0][0] <= bad <= curve[-1][0]:
            continue
        x, y = plot.x(bad), plot.y(chance)
        text = f"{named['mark']} {plain(round(chance, 3))} {named['at']} {plain(round(bad, 2))}"
        said.append(text)
        lines = line(LEFT, y, x, y, inks.quiet, 1, "4 3") + line(x, y, x, plot.floor, inks.quiet, 1, "4 3")
        dot = element("circle", cx=x, cy=y, r=4.5, fill=inks.ink)
        label = words(x + 8, y - 6, plain(round(bad, 2)), inks.ink, SIZE, weight=700)
        shapes += titled(lines + dot + label, text)
    shapes += plot.course(curve, 2.4)
    return drawing(
        plot.width, plot.height, shapes, title=named["title"], desc="; ".join(said), ident=ident, css_class="oc-curve"
    )
