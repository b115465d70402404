"""The frame of a drawing over time: hours across, a quantity upward, both in round numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, Inks, element, line, path, rect, words
from plant.pictures.type_width import text_width

SIZE = 13.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 16.0, 28.0, 44.0
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class TimePlot:
    """Hours and values to places. Raises ValueError for a scale without length."""

    hours: tuple[float, float]
    values: tuple[float, float]
    ident: str
    inks: Inks
    width: float = 620.0
    height: float = 300.0

    def __post_init__(self) -> None:
        """Refuse a scale without length."""
        for low, high in (self.hours, self.values):
            if not low < high:
                raise ValueError(f"a scale from {low} to {high} has no length")

    @property
    def right(self) -> float:
        """The right edge of the plot."""
        return self.width - RIGHT

    @property
    def floor(self) -> float:
        """The lower edge of the plot."""
        return self.height - BOTTOM

    def x(self, hours: float) -> float:
        """The place of a time, held within the plot."""
        return LEFT + _share(hours, self.hours) * (self.right - LEFT)

    def y(self, value: float) -> float:
        """The place of a value, held within the plot."""
        return self.floor - _share(value, self.values) * (self.floor - TOP)

    def axes(self, hours_word: str, unit: str) -> str:
        """The frame, once and first: both axes with their numbers, their units, the window that courses are cut at."""
        window = rect(LEFT, TOP, self.right - LEFT, self.floor - TOP, self.inks.paper)
        shapes = element("clipPath", window, id=self._window)
        shapes += line(LEFT, self.floor, self.right, self.floor, self.inks.ink, 2)
        shapes += line(LEFT, TOP, LEFT, self.floor, self.inks.ink, 2)
        for value in round_steps(*self.hours, 9):
            x = self.x(value)
            shapes += line(x, self.floor, x, self.floor + 6, self.inks.ink, 1)
            shapes += words(x, self.floor + 20, plain(value), self.inks.quiet, SIZE, anchor="middle", font=NUMBER_FONT)
        for value in round_steps(*self.values, 7):
            y = self.y(value)
            shapes += line(LEFT, y, self.right, y, self.inks.hair, 0.6) if y < self.floor - 1 else ""
            shapes += line(LEFT - 6, y, LEFT, y, self.inks.ink, 1)
            shapes += words(LEFT - 9, y + 4.5, plain(value), self.inks.quiet, SIZE, anchor="end", font=NUMBER_FONT)
        shapes += words(self.right, self.height - 8, hours_word, self.inks.quiet, SIZE, anchor="end")
        return shapes + words(4, 16, unit, self.inks.quiet, SIZE)

    def level(self, value: float, label: str, *, below: bool = False, at_left: bool = False) -> str:
        """A limit: a thick stroke in the accent across the plot, named above or below its right or left end."""
        y, room = self.y(value), text_width(label, SIZE, 700)
        x, start, anchor = (LEFT + 6, LEFT + 3, "start") if at_left else (self.right - 2, self.right - room - 5, "end")
        base = y + 17 if below else y - 7
        behind = rect(start, base - 11, room + 6, 14, self.inks.paper)
        stroke = line(LEFT, y, self.right, y, self.inks.accent, 3)
        return behind + stroke + words(x, base, label, self.inks.accent, SIZE, anchor=anchor, weight=700)

    def course(self, points: Sequence[Point], width: float = 1.8) -> str:
        """A line through points (hours, value), cut at the edge of the plot."""
        return self._clipped(path(_through(self._unheld(one) for one in points), self.inks.ink, width, join="round"))

    def band(self, edge: Sequence[tuple[float, float, float]]) -> str:
        """The area between two lines, given as (hours, low, high), cut at the edge of the plot."""
        there = [self._unheld((hours, high)) for hours, _low, high in edge]
        back = [self._unheld((hours, low)) for hours, low, _high in reversed(edge)]
        area = element("path", d=_through([*there, *back]) + "Z", fill=self.inks.hair, fill_opacity=0.45)
        sides = "".join(
            element(
                "path", d=_through(side), fill="none", stroke=self.inks.quiet, stroke_width=1, stroke_dasharray="4 3"
            )
            for side in (there, back)
        )
        return self._clipped(area + sides)

    def dot(self, hours: float, value: float, out: bool) -> str:
        """A reading: a dot in limits, a wedge in the accent out of them."""
        x, y = self.x(hours), self.y(value)
        if not out:
            return element("circle", cx=x, cy=y, r=4, fill=self.inks.ink)
        return path(f"M{x - 5:.2f} {y - 6:.2f}L{x + 6:.2f} {y:.2f}L{x - 5:.2f} {y + 6:.2f}Z", fill=self.inks.accent)

    def _unheld(self, point: Point) -> Point:
        """The place of a point, outside the plot too but never so far that a drawing cannot name it."""
        return self._far(point[0], self.hours, LEFT, self.right), self._far(point[1], self.values, self.floor, TOP)

    def _far(self, value: float, scale: tuple[float, float], start: float, end: float) -> float:
        share = min(10.0, max(-10.0, (value - scale[0]) / (scale[1] - scale[0])))
        return start + share * (end - start)

    @property
    def _window(self) -> str:
        return f"{self.ident}-plot"

    def _clipped(self, shapes: str) -> str:
        return element("g", shapes, clip_path=f"url(#{self._window})")


def padded(values: Sequence[float], least: float = 1.0) -> tuple[float, float]:
    """A scale that holds all values, with a tenth of room on both sides and at least `least` long."""
    low, high = min(values), max(values)
    room = max((high - low) / 10, (least - (high - low)) / 2, least / 10)
    return low - room, high + room


def _share(value: float, scale: tuple[float, float]) -> float:
    return min(1.0, max(0.0, (value - scale[0]) / (scale[1] - scale[0])))


def _through(points: Iterable[Point]) -> str:
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)
