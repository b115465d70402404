"""What recorders wrote on a day: columns for the Day chart, and for the sheet each place's picture and findings."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import numpy as np
from django.utils.translation import gettext as _

from plant.hazard_plan.content import TracedDef
from plant.pictures.strip_chart import strip_chart_svg
from plant.pictures.strip_columns import columns
from plant.pictures.strip_data import Trace
from plant.process.trace_blocks import Samples
from plant.process.units import UnitError, exact, rounded
from records.flow.held_spans import held_between
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.reports.values import Data
from records.traces import findings, strip
from records.traces.circumstances import slowest_ms, to_moment, to_ms, traced_at, units_of
from records.traces.models import TraceFile, TraceJudged
from records.traces.place_strip import SIGNALS, newest_of, strip_of_place
from records.traces.recorded import TooManySamples
from records.traces.sources import samples_between
from records.traces.windows import Window

COLUMN = timedelta(minutes=5)  # of the Day chart; the strip on the sheet is finer, and judging takes every sample
WIDTH = 976
HEIGHT, HEIGHT_ALONE = 78.0, 96.0  # of each plot: a place's picture stays on the page of its table
ON_THE_LANE = ("hold temperature", "tank temperature")


def columns_of(place: str, unit: str, start: datetime, end: datetime, in_force: InForce) -> list[list[str | None]]:
    """The temperature that a place's recorder wrote: each column's first moment, least and greatest in `unit`.

    None and None where it wrote nothing. Empty where the plan traces no temperature there, or nothing is kept.
    """
    row = next((one for one in traced_at(place, in_force) if one.what in ON_THE_LANE), None)
    if row is None:
        return []
    samples, _beside = samples_between(row.key, start, end)
    count = int((end - start) / COLUMN)
    if not len(samples) or count < 1:
        return []
    shown = Trace.of(samples)
    valid = ~shown.failed
    kept = units_of([row], start, end).get(row.key, row.unit)
    found = columns(shown.times_ms[valid], shown.values[valid], to_ms(start), to_ms(start + count * COLUMN), count)
    told: list[list[str | None]] = []
    for at in range(count):
        when = moment(start + at * COLUMN)
        if found.count[at]:
            told.append([when, _in(found.low[at], kept, unit), _in(found.high[at], kept, unit)])
        elif not told or told[-1][1] is not None:
            told.append([when, None, None])
    return told


def _in(value: float, kept: str, unit: str) -> str | None:
    try:
        return f"{rounded(exact(Fraction(Decimal(repr(float(value)))), kept, unit), 2):f}"
    except UnitError:
        return None


def traces(start: datetime, end: datetime, at: datetime, in_force: InForce) -> list[Data]:
    """For each place that the plan traces and that held or ran product, or of which something is recorded."""
    until = min(end, at)
    if until <= start:
        return []
    places = dict.fromkeys(one.place for one in in_force.plan.traced)
    return [one for place in places if (one := _place(place, start, until, in_force)) is not None]


def _place(place: str, start: datetime, end: datetime, in_force: InForce) -> Data | None:
    rows = traced_at(place, in_force)
    channels = [one for row in rows if (one := _channel(row, start, end)) is not None]
    held = held_between(place, start, end, in_force)
    if not channels and not held.spans:
        return None
    told = findings.standing(start, end, [place], in_force.zone)
    judged = TraceJudged.objects.filter(place=place, start_at__lt=end, end_at__gte=start).order_by("number")
    latest = newest_of(judged)
    return {
        "place": place,
        "name": in_force.names.get(place, place),
        "channels": channels,
        "missing": [_named(row) for row in rows if row.key not in {one["key"] for one in channels}],
        "judged": [
            {
                "start_at": moment(one.start_at),
                "end_at": moment(one.end_at),
                "plan": one.plan_number,
                "counted": one.counted,
                "entry": one.number,
            }
            for one in latest
        ],
        "findings": [
            {
                "when": one.when,
                "outcome": one.outcome,
                "instrument": one.row.instrument,
                "sentence": one.row.sentence,
                "length": one.length,
                "rule": one.rule,
                "lots": one.row.lots,
                "deviation": one.deviation,
                "entry": one.row.number,
            }
            for one in told
        ],
        "files": _files(rows, start, end),
        "picture": _picture(place, start, end, in_force),
    }


def _channel(row: TracedDef, start: datetime, end: datetime) -> Data | None:
    samples, beside = samples_between(row.key, start, end)
    if not len(samples):
        return None
    steps = np.diff(samples.times_ms)
    return {
        "key": row.key,
        "name": row.name,
        "unit": "" if row.what in SIGNALS else units_of([row], start, end).get(row.key, row.unit),
        "samples": len(samples),
        "failed": int(samples.failed.sum()),
        "contradicting": len(beside),
        "first_at": moment(to_moment(int(samples.times_ms[0]))),
        "last_at": moment(to_moment(int(samples.times_ms[-1]))),
        "gaps": int((steps > slowest_ms(row)).sum()),
        "least": "" if row.what in SIGNALS else _extreme(samples, least=True),
        "greatest": "" if row.what in SIGNALS else _extreme(samples, least=False),
    }


def _extreme(samples: Samples, *, least: bool) -> str:
    seen = samples.values[~samples.failed]
    if not len(seen):
        return ""
    value = int(seen.min() if least else seen.max())
    return f"{Decimal(value).scaleb(-samples.places):f}"


def _named(row: TracedDef) -> str:
    return f"{row.key} {row.name}".strip()


def _files(rows: list[TracedDef], start: datetime, end: datetime) -> list[Data]:
    keys = {row.key for row in rows}
    near = TraceFile.objects.filter(first_at__lt=end, last_at__gte=start).order_by("number")
    return [
        {"name": one.name, "source": one.source, "sha256": one.sha256, "entry": one.number}
        for one in near
        if keys & set(one.instruments)
    ]


def _picture(place: str, start: datetime, end: datetime, in_force: InForce) -> str:
    try:
        drawn = strip_of_place(place, Window(start, end), in_force, end)
    except TooManySamples:
        return ""
    if drawn is None:
        return ""
    height = HEIGHT if len(drawn.channels) > 1 else HEIGHT_ALONE
    return strip_chart_svg(drawn, WIDTH, print_=True, words=strip.words(), ident=f"strip-{place}", height=height)


def sentence_of(one: Data) -> str:
    """What the trace of a place says in one sentence."""
    if not one["channels"]:
        return _("None of its traces of this day is in the book: they prove nothing. The recorder's own chart stands.")
    if not one["judged"]:
        return _("Kept and drawn, and not judged.")
    counted: dict[str, Decimal] = {}
    for judged in one["judged"]:
        for name, seconds in judged["counted"].items():
            counted[name] = counted.get(name, Decimal(0)) + Decimal(seconds)
    return _("Judged: %(what)s.") % {
        "what": ", ".join(f"{_(name)} {findings.length_words(seconds)}" for name, seconds in counted.items())
        or _("no product ran or was held in the time that was recorded")
    }
