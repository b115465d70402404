"""The strip chart: recorder channels over a window of time, on screen and in print.

Like a strip of paper under a recorder's pen: the least and the greatest value of every column are drawn, so that a dip
of a second stands in the picture of a day. It draws and judges nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from plant.pictures import strip_over, strip_panel, strip_time
from plant.pictures.legend import ROW
from plant.pictures.strip_columns import FAILED, SILENT, Columns, Line, Silence, allowed_steps, columns, line, silences
from plant.pictures.strip_data import Band, Channel, Rule, Spot, Stretch, Strip, Trace, in_unit
from plant.pictures.strip_over import AXIS, BAND, CHANGE, SENTENCE, SMALL, Sheet
from plant.pictures.strip_panel import LIMIT_ROOM, Panel, Window
from plant.pictures.strip_words import WORDS, extremes_of, said_of, until
from plant.pictures.svg import PRINT, SCREEN, Inks, drawing, element, path, rect
from plant.pictures.svg import line as stroke
from plant.pictures.svg import words as text_line
from plant.pictures.textures import FAMILIES, family_name, texture, texture_id
from plant.pictures.type_width import shortened, text_width

__all__ = [
    "WORDS", "Band", "Channel", "Columns", "Line", "Rule", "Silence", "Spot", "Stretch", "Strip", "Trace",
    "beside_line", "columns", "in_unit", "line", "plot_columns", "said_of", "silences", "strip_chart_svg",
]  # fmt: skip

MARGIN, LEFT = 12.0, 56.0
NARROWEST, WIDEST = 360.0, 2400.0
HEAD = 30.0
HEIGHTS = {1: 250.0, 2: 165.0}  # of a plot, by how many channels there are
LEAST_HEIGHT = 118.0


def strip_chart_svg(
    strip: Strip,
    width: float = 976,
    print_: bool = False,
    words: Mapping[str, str] | None = None,
    ident: str = "strip",
    height: float | None = None,
) -> str:
    """The strip as SVG, ``width`` units wide and as high as it needs; ``height``: of each channel's plot.

    ``words``: translations of the words in WORDS. ``ident`` keeps the ids of two drawings on a page apart.
    Raises ValueError for a width outside of 360 to 2400.
    """
    if not NARROWEST <= width <= WIDEST:
        raise ValueError(f"a strip is {NARROWEST:.0f} to {WIDEST:.0f} units wide, not {width}")
    named, inks = {**WORDS, **(words or {})}, PRINT if print_ else SCREEN
    window = _window(strip, width)
    rows = strip_over.sentence_rows(strip, window, width)
    bands = strip_over.bands_of(strip)
    families = tuple(one for one in FAMILIES if any(family_name(band.family) == one for band in bands))
    sentence_top = HEAD + (BAND + 6 if bands else 0)
    panels = _panels(strip, window, sentence_top + strip_over.sentences_height(rows), ident, inks, named, height)
    sheet = Sheet(strip, window, width, panels[0].plot_top, panels[-1].floor, ident, inks, named)
    drawn_bands, key = strip_over.bands(sheet, HEAD)
    shapes = _title(strip, width, inks) + strip_over.grounds(sheet) + strip_over.axis(sheet)
    for panel in panels:
        extremes = extremes_of(panel.channel, strip)
        shapes += strip_panel.drawn(panel, named["range"].format(**extremes) if extremes else "")
    shapes += strip_over.now(sheet) + drawn_bands + strip_over.sentences(sheet, rows, sentence_top)
    foot = sheet.floor + AXIS
    foot += CHANGE if strip_time.clock_changes(strip.start_ms, strip.end_ms, strip.zone) else 0
    for text in key:
        shapes += text_line(LEFT, foot + 10, shortened(text, SMALL, width - LEFT - MARGIN), inks.ink, SMALL)
        foot += SENTENCE
    under, high = _legend(panels, families, ident, width, inks, named)
    shapes += element("g", under, transform=f"translate(0 {foot:.2f})")
    defs = element("defs", _defs(panels, families, ident, inks, print_))
    body = element(
        "g",
        defs + rect(0, 0, width, foot + high, inks.paper) + shapes,
        class_="strip-body",
        data_from=strip.start_ms,
        data_until=strip.end_ms,
        data_left=window.left,
        data_right=window.right,
    )
    desc = ". ".join(said_of(strip, named))
    return drawing(width, foot + high, body, title=strip.title, desc=desc, ident=ident, css_class="strip-chart")


def plot_columns(strip: Strip, width: float = 976) -> int:
    """How many columns a strip of this width has: one for each unit across its plot."""
    window = _window(strip, width)
    return max(1, int(window.right - window.left))


def beside_line(channel: Channel, start_ms: int, end_ms: int, width: int) -> Line | None:
    """The line of the samples that contradict a channel; None where there are none.

    They may be few and far between: what is a gap is told by the trace itself.
    """
    if channel.beside is None or not len(channel.beside):
        return None
    allowed = allowed_steps(channel.trace)
    gap = float(np.median(allowed)) if len(allowed) else float(strip_time.MINUTE)
    return line(replace(channel.beside, gap_ms=gap), start_ms, end_ms, width)


def _window(strip: Strip, width: float) -> Window:
    bare = Window(strip.start_ms, strip.end_ms, LEFT, width - MARGIN - 14)
    ruled = any(strip_panel.in_force(one, bare) for channel in strip.channels for one in channel.rules)
    return replace(bare, right=width - LIMIT_ROOM) if ruled else bare


def _panels(
    strip: Strip, window: Window, top: float, ident: str, inks: Inks, named: Mapping[str, str], height: float | None
) -> list[Panel]:
    high = height or HEIGHTS.get(len(strip.channels), LEAST_HEIGHT)
    count = max(1, int(window.right - window.left))
    found = []
    for index, channel in enumerate(strip.channels):
        trace = line(channel.trace, strip.start_ms, strip.end_ms, count)
        beside = beside_line(channel, strip.start_ms, strip.end_ms, count)
        end = until(strip)
        missing = silences(channel.trace, strip.start_ms, end) if end > strip.start_ms else []
        scale = strip_panel.scale_of(channel, window, (trace, beside))
        spots = any(window.shows(one.at_ms) for one in channel.spots)
        plot_top = top + strip_panel.HEADING + (strip_panel.SPOTS if spots else 0)
        floor = plot_top + high
        parts = (channel, window, trace, beside, tuple(missing), scale, top, plot_top, floor)
        found.append(Panel(*parts, f"{ident}-{index}", inks, named))
        top = floor + 12
    return found


def _defs(panels: list[Panel], families: tuple[str, ...], ident: str, inks: Inks, print_: bool) -> str:
    shapes = "".join(texture(ident, family, inks, not print_) for family in families)
    for panel in panels:
        for why, d in ((SILENT, "M0 5L5 0"), (FAILED, "M0 5L5 0M0 0L5 5")):
            ground = rect(0, 0, 5, 5, inks.paper) + path(d, inks.ink, 0.9)
            name = f"{panel.ident}-{why}"
            shapes += element("pattern", ground, id=name, width=5, height=5, patternUnits="userSpaceOnUse")
    return shapes


def _title(strip: Strip, width: float, inks: Inks) -> str:
    title = shortened(strip.title, 16, (width - 2 * MARGIN) * 0.6, 700)
    after = MARGIN + text_width(title, 16, 700) + 14
    note = shortened(strip.note, 12.5, width - MARGIN - after)
    return text_line(MARGIN, 19, title, inks.ink, 16, weight=700) + text_line(after, 19, note, inks.quiet, 12.5)


def _legend(
    panels: list[Panel], families: tuple[str, ...], ident: str, width: float, inks: Inks, named: Mapping[str, str]
) -> tuple[str, float]:
    """The legend of what is drawn, from y = 0 down, and its height."""
    whys = {one.why for panel in panels for one in panel.missing}
    ring = strip_panel.ring(6, 0, inks.ink, inks.paper)
    rules = [one for panel in panels for one in panel.rules]
    beside = any(panel.beside is not None and panel.beside.columns.count.any() for panel in panels)
    samples: list[tuple[bool, float, str, str]] = [
        (True, 26, path("M0 1L6 -1L10 0L12 6L14 -5L18 0L26 -1", inks.ink, 1.5, join="round"), named["recorded"]),
        (beside, 26, path("M0 2L8 0L16 1L26 -2", inks.quiet, 0.9), named["beside"]),
        (any(panel.spots for panel in panels), 12, ring, named["reading"]),
        (any(not one.act for one in rules), 26, stroke(0, 0, 26, 0, inks.accent, 2), named["limit"]),
        (any(one.act for one in rules), 26, stroke(0, 0, 26, 0, inks.quiet, 1.2, "5 4"), named["act"]),
    ]
    for why in (SILENT, FAILED):
        swatch = rect(0, -5, 26, 8, f"url(#{panels[0].ident}-{why})", inks.ink, 0.8)
        samples.append((why in whys, 26, swatch, named[why]))
    for family in families:
        swatch = rect(0, -6, 24, 12, f"url(#{texture_id(ident, family)})", inks.ink, 0.8)
        samples.append((True, 24, swatch, named.get(family, family)))
    shapes, x, y = "", LEFT, 14.0
    for _drawn, wide, sample, word in (one for one in samples if one[0]):
        whole = wide + 6 + text_width(word, SMALL)
        if x > LEFT and x + whole > width - MARGIN:
            x, y = LEFT, y + ROW
        shapes += element("g", sample, transform=f"translate({x:.2f} {y:.2f})")
        shapes += text_line(x + wide + 6, y + 4, word, inks.quiet, SMALL)
        x += whole + 18
    return shapes, y + 12
