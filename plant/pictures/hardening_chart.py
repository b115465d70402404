"""Hardening: the core and the surface over time, down to the wanted core temperature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain
from plant.pictures.svg import SCREEN, Inks, drawing, path, rect, titled, words
from plant.pictures.time_plot import SIZE, Point, TimePlot, padded
from plant.pictures.type_width import text_width

WORDS: Mapping[str, str] = {
    "title": "Core and surface while hardening",
    "hours": "hours",
    "unit": "°C",
    "core": "core",
    "surface": "surface",
    "wanted": "wanted at the core",
    "reached": "reached after",
    "h": "h",
}


def hardening_svg(
    core: Sequence[Point],
    surface: Sequence[Point],
    wanted_c: float,
    words_of: Mapping[str, str] | None = None,
    *,
    ident: str = "hardening",
    inks: Inks = SCREEN,
) -> str:
    """Return both temperatures (hours, °C), the core's line whole and the surface's broken, and the wanted one.

    Raises ValueError without two points.
    """
    named = {**WORDS, **(words_of or {})}
    end = core[-1][0]
    plot = TimePlot((0.0, end * 1.06), padded([at for _hour, at in (*core, *surface, (0, wanted_c))]), ident, inks)
    shapes = plot.axes(named["hours"], named["unit"])
    limit = f"{named['wanted']} {plain(round(wanted_c, 2))} °C"
    # The core comes down on the limit from above at the right: the name stands below.
    shapes += plot.level(wanted_c, limit, below=True)
    shapes += plot.course(core, 2.4)
    shapes += _broken(plot, surface)
    reached = f"{named['reached']} {plain(round(end, 1))} {named['h']}"
    shapes += titled(plot.dot(end, wanted_c, out=False), reached)
    shapes += _name(plot, core, named["core"], 0.35, -8)
    shapes += _name(plot, surface, named["surface"], 0.82, -8)
    desc = f"{limit}; {reached}"
    return drawing(
        plot.width, plot.height, shapes, title=named["title"], desc=desc, ident=ident, css_class="hardening-chart"
    )


def _broken(plot: TimePlot, points: Sequence[Point]) -> str:
    d = "M" + "L".join(f"{plot.x(hours):.2f} {plot.y(at):.2f}" for hours, at in points)
    return path(d, plot.inks.ink, 1.6, join="round").replace("<path ", '<path stroke-dasharray="6 4" ', 1)


def _name(plot: TimePlot, points: Sequence[Point], name: str, share: float, away: float) -> str:
    """A line's name beside it, at a share of its length in time."""
    wanted = points[0][0] + share * (points[-1][0] - points[0][0])
    hours, at = min(points, key=lambda one: abs(one[0] - wanted))
    x, y = plot.x(hours), min(max(plot.y(at) + away, 40.0), plot.floor - 6)
    behind = rect(x - 3, y - 11, text_width(name, SIZE, 700) + 6, 14, plot.inks.paper)
    return behind + words(x, y, name, plot.inks.ink, SIZE, weight=700)
