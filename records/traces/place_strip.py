"""All traces of one place in one picture: its channels under one another, over them products, diversions, findings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext as _

from plant.hazard_plan.content import TracedDef
from plant.pictures.strip_chart import Channel, Strip, Trace
from plant.pictures.strip_time import said
from plant.process.trace_blocks import Samples
from records.people.installation import installation
from records.people.plans import InForce
from records.traces import overlays, recorded
from records.traces.beside import limits_of, readings_of
from records.traces.circumstances import to_ms, traced_at
from records.traces.models import TraceJudged
from records.traces.strip import words
from records.traces.windows import Window

SIGNALS = ("forward flow", "pump running")  # they show as diversions, not as lines


def strip_of_place(place: str, window: Window, in_force: InForce, now: datetime) -> Strip | None:
    """The strip of a place's traces in a window; None where nothing of it is recorded then. Raises TooManySamples."""
    rows = [row for row in traced_at(place, in_force) if row.what not in SIGNALS]
    told = recorded.around_many([row.key for row in rows], window) if rows else {}
    rows = [row for row in rows if len(told[row.key][0])]
    if not rows:
        return None
    names = recorded.names_of(row.key for row in rows)
    channels = [_channel(row, told[row.key], names.get(row.key), window, in_force) for row in rows]
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


def _channel(
    row: TracedDef,
    told: tuple[Samples, Samples],
    named: tuple[str, str] | None,
    window: Window,
    in_force: InForce,
) -> Channel:
    name, unit = named or (row.name, row.unit)
    samples, contradicting = told
    return Channel(
        f"{row.key} {name}".strip(),
        unit,
        Trace.of(samples),
        Trace.of(contradicting) if len(contradicting) else None,
        limits_of(row.key, unit, unit, window),
        tuple(one.spot for one in readings_of(row.key, unit, window, in_force)),
        samples.places,
    )


def newest_of(judged: Iterable[TraceJudged]) -> list[TraceJudged]:
    """Of judgements in order of their numbers the newest: one that a later one covers says nothing more."""
    found: list[TraceJudged] = []
    for one in reversed(list(judged)):
        if not any(other.start_at <= one.start_at and one.end_at <= other.end_at for other in found):
            found.append(one)
    return sorted(found, key=lambda one: one.start_at)
