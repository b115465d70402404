"""What a photo's page draws over it: the stored trace, its limits and people's readings, by the marks on the photo."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.pictures.chart_geometry import CircularFit, Fit
from plant.pictures.chart_over import Over, chart_over_svg
from plant.pictures.photo_size import photo_size
from plant.pictures.strip_data import Channel, Trace, in_unit
from plant.pictures.strip_time import milliseconds, said, ticks
from plant.process.trace_blocks import Samples
from plant.process.units import UnitError
from records.charts.fitting import fit_of
from records.charts.models import ChartFit, ChartPhoto
from records.charts.queries import Chart
from records.ledger import files
from records.people.plans import InForce
from records.traces import recorded
from records.traces.beside import limits_of, readings_of
from records.traces.blocks import joined
from records.traces.recorded import Recorded, TooManySamples
from records.traces.windows import Window

WIDE = 1000  # of the drawing: thousandths of the photo's width
ONE_TURN_TICKS = 900.0  # room for the names of time lines
LONGEST = timedelta(days=31)


@dataclass(frozen=True, slots=True)
class Laid:
    """A drawing over a photo with its sentences; without marks or size only the sentences."""

    svg: str = ""
    sentences: tuple[str, ...] = ()
    samples: int = 0


def height_of(photo: ChartPhoto) -> float | None:
    """A photo's height in thousandths of its width; None where its size cannot be read."""
    try:
        size = photo_size(files.read(photo.file))
    except files.FileDamaged:
        return None
    return WIDE * size[1] / size[0] if size else None


def lay_over(
    chart: Chart, row: ChartFit, height: float, in_force: InForce, now: datetime, fit: Fit | None = None
) -> Laid:
    """The stored trace of a chart's time, drawn by the marks of `row`."""
    fit = fit or fit_of(row, chart, in_force)
    start, end = chart.on.put_on_at, min(chart.until(now), chart.on.put_on_at + LONGEST)
    if end <= start:
        return Laid(sentences=(_("The chart has just been put on: there is nothing to lay over it yet."),))
    window = Window(start, end)
    found = recorded.instrument(chart.on.recorder)
    over = Over(
        fit,
        height,
        milliseconds(start),
        milliseconds(end),
        Trace.of(joined(())),
        hours=_hours(fit, chart, window, in_force),
        values=_values(fit, row),
    )
    sentences: list[str] = []
    if found is None:
        sentences.append(_("No trace of this recorder is stored: only the marks are drawn."))
        return Laid(_drawn(over, chart), tuple(sentences))
    try:
        samples, contradicting = recorded.around(found.instrument, window)
        over = _with_trace(over, found, row, window, in_force, samples)
    except TooManySamples:
        return Laid(_drawn(over, chart), (_("The chart's time holds too many samples to draw."),))
    except UnitError:
        return Laid(_drawn(over, chart), (_("The trace is stored in a unit that the photo's marks do not fit."),))
    within = int(((samples.times_ms >= over.start_ms) & (samples.times_ms < over.end_ms)).sum())
    sentences.append(_said(within, window, in_force))
    beside = int(((contradicting.times_ms >= over.start_ms) & (contradicting.times_ms < over.end_ms)).sum())
    if beside:
        sentences.append(_("Another file contradicts %(count)d of them.") % {"count": beside})
    return Laid(_drawn(over, chart), tuple(sentences), within)


def _said(count: int, window: Window, in_force: InForce) -> str:
    named = {"count": f"{count:,}", "start": _moment(window.start, in_force), "end": _moment(window.end, in_force)}
    pattern = ngettext(
        "%(count)s stored sample from %(start)s to %(end)s is drawn.",
        "%(count)s stored samples from %(start)s to %(end)s are drawn.",
        count,
    )
    return pattern % named if count else _("Nothing is stored of the time from %(start)s to %(end)s.") % named


def _moment(at: datetime, in_force: InForce) -> str:
    return said(milliseconds(at), in_force.zone, seconds=False)


def _with_trace(
    over: Over, found: Recorded, row: ChartFit, window: Window, in_force: InForce, samples: Samples
) -> Over:
    """With the samples, limits and readings in the unit that is printed on the chart."""
    channel = in_unit(
        Channel(
            found.label,
            found.unit,
            Trace.of(samples),
            None,
            limits_of(found.instrument, found.unit, row.unit, window),
            tuple(one.spot for one in readings_of(found.instrument, found.unit, window, in_force)),
        ),
        row.unit,
    )
    return replace(over, trace=channel.trace, rules=channel.rules, spots=channel.spots)


def _hours(fit: Fit, chart: Chart, window: Window, in_force: InForce) -> tuple[tuple[int, str], ...]:
    """Time lines by the plant's clock, each drawn once: of a circular chart within its first turn."""
    start = milliseconds(window.start)
    end = milliseconds(window.end)
    if isinstance(fit, CircularFit):
        end = min(end, start + fit.turn_ms)
    long = chart.span > timedelta(days=2)
    return tuple(
        (one.at_ms, f"{one.day} {one.name}".strip() if long and one.day else one.name)
        for one in ticks(start, end, in_force.zone, ONE_TURN_TICKS)
    )


def _values(fit: Fit, row: ChartFit) -> tuple[tuple[float, str], ...]:
    """The two values that were marked, as typed."""
    if isinstance(fit, CircularFit):
        both = ((fit.inner_value, "inner_value"), (fit.outer_value, "outer_value"))
    else:
        both = ((fit.first_value, "first_value"), (fit.second_value, "second_value"))
    return tuple((value, f"{row.marks[name]} {row.unit}") for value, name in both)


def _drawn(over: Over, chart: Chart) -> str:
    title = _("Stored trace of %(recorder)s over chart %(chart)s") % {
        "recorder": chart.on.recorder_name,
        "chart": chart.on.chart_number,
    }
    desc = _("The trace is drawn by the marks that a person made on the photo; it judges nothing.")
    return chart_over_svg(over, title=title, desc=desc)
