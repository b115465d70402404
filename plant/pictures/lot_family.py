"""A family of lots in layers: where something began at the top, and below it every lot that it could have come to.

A link goes down to a lot that is reached later. Product that comes back, as rework does, goes up again at the side,
dashed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, rect, titled, words
from plant.pictures.type_width import shortened

WORDS: Final = {"title": "A family of lots", "share": "share", "unknown": "unknown", "to": "to"}
WIDTH, HIGH, ACROSS, DOWN, MARGIN = 132.0, 58.0, 26.0, 46.0, 36.0
LEAST_WIDTH, BAR = 640.0, 6.0
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Member:
    """A lot of the family: its name, a note under it, and the share of the origin in it, between two bounds [-].

    `low` and `high` None: no share is shown. `root`: the family begins here.
    """

    key: str
    name: str
    note: str = ""
    low: float | None = None
    high: float | None = None
    root: bool = False


def lot_family_svg(
    members: Sequence[Member],
    links: Sequence[tuple[str, str]],
    named: Mapping[str, str] | None = None,
    *,
    ident: str = "lot-family",
    inks: Inks = SCREEN,
) -> str:
    """Return the drawing: ``members`` in the order in which they were reached, ``links`` between their keys.

    Raises ValueError for no member, a key used twice, or a link to a key that is not there.
    """
    said = {**WORDS, **(named or {})}
    keys = [one.key for one in members]
    if not members or len(set(keys)) != len(keys) or any(key not in keys for link in links for key in link):
        raise ValueError("a family needs members with different keys, and links between them")
    drawn = [link for link in dict.fromkeys(links) if link[0] != link[1]]
    layers = _layers(keys, drawn)
    rows = _rows(keys, layers, drawn)
    width = max(LEAST_WIDTH, 2 * MARGIN + max(len(row) for row in rows) * (WIDTH + ACROSS) - ACROSS)
    places = _places(rows, width)
    height = 2 * MARGIN + len(rows) * (HIGH + DOWN) - DOWN
    back = [link for link in drawn if layers[link[0]] >= layers[link[1]]]
    lane = max(x for x, _y in places.values()) + WIDTH + ACROSS
    shapes = "".join(_down(places[one], places[two], inks) for one, two in drawn if (one, two) not in back)
    shapes += "".join(_back(places[one], places[two], count, lane, inks) for count, (one, two) in enumerate(back))
    shapes += "".join(_box(one, *places[one.key], said, inks) for one in members)
    names = {one.key: one.name for one in members}
    desc = "; ".join(_told(one, [names[two] for first, two in drawn if first == one.key], said) for one in members)
    return drawing(width, height, shapes, title=said["title"], desc=desc, ident=ident, css_class="lot-family-drawing")


def _layers(keys: Sequence[str], links: Sequence[tuple[str, str]]) -> dict[str, int]:
    """Each below all that came before it and feeds it; in the order given, so that a way back makes no loop."""
    layers: dict[str, int] = {}
    for key in keys:
        layers[key] = 1 + max((layers[one] for one, two in links if two == key and one in layers), default=-1)
    return layers


def _rows(keys: Sequence[str], layers: Mapping[str, int], links: Sequence[tuple[str, str]]) -> list[list[str]]:
    """The members of each layer, each near the middle of what feeds it."""
    rows: list[list[str]] = [[] for _ in range(max(layers.values()) + 1)]
    for key in keys:
        rows[layers[key]].append(key)
    place: dict[str, float] = {}
    for row in rows:

        def middle(key: str) -> float:
            above = [place[one] for one, two in links if two == key and one in place]
            return sum(above) / len(above) if above else 0.0

        row.sort(key=middle)
        for count, key in enumerate(row):
            place[key] = count - (len(row) - 1) / 2
    return rows


def _places(rows: Sequence[Sequence[str]], width: float) -> dict[str, Place]:
    found = {}
    for down, row in enumerate(rows):
        left = (width - len(row) * (WIDTH + ACROSS) + ACROSS) / 2
        for across, key in enumerate(row):
            found[key] = (left + across * (WIDTH + ACROSS), MARGIN + down * (HIGH + DOWN))
    return found


def _down(one: Place, two: Place, inks: Inks) -> str:
    x1, y1, x2, y2 = one[0] + WIDTH / 2, one[1] + HIGH, two[0] + WIDTH / 2, two[1]
    bend = (y2 - y1) * 0.5
    d = f"M{x1:.2f} {y1:.2f}C{x1:.2f} {y1 + bend:.2f} {x2:.2f} {y2 - bend:.2f} {x2:.2f} {y2 - 7:.2f}"
    tip = f"M{x2 - 4:.2f} {y2 - 9:.2f}L{x2:.2f} {y2 - 1:.2f}L{x2 + 4:.2f} {y2 - 9:.2f}Z"
    return path(d, inks.ink, 1.3) + path(tip, fill=inks.ink)


def _back(one: Place, two: Place, count: int, lane: float, inks: Inks) -> str:
    """A way back, between the boxes: out at the right, along the gap above, up a lane at the side, in at the right."""
    shift = (count % 5 - 2) * 3.0
    aside_one, aside_two = (place[0] + WIDTH + ACROSS / 2 + shift for place in (one, two))
    y1, y2 = one[1] + HIGH * 0.35 + shift, two[1] + HIGH * 0.65 + shift
    above, below = one[1] - DOWN / 2 + shift, two[1] + HIGH + DOWN / 2 + shift
    if one[1] == two[1]:
        above = below
    points = [(one[0] + WIDTH, y1), (aside_one, y1), (aside_one, above)]
    if above > below:
        points += [(lane + shift, above), (lane + shift, below)]
    points += [(aside_two, below), (aside_two, y2), (two[0] + WIDTH + 8, y2)]
    d = "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)
    x2 = two[0] + WIDTH
    tip = f"M{x2 + 9:.2f} {y2 - 4:.2f}L{x2 + 1:.2f} {y2:.2f}L{x2 + 9:.2f} {y2 + 4:.2f}Z"
    stroke = element("path", d=d, fill="none", stroke=inks.ink, stroke_width=1.3, stroke_dasharray="5 3")
    return stroke + path(tip, fill=inks.ink)


def _box(one: Member, x: float, y: float, said: Mapping[str, str], inks: Inks) -> str:
    room = WIDTH - 16
    shapes = rect(x, y, WIDTH, HIGH, inks.paper, inks.ink, 3 if one.root else 1.2)
    shapes += words(x + 8, y + 17, shortened(one.name, 12.5, room, 700), inks.ink, 12.5, weight=700)
    shapes += words(x + 8, y + 32, shortened(one.note, 11.5, room), inks.quiet, 11.5)
    if one.low is not None and one.high is not None:
        left, top, long = x + 8, y + HIGH - 13, room - 60
        low, high = (min(max(share, 0.0), 1.0) for share in (one.low, one.high))
        shapes += rect(left, top, long * low, BAR, inks.ink)
        middle = top + BAR / 2
        if high > low:  # what may be, and may not: struck, not filled
            shapes += line(left + long * low, middle, left + long * high, middle, inks.ink, 1.5, "2 2")
        shapes += rect(left, top, long, BAR, "none", inks.ink, 0.8)
        shown = _percent(one, said)
        shapes += words(x + WIDTH - 8, top + BAR + 1, shown, inks.ink, 10.5, anchor="end", font=NUMBER_FONT)
    return titled(shapes, _told(one, [], said))


def _percent(one: Member, said: Mapping[str, str]) -> str:
    if one.low is None or one.high is None:
        return ""
    low, high = 100 * one.low, 100 * one.high
    if high - low <= 1e-6:
        return f"{low:.3g} %"
    return said["unknown"] if low < 0.05 and high > 99.95 else f"{low:.0f}-{high:.0f} %"


def _told(one: Member, to: Sequence[str], said: Mapping[str, str]) -> str:
    parts = [one.name, one.note]
    if one.low is not None:
        parts.append(f"{said['share']} {_percent(one, said)}")
    if to:
        parts.append(f"{said['to']} {', '.join(to)}")
    return ", ".join(part for part in parts if part)
