"""How far each measurement is from what the others say, in standard deviations, against one limit for all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, titled, words
from plant.pictures.type_width import shortened, text_width

WORDS: Final = {
    "title": "Measurements against the others",
    "scale": "standard deviations, measured less what fits",
    "limit": "limit",
}
WIDTH, ROW, TOP, MARGIN, SIZE = 640.0, 24.0, 30.0, 16.0, 12.5
MOST_NAME = 200.0


def adjustments_svg(
    statistics: Sequence[tuple[str, float]],
    limit: float,
    named: Mapping[str, str] | None = None,
    *,
    ident: str = "adjustments",
    inks: Inks = SCREEN,
) -> str:
    """Return one line a measurement (name, normalized adjustment), a dot within the limit, a wedge beyond it.

    Raises ValueError for no measurement, or a limit that is no positive number.
    """
    said = {**WORDS, **(named or {})}
    if not statistics or not 0 < limit < float("inf"):
        raise ValueError("the picture needs a measurement and a limit")
    left = MARGIN + min(max(text_width(name, SIZE) for name, _z in statistics), MOST_NAME) + 14
    right = WIDTH - MARGIN - 44
    reach = 1.15 * max(limit, *(abs(z) for _name, z in statistics))
    foot = TOP + ROW * len(statistics)

    def x(z: float) -> float:
        return left + (z + reach) / (2 * reach) * (right - left)

    shapes = line(x(0), TOP - 8, x(0), foot, inks.hair, 1)
    for side in (-limit, limit):
        shapes += line(x(side), TOP - 8, x(side), foot, inks.accent, 1.5, "5 3")
        label = f"{said['limit']} {plain(round(side, 2))}"
        shapes += words(x(side), TOP - 13, label, inks.accent, 11.5, anchor="middle")
    for place, (name, z) in enumerate(statistics):
        y = TOP + ROW * (place + 0.5)
        shapes += words(left - 10, y + 4, shortened(name, SIZE, MOST_NAME), inks.ink, SIZE, anchor="end")
        shapes += line(left, y, right, y, inks.hair, 0.6) + line(x(0), y, x(z), y, inks.ink, 1.5)
        out = abs(z) > limit
        mark = (
            _wedge(x(z), y, 1 if z > 0 else -1, inks) if out else element("circle", cx=x(z), cy=y, r=4.5, fill=inks.ink)
        )
        value = plain(round(z, 2))
        shapes += titled(mark, f"{name}: {value}")
        shapes += words(
            WIDTH - MARGIN, y + 4, value, inks.accent if out else inks.ink, SIZE, anchor="end", font=NUMBER_FONT,
            weight=700 if out else 400,
        )  # fmt: skip
    shapes += line(left, foot, right, foot, inks.ink, 1.5)
    for step in round_steps(-reach, reach, 9):
        shapes += line(x(step), foot, x(step), foot + 5, inks.ink)
        shapes += words(x(step), foot + 18, plain(step), inks.quiet, 11, anchor="middle", font=NUMBER_FONT)
    shapes += words(right, foot + 36, said["scale"], inks.quiet, 11.5, anchor="end")
    desc = "; ".join(f"{name} {plain(round(z, 2))}" for name, z in statistics)
    return drawing(
        WIDTH, foot + 46, shapes, title=said["title"], desc=desc, ident=ident, css_class="adjustments-drawing"
    )


def _wedge(x: float, y: float, side: int, inks: Inks) -> str:
    d = f"M{x - 5 * side:.2f} {y - 6:.2f}L{x + 6 * side:.2f} {y:.2f}L{x - 5 * side:.2f} {y + 6:.2f}Z"
    return path(d, inks.accent, 1, inks.accent)
