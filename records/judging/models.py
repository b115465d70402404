"""A verdict is a record of its own."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record


class Verdict(Record):
    """A judgement of one subject, with the rule, the plan version and the numbers that produced it.

    The latest for a subject governs; `follows` names the verdict before it. `why`: entry, amendment, calibration,
    control plate, another result (of the same rolling mean) or import.
    """

    KIND = "verdict"
    subject_kind = models.CharField(max_length=40)
    subject_number = models.BigIntegerField(db_index=True)
    outcome = models.CharField(max_length=40)  # plant.process.limits.Outcome
    plan_number = models.PositiveIntegerField()
    plan_hash = models.CharField(max_length=64)
    monitoring_key = models.CharField(max_length=80, blank=True)
    limit_key = models.CharField(max_length=80, blank=True)
    rule = models.CharField(max_length=80, blank=True)
    clause = models.CharField(max_length=300, blank=True)
    basis = models.CharField(max_length=60, blank=True)
    numbers = models.JSONField(default=dict)  # texts: as_read, corrected, limit, unit, margin, instrument …
    reason = models.TextField()
    why = models.CharField(max_length=20)
    follows = models.BigIntegerField(null=True, unique=True)
