"""Deviations, corrections, holds and dispositions. None has a status: a later record opens, answers or ends it."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record


class Deviation(Record):
    """A limit not met or not proven, a legal rule broken, product touched, or a correction repeated.

    One at a time for a control point and subject: `chain` is unique, made of both and the deviation before (or none).
    """

    KIND = "deviation"
    chain = models.CharField(max_length=250, unique=True)
    control_point = models.CharField(max_length=80)
    control_point_name = models.CharField(max_length=160)
    is_ccp = models.BooleanField()
    weight = models.CharField(max_length=10)  # safety, legal, quality
    subject = models.CharField(max_length=40, db_index=True)
    subject_name = models.CharField(max_length=120)
    cause = models.CharField(max_length=20)  # not met, not proven, missed, legal rule, running rule, book, repeated …
    since_at = models.DateTimeField()  # the last reading in limits before it, or the first sign of it
    sentence = models.TextField()
    plan_number = models.PositiveIntegerField(null=True)
    foreseen = models.BooleanField(default=True)  # a written corrective action exists (117.150(a) or (b))
    raised_from = models.BigIntegerField(null=True, unique=True)  # the correction that a supervisor raised


class DeviationCause(Record):
    """One more cause of a deviation: a reading, a missed check, a finding."""

    KIND = "deviation cause"
    deviation = models.BigIntegerField(db_index=True)
    cause_kind = models.CharField(max_length=40)
    cause_number = models.BigIntegerField()
    sentence = models.TextField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["deviation", "cause_number"], name="a_cause_counts_once")]


class CorrectiveAction(Record):
    """One part of a corrective action (21 CFR 117.150(a)(2)): problem, recurrence, evaluation, product; or reanalysis.

    A part may be written again; the latest governs and all are shown.
    """

    KIND = "corrective action"
    deviation = models.BigIntegerField(db_index=True)
    part = models.CharField(max_length=20)
    text = models.TextField()
    form_id = models.UUIDField(unique=True)


class DeviationClosing(Record):
    """A deviation closed: complete, and signed by somebody who did not take the reading."""

    KIND = "deviation closing"
    deviation = models.BigIntegerField(unique=True)
    text = models.TextField()


class Correction(Record):
    """A minor and isolated matter put right (21 CFR 117.150(c)): one line, one signature."""

    KIND = "correction"
    subject_kind = models.CharField(max_length=40)
    subject_number = models.BigIntegerField(db_index=True)
    control_point = models.CharField(max_length=80)
    subject = models.CharField(max_length=40)
    subject_name = models.CharField(max_length=120)
    text = models.TextField()
    form_id = models.UUIDField(unique=True)


class Hold(Record):
    """Product held from a moment on. What it flowed into is held by computation."""

    KIND = "hold"
    lot = models.UUIDField(db_index=True)
    lot_label = models.CharField(max_length=120)
    vessel = models.CharField(max_length=40, blank=True)
    since_at = models.DateTimeField()
    reason = models.TextField()
    bars_release = models.CharField(max_length=30, blank=True)  # 'pasteurization' or 'residue': never released on tests
    deviation = models.BigIntegerField(null=True, db_index=True)

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "deviation", "since_at", "bars_release"], name="a_deviation_holds_a_lot_once"
            )
        ]


class Disposition(Record):
    """What shall become of held product, proposed and signed by one person; `letter` is a kept file's SHA-256."""

    KIND = "disposition"
    hold = models.BigIntegerField(db_index=True)
    what = models.CharField(
        max_length=30
    )  # release, pasteurize again, rework, sent to another use, destroy, as the regulator wrote
    reason = models.TextField()
    letter = models.CharField(max_length=64, blank=True)


class HoldLift(Record):
    """The second signature: from here the hold is lifted as the disposition says."""

    KIND = "hold lifted"
    hold = models.BigIntegerField(unique=True)
    disposition = models.BigIntegerField(unique=True)


class Outage(Record):
    """Power, network or this book away: opened once, with what it covers."""

    KIND = "outage"
    what = models.CharField(max_length=20)  # power, network, daybook
    started_at = models.DateTimeField(unique=True)
    covers = models.JSONField(default=list)
    deviation = models.BigIntegerField(null=True)
    text = models.TextField(blank=True)


class OutageEnd(Record):
    """The end of an outage."""

    KIND = "outage end"
    outage = models.BigIntegerField(unique=True)
    ended_at = models.DateTimeField()
    covers = models.JSONField(default=list)
