"""One panel of a strip chart: its scale, the line of its channel, what is missing, the limits, the readings by people.

Everything that stands at a moment carries it (data-at, or data-from and data-until), so that a script can move it while
a finger pans; without one these say nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plant.pictures.placing import spread
from plant.pictures.scale import round_steps
from plant.pictures.strip_columns import FAILED, SILENT, Line, Silence
from plant.pictures.strip_data import Channel, Rule, Spot
from plant.pictures.svg import NUMBER_FONT, Inks, element, line, rect, titled, words
from plant.pictures.time_plot import padded
from plant.pictures.type_width import in_lines, shortened, text_width
from plant.process.arrays import FloatArray

SIZE = 12.0
NUMBERS = 11.0
HEADING, SPOTS, RAIL = 24.0, 17.0, 8.0
LINE_HEIGHT = 13.0
SPOT_RADIUS = 4.2
NARROWEST = 2.0  # what is shorter than this on paper is drawn so wide: nothing missing vanishes

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Window:
    """The window of time and where it stands across."""

    start_ms: int
    end_ms: int
    left: float
    right: float

    def x(self, at_ms: float) -> float:
        """The place of a moment, outside of the plot too."""
        return self.left + (at_ms - self.start_ms) / (self.end_ms - self.start_ms) * (self.right - self.left)

    def held(self, at_ms: float) -> float:
        """The place of a moment, held within the plot."""
        return min(self.right, max(self.left, self.x(at_ms)))

    def meets(self, start_ms: int, end_ms: int | None) -> bool:
        """Say whether a time has a part in the window."""
        return start_ms < self.end_ms and (end_ms is None or end_ms > self.start_ms)

    def shows(self, at_ms: int) -> bool:
        """Say whether a moment lies in the window."""
        return self.start_ms <= at_ms <= self.end_ms


@dataclass(frozen=True, slots=True)
class Scale:
    """Values upward: the scale's ends and its round numbers."""

    low: float
    high: float
    steps: tuple[float, ...]
    known: bool = True  # nothing to place, and no number is written

    @classmethod
    def of(cls, values: Iterable[float]) -> Scale:
        """A scale that holds all values, from round number to round number."""
        given = list(values)
        if not given:
            return cls(0.0, 1.0, (), known=False)
        low, high = padded(given)
        steps = round_steps(low, high, 7)
        each = steps[1] - steps[0] if len(steps) > 1 else high - low
        first, last = steps[0], steps[-1]
        low = first if first <= low + 1e-9 else first - each
        high = last if last >= high - 1e-9 else last + each
        count = round((high - low) / each)
        return cls(low, high, tuple(round(low + each * i, 10) for i in range(count + 1)))


@dataclass(frozen=True, slots=True)
class Panel:
    """Where a channel stands, and what its window holds."""

    channel: Channel
    window: Window
    trace: Line
    beside: Line | None
    missing: tuple[Silence, ...]
    scale: Scale
    top: float
    plot_top: float
    floor: float
    ident: str
    inks: Inks
    named: Mapping[str, str]

    def y(self, value: float) -> float:
        """The place of a value, outside of the plot too but never so far that a drawing cannot name it."""
        share = (value - self.scale.low) / (self.scale.high - self.scale.low)
        return self.floor - min(20.0, max(-20.0, share)) * (self.floor - self.plot_top)

    def ys(self, values: FloatArray) -> FloatArray:
        """The places of many values, each as `y` has it."""
        share = (values - self.scale.low) / (self.scale.high - self.scale.low)
        return self.floor - np.clip(share, -20.0, 20.0) * (self.floor - self.plot_top)

    @property
    def spots(self) -> list[Spot]:
        """The readings of the window."""
        return [one for one in self.channel.spots if self.window.shows(one.at_ms)]

    @property
    def rules(self) -> list[Rule]:
        """The limits that were in force within the window."""
        return [one for one in self.channel.rules if in_force(one, self.window)]


def scale_of(channel: Channel, window: Window, lines: Iterable[Line | None]) -> Scale:
    """A scale that holds every sample of the window, the limits and the readings."""
    values: list[float] = [one.value for one in channel.rules if in_force(one, window)]
    values += [one.value for one in channel.spots if window.shows(one.at_ms)]
    for one in lines:
        if one is None:
            continue
        used = one.columns.count > 0
        if used.any():
            values += [float(one.columns.low[used].min()), float(one.columns.high[used].max())]
        elif one.through and one.lead and one.trail:
            values += [one.lead[1], one.trail[1]]
    return Scale.of(values)


def in_force(one: Rule, window: Window) -> bool:
    """Say whether a limit was in force in a part of the window."""
    start = window.start_ms if one.start_ms is None else one.start_ms
    return window.meets(start, one.end_ms)


def drawn(panel: Panel, heading: str) -> str:
    """The whole panel; ``heading``: the quiet words beside the channel's name."""
    inks, window = panel.inks, panel.window
    plot = rect(window.left, panel.plot_top, window.right - window.left, panel.floor - panel.plot_top, inks.paper)
    shapes = element("clipPath", plot, id=f"{panel.ident}-plot") + _heading(panel, heading) + _numbers(panel)
    shapes += silent_words(panel)
    inside = "".join(_ruled(panel, one) for one in panel.rules)
    if panel.beside is not None:
        inside += _path(panel, panel.beside, 0.9, inks.quiet, "strip-beside")
    inside += _path(panel, panel.trace, 1.5, inks.ink, "strip-trace")
    inside += _rail(panel)
    shapes += element("g", inside, clip_path=f"url(#{panel.ident}-plot)")
    shapes += _limit_words(panel) + _spots(panel)
    return element(
        "g",
        shapes,
        class_="strip-panel",
        data_top=panel.plot_top,
        data_floor=panel.floor,
        data_low=panel.scale.low,
        data_high=panel.scale.high,
    )


def _heading(panel: Panel, heading: str) -> str:
    left, base = panel.window.left, panel.top + 13
    name = shortened(panel.channel.name, SIZE + 1, (panel.window.right - left) * 0.6, 700)
    shapes = words(left, base, name, panel.inks.ink, SIZE + 1, weight=700)
    shapes += words(left - 9, base, panel.channel.unit, panel.inks.quiet, SIZE, anchor="end")
    after = left + text_width(name, SIZE + 1, 700) + 12
    return shapes + words(after, base, shortened(heading, SIZE, panel.window.right - after), panel.inks.quiet, SIZE)


def _numbers(panel: Panel) -> str:
    inks, window = panel.inks, panel.window
    shapes = ""
    for value in panel.scale.steps:
        y = panel.y(value)
        shapes += line(window.left, y, window.right, y, inks.hair, 0.6) if y < panel.floor - 1 else ""
        shapes += line(window.left - 5, y, window.left, y, inks.ink, 1)
        label = in_digits(value, panel.scale.steps)
        shapes += words(window.left - 9, y + 4, label, inks.quiet, NUMBERS, anchor="end", font=NUMBER_FONT)
    shapes += line(window.left, panel.plot_top, window.left, panel.floor, inks.ink, 1.5)
    return shapes + line(window.left, panel.floor, window.right, panel.floor, inks.ink, 1.5)


def in_digits(value: float, steps: Iterable[float]) -> str:
    """A number of a scale, with as many decimals as any of its steps, a true minus sign before it."""
    texts = [f"{one:.6f}".rstrip("0") for one in steps]
    places = max((len(text.partition(".")[2]) for text in texts), default=0)
    text = f"{abs(value):.{places}f}"
    return f"−{text}" if value < 0 and float(text) else text


def _ruled(panel: Panel, one: Rule) -> str:
    """A limit as a thick rule in the accent, an operating limit dashed."""
    window, y = panel.window, panel.y(one.value)
    start = window.start_ms if one.start_ms is None else one.start_ms
    end = window.end_ms if one.end_ms is None else one.end_ms
    x1, x2 = window.held(start), window.held(end)
    stroke = line(x1, y, x2, y, panel.inks.quiet, 1.2, "5 4") if one.act else line(x1, y, x2, y, panel.inks.accent, 2)
    return titled(stroke, one.words)


def _limit_words(panel: Panel) -> str:
    """The limits' words right of the plot, kept apart, each led to its rule: never over the trace."""
    rules = sorted(panel.rules, key=lambda one: -one.value)
    labels: list[tuple[Rule, list[str]]] = []
    for one in rules:
        room = LIMIT_ROOM - 16
        lines = in_lines(one.words, SIZE - 1, room, 3, 400 if one.act else 700)
        if not any(words_ == lines and rule.value == one.value for rule, words_ in labels):
            labels.append((one, lines))
    if not labels:
        return ""
    apart = max(len(lines) for _one, lines in labels) * LINE_HEIGHT + 3
    half = apart / 2
    wanted = [panel.y(one.value) for one, _lines in labels]
    places = spread(wanted, apart, panel.plot_top + half - 10, panel.floor - half + 4)
    shapes, x = "", panel.window.right
    for (one, lines), middle in zip(labels, places, strict=True):
        ink = panel.inks.quiet if one.act else panel.inks.accent
        shapes += line(x, panel.y(one.value), x + 11, middle, ink, 1)
        base = middle - (len(lines) - 1) * LINE_HEIGHT / 2 + 4
        for index, text in enumerate(lines):
            at = base + index * LINE_HEIGHT
            shapes += words(x + 14, at, text, ink, SIZE - 1, weight=400 if one.act else 700)
    return shapes


LIMIT_ROOM = 122.0  # right of the plot, for the limits' words


def points(panel: Panel, one: Line) -> list[Points]:
    """The line's unbroken runs of places, each of shape (n, 2): of each column its first, least, greatest and last
    value, each once.
    """
    window, found = panel.window, one.columns
    used = found.count.nonzero()[0]
    each = (window.right - window.left) / len(found.count)
    values = np.stack([part[used] for part in (found.first, found.low, found.high, found.last)], axis=1)
    places = np.empty((len(used), 4, 2))
    places[:, :, 0] = (window.left + (used + 0.5) * each)[:, None]
    places[:, :, 1] = y = panel.ys(values)
    drawn_ = np.ones((len(used), 4), np.bool_)
    first, low, high, _last = values.T
    drawn_[:, 1] = low != first
    drawn_[:, 2] = (high != first) & (high != low)
    before = np.where(drawn_[:, 2], y[:, 2], np.where(drawn_[:, 1], y[:, 1], y[:, 0]))
    drawn_[:, 3] = y[:, 3] != before
    breaks = np.cumsum(drawn_.sum(axis=1))[:-1][~one.joined[used][1:]] if len(used) else np.zeros(0, np.int64)
    runs: list[Points] = np.split(places[drawn_], breaks) if len(used) else []
    if one.lead is not None:
        lead = np.array([[window.x(one.lead[0]), panel.y(one.lead[1])]])
        if runs and one.joined[used[0]]:
            runs[0] = np.concatenate([lead, runs[0]])
        else:
            runs.insert(0, lead)
    if one.trail is not None:
        trail = np.array([[window.x(one.trail[0]), panel.y(one.trail[1])]])
        if runs:
            runs[-1] = np.concatenate([runs[-1], trail])
        else:
            runs.append(trail)
    return runs


def _path(panel: Panel, one: Line, width: float, ink: str, css_class: str) -> str:
    d = "".join(_stroke(run) for run in points(panel, one))
    return element(
        "path",
        d=d,
        class_=css_class,
        fill="none",
        stroke=ink,
        stroke_width=width,
        stroke_linejoin="round",
        stroke_linecap="round",
    )


def _stroke(run: Points) -> str:
    if len(run) == 1:  # a sample alone is a dot
        x, y = run[0].tolist()
        return f"M{x - 0.6:.1f} {y:.2f}h1.2"
    return ("M%.1f %.2f" + "L%.1f %.2f" * (len(run) - 1)) % tuple(run.ravel().tolist())


def _rail(panel: Panel) -> str:
    """What is missing, along the foot of the plot: hatched where nothing was recorded, crossed where the sensor failed.

    Each is at least NARROWEST wide; those that touch are drawn as one.
    """
    window, shapes = panel.window, ""
    for why in (SILENT, FAILED):
        for left, right, start, end in _merged(panel.missing, why, window):
            bar = element(
                "rect",
                x=left,
                y=panel.floor - RAIL,
                width=right - left,
                height=RAIL,
                fill=f"url(#{panel.ident}-{why})",
                stroke=panel.inks.ink,
                stroke_width=0.8,
                data_from=start,
                data_until=end,
            )
            shapes += titled(bar, panel.named[why])
    return shapes


def _merged(missing: Iterable[Silence], why: str, window: Window) -> list[tuple[float, float, int, int]]:
    found: list[tuple[float, float, int, int]] = []
    for one in missing:
        if one.why != why:
            continue
        left, right = window.held(one.start_ms), window.held(one.end_ms)
        if right - left < NARROWEST:
            middle = min(window.right - NARROWEST / 2, max(window.left + NARROWEST / 2, (left + right) / 2))
            left, right = middle - NARROWEST / 2, middle + NARROWEST / 2
        if found and left <= found[-1][1] + 0.5:
            before = found[-1]
            found[-1] = (before[0], max(before[1], right), before[2], max(before[3], one.end_ms))
        else:
            found.append((left, right, one.start_ms, one.end_ms))
    return found


def silent_words(panel: Panel) -> str:
    """The words of what is missing, in one line or two, where its time is wide enough for them."""
    shapes, size = "", SIZE - 1
    for one in panel.missing:
        left, right = panel.window.held(one.start_ms), panel.window.held(one.end_ms)
        lines = in_lines(panel.named[one.why], size, right - left - 6, 3)
        if right - left < 30 or " ".join(lines) != panel.named[one.why]:
            continue
        said = ""
        for index, text in enumerate(reversed(lines)):
            base = panel.floor - RAIL - 6 - index * LINE_HEIGHT
            said += words(0, base, text, panel.inks.quiet, size, anchor="middle")
        shapes += at_moment((one.start_ms + one.end_ms) / 2, (left + right) / 2, said)
    return shapes


def at_moment(at_ms: float, x: float, shapes: str, *, hidden: bool = False) -> str:
    """Shapes drawn around x = 0, put to their moment."""
    seen = "hidden" if hidden else None
    return element("g", shapes, data_at=round(at_ms), transform=f"translate({x:.2f} 0)", visibility=seen)


def _spots(panel: Panel) -> str:
    """A ring for each reading by a person, with its words in the row above the plot; out of limits in the accent."""
    window, inks = panel.window, panel.inks
    shapes = ""
    for one, place in _spot_words(panel):
        x, y = window.x(one.at_ms), panel.y(one.value)
        ink = inks.accent if one.out else inks.ink
        mark = ""
        if place is not None:
            base = panel.plot_top - 6
            mark += line(0, y - SPOT_RADIUS, 0, panel.plot_top, ink, 0.7, "2 2")
            mark += line(0, panel.plot_top, place - x, base + 3, ink, 0.7)
            weight = 700 if one.out else 400
            mark += words(place - x, base, one.words, ink, SIZE - 1, anchor="middle", weight=weight)
        shapes += at_moment(one.at_ms, x, titled(mark + ring(0, y, ink, inks.paper), one.tip or one.words))
    return shapes


def ring(x: float, y: float, ink: str, paper: str) -> str:
    """The mark of a reading by a person: a ring with a dot in it."""
    outer = element("circle", cx=x, cy=y, r=SPOT_RADIUS, fill=paper, stroke=ink, stroke_width=2)
    return outer + element("circle", cx=x, cy=y, r=1.2, fill=ink)


def _spot_words(panel: Panel) -> list[tuple[Spot, float | None]]:
    """Each reading with the middle of its words, None where there is no room; what is out of limits comes first."""
    window = panel.window
    taken: list[tuple[float, float]] = []
    placed: dict[int, float] = {}
    spots = panel.spots
    for at in sorted(range(len(spots)), key=lambda index: (not spots[index].out, spots[index].at_ms)):
        half = text_width(spots[at].words, SIZE - 1, 700) / 2 + 3
        middle = min(window.right - half, max(window.left + half, window.x(spots[at].at_ms)))
        if all(middle + half <= left or middle - half >= right for left, right in taken):
            taken.append((middle - half, middle + half))
            placed[at] = middle
    return [(one, placed.get(at)) for at, one in enumerate(spots)]
