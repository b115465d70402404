"""What runs over all panels of a strip chart: the hours, products, marked times with their sentences, the present."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from plant.pictures import strip_time
from plant.pictures.strip_data import Band, Stretch, Strip
from plant.pictures.strip_panel import SIZE, Window, at_moment
from plant.pictures.strip_words import meets, timed
from plant.pictures.svg import NUMBER_FONT, PRINT, Inks, element, line, path, rect, titled, words
from plant.pictures.textures import texture_id
from plant.pictures.type_width import shortened, text_width

BAND = 18.0
SENTENCE, SENTENCE_ROWS = 14.0, 5
AXIS, CHANGE = 36.0, 15.0
SMALL = SIZE - 1
SHORT = 6.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """The strip, its window, and what it is drawn with. ``top`` and ``floor``: of all plots together."""

    strip: Strip
    window: Window
    width: float
    top: float
    floor: float
    ident: str
    inks: Inks
    named: Mapping[str, str]


def bands_of(strip: Strip) -> list[Band]:
    """The products of the window, in order of time."""
    return sorted((one for one in strip.bands if meets(one, strip)), key=lambda one: (one.start_ms, one.words))


def marked(strip: Strip) -> list[Stretch]:
    """The marked times of the window, in order of time."""
    return sorted((one for one in strip.stretches if meets(one, strip)), key=lambda one: (one.start_ms, one.words))


def axis(sheet: Sheet) -> str:
    """Rules down all panels, the wall clock's names under them, a date where a day begins, the clock changes."""
    strip, window, inks = sheet.strip, sheet.window, sheet.inks
    found = strip_time.ticks(strip.start_ms, strip.end_ms, strip.zone, window.right - window.left)
    below = _days(sheet, found)
    shapes, beside = "", list[strip_time.Tick]()
    if sheet.inks != PRINT:  # what a hand drags into sight is there already, hidden
        beside = strip_time.ticks_beside(strip.start_ms, strip.end_ms, strip.zone, window.right - window.left)
    for tick in (*found, *beside):
        x = window.x(tick.at_ms)
        shown = window.shows(tick.at_ms)
        below = {**below, tick.at_ms: tick.day} if tick.day and not shown else below
        marks = line(0, sheet.top, 0, sheet.floor, inks.hair, 0.6) + line(0, sheet.floor, 0, sheet.floor + 5, inks.ink)
        place = min(0.0, sheet.width - text_width(tick.name, SIZE) / 2 - 2 - x) if shown else 0.0
        marks += words(place, sheet.floor + 18, tick.name, inks.quiet, SMALL, anchor="middle", font=NUMBER_FONT)
        if tick.at_ms in below:
            text = below[tick.at_ms]
            place = min(0.0, sheet.width - text_width(text, SMALL) / 2 - 2 - x) if shown else 0.0
            marks += words(place, sheet.floor + 32, text, inks.quiet, SMALL, anchor="middle")
        shapes += at_moment(tick.at_ms, x, marks, hidden=not shown)
    for at, jump in strip_time.clock_changes(strip.start_ms, strip.end_ms, strip.zone):
        text = sheet.named["forward" if jump > 0 else "back"]
        x, half = window.x(at), text_width(text, SMALL, 700) / 2
        place = min(sheet.width - half - 2, max(half + 2, x)) - x
        marks = line(0, sheet.top, 0, sheet.floor + 5, inks.ink, 1.6, "1.5 3")
        marks += words(place, sheet.floor + AXIS + 9, text, inks.ink, SMALL, anchor="middle", weight=700)
        shapes += at_moment(at, x, marks)
    return element("g", shapes, class_="strip-axis")


def _days(sheet: Sheet, found: list[strip_time.Tick]) -> dict[int, str]:
    """The date or the zone under a tick, by its moment; zones find room first, then midnights, then the first tick."""
    taken: list[tuple[float, float]] = []
    below: dict[int, str] = {}
    for tick in sorted(found, key=lambda one: (not one.zone, one is found[0], one.at_ms)):
        text = " ".join(part for part in (tick.day, tick.zone) if part)
        half = text_width(text, SMALL) / 2 + 3
        middle = min(sheet.width - half, sheet.window.x(tick.at_ms))
        if text and all(middle + half <= left or middle - half >= right for left, right in taken):
            taken.append((middle - half, middle + half))
            below[tick.at_ms] = text
    return below


def now(sheet: Sheet) -> str:
    """The present moment, ruled and named, where it lies in the window."""
    at = sheet.strip.now_ms
    if at is None or not sheet.window.shows(at):
        return ""
    x, text = sheet.window.x(at), sheet.named["now"]
    right = x + text_width(text, SMALL, 700) + 6 <= sheet.window.right
    marks = line(0, sheet.top, 0, sheet.floor, sheet.inks.ink, 1.5)
    anchor = "start" if right else "end"
    marks += words(4 if right else -4, sheet.top + 11, text, sheet.inks.ink, SMALL, anchor=anchor, weight=700)
    return at_moment(at, x, marks)


def bands(sheet: Sheet, top: float) -> tuple[str, list[str]]:
    """The products along the top, and the key: one too narrow for its words has a number, and its words in the key."""
    window, inks, strip = sheet.window, sheet.inks, sheet.strip
    shapes, key = "", list[str]()
    for one in bands_of(strip):
        end = strip.end_ms if one.end_ms is None else one.end_ms
        x1 = window.held(one.start_ms)
        x2 = max(window.held(end), x1 + 2)
        box = element(
            "rect",
            x=x1,
            y=top,
            width=x2 - x1,
            height=BAND,
            fill=f"url(#{texture_id(sheet.ident, one.family)})",
            stroke=inks.ink,
            stroke_width=1,
            data_from=one.start_ms,
            data_until=end,
        )
        text = one.words
        if text_width(text, SMALL) + 10 > x2 - x1:
            text = str(len(key) + 1)
            key.append(f"{text}: {timed(one, strip, sheet.named)}")
        room = text_width(text, SMALL) + 6
        backing = rect(-room / 2, top + 2, room, BAND - 4, inks.paper)
        inside = backing + words(0, top + BAND - 5, text, inks.ink, SMALL, anchor="middle")
        middle = (max(one.start_ms, strip.start_ms) + min(end, strip.end_ms)) / 2
        shapes += titled(box + at_moment(middle, (x1 + x2) / 2, inside), one.words)
    return shapes, key


def grounds(sheet: Sheet) -> str:
    """A faint ground over the panels for each marked time, ruled at both ends; a wedge alone where it is so short that
    the rules would lie over the trace.
    """
    window, shapes = sheet.window, ""
    for one in marked(sheet.strip):
        ink = sheet.inks.accent if one.out else sheet.inks.ink
        end = sheet.strip.end_ms if one.end_ms is None else one.end_ms
        x1, x2 = window.held(one.start_ms), window.held(end)
        shapes += element(
            "rect",
            x=x1,
            y=sheet.top,
            width=max(x2 - x1, 1.5),
            height=sheet.floor - sheet.top,
            fill=sheet.inks.hair,
            fill_opacity=0.35,
            data_from=one.start_ms,
            data_until=end,
        )
        if x2 - x1 < SHORT:
            wedge = path(f"M-4 {sheet.top:.2f}h8l-4 7Z", fill=ink)
            shapes += at_moment((one.start_ms + end) / 2, (x1 + x2) / 2, wedge)
            continue
        for at in (one.start_ms, one.end_ms):
            if at is not None and window.shows(at):
                shapes += at_moment(at, window.x(at), line(0, sheet.top, 0, sheet.floor, ink, 0.9, "3 3"))
    return shapes


def _bracket(one: Stretch, window: Window) -> tuple[float, float]:
    x1 = window.held(one.start_ms)
    return x1, max(window.held(window.end_ms if one.end_ms is None else one.end_ms), x1 + 3)


def _place(one: Stretch, window: Window, width: float) -> tuple[float, float, float]:
    """Where a marked time's sentence begins, and the left and the right end of bracket and sentence together."""
    room = text_width(one.words, SMALL, 700) + 8
    x1, x2 = _bracket(one, window)
    if x2 + 4 + room <= width - 4:
        return x2 + 4, x1, x2 + 4 + room
    if x1 - 4 - room >= window.left:
        return x1 - 4 - room, x1 - 4 - room, x2
    at = max(window.left, min(x1, width - 4 - room))
    return at, min(at, x1), max(width - 4, x2)


def sentence_rows(strip: Strip, window: Window, width: float) -> list[int]:
    """The row of each marked time of the window, so that no sentence meets another."""
    ends: list[float] = []
    rows = []
    for one in marked(strip):
        _at, left, right = _place(one, window, width)
        row = next((index for index, end in enumerate(ends) if end + 6 <= left), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = right
        rows.append(row)
    return rows


def sentences_height(rows: list[int]) -> float:
    """How high the rows of sentences are; what comes after SENTENCE_ROWS of them shares one row without words."""
    return min(SENTENCE_ROWS + 1, 1 + max(rows)) * SENTENCE + 4 if rows else 0.0


def sentences(sheet: Sheet, rows: list[int], top: float) -> str:
    """A bracket and a sentence for each marked time; beyond some rows brackets alone, and how many they are."""
    shapes, without, inks = "", 0, sheet.inks
    for one, row in zip(marked(sheet.strip), rows, strict=True):
        ink = inks.accent if one.out else inks.ink
        y = top + min(row, SENTENCE_ROWS) * SENTENCE + 3
        x1, x2 = _bracket(one, sheet.window)
        foot = "" if one.end_ms is None else f"L{x2:.2f} {y + 7:.2f}"
        shape = path(f"M{x1:.2f} {y + 7:.2f}L{x1:.2f} {y + 1:.2f}L{x2:.2f} {y + 1:.2f}{foot}", ink, 2)
        if row < SENTENCE_ROWS:
            at, _left, _right = _place(one, sheet.window, sheet.width)
            text = shortened(one.words, SMALL, sheet.width - 8 - at, 700)
            room = text_width(text, SMALL, 700)
            if at < x2 and at + room > x1:  # over its own bracket, for want of room
                shape += rect(at - 2, y - 4, room + 4, SENTENCE - 1, inks.paper)
            shape += words(at, y + 7, text, ink, SMALL, weight=700)
        else:
            without += 1
        shapes += titled(shape, timed(one, sheet.strip, sheet.named))
    if without:
        text, y = sheet.named["more"].format(count=without), top + SENTENCE_ROWS * SENTENCE + 10
        room = text_width(text, SMALL, 700)
        shapes += rect(sheet.width - 10 - room, y - 11, room + 8, SENTENCE, inks.paper)
        shapes += words(sheet.width - 6, y, text, inks.ink, SMALL, anchor="end", weight=700)
    return element("g", shapes, class_="strip-sentences")
