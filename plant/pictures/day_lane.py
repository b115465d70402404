"""One lane of the Day chart: its name, what the vessel holds, its temperature against its limit."""

from collections.abc import Callable, Mapping

from plant.pictures.day_data import Lane, Segment
from plant.pictures.day_frame import Frame
from plant.pictures.hours import Axis
from plant.pictures.placing import Box
from plant.pictures.scale import plain
from plant.pictures.svg import element, line, path, titled, words
from plant.pictures.textures import DASHES, texture_id
from plant.pictures.type_width import in_lines, shortened, text_width

UNKNOWN_FILL = 0.5  # the height of a shape whose height says nothing


def gutter(lane: Lane, frame: Frame, left: float, room: float) -> str:
    """Return the lane's name, limit and capacity at the left."""
    inks, y = frame.inks, frame.top + 17
    shapes = ""
    lines = in_lines(lane.name, 13, room, 2 if frame.height >= 56 else 1, 700)
    for text in lines:
        shapes += words(left, y, text, inks.ink, 13, weight=700)
        y += 14
    below = [text for text in (lane.limit_label, lane.capacity) if text]
    joined = " · ".join(below)
    if y + 13 > frame.top + frame.height - 3 and text_width(joined, 11) <= room:
        below = [joined]  # one line for both, where there is no height for two
    for text in below:
        if text and y <= frame.top + frame.height - 3:
            shapes += words(left, y, shortened(text, 11, room), inks.quiet, 11)
            y += 13
    return titled(shapes, ", ".join(t for t in (lane.name, lane.limit_label, lane.capacity) if t))


def drawn(lane: Lane, axis: Axis) -> set[str]:
    """Return the legend's names of what the lane shows."""
    spans = lane.scale is not None and bool(_spans(lane, axis))
    found = {
        "limit": spans and lane.limit is not None,
        "act line": spans and lane.act_limit is not None,
        "recorded": lane.scale is not None and bool(_columns(lane, axis)),
        "reading": lane.scale is not None
        and any(mark.value is not None and axis.meets(mark.at, mark.at) for mark in lane.marks),
        "wash": any(axis.meets(one.start, one.end) for one in lane.washes),
        "deviation": any(axis.meets(one.start, one.end or axis.end) for one in lane.deviations),
        "on hold": any(axis.meets(one.start, one.end or axis.end) for one in lane.holds),
        "level": any(one.fill0 is None or one.fill1 is None for one in _shown(lane, axis)),
    }
    return {name for name, shows in found.items() if shows}


def in_words(one: Segment, named: Mapping[str, str]) -> str:
    """Return what a segment holds: its family, and what more is said of it."""
    return ", ".join(text for text in (named.get(one.family, one.family), one.label) if text)


def contents(lane: Lane, frame: Frame) -> str:
    """Return the shaded shapes, their height how full, with the family's texture; half high under a dashed line where
    that is not known.
    """
    axis, floor = frame.axis, frame.bottom
    full = (floor - frame.plot_top) * (0.95 if frame.tight else 0.82)
    shapes = ""
    shown = _shown(lane, axis)
    for index, one in enumerate(shown):
        x1, x2 = axis.x(one.start), axis.x(one.end)
        y1, y2 = (floor - max(0.0, min(1.0, share)) * full for share in _shown_fills(one, axis))
        shape = f"M{x1:.2f} {floor:.2f}L{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}L{x2:.2f} {floor:.2f}"
        # A side is drawn only where the neighbor does not go on with the same family.
        goes_on = index + 1 < len(shown) and _follows(one, shown[index + 1])
        came_on = index > 0 and _follows(shown[index - 1], one)
        top = f"M{x1:.2f} {y1:.2f}" if came_on else f"M{x1:.2f} {floor:.2f}L{x1:.2f} {y1:.2f}"
        top += f"L{x2:.2f} {y2:.2f}" + ("" if goes_on else f"L{x2:.2f} {floor:.2f}")
        fill = path(shape + "Z", fill=f"url(#{texture_id(frame.ident, one.family)})")
        dash = DASHES if one.fill0 is None or one.fill1 is None else None
        outline = path(top, frame.inks.ink, 0.9, dash=dash)
        shapes += titled(fill + outline, f"{lane.name}: {in_words(one, frame.named)}")
    return shapes


def _shown(lane: Lane, axis: Axis) -> list[Segment]:
    return [
        one for one in lane.contents if axis.meets(one.start, one.end) and one.end.timestamp() > one.start.timestamp()
    ]


def _follows(one: Segment, other: Segment) -> bool:
    return one.end == other.start and one.family == other.family


def _shown_fills(one: Segment, axis: Axis) -> tuple[float, float]:
    """Return how full at the ends that are shown, for a segment that begins before the day or ends after
    it.
    """
    if one.fill0 is None or one.fill1 is None:
        return UNKNOWN_FILL, UNKNOWN_FILL
    first, last = one.start.timestamp(), one.end.timestamp()  # elapsed time, whatever the clocks did
    length = last - first
    slope = (one.fill1 - one.fill0) / length
    start = max(0.0, axis.start.timestamp() - first)
    end = min(length, axis.end.timestamp() - first)
    return one.fill0 + slope * start, one.fill0 + slope * end


def temperature(lane: Lane, frame: Frame) -> str:
    """Return the recorded line, the readings as dots, the limit dashed and the operating limit dotted."""
    if lane.scale is None:
        return ""
    low, high = lane.scale
    if not high > low:
        raise ValueError(f"the scale of {lane.name} from {low} to {high} has no length")
    inks, axis = frame.inks, frame.axis

    def y(value: float) -> float:
        share = (value - low) / (high - low)
        return frame.bottom - 2 - max(0.0, min(1.0, share)) * (frame.bottom - 3 - frame.plot_top)

    shapes = ""
    for left, right in _spans(lane, axis):
        if lane.act_limit is not None:
            shapes += line(left, y(lane.act_limit), right, y(lane.act_limit), inks.quiet, 0.8, "1.5 3")
        if lane.limit is not None:
            at = y(lane.limit)
            said = lane.limit_label or plain(lane.limit)
            shapes += titled(line(left, at, right, at, inks.accent, 1.3, "7 3"), said)
    for run in _columns(lane, axis):
        shapes += _trace(run, lane, frame, y)
    for mark in lane.marks:
        if mark.value is not None and axis.meets(mark.at, mark.at):
            x, at = axis.x(mark.at), y(float(mark.value))
            shapes += element("circle", cx=x, cy=at, r=2.4, fill=inks.ink, stroke=inks.paper, stroke_width=1)
            frame.taken.take(Box(x - 3, at - 3, x + 3, at + 3))
    return shapes


def _spans(lane: Lane, axis: Axis) -> list[tuple[float, float]]:
    """Return where the limit is drawn: while the vessel held product, else while it was recorded, else all
    day.
    """
    spans = [(axis.x(s.start), axis.x(s.end)) for s in lane.contents if axis.meets(s.start, s.end)]
    if not spans and lane.trace:
        moments = [at for at, value in lane.trace if value is not None and axis.meets(at, at)]
        spans = [(axis.x(moments[0]), axis.x(moments[-1]))] if moments else []
    if not spans:
        return [] if lane.idle else [(axis.left, axis.right)]
    joined: list[tuple[float, float]] = []
    for left, right in sorted(spans):
        if joined and left <= joined[-1][1] + 4:
            joined[-1] = (joined[-1][0], max(right, joined[-1][1]))
        else:
            joined.append((left, right))
    return joined


Column = tuple[float, float, float]  # x, lowest, highest


def _columns(lane: Lane, axis: Axis) -> list[list[Column]]:
    """Return the trace as unbroken runs of (x, lowest, highest), one entry for each half unit across.
    Nothing is invented where the recorder was silent (None)."""
    runs: list[list[Column]] = []
    run: list[Column] = []
    for at, value in lane.trace:
        if value is None or not axis.meets(at, at):
            if run:
                runs.append(run)
            run = []
            continue
        x = round(axis.x(at) * 2) / 2
        if run and run[-1][0] == x:
            run[-1] = (x, min(run[-1][1], value), max(run[-1][2], value))
        else:
            run.append((x, value, value))
    return [*runs, run] if run else runs


def _trace(run: list[Column], lane: Lane, frame: Frame, y: Callable[[float], float]) -> str:
    """Return one unbroken run, heavier where it is beyond the limit within a deviation: the records judge,
    not the picture.
    """
    axis, inks = frame.axis, frame.inks
    spans = [(axis.x(one.start) - 1, axis.x(one.end or axis.end) + 1) for one in lane.deviations]
    points: list[str] = []
    beyond = ""
    last_out = False
    for x, low, high in run:
        pair = [f"{x:.1f} {y(value):.1f}" for value in sorted({low, high})]
        points += pair
        worst, limit = (
            (high, lane.limit) if lane.limit_is == "highest" else (-low, None if lane.limit is None else -lane.limit)
        )
        out = limit is not None and worst > limit and any(left <= x <= right for left, right in spans)
        if out:
            beyond += ("L" if last_out else "M") + "L".join(pair)
        last_out = out
    if len(points) == 1:
        points.append(points[0])
    for x, low, high in run[::8]:
        frame.taken.take(Box(x - 3, y(high) - 2, x + 3, y(low) + 2))
    shapes = path("M" + "L".join(points), inks.ink, 1.5, join="round")
    return shapes + (path(beyond, inks.accent, 3, join="round") if beyond else "")
