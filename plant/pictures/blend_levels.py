"""Streams as bars to blend: as wide as their mass, as high as their content, leveled out by the blend.

What stands above the level is as much as what is missing below it: that is the balance of the component.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, line, path, rect, titled
from plant.pictures.svg import words as text_line
from plant.pictures.type_width import in_lines, shortened, text_width

WORDS: Final = {
    "title": "Streams and their blend",
    "level": "blend",
    "wanted": "wanted",
    "gives": "above the level: given",
    "takes": "below it: taken up",
}
LEFT, RIGHT, TOP, GAP, ROW = 46.0, 122.0, 26.0, 44.0, 16.0
SIZE, SMALL, APART = 12.5, 12.0, 14.0


class Level(NamedTuple):
    """One component: its name, the content of each stream and of the blend [%], and the wanted ends [%]."""

    component: str
    percents: Sequence[float]
    blend: float
    low: float | None = None
    high: float | None = None


def blend_levels_svg(
    streams: Sequence[tuple[str, float, str]],
    levels: Sequence[Level],
    width: float = 640,
    high: float = 128,
    words: Mapping[str, str] | None = None,
    *,
    ident: str = "blend",
    inks: Inks = SCREEN,
) -> str:
    """Return the drawing ``width`` units wide with a panel ``high`` units high for each level.

    ``streams`` are (name, mass, mass in words); all masses in one unit. Streams without mass are left out. Raises
    ValueError when nothing is left, when a level has not one content for each stream, or for no level.
    """
    named = {**WORDS, **(words or {})}
    if not levels or any(len(one.percents) != len(streams) for one in levels):
        raise ValueError("a blend's picture needs a level, and one content of it for each stream")
    used = [place for place, one in enumerate(streams) if one[1] > 0]
    if not used:
        raise ValueError("there is nothing in the blend to draw")
    edges = _edges([streams[place][1] for place in used], LEFT, width - RIGHT)
    shapes = ""
    for count, level in enumerate(levels):
        contents = [level.percents[place] for place in used]
        tips = [f"{streams[place][0]}, {streams[place][2]}: {plain(level.percents[place])} %" for place in used]
        top = TOP + count * (high + GAP)
        shapes += _panel(level, contents, tips, edges, top, high, named, inks)
    foot = TOP + len(levels) * (high + GAP) - GAP
    shapes += _numbers(edges, foot, width - 12, inks)
    list_top = foot + 2.6 * ROW
    for count, place in enumerate(used):
        name, _mass, shown = streams[place]
        room = width - LEFT - text_width(shown, SIZE) - 40
        y = list_top + count * ROW
        shapes += text_line(LEFT, y, f"{count + 1}", inks.ink, SIZE, font=NUMBER_FONT)
        shapes += text_line(LEFT + 22, y, shortened(name, SIZE, room), inks.ink, SIZE)
        shapes += text_line(width - 8, y, shown, inks.ink, SIZE, anchor="end", font=NUMBER_FONT)
    key, rows = _key(list_top + len(used) * ROW + 6, width, named, inks)
    height = list_top + len(used) * ROW + 6 + rows * ROW + 4
    return drawing(
        width, height, shapes + key, title=named["title"], desc=_in_words(streams, levels, used, named), ident=ident,
        css_class="blend-drawing",
    )  # fmt: skip


def _edges(masses: Sequence[float], left: float, right: float) -> list[float]:
    total, edges = sum(masses), [left]
    for mass in masses:
        edges.append(edges[-1] + (right - left) * mass / total)
    return edges


def _panel(
    level: Level,
    contents: Sequence[float],
    tips: Sequence[str],
    edges: Sequence[float],
    top: float,
    high: float,
    named: Mapping[str, str],
    inks: Inks,
) -> str:
    ends = [end for end in (level.low, level.high) if end is not None]
    most = max([*contents, level.blend, *ends, 0.001]) * 1.02
    foot = top + high

    def y(percent: float) -> float:
        return foot - high * percent / most

    shapes = text_line(LEFT, top - 9, f"{level.component}, %", inks.ink, 13, weight=700)
    for step in round_steps(0, most, 5):
        shapes += line(LEFT, y(step), edges[-1], y(step), inks.hair, 0.7)
        shapes += text_line(LEFT - 6, y(step) + 4, plain(step), inks.quiet, 11, anchor="end", font=NUMBER_FONT)
    for place, (percent, tip) in enumerate(zip(contents, tips, strict=True)):
        left, right = edges[place], edges[place + 1]
        shapes += titled(_bar(left, right, y(percent), y(level.blend), foot, inks), tip)
    shapes += line(LEFT, foot, edges[-1], foot, inks.ink, 1.5)
    for end in dict.fromkeys(ends):
        shapes += line(LEFT, y(end), edges[-1] + 8, y(end), inks.accent, 1.5, "5 3")
    shapes += line(LEFT, y(level.blend), edges[-1] + 8, y(level.blend), inks.ink, 2)
    shapes += _names_of_levels(level, ends, edges[-1] + 12, y, foot, named, inks)
    return shapes


def _bar(left: float, right: float, top: float, level: float, foot: float, inks: Inks) -> str:
    """One stream: outlined, solid where it stands above the level, hatched where it falls short of it."""
    shapes = rect(left, top, right - left, foot - top, "none", inks.ink, 0.8)
    if top < level:
        shapes += rect(left, top, right - left, level - top, inks.ink)
    elif top > level:
        shapes += rect(left, level, right - left, top - level, "none", inks.quiet, 0.6)
        shapes += _hatching(left, right, level, top, inks)
    return shapes


def _hatching(left: float, right: float, top: float, foot: float, inks: Inks) -> str:
    strokes, step = "", 7.0
    start = left - (foot - top)
    while start < right:
        x1, x2 = max(start, left), min(start + foot - top, right)
        if x2 > x1:
            strokes += f"M{x1:.2f} {foot - (x1 - start):.2f}L{x2:.2f} {foot - (x2 - start):.2f}"
        start += step
    return path(strokes, inks.quiet, 0.8) if strokes else ""


def _names_of_levels(
    level: Level,
    ends: Sequence[float],
    x: float,
    y: Callable[[float], float],
    foot: float,
    named: Mapping[str, str],
    inks: Inks,
) -> str:
    at_blend = y(level.blend) + 4
    shapes = text_line(x, at_blend, f"{named['level']} {level.blend:.3f}", inks.ink, SMALL, weight=700)
    kept = list(dict.fromkeys(ends))
    if len(kept) == 2 and abs(y(kept[0]) - y(kept[1])) < 2 * APART and _same_side(kept, level.blend):
        kept = [min(kept, key=lambda end: abs(end - level.blend))]  # two names would stand on each other
        said = f"{plain(min(ends))}–{plain(max(ends))}"
    else:
        said = ""
    for end in kept:
        at = y(end) + 4
        if abs(at - at_blend) < APART:
            below = end < level.blend or (end == level.blend and at_blend + APART < foot + 8)
            at = at_blend + APART if below else at_blend - APART
        shapes += text_line(x, at, f"{named['wanted']} {said or plain(end)}", inks.accent, SMALL)
    return shapes


def _same_side(ends: Sequence[float], blend: float) -> bool:
    return all(end < blend for end in ends) or all(end > blend for end in ends)


def _numbers(edges: Sequence[float], foot: float, most: float, inks: Inks) -> str:
    """The streams' numbers under their bars, led down where bars are too narrow to keep the numbers apart."""
    middles = [(left + right) / 2 for left, right in pairwise(edges)]
    places = list(middles)
    for count in range(1, len(places)):
        places[count] = max(places[count], places[count - 1] + APART)
    places[-1] = min(places[-1], most)
    for count in range(len(places) - 2, -1, -1):
        places[count] = min(places[count], places[count + 1] - APART)
    shapes = ""
    for count, (middle, x) in enumerate(zip(middles, places, strict=True), start=1):
        shapes += line(middle, foot + 2, x, foot + 8, inks.quiet, 0.8)
        shapes += text_line(x, foot + 19, str(count), inks.ink, SMALL, anchor="middle", font=NUMBER_FONT)
    return shapes


def _key(top: float, width: float, named: Mapping[str, str], inks: Inks) -> tuple[str, int]:
    shapes, x, row = "", LEFT, 1
    for name, solid in (("gives", True), ("takes", False)):
        room = 22 + text_width(named[name], 12)
        if x > LEFT and x + room > width - 8:
            x, row = LEFT, row + 1
        y = top + row * ROW - 4
        shapes += rect(x, y - 9, 14, 10, inks.ink if solid else "none", inks.ink, 0.8)
        if not solid:
            shapes += _hatching(x, x + 14, y - 9, y + 1, inks)
        for line_of in in_lines(named[name], 12, width - x - 30, 1):
            shapes += text_line(x + 20, y, line_of, inks.quiet, 12)
        x += room + 24
    return shapes, row


def _in_words(
    streams: Sequence[tuple[str, float, str]], levels: Sequence[Level], used: Sequence[int], named: Mapping[str, str]
) -> str:
    parts = [f"{streams[place][0]} {streams[place][2]}" for place in used]
    said = [", ".join(parts)]
    for level in levels:
        contents = ", ".join(f"{streams[place][0]} {plain(level.percents[place])}" for place in used)
        said.append(f"{level.component} %: {contents}; {named['level']} {level.blend:.3f}")
    return ". ".join(said)
