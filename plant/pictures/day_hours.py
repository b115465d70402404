"""What runs down the whole Day chart: its title, the hours, the shifts, the present moment."""

from collections.abc import Mapping
from datetime import timedelta

from plant.pictures.day_data import DayChart
from plant.pictures.day_frame import MARGIN, SMALL
from plant.pictures.hours import Axis, clock_change, hours
from plant.pictures.svg import Inks, element, line, words
from plant.pictures.type_width import shortened, text_width


def head_line(chart: DayChart, width: float, inks: Inks) -> str:
    """Return the title and the plant."""
    room = width - 2 * MARGIN
    title = shortened(chart.title, 19, room * 0.6, 700)
    after = MARGIN + text_width(title, 19, 700) + 16
    plant = shortened(chart.plant, 13, width - MARGIN - after)
    return words(MARGIN, 24, title, inks.ink, 19, weight=700) + words(after, 24, plant, inks.quiet, 13)


def hour_rules(chart: DayChart, axis: Axis, head: float, floor: float, inks: Inks, named: Mapping[str, str]) -> str:
    """Rule each hour and name every third; an hour that comes twice is named twice, with its zone above it."""
    shapes = ""
    ticks = hours(chart.start_at, chart.end_at, chart.zone)
    first = ticks[0].local_hour if ticks else 0
    taken = [_now_span(chart, axis, named)] if _shows_now(chart, axis) else []
    for tick in sorted(ticks, key=lambda one: not one.twice):  # stable: those that come twice find room first
        main = (tick.local_hour - first) % 3 == 0
        x = axis.x(tick.at)
        shapes += line(x, head - 2 if main else head, x, floor, inks.hair, 1 if main else 0.5)
        half = text_width(tick.name, 11) / 2 + 4
        middle = min(x, axis.right + MARGIN - half)
        fits = all(middle + half <= left or middle - half >= right for left, right in taken)
        if fits and (main or tick.twice):
            taken.append((middle - half, middle + half))
            shapes += words(middle, head - 6, tick.name, inks.quiet, 11, anchor="middle")
            if tick.twice:
                shapes += words(middle, head - 19, tick.zone, inks.quiet, 9.5, anchor="middle")
    change = clock_change(chart.start_at, chart.end_at, chart.zone)
    if change:
        at, jump = change
        word = named["forward"] if jump > timedelta() else named["back"]
        x, half = axis.x(at), text_width(word, 11, 700) / 2
        shapes += line(x, head - 2, x, floor, inks.ink, 1.6, "1.5 3")
        shapes += words(min(x, axis.right - half), head - 33, word, inks.ink, 11, anchor="middle", weight=700)
    return shapes + line(MARGIN, head, axis.right, head, inks.ink, 1.5)


def shift_rules(chart: DayChart, axis: Axis, head: float, floor: float, inks: Inks) -> str:
    """Rule where each shift begins and name it at the foot."""
    shapes = ""
    places = [(axis.x(at), label) for at, label in chart.shifts if axis.meets(at, at)]
    for index, (x, label) in enumerate(places):
        until = places[index + 1][0] if index + 1 < len(places) else axis.right
        shapes += line(x, head - 4, x, floor + 14, inks.ink, 1.5)
        shapes += words(x + 4, floor + 13, shortened(label, 11, until - x - 6), inks.quiet, 11)
    return shapes


def _shows_now(chart: DayChart, axis: Axis) -> bool:
    return chart.now_at is not None and axis.meets(chart.now_at, chart.now_at)


def _now_span(chart: DayChart, axis: Axis, named: Mapping[str, str]) -> tuple[float, float]:
    x = axis.x(chart.now_at or chart.end_at)
    half = text_width(named["now"], SMALL, 700) / 2 + 4
    return x - half, x + half


def now_rule(chart: DayChart, axis: Axis, head: float, floor: float, inks: Inks, named: Mapping[str, str]) -> str:
    """Rule the present moment, when the chart has one."""
    if not _shows_now(chart, axis):
        return ""
    left, right = _now_span(chart, axis, named)
    x = (left + right) / 2
    shapes = line(x, head, x, floor, inks.ink, 2)
    shapes += element("rect", x=left, y=head - 13, width=right - left, height=14, fill=inks.ink)
    return shapes + words(x, head - 2.5, named["now"], inks.paper, SMALL, anchor="middle", weight=700)
