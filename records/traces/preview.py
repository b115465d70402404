"""What a file would come to, before anything of it is kept: rows as understood, each channel with its picture."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.hazard_plan.content import TracedDef
from plant.pictures.strip_chart import Channel as Drawn
from plant.pictures.strip_chart import Strip, Trace, strip_chart_svg
from plant.pictures.strip_time import said
from plant.process.said import again
from plant.process.trace_file import Channel, Parsed, ParsedRow
from records.people.plans import InForce
from records.traces.blocks import Channel as Kept
from records.traces.blocks import blocks_of, units_before
from records.traces.importing import Known, otherwise
from records.traces.strip import words

WIDTH = 640


@dataclass(frozen=True, slots=True)
class RowSaid:
    """A row as it was understood, in words."""

    row: int
    when: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChannelSaid:
    """A column as it was understood: facts in words, what needs a look, and its picture."""

    label: str
    unit: str
    facts: tuple[tuple[str, str], ...]
    looks: tuple[str, ...]
    picture: str


@dataclass(frozen=True, slots=True)
class Preview:
    """A whole file as it was understood."""

    parsed: Parsed
    zone: str
    names: tuple[str, ...]
    first: tuple[RowSaid, ...]
    last: tuple[RowSaid, ...]
    channels: tuple[ChannelSaid, ...]
    rejected: tuple[tuple[str, str], ...]

    @property
    def more_rejected(self) -> int:
        """How many rejected rows are not named."""
        return self.parsed.rejected_count - len(self.parsed.rejected)


def preview(parsed: Parsed, known: list[Known], in_force: InForce) -> Preview:
    """A parsed file in the reader's words. Reads what is kept of its hours, writes nothing."""
    named = {one.code: one for one in known}
    units = units_before(one.instrument for one in parsed.channels)
    return Preview(
        parsed,
        in_force.zone,
        tuple(named[one.instrument].label for one in parsed.channels),
        tuple(_row(one, in_force.zone) for one in parsed.first),
        tuple(_row(one, in_force.zone) for one in parsed.last),
        tuple(_channel(one, named[one.instrument], units, in_force) for one in parsed.channels),
        tuple((again(one.sentence, _), one.text) for one in parsed.rejected),
    )


def _row(one: ParsedRow, zone: str) -> RowSaid:
    return RowSaid(one.row, said(one.time_ms, zone), tuple(map(_value, one.values, one.failed)))


def _value(value: Decimal | None, failed: bool) -> str:
    if failed:
        return _("failed")
    return "" if value is None else f"{value:f}".replace("-", "−")


def _channel(one: Channel, known: Known, units: dict[str, str], in_force: InForce) -> ChannelSaid:
    times = one.samples.times_ms
    facts = [(_("Samples"), f"{len(times):,}")]
    if len(times):
        facts.append((_("First"), said(int(times[0]), in_force.zone)))
        facts.append((_("Last"), said(int(times[-1]), in_force.zone)))
    if one.lowest is not None and one.highest is not None:
        facts.append((_("Least"), f"{_value(one.lowest, False)} {one.unit}"))
        facts.append((_("Greatest"), f"{_value(one.highest, False)} {one.unit}"))
    facts.append((_("Usual step"), _("%(s)s s") % {"s": f"{one.usual_step_ms / 1000:g}"}))
    if units.get(one.instrument, one.unit) == one.unit:
        _rows, kept = blocks_of(Kept(one.instrument, known.name, one.unit, one.samples), otherwise(one))
        facts.append((_("New"), f"{kept.new:,}"))
        facts.append((_("Known already"), f"{kept.known:,}"))
        if kept.contradicting:
            facts.append((_("Contradicting"), f"{kept.contradicting:,}"))
    traced = next((row for row in in_force.plan.traced if row.key == one.instrument), None)
    return ChannelSaid(known.label, one.unit, tuple(facts), tuple(_looks(one, traced)), _picture(one, known, in_force))


def _looks(one: Channel, traced: TracedDef | None) -> list[str]:
    """What a person should look at before keeping it."""
    found = []
    if one.failed:
        found.append(_("samples of a failed sensor: %(count)s") % {"count": f"{one.failed:,}"})
    if len(one.gaps_ms):
        found.append(_("gaps longer than two steps: %(count)s") % {"count": f"{len(one.gaps_ms):,}"})
    if len(one.contradictions):
        count = f"{len(one.contradictions):,}"
        found.append(_("moments that the file gives two values for, both kept: %(count)s") % {"count": count})
    if one.duplicates:
        found.append(_("samples that the file has twice: %(count)s") % {"count": f"{one.duplicates:,}"})
    if one.empty:
        found.append(_("empty cells, which are no sample: %(count)s") % {"count": f"{one.empty:,}"})
    if one.rounded:
        found.append(_("values with more than six decimals, rounded: %(count)s") % {"count": f"{one.rounded:,}"})
    if traced is None:
        found.append(_("the plan does not say that it is traced: it is kept and drawn, and not judged"))
    elif one.usual_step_ms > Decimal(traced.slowest_s) * 1000:
        step = {"step": f"{one.usual_step_ms / 1000:g}", "slowest": traced.slowest_s}
        found.append(
            _("a sample each %(step)s s; the plan asks for %(slowest)s s: nothing is proven between them") % step
        )
    return found


def _picture(one: Channel, known: Known, in_force: InForce) -> str:
    times = one.samples.times_ms
    if len(times) < 2:
        return ""
    start, end = int(times[0]), int(times[-1]) + 1
    when = words()["to"].format(start=said(start, in_force.zone), end=said(end, in_force.zone))
    drawn = Drawn(known.label, one.unit, Trace.of(one.samples), None, (), (), one.samples.places)
    strip = Strip(known.label, f"{when} · {in_force.zone}", start, end, in_force.zone, (drawn,), (), (), end)
    return strip_chart_svg(strip, WIDTH, words=words())
