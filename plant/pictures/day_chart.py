"""The Day chart: a day of the plant as lanes, one a vessel in flow order, on screen and in print."""

from collections.abc import Mapping

from plant.pictures import day_arrows, day_hours, day_lane, day_words
from plant.pictures.day_data import (
    OUTSIDE,
    DayChart,
    Deviation,
    Hold,
    Lane,
    Mark,
    Movement,
    Note,
    Segment,
    Wash,
)
from plant.pictures.day_frame import MARGIN, ROW, Frame
from plant.pictures.hours import Axis, clock_change
from plant.pictures.legend import legend
from plant.pictures.marks import OUTCOME_WORDS
from plant.pictures.svg import PRINT, SCREEN, drawing, element, line
from plant.pictures.svg import words as text_line
from plant.pictures.textures import FAMILIES, family_name, texture

__all__ = [
    "OUTSIDE",
    "DayChart",
    "Deviation",
    "Hold",
    "Lane",
    "Mark",
    "Movement",
    "Note",
    "Segment",
    "Wash",
    "day_chart_svg",
]

WORDS = {
    **OUTCOME_WORDS,
    **{family: family for family in FAMILIES},
    "milk": "pasteurized milk",
    "on hold": "on hold",
    "now": "now",
    "limit": "limit",
    "act line": "act from here",
    "recorded": "recorded temperature",
    "reading": "reading",
    "wash": "washed or sanitized",
    "movement": "movement",
    "deviation": "deviation",
    "forward": "clocks go forward",
    "back": "clocks go back",
    "height": "height: how full",
    "level": "how full is not known",
    "several": "several readings, the gravest mark",
    "summary": "{lanes} lanes, {readings} readings, {deviations} deviations, {movements} movements",
    "nothing": "No vessel to show",
}

GUTTER = 138.0
HEAD = 56.0
CHANGE_HEAD = 28.0  # more, where the clocks change
PRINT_SHARE = 0.665  # height to width of a landscape A4 page within its margins; a Letter page is higher


def day_chart_svg(
    chart: DayChart,
    width: float = 1180,
    print_: bool = False,
    words: Mapping[str, str] | None = None,
    ident: str = "day",
    print_share: float = PRINT_SHARE,
) -> str:
    """Return the chart as SVG, ``width`` units wide; as high as its lanes need, in print as high as a
    landscape page at most.

    ``words``: translations of the words in WORDS. ``ident`` keeps the ids of two charts on a page apart.
    ``print_share``: the most height in print, as a share of the width.
    Raises ValueError for moments without zone, a day without length, values that are not numbers, an unknown
    outcome.
    """
    named = {**WORDS, **(words or {})}
    inks = PRINT if print_ else SCREEN
    axis = Axis(chart.start_at, chart.end_at, MARGIN + GUTTER, width - MARGIN)
    families = tuple(
        f for f in FAMILIES if any(family_name(s.family) == f for one in chart.lanes for s in one.contents)
    )
    key, key_height = legend(ident, MARGIN, width - MARGIN, families, inks, named, _drawn(chart, axis))
    change = clock_change(chart.start_at, chart.end_at, chart.zone)
    head = HEAD + (CHANGE_HEAD if change else 0)
    shift_room = 20.0 if chart.shifts else 6.0
    room = width * print_share - head - shift_room - key_height - 8 if print_ else None
    frames = [Frame(axis, top, high, rows, inks, ident, named) for top, high, rows in _heights(chart, axis, head, room)]
    floor = frames[-1].top + frames[-1].height if frames else head + 30
    height = floor + shift_room + key_height + 8
    body = element("defs", "".join(texture(ident, family, inks, not print_) for family in families)) if families else ""
    body += element("rect", x=0, y=0, width=width, height=height, fill=inks.paper)
    body += day_hours.head_line(chart, width, inks) + day_hours.hour_rules(chart, axis, head, floor, inks, named)
    body += day_hours.shift_rules(chart, axis, head, floor, inks)
    if not frames:
        body += text_line(axis.left + 8, head + 20, named["nothing"], inks.quiet, 12)
    body += _lanes(chart, frames, axis, day_hours.now_rule(chart, axis, head, floor, inks, named))
    body += element("g", key, transform=f"translate(0 {floor + shift_room:.2f})")
    desc = _in_words(chart, named)
    return drawing(width, height, body, title=chart.title, desc=desc, ident=ident, css_class="day-chart")


def _lanes(chart: DayChart, frames: list[Frame], axis: Axis, now: str) -> str:
    """Return all lanes, what lies behind first: product, lines, arrows, the present moment, and words last."""
    pairs = list(zip(frames, chart.lanes, strict=True))
    body = ""
    for frame, lane in pairs:
        floor = frame.top + frame.height
        body += line(MARGIN, floor, axis.right, floor, frame.inks.hair, 1)
        body += day_lane.gutter(lane, frame, MARGIN, GUTTER - 12) + day_lane.contents(lane, frame)
    for frame, lane in pairs:
        body += day_lane.temperature(lane, frame)
    arrows, arrow_words = day_arrows.movements(chart, frames, axis)
    body += arrows + now
    for frame, lane in pairs:
        body += day_words.deviations(lane, frame) + day_words.marks(lane, frame) + day_words.washes(lane, frame)
        body += day_words.holds(lane, frame) + day_words.notes(lane, frame)
    for index, x1, x2, top, text in arrow_words:
        body += day_words.beside(frames[index], x1, x2, top, text)
    for frame, lane in pairs:
        body += day_words.family_words(lane, frame)
    return body


def _drawn(chart: DayChart, axis: Axis) -> set[str]:
    """Return the legend's names of what the chart shows: its legend explains nothing else."""
    found = {name for lane in chart.lanes for name in day_lane.drawn(lane, axis)}
    if any(day_words.stands_for_several(lane, axis) for lane in chart.lanes):
        found.add("several")
    if day_arrows.shown(chart, axis):
        found.add("movement")
    return found


def _in_words(chart: DayChart, named: Mapping[str, str]) -> str:
    said = named["summary"].format(
        lanes=len(chart.lanes),
        readings=sum(len(lane.marks) for lane in chart.lanes),
        deviations=sum(len(lane.deviations) for lane in chart.lanes),
        movements=len(chart.movements),
    )
    sentences = [f"{lane.name}: {one.sentence}" for lane in chart.lanes for one in lane.deviations]
    return ". ".join([f"{chart.plant}. {said}", *sentences])


def _heights(chart: DayChart, axis: Axis, head: float, room: float | None) -> list[tuple[float, float, int]]:
    """Return (top, height, rows of sentences) of each lane: the same for each that has something to show,
    less for an idle one, more for each row of sentences. ``room``: the height there is, or None for as much
    as they like."""
    moved = {name for one in chart.movements for name in (one.from_lane, one.to_lane)}
    rows = [day_words.word_rows(lane, axis) for lane in chart.lanes]
    idle = [lane.idle and lane.name not in moved for lane in chart.lanes]
    each, low = 74.0, 46.0
    if room is not None and chart.lanes:
        left = room - sum(rows) * ROW
        if left < each * idle.count(False) + low * idle.count(True):
            low = 27.0
            each = max(36.0, min(74.0, (left - low * idle.count(True)) / max(1, idle.count(False))))
    out, top = [], head
    for count, still in zip(rows, idle, strict=True):
        height = (low if still else each) + count * ROW
        out.append((top, height, count))
        top += height
    return out
