"""The strip of one instrument and one window: its picture, its sentences, its table, its columns for the script."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from plant.picture_words import chart_words
from plant.pictures.strip_chart import (
    Channel,
    Line,
    Strip,
    Trace,
    beside_line,
    in_unit,
    line,
    said_of,
    strip_chart_svg,
)
from plant.pictures.strip_table import Row, rows, step_minutes
from plant.pictures.strip_time import milliseconds, said
from plant.pictures.textures import FAMILIES
from plant.process.trace_blocks import Samples
from plant.process.units import exact, rounded
from records.people.installation import installation
from records.people.plans import InForce
from records.traces import overlays
from records.traces.beside import ReadingBeside, limits_of, readings_of
from records.traces.recorded import Recorded, around
from records.traces.windows import Window, in_address

MOST_ROWS = 1500


def words() -> dict[str, str]:
    """The words of the strip chart in the reader's language."""
    families = chart_words()
    return {family: families[family] for family in FAMILIES} | {
        "recorded": _("recorded, each column from its least to its greatest"),
        "beside": _("contradicts it: another file said so"),
        "reading": _("read by a person"),
        "limit": _("limit"),
        "act": _("operating limit"),
        "silent": _("nothing recorded"),
        "failed": _("the sensor said that it failed"),
        "now": _("now"),
        "forward": _("clocks go forward"),
        "back": _("clocks go back"),
        "range": _("least {least} at {least_at}, greatest {greatest} at {greatest_at}"),
        "summary": _("{name}, {unit}, {start} to {end}; samples: {samples}"),
        "nothing": _("{name}, {unit}, {start} to {end}: no sample has a value"),
        "silences": _("times with nothing recorded: {times}, {length} in all"),
        "failures": _("times that the sensor said it failed: {times}"),
        "contradictions": _("samples that contradict it: {samples}"),
        "readings": _("readings by people: {times}"),
        "more": _("and {count} more: see the list"),
        "to": _("{start} to {end}"),
    }


@dataclass(frozen=True, slots=True)
class Cells:
    """A row of the table in words. `silent`: nothing was recorded in it."""

    when: str
    least: str
    greatest: str
    mean: str
    samples: str
    silent: bool


@dataclass(frozen=True, slots=True)
class Table:
    """The table beside the picture: rows of so many `minutes`, values in `unit`."""

    minutes: int
    unit: str
    rows: tuple[Cells, ...]


@dataclass(frozen=True, slots=True)
class Loaded:
    """One window of one instrument, as its page shows it."""

    recorded: Recorded
    window: Window
    unit: str
    strip: Strip
    readings: tuple[ReadingBeside, ...]
    samples: Samples
    contradicting: Samples

    def picture(self, width: int) -> str:
        """The strip as SVG."""
        return strip_chart_svg(self.strip, width, words=words())

    def sentences(self) -> list[str]:
        """What the strip shows, in words."""
        return said_of(self.strip, words())

    def table(self) -> Table:
        """Least, greatest and mean of each minute, or of more minutes where the window is long."""
        strip = self.strip
        minutes = step_minutes(strip.start_ms, strip.end_ms, MOST_ROWS)
        offset = self.window.start.astimezone(ZoneInfo(strip.zone)).utcoffset() or timedelta()
        found = rows(
            self.samples, self.contradicting, strip.start_ms, strip.end_ms, minutes, offset // timedelta(milliseconds=1)
        )
        pattern = words()["to"]
        return Table(minutes, self.unit, tuple(self._cells(one, pattern) for one in found))

    def _cells(self, one: Row, pattern: str) -> Cells:
        start, end = said(one.start_ms, self.strip.zone), said(one.end_ms, self.strip.zone)
        told = [f"{one.samples:,}"]
        if one.failed:
            told.append(_("%(count)s failed") % {"count": f"{one.failed:,}"})
        if one.contradicting:
            told.append(_("%(count)s contradicting") % {"count": f"{one.contradicting:,}"})
        return Cells(
            pattern.format(start=start, end=end[11:] if start[:10] == end[:10] else end),
            self._number(one.least),
            self._number(one.greatest),
            self._number(one.mean, 1),
            ", ".join(told),
            one.silent,
        )

    def _number(self, value: Fraction | None, more: int = 0) -> str:
        """A value with the recorder's decimals; with one more in the other unit, and of a mean."""
        if value is None:
            return ""
        places = self.samples.places + more + (self.unit != self.recorded.unit)
        return f"{rounded(exact(value, self.recorded.unit, self.unit), places):f}".replace("-", "−")


def load(recorded: Recorded, window: Window, unit: str, in_force: InForce, now: datetime) -> Loaded:
    """All that stands in a window, with values in `unit`. Five queries, and those of the sources of overlays.

    Raises TooManySamples.
    """
    samples, contradicting = around(recorded.instrument, window)
    readings = readings_of(recorded.instrument, recorded.unit, window, in_force)
    over = overlays.over(recorded.instrument, window, in_force)
    channel = Channel(
        recorded.label,
        recorded.unit,
        Trace.of(samples),
        Trace.of(contradicting) if len(contradicting) else None,
        limits_of(recorded.instrument, recorded.unit, unit, window),
        tuple(one.spot for one in readings),
        samples.places + (unit != recorded.unit),
    )
    start, end = milliseconds(window.start), milliseconds(window.end)
    when = words()["to"].format(start=said(start, in_force.zone), end=said(end, in_force.zone))
    plant = in_force.plan.plant.name
    book = installation()
    plant += f" ({_('invented')})" if book and book.invented else ""
    strip = Strip(
        _("Strip chart"),
        f"{when} · {in_force.zone} · {plant}",
        start,
        end,
        in_force.zone,
        (in_unit(channel, unit),),
        over.bands,
        over.stretches,
        milliseconds(now),
    )
    return Loaded(recorded, window, unit, strip, tuple(readings), samples, contradicting)


def columns_of(recorded: Recorded, window: Window, width: int, unit: str) -> dict[str, Any]:
    """The columns of a window as plain values for the script that draws them: never more than `width`. Two queries.

    Each of `trace` and `beside` (the samples that contradict it; None where there are none): `low`, `high`, `first`,
    `last` (None in a column without a sample), `count`, `joined` (1: the line comes on from the column before), `lead`
    and `trail` ([moment in ms, value] of the sample just outside that the line is joined to, else None).
    For drawing only: nothing is judged by reduced data. Raises TooManySamples.
    """
    samples, contradicting = around(recorded.instrument, window)
    beside = Trace.of(contradicting) if len(contradicting) else None
    places = samples.places + 2 * (unit != recorded.unit)
    channel = in_unit(Channel(recorded.label, recorded.unit, Trace.of(samples), beside), unit)
    start, end = milliseconds(window.start), milliseconds(window.end)
    second = beside_line(channel, start, end, width)
    return {
        "instrument": recorded.instrument,
        "unit": unit,
        "from": in_address(window.start),
        "until": in_address(window.end),
        "width": width,
        "trace": _plain(line(channel.trace, start, end, width), places),
        "beside": _plain(second, places) if second is not None else None,
    }


def _plain(one: Line, places: int) -> dict[str, Any]:
    found, used = one.columns, (one.columns.count > 0).tolist()
    values = {"low": found.low, "high": found.high, "first": found.first, "last": found.last}
    return {
        **{
            name: [round(value, places) if has else None for value, has in zip(given.tolist(), used, strict=True)]
            for name, given in values.items()
        },
        "count": found.count.tolist(),
        "joined": [int(joined) for joined in one.joined.tolist()],
        "lead": one.lead,
        "trail": one.trail,
    }
