"""Growth that a trace allows, over time: the estimate, what is possible at the end, and the stated maximum."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain
from plant.pictures.svg import SCREEN, Inks, drawing, line, titled, words
from plant.pictures.time_plot import SIZE, Point, TimePlot

WORDS: Mapping[str, str] = {
    "hours": "hours",
    "unit": "log10 increase",
    "title": "Growth over time",
    "maximum": "maximum",
    "end": "at the end",
    "to": "to",
}


def growth_svg(
    course: Sequence[Point],
    lowest: float,
    highest: float,
    maximum: float | None = None,
    words_of: Mapping[str, str] | None = None,
    *,
    ident: str = "growth",
    inks: Inks = SCREEN,
) -> str:
    """Return the increase (hours, log10) as a line, with `lowest` to `highest` at its end, and the maximum.

    Raises ValueError without two points.
    """
    named = {**WORDS, **(words_of or {})}
    hours, levels = [at for at, _level in course], [level for _at, level in course]
    top = max(*levels, highest, 0.01)
    # A maximum far above says nothing here and would press the line flat; the words still name it.
    near = maximum is not None and maximum <= 2 * top
    room = (hours[-1] - hours[0]) / 25
    plot = TimePlot((hours[0], hours[-1] + room), (0.0, max(top, maximum or 0.0 if near else 0.0) * 1.15), ident, inks)
    shapes = plot.axes(named["hours"], named["unit"])
    said = (
        f"{named['end']} {plain(round(levels[-1], 2))} "
        f"({plain(round(lowest, 2))} {named['to']} {plain(round(highest, 2))})"
    )
    desc = said
    if maximum is not None:
        label = f"{named['maximum']} {plain(round(maximum, 2))}"
        shapes += plot.level(maximum, label, at_left=True) if near else ""
        desc += f"; {label}"
    shapes += plot.course(course, 2.2)
    x = plot.x(hours[-1] + room / 2)
    bracket = line(x, plot.y(lowest), x, plot.y(highest), inks.ink, 2)
    for value in (lowest, highest):
        bracket += line(x - 6, plot.y(value), x + 6, plot.y(value), inks.ink, 2)
    shapes += titled(bracket + plot.dot(hours[-1], levels[-1], out=False), said)
    shapes += words(plot.right - 4, plot.floor - 10, said, inks.ink, SIZE, anchor="end")
    return drawing(
        plot.width, plot.height, shapes, title=named["title"], desc=desc, ident=ident, css_class="growth-chart"
    )
