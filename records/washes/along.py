"""The trace of a wash beside its steps: traces are a later feature, which registers what it knows of a recorder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from django.utils.translation import gettext as _

from plant.process.limits import Judged, Limit, not_proven
from records.people.plans import InForce
from records.washes.models import WashStep

Judge = Callable[[str, Limit, Limit, datetime, datetime, InForce], Judged]
Draw = Callable[[str, Sequence[WashStep], InForce, datetime], str]
_known: list[tuple[Judge, Draw]] = []


def register(judge: Judge, draw: Draw) -> None:
    """`judge`: what a recorder shows of a step, by its lowest temperature and least time; `draw`: its chart as SVG."""
    _known[:] = [(judge, draw)]


def judged(recorder: str, low: Limit, least: Limit, start: datetime, end: datetime, in_force: InForce) -> Judged:
    """What a recorder proves of a step; without anything that knows traces, nothing."""
    for judge, _draw in _known:
        return judge(recorder, low, least, start, end, in_force)
    return not_proven(_("No trace of this time is kept."), low)


def chart(recorder: str, steps: Sequence[WashStep], in_force: InForce, now: datetime) -> str:
    """The strip chart of a recorder's place while the steps went on, as SVG; empty where nothing is kept of it."""
    return next((draw(recorder, steps, in_force, now) for _judge, draw in _known), "")
