"""What is recorded of a wash beside that it happened: its steps."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal


class WashStep(Record):
    """One step of a wash: `wash` is the ledger number of the wash (or sanitizing) as it was first recorded.

    `program` and `step` by the plan in force when the wash began; `place_in` counts from 1 in the program. Figures as
    typed, with units: temperature at the outlet (of the solution, by hand), strength, flow; the test strips' lot and
    last day; `looked`: yes or no, whether it was found clean by eye. observed_at is ended_at.
    """

    KIND = "wash step"
    content_version = models.PositiveSmallIntegerField(default=2)
    form_id = models.UUIDField(unique=True)
    wash = models.BigIntegerField(db_index=True)
    program = models.CharField(max_length=60)
    place_in = models.PositiveIntegerField()
    step = models.CharField(max_length=40)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    temperature_typed = models.CharField(max_length=40, blank=True)
    temperature = decimal(null=True)
    temperature_unit = models.CharField(max_length=10, blank=True)
    strength_typed = models.CharField(max_length=40, blank=True)
    strength = decimal(null=True)
    strength_unit = models.CharField(max_length=10, blank=True)
    flow_typed = models.CharField(max_length=40, blank=True)
    flow = decimal(null=True)
    flow_unit = models.CharField(max_length=10, blank=True)
    strip_lot = models.CharField(max_length=60, null=True)
    strip_expires = models.DateField(null=True)
    looked = models.CharField(max_length=3, null=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)
