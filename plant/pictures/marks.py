"""The marks: the limit gauge at its smallest, and the squares of the walk.

Two upright ticks are the limits. A dot between them: in limits. An open dot on the tick: in limits, act. A
wedge beyond the tick: out of limits. Two small dots and nothing between: not proven. Shape alone tells them
apart, in black too.
"""

from typing import Final

from plant.pictures.svg import PRINT, SCREEN, Inks, drawing, element, line, path, rect
from plant.process.limits import SEVERITY, Outcome

OUTCOMES: Final = tuple(reversed(SEVERITY))  # the gravest last

OUTCOME_WORDS: Final[dict[str, str]] = {
    Outcome.MET: "in limits",
    Outcome.OPERATING: "in limits, act",
    Outcome.NOT_MET: "out of limits",
    Outcome.NOT_PROVEN: "not proven",
}
STOPS: Final = ("due", "done", "late", "missed")
STOP_WORDS: Final = {"due": "due", "done": "done", "late": "late", "missed": "missed"}

# The mark's own grid: 20 wide, 16 high; ticks at 4 and 16 leave room beyond them.
WIDE, HIGH = 20.0, 16.0


def mark_shapes(outcome: str, x: float, y: float, size: float, inks: Inks = SCREEN) -> str:
    """Return the mark's shapes centered on (x, y), ``size`` high, without a drawing around them.

    Raises ValueError for an outcome that has no mark: nothing unknown may look like a pass.
    """
    if outcome not in OUTCOMES:
        raise ValueError(f"no mark for the outcome {outcome!r}")
    unit = size / HIGH
    tick, dot = 1.8 * unit, 3.1 * unit
    top, bottom = y - 7 * unit, y + 7 * unit
    out = outcome == Outcome.NOT_MET
    left, right = x - 6 * unit, x + (2 * unit if out else 6 * unit)
    shapes = line(left, top, left, bottom, inks.ink, tick) + line(right, top, right, bottom, inks.ink, tick)
    if outcome == Outcome.MET:
        shapes += element("circle", cx=x, cy=y, r=dot, fill=inks.ink)
    elif outcome == Outcome.OPERATING:
        shapes += element("circle", cx=right, cy=y, r=dot, fill=inks.paper, stroke=inks.ink, stroke_width=1.8 * unit)
    elif out:
        start, tip = right + 1.6 * unit, right + 9 * unit
        d = f"M{start:.2f} {y - 5 * unit:.2f}L{tip:.2f} {y:.2f}L{start:.2f} {y + 5 * unit:.2f}Z"
        shapes += path(d, inks.ink if inks == PRINT else inks.accent, 0.8 * unit, inks.accent)  # edged for the fax
    else:
        for side in (-2.2, 2.2):
            shapes += element("circle", cx=x + side * unit, cy=y, r=1.2 * unit, fill=inks.ink)
    return shapes


def mark_svg(outcome: str, size: float = 16, word: str = "", *, ident: str = "", inks: Inks = SCREEN) -> str:
    """Return a verdict's mark as a drawing ``size`` units high.

    Put the word beside it where there is room and leave ``word`` empty: the drawing is then hidden from
    screen readers, which read the word. With ``word`` the drawing speaks for itself.
    """
    unit = size / HIGH
    width = (WIDE + 4) * unit
    shapes = mark_shapes(outcome, width / 2, size / 2, size, inks)
    return _alone(width, size, shapes, word, ident or f"mark-{_slug(outcome)}", "mark")


def _slug(text: str) -> str:
    return "".join(c if c.isalnum() else "-" for c in text)


def stop_shapes(state: str, x: float, y: float, size: float, inks: Inks = SCREEN) -> str:
    """Return a stop's square with its corner at (x, y): open due, filled done, half filled late, struck
    missed.

    Raises ValueError for a state that has no square.
    """
    if state not in STOPS:
        raise ValueError(f"no square for the state {state!r}")
    edge = size / 7
    half = edge / 2
    fill = inks.ink if state == "done" else inks.paper
    shapes = rect(x + half, y + half, size - edge, size - edge, fill, inks.ink, edge)
    if state == "late":
        d = f"M{x + edge:.2f} {y + size - edge:.2f}L{x + size - edge:.2f} {y + edge:.2f}V{y + size - edge:.2f}Z"
        shapes += path(d, fill=inks.ink)
    elif state == "missed":
        far = size - 1.6 * edge
        near = 1.6 * edge
        shapes += line(x + near, y + near, x + far, y + far, inks.accent, edge)
        shapes += line(x + far, y + near, x + near, y + far, inks.accent, edge)
    return shapes


def stop_svg(state: str, size: float = 21, word: str = "", *, ident: str = "", inks: Inks = SCREEN) -> str:
    """Return a stop of the walk as a drawing; see mark_svg for ``word``."""
    return _alone(size, size, stop_shapes(state, 0, 0, size, inks), word, ident or f"stop-{state}", "stop-mark")


def _alone(width: float, height: float, shapes: str, word: str, ident: str, css_class: str) -> str:
    svg = drawing(width, height, shapes, title=word, ident=ident, css_class=css_class)
    if word:
        return svg
    named = f' role="img" aria-labelledby="{ident}-t"><title id="{ident}-t"></title>'
    return svg.replace(named, ' aria-hidden="true" focusable="false">', 1)
