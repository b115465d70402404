"""The legend under the Day chart: each mark, line and texture beside its word, in as many rows as it needs."""

from collections.abc import Collection, Mapping

from plant.pictures.marks import OUTCOMES, mark_shapes
from plant.pictures.svg import Inks, element, line, path, rect, words
from plant.pictures.textures import DASHES, texture_id
from plant.pictures.type_width import text_width

SIZE = 11.0
ROW = 19.0


def _samples(
    ident: str, families: tuple[str, ...], inks: Inks, named: Mapping[str, str], drawn: Collection[str]
) -> list[tuple[float, str, str]]:
    """Return (width, shapes, word) for each entry, drawn around y = 0 from x = 0."""
    out = [(20.0, mark_shapes(outcome, 10, 0, 13, inks), named[outcome]) for outcome in OUTCOMES]
    ruled = rect(0, -6, 24, 12, inks.paper, inks.ink, 1)
    ruled += "".join(line(0, y, 24, y, inks.ink, 0.7) for y in (-3, 0, 3))
    arrow = path("M1 -6C8 -6 10 0 10 6", inks.ink, 1.4) + path("M6 0L10 6L14 0", inks.ink, 1.6)
    bracket = path("M0 5L0 -2L24 -2L24 5", inks.accent, 2)
    hold = line(0, -1, 24, -1, inks.accent, 2.4) + line(0, 2, 24, 2, inks.accent, 1)
    out += [
        (width, shapes, named[name])
        for name, width, shapes in (
            ("several", 16.0, words(0, 4, "×4", inks.ink, SIZE)),
            ("limit", 24.0, line(0, 0, 24, 0, inks.accent, 1.3, "7 3")),
            ("act line", 24.0, line(0, 0, 24, 0, inks.quiet, 0.9, "1.5 3")),
            ("recorded", 24.0, line(0, 0, 24, 0, inks.ink, 1.5)),
            ("reading", 8.0, element("circle", cx=4, cy=0, r=2.4, fill=inks.ink)),
            ("wash", 24.0, ruled),
            ("movement", 15.0, arrow),
            ("deviation", 24.0, bracket),
            ("on hold", 24.0, hold),
        )
        if name in drawn
    ]
    for index, family in enumerate(families):
        swatch = rect(0, -6, 24, 12, f"url(#{texture_id(ident, family)})", inks.ink, 0.8)
        word = named[family] if index else f"{named[family]} ({named['height']})"
        out.append((24.0, swatch, word))
    if "level" in drawn:
        out.append((24.0, line(0, 0, 24, 0, inks.ink, 0.9, DASHES), named["level"]))
    return out


def legend(
    ident: str,
    left: float,
    right: float,
    families: tuple[str, ...],
    inks: Inks,
    named: Mapping[str, str],
    drawn: Collection[str],
) -> tuple[str, float]:
    """Return the legend's shapes, from y = 0 down, and its height; ``drawn``: the names, besides marks and families,
    of what the chart shows.
    """
    samples = _samples(ident, families, inks, named, drawn)
    shapes, x, y = "", left, 14.0
    for width, sample, word in samples:
        whole = width + 5 + text_width(word, SIZE)
        if x > left and x + whole > right:
            x, y = left, y + ROW
        shapes += element("g", sample, transform=f"translate({x:.2f} {y:.2f})")
        shapes += words(x + width + 5, y + 4, word, inks.quiet, SIZE)
        x += whole + 18
    return shapes, y + 10
