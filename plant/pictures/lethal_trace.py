"""A temperature trace and, under it on the same times, its lethal rate, whose area is the F value."""

from collections.abc import Callable, Mapping, Sequence

from plant.pictures.scale import plain, round_steps
from plant.pictures.svg import NUMBER_FONT, SCREEN, Inks, drawing, element, line, path, titled, words
from plant.pictures.textures import texture, texture_id
from plant.pictures.type_width import shortened, text_width

Point = tuple[float, float]
Place = Callable[[float], float]

WORDS = {"title": "Temperature and lethal rate", "rate": "lethal rate", "limit": "limit", "reference": "reference"}

_LEFT, _MARGIN = 52.0, 16.0
_TOP, _MIDDLE = 30.0, 178.0  # the trace's panel
_RATE_TOP, _FLOOR = 212.0, 312.0  # the rate's panel
_HEIGHT = 350.0
_DOTS = 60  # so many readings still stand as dots


def lethal_trace_svg(
    trace: Sequence[Point],
    rates: Sequence[Point],
    *,
    unit: str,
    time_unit: str,
    limit: float | None = None,
    reference: float | None = None,
    area_words: str = "",
    desc: str = "",
    width: float = 640,
    named: Mapping[str, str] | None = None,
    ident: str = "lethal",
    inks: Inks = SCREEN,
) -> str:
    """Return the two panels.

    ``trace`` is (time [``time_unit``], temperature [``unit``]) and ``rates`` (time, lethal rate [-]), both in order of
    time; a long one is thinned to the lowest and the highest of each column. ``limit`` and ``reference`` [``unit``] are
    dashed lines named by their word. Raises ValueError for fewer than two points or a trace without length.
    """
    if len(trace) < 2 or len(rates) < 2 or not trace[-1][0] > trace[0][0]:
        raise ValueError("a trace is drawn from two moments or more")
    say = {**WORDS, **(named or {})}
    begin, end = trace[0][0], trace[-1][0]
    right = width - _MARGIN

    def x(moment: float) -> float:
        return _LEFT + (moment - begin) / (end - begin) * (right - _LEFT)

    shapes = element("defs", texture(ident, "cream", inks, inks is SCREEN))
    for step in round_steps(begin, end, 9):
        for top, floor in ((_TOP, _MIDDLE), (_RATE_TOP, _FLOOR)):
            shapes += line(x(step), floor, x(step), floor + 4, inks.ink)
            shapes += line(x(step), top, x(step), floor, inks.hair, 0.5)
        shapes += words(x(step), _FLOOR + 17, plain(step), inks.quiet, 11, anchor="middle", font=NUMBER_FONT)
    shapes += _trace(trace, x, limit, reference, unit, say, right, inks)
    shapes += _rates(rates, x, say, area_words, ident, right, inks)
    shapes += words(right, _FLOOR + 33, time_unit, inks.quiet, 11, anchor="end")
    return drawing(width, _HEIGHT, shapes, title=say["title"], desc=desc, ident=ident, css_class="lethal-drawing")


def _trace(
    trace: Sequence[Point],
    x: Place,
    limit: float | None,
    reference: float | None,
    unit: str,
    say: Mapping[str, str],
    right: float,
    inks: Inks,
) -> str:
    levels = [level for _moment, level in trace] + [one for one in (limit, reference) if one is not None]
    room = max(0.05 * (max(levels) - min(levels)), 0.5)
    low, high = min(levels) - room, max(levels) + room

    def y(level: float) -> float:
        return _MIDDLE - (level - low) / (high - low) * (_MIDDLE - _TOP)

    shapes = words(_LEFT, 18, unit, inks.ink, 12, weight=700)
    for step in round_steps(low, high, 6):
        shapes += line(_LEFT - 4, y(step), _LEFT, y(step), inks.ink)
        shapes += words(_LEFT - 8, y(step) + 4, plain(step), inks.quiet, 11, anchor="end", font=NUMBER_FONT)
    shapes += line(_LEFT, _TOP, _LEFT, _MIDDLE, inks.ink, 1.5) + line(_LEFT, _MIDDLE, right, _MIDDLE, inks.ink, 1.5)
    at = _LEFT + 40
    for level, word, stroke, dash in (
        (reference, say["reference"], inks.ink, "2 3"),
        (limit, say["limit"], inks.accent, "7 4"),
    ):
        if level is None:
            continue
        label = f"{word} {plain(round(level, 2))} {unit}"
        shapes += line(_LEFT, y(level), right, y(level), stroke, 1.5, dash)
        # Both names stand in the row above the panel, each at its own place, so that they never meet.
        shapes += line(at, 14, at + 18, 14, stroke, 1.5, dash) + words(at + 24, 18, label, stroke, 12)
        at += 56 + text_width(label, 12)
    points = thinned([(x(moment), y(level)) for moment, level in trace])
    shapes += path("M" + "L".join(f"{px:.2f} {py:.2f}" for px, py in points), inks.ink, 1.8, join="round")
    if len(trace) <= _DOTS:
        for moment, level in trace:
            dot = element("circle", cx=x(moment), cy=y(level), r=2.6, fill=inks.ink)
            shapes += titled(dot, f"{plain(moment)}: {plain(level)} {unit}")
    return shapes


def _rates(
    rates: Sequence[Point], x: Place, say: Mapping[str, str], area_words: str, ident: str, right: float, inks: Inks
) -> str:
    top = max(rate for _moment, rate in rates) * 1.08 or 1.0

    def y(rate: float) -> float:
        return _FLOOR - rate / top * (_FLOOR - _RATE_TOP)

    points = thinned([(x(moment), y(rate)) for moment, rate in rates])
    curve = "L".join(f"{px:.2f} {py:.2f}" for px, py in points)
    area = f"M{points[0][0]:.2f} {_FLOOR}L{curve}L{points[-1][0]:.2f} {_FLOOR}Z"
    shapes = words(_LEFT, _RATE_TOP - 10, say["rate"], inks.ink, 12, weight=700)
    room = right - _LEFT - text_width(say["rate"], 12, 700) - 16
    shapes += words(right, _RATE_TOP - 10, shortened(area_words, 12, room), inks.ink, 12, anchor="end")
    shapes += titled(path(area, fill=f"url(#{texture_id(ident, 'cream')})"), area_words or say["rate"])
    shapes += path(f"M{curve}", inks.ink, 1.5, join="round")
    for step in round_steps(0, top, 4):
        shapes += line(_LEFT - 4, y(step), _LEFT, y(step), inks.ink)
        shapes += words(_LEFT - 8, y(step) + 4, plain(step), inks.quiet, 11, anchor="end", font=NUMBER_FONT)
    shapes += line(_LEFT, _RATE_TOP, _LEFT, _FLOOR, inks.ink, 1.5)
    return shapes + line(_LEFT, _FLOOR, right, _FLOOR, inks.ink, 1.5)


def thinned(points: Sequence[Point], most: int = 1500) -> list[Point]:
    """Return the points, of very many the first, lowest, highest and last in each column of one unit."""
    if len(points) <= most:
        return list(points)
    columns: dict[int, list[Point]] = {}
    for point in points:
        columns.setdefault(int(point[0]), []).append(point)
    kept: list[Point] = []
    for column in columns.values():
        ends = {0, len(column) - 1}
        ends |= {min(range(len(column)), key=lambda place: column[place][1])}
        ends |= {max(range(len(column)), key=lambda place: column[place][1])}
        kept += [column[place] for place in sorted(ends)]
    return kept
