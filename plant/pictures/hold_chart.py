"""Temperature across, time at it upward: the corners that a pasteurization table allows, and where a process stands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, rect, titled, words
from plant.pictures.type_width import text_width

WORDS = {
    "title": "Temperature and holding time",
    "allowed": "a row is met from its corner on: hotter and longer",
    "seconds": "s",
    "minutes": "min",
    "temperature": "product temperature",
    "time": "time at it",
    "met": "met",
    "not met": "not met",
}
_CARD = "#fffdf6"
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 16.0, 34.0, 46.0
_SIZE = 13.0
_TICKS_S = (0.01, 0.1, 1.0, 10.0, 60.0, 600.0, 3600.0, 36000.0)
_LEAST_SPAN = 20.0  # degrees: one row alone is not drawn wider than it deserves
_LEAST_S = 0.001  # a shorter time stands at the foot: a logarithm has no zero


def hold_chart_svg(
    rows: Sequence[tuple[float, float, str]],
    temperature: float,
    hold_s: float,
    unit: str,
    met: bool,
    *,
    point_words: str = "",
    desc: str = "",
    width: float = 640,
    height: float = 330,
    named: Mapping[str, str] | None = None,
    ident: str = "hold-chart",
    inks: Inks = SCREEN,
) -> str:
    """Return the chart. ``rows`` are (temperature in ``unit``, time in seconds, words), at least one.

    The stroke in the accent is the edge of what the rows allow; the process is a dot where a row is met, a wedge where
    none is. Raises ValueError without a row or for what is no number.
    """
    numbers = [one for row in rows for one in row[:2]] + [temperature, hold_s]
    if not rows or not all(math.isfinite(one) for one in numbers) or min(row[1] for row in rows) <= 0:
        raise ValueError("a chart of pasteurization needs rows with a temperature and a time")
    say = {**WORDS, **(named or {})}
    chart = _Chart(rows, temperature, hold_s, width, height, inks)
    label = point_words or f"{plain(temperature)} {unit}, {plain(hold_s)} {say['seconds']}"
    shapes = chart.allowed() + chart.axes(unit, say) + chart.corners()
    label = f"{label}: {say['met' if met else 'not met']}"
    shapes += chart.guides() + titled(chart.point(met), label) + chart.point_label(label, met)
    return drawing(width, height, shapes, title=say["title"], desc=desc, ident=ident, css_class="hold-chart-drawing")


class _Chart:
    def __init__(
        self,
        rows: Sequence[tuple[float, float, str]],
        temperature: float,
        hold_s: float,
        width: float,
        height: float,
        inks: Inks,
    ) -> None:
        self.rows, self.inks, self.width, self.height = sorted(rows), inks, width, height
        self.right, self.floor = width - _RIGHT, height - _BOTTOM
        self.temperature, self.hold_s = temperature, max(hold_s, _LEAST_S)
        warm = [row[0] for row in rows] + [temperature]
        span = max(max(warm) - min(warm), _LEAST_SPAN)
        # Room on the right for the words of the hottest row.
        named = max(text_width(row[2], _SIZE, 700) for row in rows) + 24
        room = min(0.45, named / (self.right - _LEFT))
        self.low = min(warm) - 0.12 * span
        self.high = max(max(warm), self.low + span * 0.7)
        self.high += (self.high - self.low) * room / (1 - room)
        times = [row[1] for row in rows] + [self.hold_s]
        self.least, self.most = math.log10(min(times) / 3), math.log10(max(times) * 4)

    def x(self, temperature: float) -> float:
        share = (temperature - self.low) / (self.high - self.low)
        return _LEFT + min(1.0, max(0.0, share)) * (self.right - _LEFT)

    def y(self, seconds: float) -> float:
        share = (math.log10(seconds) - self.least) / (self.most - self.least)
        return self.floor - min(1.0, max(0.0, share)) * (self.floor - _TOP)

    def allowed(self) -> str:
        """The staircase: down at each row's temperature to its time, where that is shorter than the row's before."""
        first = self.rows[0]
        steps, y = f"M{self.x(first[0]):.2f} {_TOP:.2f}", _TOP
        for temperature, seconds, _words in self.rows:
            if self.y(seconds) > y:
                y = self.y(seconds)
                steps += f"H{self.x(temperature):.2f}V{y:.2f}"
        edge = f"{steps}H{self.right:.2f}"
        ground = path(f"{edge}V{_TOP:.2f}Z", fill=_CARD if self.inks == SCREEN else self.inks.paper)
        return ground + path(edge, self.inks.accent, 3, join="round")

    def axes(self, unit: str, say: Mapping[str, str]) -> str:
        shapes = line(_LEFT, self.floor, self.right, self.floor, self.inks.ink, 2)
        shapes += line(_LEFT, _TOP, _LEFT, self.floor, self.inks.ink, 2)
        for value in round_steps(self.low, self.high, 10):
            x = self.x(value)
            shapes += line(x, self.floor, x, self.floor + 6, self.inks.ink, 1)
            shapes += words(x, self.floor + 20, plain(value), self.inks.quiet, _SIZE, anchor="middle", font=NUMBER_FONT)
        for seconds in _TICKS_S:
            if self.least <= math.log10(seconds) <= self.most:
                y = self.y(seconds)
                written = (
                    f"{plain(seconds)} {say['seconds']}" if seconds < 60 else f"{plain(seconds / 60)} {say['minutes']}"
                )
                shapes += line(_LEFT - 6, y, _LEFT, y, self.inks.ink, 1)
                shapes += words(_LEFT - 9, y + 4.5, written, self.inks.quiet, _SIZE, anchor="end")
        shapes += words(
            self.right, self.height - 6, f"{say['temperature']}, {unit}", self.inks.quiet, _SIZE, anchor="end"
        )
        shapes += words(4, 15, say["time"], self.inks.quiet, _SIZE)
        return shapes + words(self.right, 15, say["allowed"], self.inks.quiet, _SIZE, anchor="end")

    def corners(self) -> str:
        shapes = ""
        for temperature, seconds, said in self.rows:
            x, y = self.x(temperature), self.y(seconds)
            shapes += rect(x - 4, y - 4, 8, 8, self.inks.accent)
            shapes += words(x + 7, y - 7, said, self.inks.accent, _SIZE, weight=700)
        return shapes

    def guides(self) -> str:
        """From the mark to both scales."""
        x, y = self.x(self.temperature), self.y(self.hold_s)
        across = line(_LEFT, y, x, y, self.inks.quiet, 1, "2 4")
        return across + line(x, y, x, self.floor, self.inks.quiet, 1, "2 4")

    def point(self, met: bool, x: float | None = None, y: float | None = None) -> str:
        """A dot where a row is met, a wedge where none is: at its place, or at (x, y) to name it."""
        x = self.x(self.temperature) if x is None else x
        y = self.y(self.hold_s) if y is None else y
        if met:
            return element("circle", cx=x, cy=y, r=6.5, fill=self.inks.ink, stroke=self.inks.paper, stroke_width=1.5)
        shape = f"M{x - 7:.2f} {y - 8:.2f}L{x + 8:.2f} {y:.2f}L{x - 7:.2f} {y + 8:.2f}Z"
        return path(shape, self.inks.ink, 1, self.inks.accent)

    def point_label(self, label: str, met: bool) -> str:
        """The mark once more with its words, below the scale where nothing stands in their way."""
        foot = self.height - 6
        ink = self.inks.ink if met else self.inks.accent
        return self.point(met, _LEFT + 8, foot - 5) + words(_LEFT + 22, foot, label, ink, _SIZE, weight=700)
