"""A recorder's file into blocks: read whole before anything is written, then all of it in one act, or nothing."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from plant import clock
from plant.process.said import again
from plant.process.trace_blocks import Samples
from plant.process.trace_file import HEAD, FileRefused, Mapping, Parsed, Shape, guess, read
from plant.process.trace_file import Channel as Column
from plant.process.units import UnitError, exact
from records.deviations.errors import Refused
from records.ledger import files
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce, plan_in_force
from records.traces import incoming
from records.traces.blocks import EPOCH, Channel, blocks_of_many, units_before, write
from records.traces.models import TraceFile, TraceSource, TraceUpload

EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)  # before any recorder of this plant
TAIL = 1 << 16
SIGNAL = "1"  # the unit of a signal of 1 and 0: the unit one
MIME = "application/gzip"
LONGEST_SOURCE = 80
_MOMENT = timedelta(milliseconds=1)


@dataclass(frozen=True, slots=True)
class Known:
    """An instrument or signal that a file may hold: its code, its name and the unit that the plan says."""

    code: str
    name: str
    unit: str

    @property
    def label(self) -> str:
        return f"{self.code} {self.name}".strip()


def known_instruments(in_force: InForce) -> list[Known]:
    """Everything that the plan says is traced, then its other instruments, each once."""
    plan = in_force.plan
    found = {one.key: Known(one.key, one.name, one.unit or SIGNAL) for one in plan.traced}
    for tool in plan.instruments:
        found.setdefault(tool.code, Known(tool.code, tool.name, tool.unit))
    return list(found.values())


def look_at(upload: TraceUpload) -> Shape:
    """The form of a sent file. Raises Refused, naming row and column, for what is no file of readings."""
    head, tail = incoming.head_and_tail(upload, HEAD, TAIL)
    whole = upload.size <= len(head)
    try:
        return guess(
            head,
            whole=whole,
            tail=b"" if whole else tail,
            earliest_ms=_ms(EARLIEST),
            now_ms=_ms(clock.now()),
        )
    except FileRefused as refused:
        raise _refused(refused) from refused


def parse(upload: TraceUpload, mapping: Mapping, in_force: InForce) -> Parsed:
    """All that a sent file says, read by a mapping. Raises Refused as `look_at`."""
    zone = ZoneInfo(in_force.zone)
    try:
        with incoming.open_upload(upload) as stream:
            return read(stream, mapping, now_ms=_ms(clock.now()), earliest_ms=_ms(EARLIEST), zone=zone)
    except FileRefused as refused:
        raise _refused(refused) from refused


def hash_of(mapping: Mapping) -> str:
    """What tells one way of reading from another."""
    text = json.dumps(mapping.to_plain(), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def found_before(upload: TraceUpload, mapping: Mapping) -> TraceFile | None:
    """The record of the same file read in the same way."""
    return TraceFile.objects.filter(sha256=upload.sha256, mapped=hash_of(mapping)).first()


def remembered(shape: Shape) -> TraceSource | None:
    """The source whose files have this form: the same header, columns and delimiter; the one used last."""
    for one in TraceSource.objects.order_by("-used_at", "name")[:200]:
        try:
            mapping = Mapping.from_plain(one.mapping)
        except ValueError:  # written by another version: asked anew
            continue
        same = (mapping.header, mapping.columns, mapping.delimiter, mapping.time.columns, mapping.encoding)
        if same == (shape.header, len(shape.columns), shape.delimiter, shape.time.columns, shape.encoding):
            return one
    return None


def import_file(by: Actor, upload: TraceUpload, mapping: Mapping, source: str, form_id: UUID) -> tuple[TraceFile, bool]:
    """Keep a sent file, its samples and how it is read; gives its record, and whether it was there already.

    The same file read the same way adds nothing; of one that overlaps only what is new is added, and what contradicts
    is kept beside. Raises Refused, with nothing written, for whatever cannot be read or does not fit the plan.
    """
    source = source.strip()
    if not source:
        raise Refused(_("Say which recorder or logger it comes from."), "source")
    if len(source) > LONGEST_SOURCE:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": LONGEST_SOURCE}, "source")
    in_force = plan_in_force(clock.now())
    if in_force is None:
        raise Refused(_("No plan is in force: the plant's instruments are known once one is approved."), "file")
    if saved := found_before(upload, mapping):
        return saved, True
    check_units(mapping, in_force)
    parsed = parse(upload, mapping, in_force)
    kept = incoming.compress(upload)
    with act(by) as a:
        if saved := found_before(upload, mapping):
            return saved, True
        files.note(a, kept, f"{upload.name}.gz", MIME)
        row = _file(upload, mapping, parsed, source, form_id, kept)
        row = _write(a, row, parsed, in_force)
        TraceSource.objects.update_or_create(
            name=source, defaults={"mapping": mapping.to_plain(), "used_at": clock.now()}
        )
    return row, False


def _write(a: Act, row: TraceFile, parsed: Parsed, in_force: InForce) -> TraceFile:
    """The file's record with what came of its samples, then its blocks, which name it by its number."""
    names = {one.code: one.name for one in known_instruments(in_force)}
    blocks, counted = blocks_of_many(
        [
            (Channel(one.instrument, names[one.instrument], one.unit, one.samples), otherwise(one))
            for one in parsed.channels
        ]
    )
    row.samples_new, row.samples_known, row.contradicting = counted.new, counted.known, counted.contradicting
    row = a.write(row, observed_at=row.first_at)
    write(a, blocks, row.number)
    return row


def otherwise(one: Column) -> Samples | None:
    """What a file says too of moments that it has given."""
    other = one.contradictions
    return Samples(other.times_ms, other.other, other.other_failed, other.places) if len(other) else None


def _file(
    upload: TraceUpload, mapping: Mapping, parsed: Parsed, source: str, form_id: UUID, kept: str
) -> TraceFile:
    spans = [one.samples.times_ms for one in parsed.channels if len(one.samples)]
    return TraceFile(
        form_id=form_id,
        source=source,
        name=upload.name,
        sha256=upload.sha256,
        size=upload.size,
        kept=kept,
        mapping=mapping.to_plain(),
        mapped=hash_of(mapping),
        instruments=[one.instrument for one in mapping.channels],
        rows=parsed.rows,
        out_of_order=parsed.out_of_order,
        rejected_rows=parsed.rejected_count,
        rejected=[
            {"row": one.row, "column": one.column, "text": one.text, "why": str(one.why)} for one in parsed.rejected
        ],
        first_at=moment(min(int(one[0]) for one in spans)),
        last_at=moment(max(int(one[-1]) for one in spans)),
    )


def check_units(mapping: Mapping, in_force: InForce) -> None:
    """Refuse an instrument that the plan does not know, and a unit that it cannot have or did not have before."""
    known = {one.code: one for one in known_instruments(in_force)}
    before = units_before(one.instrument for one in mapping.channels)
    for one in mapping.channels:
        found = known.get(one.instrument)
        field = f"unit_{one.column}"
        if found is None:
            text = _("The plan knows no instrument %(code)s.") % {"code": one.instrument}
            raise Refused(text, f"instrument_{one.column}")
        words = {"code": found.code, "unit": found.unit, "other": one.unit}
        try:
            exact(Fraction(1), one.unit, found.unit)
        except UnitError:
            text = _("%(code)s is in %(unit)s by the plan; %(other)s cannot be that.") % words
            raise Refused(text, field) from None
        if before.get(one.instrument, one.unit) != one.unit:
            words["unit"] = before[one.instrument]
            text = _("%(code)s was kept in %(unit)s before; %(other)s beside it would be two measures in one trace.")
            raise Refused(text % words, field)


def moment(ms: int) -> datetime:
    """Milliseconds since 1970 as a moment."""
    return EPOCH + int(ms) * _MOMENT


def _ms(at: datetime) -> int:
    return (at - EPOCH) // _MOMENT


def _refused(refused: FileRefused) -> Refused:
    text = again(refused.sentence, _)
    if refused.text:
        text = _("%(sentence)s (%(text)s)") % {"sentence": text, "text": refused.text}
    return Refused(text[:1].upper() + text[1:] + ("" if text.endswith((".", ")")) else "."), "file")
