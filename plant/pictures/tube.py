"""A holding tube cut lengthwise: how fast its layers move, and when the fastest particle and the mean leave it."""

from collections.abc import Mapping, Sequence

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, titled, words
from plant.pictures.type_width import text_width

WORDS = {
    "title": "Holding tube",
    "fastest": "fastest particle",
    "mean": "mean",
    "wanted": "wanted",
    "seconds": "s in the tube",
}

_LEFT, _MARGIN = 24.0, 24.0
_TOP, _BOTTOM = 30.0, 106.0  # the tube's walls
_ROOT, _REACH = 60.0, 170.0  # where the profile stands, and how far its fastest arrow goes
_AXIS = 186.0
_HEIGHT = 264.0


def tube_svg(
    profile: Sequence[tuple[float, float]],
    ratio: float,
    fastest_s: float,
    mean_s: float,
    wanted_s: float | None = None,
    *,
    tube_words: str = "",
    flow_words: str = "",
    ratio_words: str = "",
    desc: str = "",
    width: float = 640,
    named: Mapping[str, str] | None = None,
    ident: str = "tube",
    inks: Inks = SCREEN,
) -> str:
    """Return the tube, flow from left to right, with a ruler of seconds under it.

    ``profile`` goes from wall to wall: (place across from 0 to 1, velocity over mean velocity [-]); ``ratio`` is its
    largest. ``fastest_s``, ``mean_s`` and ``wanted_s`` [s] stand on the ruler, each by its word. Raises ValueError for
    a profile of fewer than three places or times that are no positive numbers.
    """
    say = {**WORDS, **(named or {})}
    times = [one for one in (fastest_s, mean_s, wanted_s) if one is not None]
    if len(profile) < 3 or not all(0 < one < float("inf") for one in times) or not ratio > 0:
        raise ValueError("a tube is drawn from a profile and from positive times")
    ratio_words = ratio_words or f"{say['fastest']}: {ratio:.3g}"
    shapes = _tube(profile, ratio, width, tube_words, flow_words, ratio_words, say["mean"], inks)
    top = max(times) * 1.12
    right = width - _MARGIN

    def x(seconds: float) -> float:
        return _LEFT + seconds / top * (right - _LEFT)

    shapes += line(_LEFT, _AXIS, right, _AXIS, inks.ink, 1.5)
    for step in round_steps(0, top, 9):
        shapes += line(x(step), _AXIS, x(step), _AXIS + 5, inks.ink)
        shapes += words(x(step), _AXIS + 18, plain(step), inks.quiet, 11, anchor="middle", font=NUMBER_FONT)
    shapes += words(right, _AXIS + 70, say["seconds"], inks.quiet, 11, anchor="end")
    if wanted_s is not None:
        label = f"{say['wanted']} {plain(round(wanted_s, 2))} s"
        shapes += line(x(wanted_s), _AXIS - 14, x(wanted_s), _AXIS + 8, inks.accent, 3)
        shapes += _label(x(wanted_s), _AXIS - 20, label, width, inks.accent, 700)
    short = wanted_s is not None and fastest_s < wanted_s
    label = f"{say['fastest']} {plain(round(fastest_s, 2))} s"
    shapes += titled(_wedge(x(fastest_s), inks) if short else _dot(x(fastest_s), inks.ink, inks.ink), label)
    shapes += _label(x(fastest_s), _AXIS + 36, label, width, inks.accent if short else inks.ink, 700)
    label = f"{say['mean']} {plain(round(mean_s, 2))} s"
    shapes += titled(_dot(x(mean_s), inks.paper, inks.ink), label)
    shapes += _label(x(mean_s), _AXIS + 52, label, width, inks.quiet, 400)
    return drawing(width, _HEIGHT, shapes, title=say["title"], desc=desc, ident=ident, css_class="tube-drawing")


def _tube(
    profile: Sequence[tuple[float, float]],
    ratio: float,
    width: float,
    tube_words: str,
    flow_words: str,
    ratio_words: str,
    mean_words: str,
    inks: Inks,
) -> str:
    right, high = width - _MARGIN, _BOTTOM - _TOP
    shapes = words(_LEFT, 18, flow_words, inks.ink, 12, weight=700)
    shapes += words(right, 18, tube_words, inks.quiet, 12, anchor="end")
    for wall in (_TOP, _BOTTOM):
        shapes += line(_LEFT, wall, right, wall, inks.ink, 3)
    shapes += line(_LEFT, (_TOP + _BOTTOM) / 2, right, (_TOP + _BOTTOM) / 2, inks.hair, 1, "8 3 2 3")
    points = [(_ROOT + speed / ratio * _REACH, _TOP + share * high) for share, speed in profile]
    curve = "L".join(f"{px:.2f} {py:.2f}" for px, py in points)
    shapes += path(f"M{_ROOT} {_TOP}L{curve}L{_ROOT} {_BOTTOM}Z", inks.ink, 1.5, "none", "round")
    every = max(1, (len(points) - 1) // 8)
    for px, py in points[every:-1:every]:
        if px - _ROOT > 12:
            shapes += line(_ROOT, py, px - 7, py, inks.ink, 1)
            shapes += path(
                f"M{px - 7:.2f} {py - 3:.2f}L{px - 1:.2f} {py:.2f}L{px - 7:.2f} {py + 3:.2f}Z", fill=inks.ink
            )
    mean = _ROOT + _REACH / ratio
    shapes += line(mean, _TOP, mean, _BOTTOM + 8, inks.ink, 1, "4 3")
    shapes += words(_ROOT + _REACH + 12, (_TOP + _BOTTOM) / 2 - 6, ratio_words, inks.ink, 12)
    return shapes + words(mean, _BOTTOM + 20, mean_words, inks.quiet, 11, anchor="middle")


def _label(x: float, y: float, text: str, width: float, fill: str, weight: int) -> str:
    half = text_width(text, 12, weight) / 2
    return words(min(max(x, 2 + half), width - 2 - half), y, text, fill, 12, anchor="middle", weight=weight)


def _dot(x: float, fill: str, stroke: str) -> str:
    return element("circle", cx=x, cy=_AXIS, r=5, fill=fill, stroke=stroke, stroke_width=1.8)


def _wedge(x: float, inks: Inks) -> str:
    """The mark of what is out of limits, pointing to the short side."""
    d = f"M{x + 5:.2f} {_AXIS - 6}L{x - 6:.2f} {_AXIS}L{x + 5:.2f} {_AXIS + 6}Z"
    return path(d, inks.accent, 1, inks.accent)
