"""A row of a run: one thing that happened in it. Each kind of run has a table of its own."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record

OPENED, ENDED, NOTE, UNUSUAL = "begun", "ended", "note", "unusual occurrence"


class RunRow(Record):
    """What every such row says. `run` is the ledger number of the run's first row; observed_at is happened_at.

    `movement` is that of the product which began, or ended, with it. An amendment names the row that it replaces;
    `void`: that one did not happen.
    """

    form_id = models.UUIDField()
    run = models.BigIntegerField(null=True, db_index=True)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    what = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    product = models.CharField(max_length=60, blank=True)
    product_name = models.CharField(max_length=120, blank=True)
    movement = models.BigIntegerField(null=True)
    words = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        abstract = True
