"""The recorders' trace of the time in which a lot's product ran through a pasteurizer, for its page and for paper."""

from __future__ import annotations

from datetime import datetime, timedelta

from plant.pictures.strip_chart import strip_chart_svg
from records.people.plans import InForce
from records.recall.tub import Pressed, is_pasteurizer
from records.traces import strip
from records.traces.place_strip import strip_of_place
from records.traces.recorded import TooManySamples
from records.traces.windows import Window

MOST_STRIPS = 2  # pictures of traces of one lot; further windows are named alone
AROUND = timedelta(minutes=10)
LONGEST = timedelta(hours=24)
WIDTH = 976
ON_PAPER = 78.0  # height of each plot on paper


def strips_of(
    pressed: tuple[Pressed, ...], in_force: InForce, now: datetime, *, on_paper: bool = False
) -> list[tuple[Pressed, str]]:
    """Each time in a line with its drawing; '' for no pasteurizer, without any trace, or beyond a few."""
    drawn = [one for one in pressed if is_pasteurizer(one.line_code, in_force)][:MOST_STRIPS]
    return [
        (one, _drawn(one, in_force, now, on_paper, f"strip-{place}") if one in drawn else "")
        for place, one in enumerate(pressed)
    ]


def _drawn(one: Pressed, in_force: InForce, now: datetime, on_paper: bool, ident: str) -> str:
    window = Window(one.start - AROUND, min((one.end or now) + AROUND, one.start + LONGEST))
    try:
        found = strip_of_place(one.line_code, window, in_force, now)
    except TooManySamples:
        return ""
    if found is None:
        return ""
    height = ON_PAPER if on_paper else None
    return strip_chart_svg(found, WIDTH, print_=on_paper, words=strip.words(), ident=ident, height=height)
