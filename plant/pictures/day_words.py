"""The words and marks of a lane of the Day chart, each placed where it meets nothing else."""

from datetime import datetime

from plant.pictures.day_data import Lane, Mark, Segment
from plant.pictures.day_frame import ROW, SMALL, Frame
from plant.pictures.day_lane import in_words
from plant.pictures.hours import Axis
from plant.pictures.marks import OUTCOMES, mark_shapes
from plant.pictures.placing import Box, spread
from plant.pictures.svg import Inks, line, path, rect, titled, words
from plant.pictures.type_width import shortened, text_width
from plant.process.limits import Outcome

MARK_ROOM = 17.0  # least distance between two marks
TOGETHER_ROOM = 40.0  # least distance between marks that stand for several readings and say how many
FARTHEST = 26.0  # a mark is moved at most so far from its moment; beyond that, readings are drawn together


def word_rows(lane: Lane, axis: Axis) -> int:
    """Return how many rows of words the lane's deviations need so that none meets another."""
    ends: list[float] = []
    for deviation in sorted(lane.deviations, key=lambda one: one.start.timestamp()):
        left, right = _sentence_place(axis, deviation.start, deviation.end, deviation.sentence)
        row = next((i for i, end in enumerate(ends) if end + 8 < left), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = right
    return len(ends)


def _sentence_place(axis: Axis, start: datetime, end: datetime | None, sentence: str) -> tuple[float, float]:
    room = min(text_width(sentence, SMALL, 700), axis.right - axis.left - 8) + 8
    x1, x2 = axis.x(start), axis.x(end or axis.end)
    if x2 + room <= axis.right:
        return x1, x2 + room
    if x1 - room >= axis.left:
        return x1 - room, x2
    return min(x1, axis.right - room), max(x2, axis.left + room)


def family_words(lane: Lane, frame: Frame) -> str:
    """Return the family's name and what more is said within each stretch of one, where they find room."""
    shapes = ""
    stretch: list[Segment] = []
    stretches: list[list[Segment]] = []
    for one in sorted(lane.contents, key=lambda segment: segment.start.timestamp()):
        same = bool(stretch) and (one.family, one.label) == (stretch[-1].family, stretch[-1].label)
        if stretch and (not same or one.start.timestamp() > stretch[-1].end.timestamp()):
            stretches.append(stretch)
            stretch = []
        stretch.append(one)
    for group in [*stretches, stretch] if stretch else []:
        text = in_words(group[0], frame.named)
        room = text_width(text, SMALL) + 6
        x1, x2 = frame.axis.x(group[0].start), frame.axis.x(group[-1].end)
        steps = max(1, int((x2 - x1 - room) / 12))
        if x2 - x1 < room * (2.5 if frame.tight else 1) + 4:  # the words must leave the texture to be seen
            continue
        spots = [x1 + 2 + (x2 - x1 - room - 4) * i / steps for i in range(steps + 1)]
        box = frame.taken.first_free(Box(x, frame.bottom - 13, x + room, frame.bottom - 1) for x in spots)
        if box:
            shapes += backed(box, text, frame.inks.ink, frame.inks)
    return shapes


def backed(box: Box, text: str, ink: str, inks: Inks, weight: int = 400) -> str:
    """Return words on a piece of paper, so that no line runs through them."""
    return rect(box.left, box.top, box.right - box.left, box.bottom - box.top, inks.paper) + words(
        box.left + 3, box.bottom - 3, text, ink, SMALL, weight=weight
    )


def deviations(lane: Lane, frame: Frame) -> str:
    """Return the brackets with their sentences."""
    shapes, inks, axis = "", frame.inks, frame.axis
    ends: list[float] = []
    for one in sorted(lane.deviations, key=lambda d: d.start.timestamp()):
        if not axis.meets(one.start, one.end or axis.end):
            continue
        left, right = _sentence_place(axis, one.start, one.end, one.sentence)
        row = next((i for i, end in enumerate(ends) if end + 8 < left), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = right
        top = frame.sentence_top + row * ROW
        x1, x2 = axis.x(one.start), max(axis.x(one.end or axis.end), axis.x(one.start) + 3)
        foot = "" if one.end is None else f"L{x2:.2f} {top + 9:.2f}"
        shapes += path(f"M{x1:.2f} {top + 9:.2f}L{x1:.2f} {top + 3:.2f}L{x2:.2f} {top + 3:.2f}{foot}", inks.accent, 2)
        text = shortened(one.sentence, SMALL, axis.right - axis.left - 16, 700)
        room = text_width(text, SMALL, 700)
        if x2 + room + 8 <= axis.right:
            at = x2 + 3
        elif x1 - room - 8 >= axis.left:
            at = x1 - room - 9
        else:
            at = max(axis.left, axis.right - room - 8)
        box = Box(at, top - 1, at + room + 6, top + ROW - 1)
        frame.taken.take(box, Box(x1, top, x2, top + 9))
        shapes += titled(backed(box, text, inks.accent, inks, 700), one.sentence)
    return shapes


def washes(lane: Lane, frame: Frame) -> str:
    """Return the ruled boxes of washes, each with its word where there is room."""
    shapes, inks, axis = "", frame.inks, frame.axis
    boxes = [w for w in lane.washes if axis.meets(w.start, w.end)]
    drawn = []
    for one in boxes:
        x1 = axis.x(one.start)
        x2 = max(axis.x(one.end), x1 + 6)
        top, bottom = frame.bottom - 13, frame.bottom
        shape = rect(x1, top, x2 - x1, bottom - top, inks.paper, inks.ink, 1)
        for step in (3.25, 6.5, 9.75):
            shape += line(x1, top + step, x2, top + step, inks.ink, 0.7)
        shapes += titled(shape, f"{lane.name}: {one.label}")
        frame.taken.take(Box(x1 - 1, top, x2 + 1, bottom))
        drawn.append((x1, x2, one.label))
    for x1, x2, label in drawn:
        shapes += beside(frame, x1, x2, frame.bottom - 12.5, label)
    return shapes


def beside(frame: Frame, x1: float, x2: float, top: float, text: str, ink: str | None = None) -> str:
    """Return words to the right or left of a span, or above or below it, or nothing where all is taken."""
    room = text_width(text, SMALL) + 6
    candidates = [
        Box(x2 + 2, top, x2 + 2 + room, top + 12),
        Box(x1 - 2 - room, top, x1 - 2, top + 12),
        Box(x1 - 3, top - 13, x1 - 3 + room, top - 1),
        Box(x2 + 3 - room, top - 13, x2 + 3, top - 1),
        Box(x2 + 2, top - 13, x2 + 2 + room, top - 1),
        Box(x1 - 3, top + 13, x1 - 3 + room, top + 25),
    ]
    box = frame.taken.first_free(candidates)
    return backed(box, text, ink or frame.inks.ink, frame.inks) if box else ""


def notes(lane: Lane, frame: Frame) -> str:
    """Return short words at their moments, each beside a small square."""
    shapes = ""
    for one in lane.notes:
        if not frame.axis.meets(one.at, one.at):
            continue
        x, y = frame.axis.x(one.at), frame.bottom - 6
        square = rect(x - 2.5, y - 2.5, 5, 5, frame.inks.ink, frame.inks.paper)
        shapes += titled(square, f"{lane.name}: {one.text}")
        shapes += beside(frame, x - 3, x + 3, y - 6, one.text)
    return shapes


def holds(lane: Lane, frame: Frame) -> str:
    """Return the heavy double rule under a vessel on hold, with its word."""
    shapes, inks, axis = "", frame.inks, frame.axis
    for one in lane.holds:
        end = one.end or axis.end
        if not axis.meets(one.start, end):
            continue
        x1, x2 = axis.x(one.start), max(axis.x(end), axis.x(one.start) + 4)
        y = frame.bottom + 3
        shape = line(x1, y, x2, y, inks.accent, 2.4) + line(x1, y + 3, x2, y + 3, inks.accent, 1)
        shapes += titled(shape, f"{lane.name}: {frame.named['on hold']}")
        shapes += _hold_word(frame, x1, x2)
    return shapes


def _hold_word(frame: Frame, x1: float, x2: float) -> str:
    """Return the word of a hold: on its span low, else high, else over whatever is there, for it must be
    read.
    """
    word = frame.named["on hold"]
    room = text_width(word, SMALL, 700) + 6
    left = min(x1, frame.axis.right - room - 2)
    across = [left + max(0.0, x2 - x1 - room) * i / 24 for i in range(25)]
    low, high = frame.bottom - 12, frame.mark_y - frame.mark / 2
    spots = [Box(x, low, x + room, low + 12) for x in across]
    spots += [Box(x, high, x + room, high + frame.mark) for x in across]
    box = frame.taken.first_free(spots) or spots[0]
    return backed(box, word, frame.inks.accent, frame.inks, 700)


Group = tuple[float, str, list[Mark]]


def _together(marks: list[Mark], axis: Axis) -> tuple[list[Group], float]:
    """Return (x, gravest outcome, readings) so that the marks can stand apart near their moments, and the
    distance they need.
    """
    seen: list[Group] = [(axis.x(m.at), m.outcome, [m]) for m in marks]
    places = spread([x for x, _o, _m in seen], MARK_ROOM, axis.left, axis.right)
    fits = (len(seen) - 1) * MARK_ROOM <= axis.right - axis.left
    if fits and all(abs(p - x) <= FARTHEST for p, (x, _o, _m) in zip(places, seen, strict=True)):
        return seen, MARK_ROOM
    joined: list[Group] = []
    for x, outcome, group in seen:
        if joined and x - axis.x(joined[-1][2][0].at) < TOGETHER_ROOM:
            _x, worst, before = joined[-1]
            before += group
            middle = (axis.x(before[0].at) + x) / 2
            joined[-1] = (middle, max(worst, outcome, key=OUTCOMES.index), before)
        else:
            joined.append((x, outcome, list(group)))
    return joined, TOGETHER_ROOM


def stands_for_several(lane: Lane, axis: Axis) -> bool:
    """Say whether some mark of the lane stands for more than one reading."""
    return any(len(group) > 1 for _x, _o, group in _together(_shown_marks(lane, axis), axis)[0])


def _shown_marks(lane: Lane, axis: Axis) -> list[Mark]:
    return sorted((m for m in lane.marks if axis.meets(m.at, m.at)), key=lambda m: m.at.timestamp())


def _placed(lane: Lane, frame: Frame) -> list[tuple[float, Group]]:
    """Return each mark with the middle of the place where it stands."""
    axis = frame.axis
    groups, apart = _together(_shown_marks(lane, axis), axis)
    places = spread([x for x, _o, _m in groups], apart, axis.left + 8, axis.right - 8)
    return list(zip(places, groups, strict=True))


def _mark_box(place: float, frame: Frame) -> Box:
    y = frame.mark_y
    return Box(place - 8, y - frame.mark / 2, place + 8, y + frame.mark / 2)


def mark_boxes(lane: Lane, frame: Frame) -> list[Box]:
    """Return where the lane's marks will stand, and the words that say how many readings one stands for."""
    boxes = []
    for place, (_x, _outcome, group) in _placed(lane, frame):
        box = _mark_box(place, frame)
        boxes.append(box)
        if len(group) > 1:
            boxes.append(Box(box.right, box.top, box.right + 1 + text_width(f"×{len(group)}", SMALL) + 6, box.bottom))
    return boxes


def marks(lane: Lane, frame: Frame) -> str:
    """Return the row of marks, each at its moment or led to it, with words for those that are not simply in
    limits.
    """
    inks, placed = frame.inks, _placed(lane, frame)
    shapes, y = "", frame.mark_y
    for place, (x, outcome, group) in placed:
        box = _mark_box(place, frame)
        frame.taken.take(box)
        shape = rect(box.left, box.top, 16, frame.mark, inks.paper) + mark_shapes(outcome, place, y, frame.mark, inks)
        if abs(place - x) > 1.5:
            shape += line(place, box.bottom, x, box.bottom + 4, inks.ink, 0.8)
        said = "; ".join(m.label or frame.named[m.outcome] for m in group)
        shapes += titled(shape, f"{lane.name}: {said}")
    for place, (_x, outcome, group) in placed:
        shapes += _mark_words(frame, place, outcome, group)
    return shapes


def _mark_words(frame: Frame, place: float, outcome: str, group: list[Mark]) -> str:
    """Return the words right or left of a mark, where there is room; several readings drawn as one say how
    many.
    """
    text = f"×{len(group)}" if len(group) > 1 else (group[0].label if outcome != OUTCOMES[0] else "")
    if not text:
        return ""
    ink = frame.inks.accent if outcome == Outcome.NOT_MET else frame.inks.ink
    room = text_width(text, SMALL) + 6
    top, bottom = frame.mark_y - frame.mark / 2, frame.mark_y + frame.mark / 2
    spots = (Box(place + 9, top, place + 9 + room, bottom), Box(place - 9 - room, top, place - 9, bottom))
    box = frame.taken.first_free(spots)
    return backed(box, text, ink, frame.inks) if box else ""
