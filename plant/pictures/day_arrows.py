"""The movements of the Day chart: arrows from lane to lane, kept apart, and where their words would best stand."""

from collections.abc import Sequence
from dataclasses import dataclass

from plant.pictures import day_words
from plant.pictures.day_data import DayChart, Movement
from plant.pictures.day_frame import Frame
from plant.pictures.hours import Axis
from plant.pictures.placing import Box
from plant.pictures.svg import element, path, titled

APART = 9.0  # least distance between two shafts that run side by side
LEANS = (10.0, 6.0, 14.0, 18.0, 22.0, 26.0, 30.0, 34.0, 2.0, -6.0, -10.0)  # tried in this order
BEND = 44.0  # an arrow has come over its target's moment after so many units, and goes straight from there

ArrowWord = tuple[int, float, float, float, str]
"""The lane, the span's left and right, the top of the words, the words."""


@dataclass(slots=True)
class _Arrow:
    """From (x1, y1) to (x2, y2); ``lane``: where its words stand."""

    said: Movement
    source: int | None
    target: int | None
    lane: int
    x1: float
    y1: float
    x2: float
    y2: float

    @property
    def outside(self) -> bool:
        """Say whether it comes from, or goes, outside: a short upright arrow."""
        return self.source is None or self.target is None

    def beside(self, other: "_Arrow") -> bool:
        """Say whether the two run beside each other for some way."""
        low, high = sorted((self.y1, self.y2))
        other_low, other_high = sorted((other.y1, other.y2))
        return low < other_high - 4 and other_low < high - 4


def shown(chart: DayChart, axis: Axis) -> list[tuple[Movement, int | None, int | None]]:
    """Return the movements that the chart draws, each with the places of its lanes."""
    place = {lane.name: index for index, lane in enumerate(chart.lanes)}
    found = []
    for one in chart.movements:
        source, target = place.get(one.from_lane), place.get(one.to_lane)
        if source != target and axis.meets(one.start_at, one.end_at or one.start_at):
            found.append((one, source, target))
    return found


def movements(chart: DayChart, frames: list[Frame], axis: Axis) -> tuple[str, list[ArrowWord]]:
    """Return the curves from lane to lane, and where their words would best stand."""
    arrows = [_arrow(frames, axis, one, source, target) for one, source, target in shown(chart, axis)]
    marks = [box for frame, lane in zip(frames, chart.lanes, strict=True) for box in day_words.mark_boxes(lane, frame)]
    _keep_apart(arrows, marks, axis)
    halos, shapes = "", ""
    words: list[ArrowWord] = []
    for one in arrows:
        halo, curve = _drawn(one, frames)
        halos += halo
        shapes += titled(curve, f"{one.said.from_lane or '…'} → {one.said.to_lane or '…'}: {one.said.label}")
        if one.said.label:
            top = one.y2 - 14 if one.y2 >= one.y1 else one.y2 + 2
            words.append((one.lane, one.x2 - 3, one.x2 + 3, top, one.said.label))
    return halos + shapes, words


def _arrow(frames: list[Frame], axis: Axis, one: Movement, source: int | None, target: int | None) -> _Arrow:
    x = axis.x(one.start_at)
    if target is None:  # out of the plant: a short arrow down from the lane
        assert source is not None  # such a movement touches no lane and is not shown
        return _Arrow(one, source, target, source, x, frames[source].bottom - 18, x, frames[source].bottom + 5)
    if source is None:  # into the plant: a short arrow down into the lane
        frame = frames[target]
        head = max(frame.bottom - 30, frame.mark_y + frame.mark / 2 + 2)  # under the marks
        return _Arrow(one, source, target, target, x, head, x, frame.bottom - 6)
    end = frames[target].plot_top + 8 if target > source else frames[target].bottom + 2
    return _Arrow(one, source, target, target, x, frames[source].bottom - 4, x, end)


def _keep_apart(arrows: list[_Arrow], marks: Sequence[Box], axis: Axis) -> None:
    """Place each shaft near its moment, clear of the others that run beside it and, where it can be, of marks."""
    placed: list[_Arrow] = []
    # Of two that begin together the longer goes down on the inside: the words of both find room on their right.
    for one in sorted(arrows, key=lambda each: (not each.outside, each.x1, -abs(each.y2 - each.y1))):
        tried = (0.0, APART, -APART, 2 * APART) if one.outside else LEANS
        leans = [lean for lean in tried if axis.left + 4 <= one.x1 + lean <= axis.right - 6] or [0.0]
        near = [each for each in placed if one.beside(each)]
        costs = [_cost(one, one.x1 + lean, near, () if one.outside else marks) for lean in leans]
        one.x2 = one.x1 + leans[costs.index(min(costs))]
        if one.outside:
            one.x1 = one.x2
        placed.append(one)


def _cost(one: _Arrow, x: float, near: list[_Arrow], marks: Sequence[Box]) -> int:
    low, high = sorted((one.y1, one.y2))
    shafts = sum(abs(each.x2 - x) < APART for each in near)
    crossed = sum(box.left - 1 < x < box.right + 1 and box.top < high and low < box.bottom for box in marks)
    return 3 * shafts + crossed


def _drawn(one: _Arrow, frames: list[Frame]) -> tuple[str, str]:
    way = 1 if one.y2 >= one.y1 else -1
    bend = min(BEND, abs(one.y2 - one.y1)) * way
    straight = one.y1 + bend
    d = f"M{one.x1:.2f} {one.y1:.2f}C{one.x1:.2f} {one.y1 + bend * 0.45:.2f} "
    d += f"{one.x2:.2f} {one.y1 + bend * 0.55:.2f} {one.x2:.2f} {straight:.2f}L{one.x2:.2f} {one.y2:.2f}"
    tip = f"M{one.x2 - 4.5:.2f} {one.y2 - 7 * way:.2f}L{one.x2:.2f} {one.y2:.2f}"
    tip += f"L{one.x2 + 4.5:.2f} {one.y2 - 7 * way:.2f}"
    inks = frames[one.lane].inks
    start = element("circle", cx=one.x1, cy=one.y1, r=2, fill=inks.ink) if one.source is not None else ""
    left, right = sorted((one.x1, one.x2))
    _take(frames, one, Box(left - 4, min(one.y1, straight), right + 4, max(one.y1, straight)))
    _take(frames, one, Box(one.x2 - 4, min(straight, one.y2), one.x2 + 4, max(straight, one.y2)))
    return path(d, inks.paper, 4), path(d, inks.ink, 1.4) + path(tip, inks.ink, 1.6) + start


def _take(frames: list[Frame], one: _Arrow, box: Box) -> None:
    """Keep words clear of a part of an arrow, in each lane that it runs through."""
    ends = [place for place in (one.source, one.target) if place is not None]
    for frame in frames[min(ends) : max(ends) + 1]:
        top, bottom = max(box.top, frame.top), min(box.bottom, frame.top + frame.height)
        if top <= bottom:
            frame.taken.take(Box(box.left, top, box.right, bottom))
