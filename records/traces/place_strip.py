"""All traces of one place in one picture: its channels under one another, over them products, diversions, findings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext as _

from plant.hazard_plan.content import TracedDef
from plant.pictures.strip_chart import Channel, Strip, Trace
from plant.pictures.strip_time import said
from records.people.installation import installation
from records.people.plans import InForce
from records.traces import overlays, recorded
from records.traces.beside import limits_of, readings_of
from records.traces.circumstances import to_ms, traced_at
from records.traces.models import TraceJudged
from records.traces.recorded import Recorded
from records.traces.strip import words
from records.traces.windows import Window

SIGNALS = ("forward flow", "pump running")  # they show as diversions, not as lines


def strip_of_place(place: str, window: Window, in_force: InForce, now: datetime) -> Strip | None:
    """The strip of a place's traces in a window; None where nothing of it is recorded then. Raises TooManySamples."""
    channels = [one for row in traced_at(place, in_force) if (one := _channel(row, window, in_force)) is not None]
    if not channels:
        return None
    over = overlays.over(traced_at(place, in_force)[0].key, window, in_force)
    start, end = to_ms(window.start), to_ms(window.end)
    when = words()["to"].format(start=said(start, in_force.zone), end=said(end, in_force.zone))
    plant = in_force.plan.plant.name
    book = installation()
    plant += f" ({_('invented')})" if book and book.invented else ""
    return Strip(
        in_force.names.get(place, place),
        f"{when} · {in_force.zone} · {plant}",
        start,
        end,
        in_force.zone,
        tuple(channels),
        over.bands,
        over.stretches,
        to_ms(now),
    )


def _channel(row: TracedDef, window: Window, in_force: InForce) -> Channel | None:
    if row.what in SIGNALS:
        return None
    known = recorded.instrument(row.key) or Recorded(row.key, row.name, row.unit, window.start, window.end)
    samples, contradicting = recorded.around(row.key, window)
    if not len(samples):
        return None
    return Channel(
        known.label,
        known.unit,
        Trace.of(samples),
        Trace.of(contradicting) if len(contradicting) else None,
        limits_of(row.key, known.unit, known.unit, window),
        tuple(one.spot for one in readings_of(row.key, known.unit, window, in_force)),
        samples.places,
    )


def newest_of(judged: Iterable[TraceJudged]) -> list[TraceJudged]:
    """Of judgements in order of their numbers the newest: one that a later one covers says nothing more."""
    found: list[TraceJudged] = []
    for one in reversed(list(judged)):
        if not any(other.start_at <= one.start_at and one.end_at <= other.end_at for other in found):
            found.append(one)
    return sorted(found, key=lambda one: one.start_at)
