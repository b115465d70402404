"""The limit gauge: a scale, the limits in the accent, the operating limits dashed and named, the last
readings as marks.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from plant.pictures.marks import OUTCOME_WORDS, OUTCOMES
from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, titled
from plant.pictures.svg import words as text_line
from plant.pictures.type_width import text_width
from plant.process.limits import Outcome

Reading = tuple[float, str, str]  # value, when (words), outcome

WORDS = {
    "limit": "limit",
    "act_above": "act above",
    "act_below": "act below",
    "new": "now",
    "title": "Limit gauge",
    "no_readings": "no earlier reading",
    **OUTCOME_WORDS,
}


class _Line(NamedTuple):
    """A limit (hard) or an operating limit: upper is the side beyond which it is passed."""

    value: float
    label: str
    hard: bool
    upper: bool


class _Scale:
    def __init__(self, low: float, high: float, left: float, right: float) -> None:
        if not high > low:
            raise ValueError(f"a gauge from {low} to {high} has no length")
        self.low, self.high, self.left, self.right = low, high, left, right

    def x(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


def gauge_svg(
    scale_low: float,
    scale_high: float,
    limit_low: float | None,
    limit_high: float | None,
    act_low: float | None,
    act_high: float | None,
    readings: Sequence[Reading],
    unit: str,
    new: float | None = None,
    width: float = 380,
    words: Mapping[str, str] | None = None,
    *,
    new_outcome: str | None = None,
    ident: str = "gauge",
    inks: Inks = SCREEN,
) -> str:
    """Return the gauge ``width`` units wide, all values in ``unit``; readings oldest first as (value, when,
    outcome).

    ``new`` is the reading just saved (never one not yet saved), drawn larger. A value outside the scale
    stands at its end with an arrow. Raises ValueError for a scale without length or an outcome without a
    mark.
    """
    named = {**WORDS, **(words or {})}
    scale = _Scale(float(scale_low), float(scale_high), 14, width - 14)
    lines = [
        _Line(float(value), f"{named[key]} {plain(float(value))}", hard, upper)
        for value, key, hard, upper in (
            (limit_low, "limit", True, False),
            (limit_high, "limit", True, True),
            (act_low, "act_below", False, False),
            (act_high, "act_above", False, True),
        )
        if value is not None
    ]
    labels, rows = _limit_labels(scale, lines, width, inks)
    axis = 16.0 * rows + 26
    shapes = labels + _axis(scale, axis, width, inks)
    for value, _label, hard, _upper in lines:
        x, top = scale.x(value), 16.0 * rows + 3
        shapes += line(
            x,
            top,
            x,
            axis + 8,
            inks.accent if hard else inks.ink,
            3 if hard else 2,
            None if hard else "2.5 2.5",
        )
    for value, when, outcome in readings:
        shapes += titled(
            _dot(scale, float(value), axis, outcome, 5, inks),
            f"{plain(float(value))} {unit}, {when}, {_word(named, outcome)}",
        )
    if new is not None:
        shapes += _new(
            scale,
            float(new),
            axis,
            new_outcome or _judged(float(new), limit_low, limit_high),
            named,
            unit,
            inks,
        )
    # The row under the scale's numbers is the new reading's; without one the times move up.
    below, height = _whens(scale, readings, axis + (52 if new is not None else 33), width, inks)
    return drawing(
        width, height, shapes + below, title=named["title"], desc=_in_words(lines, readings, new, unit, named),
        ident=ident, css_class="gauge-drawing",
    )  # fmt: skip


def _word(named: Mapping[str, str], outcome: str) -> str:
    return named.get(outcome, outcome)


def _judged(new: float, low: float | None, high: float | None) -> str:
    # Only to choose the shape when the caller gives no verdict: beyond a limit is never drawn as within.
    beyond = (low is not None and new < float(low)) or (high is not None and new > float(high))
    return Outcome.NOT_MET if beyond else Outcome.OPERATING


def _limit_labels(scale: _Scale, lines: list[_Line], width: float, inks: Inks) -> tuple[str, int]:
    """Return the names of the limits above their strokes, in as many rows as keep them apart, and the number of rows.

    The operating limit's name leans inward and the limit's outward; the operating limits are placed first, in the
    lowest row, so that no name stands in the way of a stroke led up to a higher one.
    """
    rows: list[list[tuple[float, float]]] = [[]]
    placed: list[tuple[float, float, int, str, bool]] = []
    for value, label, hard, upper in sorted(lines, key=lambda one: (one.hard, one.value)):
        x, room = scale.x(value), text_width(label, 14, 700 if hard else 400)
        wanted = x - 4 if upper == hard else x - room + 4
        left = min(max(2.0, wanted), width - room - 2)
        row = next((i for i, taken in enumerate(rows) if _clear(taken, left, left + room)), len(rows))
        if row == len(rows):
            rows.append([])
        rows[row].append((left, left + room))
        placed.append((x, left, row, label, hard))
    shapes = ""
    for x, left, row, label, hard in placed:
        ink = inks.accent if hard else inks.ink
        foot = 16.0 * (len(rows) - row)
        shapes += text_line(left, foot - 2, label, ink, 14, weight=700 if hard else 400)
        if row:  # led down to its stroke
            shapes += line(x, foot + 2, x, 16.0 * len(rows) + 3, ink, 1)
    return shapes, len(rows)


def _clear(taken: list[tuple[float, float]], left: float, right: float) -> bool:
    return all(right + 8 < other_left or other_right + 8 < left for other_left, other_right in taken)


def _axis(scale: _Scale, axis: float, width: float, inks: Inks) -> str:
    shapes = line(scale.left - 10, axis, scale.right + 10, axis, inks.ink, 2)
    steps = round_steps(scale.low, scale.high, max(3, int(width / 58)))
    for value in steps:
        x = scale.x(value)
        shapes += line(x, axis - 6, x, axis + 6, inks.ink, 1)
        shapes += text_line(x, axis + 28, plain(value), inks.quiet, 14, anchor="middle", font=NUMBER_FONT)
    return shapes


def _dot(scale: _Scale, value: float, axis: float, outcome: str, radius: float, inks: Inks) -> str:
    if outcome not in OUTCOMES:
        raise ValueError(f"no mark for the outcome {outcome!r}")
    x = scale.x(value)
    if not scale.holds(value):
        tip, back = (x + 10, x - 2) if value > scale.high else (x - 10, x + 2)
        fill = inks.accent if outcome == Outcome.NOT_MET else inks.ink
        return path(f"M{back:.2f} {axis - 7:.2f}L{tip:.2f} {axis:.2f}L{back:.2f} {axis + 7:.2f}Z", fill=fill)
    if outcome == Outcome.NOT_MET:
        r = radius * 1.3
        d = f"M{x - r:.2f} {axis - r:.2f}L{x + r:.2f} {axis:.2f}L{x - r:.2f} {axis + r:.2f}Z"
        return path(d, fill=inks.accent)
    if outcome == Outcome.NOT_PROVEN:
        return "".join(
            element("circle", cx=x + side, cy=axis - radius, r=radius * 0.4, fill=inks.ink) for side in (-3, 3)
        )
    if outcome == Outcome.OPERATING:
        return element("circle", cx=x, cy=axis, r=radius, fill=inks.paper, stroke=inks.ink, stroke_width=2)
    return element("circle", cx=x, cy=axis, r=radius, fill=inks.ink)


def _new(
    scale: _Scale, value: float, axis: float, outcome: str, named: Mapping[str, str], unit: str, inks: Inks
) -> str:
    x = scale.x(value)
    label = f"{named['new']} {plain(value)} {unit}"
    half = text_width(label, 14, 700) / 2
    middle = min(max(x, half + 2), scale.right + 12 - half)
    ink = inks.accent if outcome == Outcome.NOT_MET else inks.ink
    return (
        titled(_dot(scale, value, axis, outcome, 8, inks), f"{label}, {_word(named, outcome)}")
        + line(x, axis + 9, x, axis + 16, ink, 1)
        + text_line(middle, axis + 47, label, ink, 14, anchor="middle", weight=700)
    )


def _whens(scale: _Scale, readings: Sequence[Reading], floor: float, width: float, inks: Inks) -> tuple[str, float]:
    """Return the readings' times in one line below ``floor``, near their dots, and the height of the whole
    drawing.
    """
    if not readings:
        return "", floor
    text = ", ".join(when for _value, when, _outcome in readings)
    middle = sum(scale.x(float(value)) for value, _when, _outcome in readings) / len(readings)
    half = text_width(text, 14) / 2
    x = min(max(middle, half + 2), max(width - half - 2, half + 2))
    return text_line(x, floor + 14, text, inks.quiet, 14, anchor="middle"), floor + 20


def _in_words(
    lines: list[_Line],
    readings: Sequence[Reading],
    new: float | None,
    unit: str,
    named: Mapping[str, str],
) -> str:
    said = [f"{label} {unit}" for _value, label, _hard, _upper in sorted(lines)]
    said += [f"{plain(float(value))} {unit}, {when}, {_word(named, outcome)}" for value, when, outcome in readings]
    if not readings:
        said.append(named["no_readings"])
    if new is not None:
        said.append(f"{named['new']} {plain(float(new))} {unit}")
    return "; ".join(said)
