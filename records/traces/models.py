"""Files of recorders, blocks of samples, what was judged and found: all are records. How a source is read is not."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models

from records.ledger.models import Record, decimal

SAMPLES, CONTRADICTING = "samples", "contradicting"


Plain = dict[str, Any]


class TraceFile(Record):
    """A file of a recorder or logger as it was read; observed_at is its first moment.

    `sha256` and `size` are those of the file as it came; it is kept compressed under `kept` (a kept file's SHA-256).
    `mapping` says how it was read (columns, units, order of day and month, clock, marks of a failed sensor); `mapped`
    is its hash, so that the same file read the same way is known again. `rejected` names the first rows that could not
    be read, each with its reason; `rejected_rows` counts all of them.
    """

    KIND = "trace file"
    form_id = models.UUIDField(unique=True)
    source = models.CharField(max_length=80)
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    size = models.BigIntegerField()
    kept = models.CharField(max_length=64)
    mapping: models.JSONField[Plain, Plain] = models.JSONField()
    mapped = models.CharField(max_length=64)
    instruments: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    rows = models.BigIntegerField()
    samples_new = models.BigIntegerField()
    samples_known = models.BigIntegerField()
    contradicting = models.BigIntegerField()
    out_of_order = models.BigIntegerField()
    rejected_rows = models.BigIntegerField()
    rejected: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["sha256", "mapped"], name="one_reading_of_a_trace_file")]


class TraceJudged(Record):
    """That the traces of a place were judged from `start_at` until `end_at`, by which plan, and what came of it.

    Seconds of forward flow (at a pasteurizer) or of holding product (of a vessel), as texts, by verdict. `knew` is the
    ledger's last number then: what was recorded later is not in it. observed_at is end_at.
    """

    KIND = "trace judged"
    place = models.CharField(max_length=40, db_index=True)
    place_name = models.CharField(max_length=120)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    plan_number = models.PositiveIntegerField()
    plan_hash = models.CharField(max_length=64)
    knew = models.BigIntegerField()
    counted: models.JSONField[Plain, Plain] = models.JSONField(default=dict)  # verdict -> seconds; judged of: texts
    found: models.JSONField[list[int], list[int]] = models.JSONField(default=list)  # findings that stand, by number

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["place", "end_at"], name="trace_judged_place")]


class TraceFinding(Record):
    """Something that a trace shows not met, not proven or past an operating limit; observed_at is start_at.

    `key` is rule, instrument and first bad moment: it is found once, however often its file comes. More data writes a
    further `part` of the same key, which then speaks in place of the one before. Its verdicts are records of their own.
    """

    KIND = "trace finding"
    key = models.CharField(max_length=250)
    part = models.PositiveIntegerField()
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    instrument = models.CharField(max_length=60)
    about = models.CharField(max_length=40)  # temperature, holding time, recorder, cooling … (trace_judging.Kind)
    cause = models.CharField(max_length=60)  # process, nothing recorded, spike … (trace_judging.Cause)
    outcome = models.CharField(max_length=40)
    control_point = models.CharField(max_length=80)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    seconds = models.CharField(max_length=30)  # that count, as text
    extreme = models.CharField(max_length=40, blank=True)  # exact, as text, in `unit`
    unit = models.CharField(max_length=12, blank=True)
    rule = models.CharField(max_length=80, blank=True)
    clause = models.CharField(max_length=300, blank=True)
    basis = models.CharField(max_length=60, blank=True)
    contradicting = models.PositiveIntegerField(default=0)
    lots: models.JSONField[list[str], list[str]] = models.JSONField(default=list)  # their labels
    sentence = models.TextField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["key", "part"], name="a_trace_finding_is_found_once")]
        indexes = [models.Index(fields=["place", "start_at"], name="trace_finding_place")]


class TraceBlock(Record):
    """The samples of one instrument in one hour (UTC), as they came with one file (or live): packed, lossless.

    `data` is written by plant.process.trace_blocks; the ledger holds its hash. `part` counts what came later to the
    same hour. `least` and `greatest` in `unit`, of the samples that have a value. A block of `contradicting` samples
    holds values that a later file gave for moments already known: the first stays, both are judged.
    """

    KIND = "trace block"
    file = models.BigIntegerField(null=True, db_index=True)  # the entry of the file it came from; none if it came live
    instrument = models.CharField(max_length=60)
    instrument_name = models.CharField(max_length=120)
    unit = models.CharField(max_length=12)
    hour = models.DateTimeField()
    part = models.PositiveIntegerField()
    content = models.CharField(max_length=20)  # samples, contradicting
    places = models.PositiveSmallIntegerField()
    samples = models.PositiveIntegerField()
    failed = models.PositiveIntegerField()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    least = decimal(null=True)
    greatest = decimal(null=True)
    data = models.BinaryField()

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["instrument", "hour", "part"], name="one_part_of_an_instruments_hour")
        ]


class TraceUpload(models.Model):
    """A file that somebody sent and has not said how to read yet. A working row: it goes when the file is kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=200)
    size = models.BigIntegerField()
    sha256 = models.CharField(max_length=64)
    at = models.DateTimeField()
    by_id = models.UUIDField(null=True)


class TraceSource(models.Model):
    """How the files of a source are read, remembered from the last one. A working row, no record."""

    name = models.CharField(max_length=80, unique=True)
    mapping: models.JSONField[Plain, Plain] = models.JSONField()
    used_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class TraceCursor(models.Model):
    """Up to which entry of the ledger the watch has looked for what makes traces be judged again. One row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    number = models.BigIntegerField(default=0)
