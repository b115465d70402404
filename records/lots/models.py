"""One table of lots: what a vessel was filled with, and what was packed."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record
from records.lots.squeezed import Squeezed


class Lot(Record):
    """A lot: `origin` is 'vessel fill' (first fill after a clean break; later fills join it) or 'pack' (has a code)."""

    KIND = "lot"
    origin = models.CharField(max_length=20)
    code = models.CharField(max_length=60, null=True, unique=True)
    vessel = models.CharField(max_length=40, blank=True, db_index=True)
    vessel_name = models.CharField(max_length=120, blank=True)
    product = models.CharField(max_length=40)
    product_name = models.CharField(max_length=80)
    movement = models.BigIntegerField(null=True)  # the movement that began it

    class Meta(Record.Meta):
        indexes = [
            models.Index(fields=["vessel", "observed_at"], name="lot_vessel"),
            models.Index(Squeezed("code"), name="lot_code_squeezed"),
        ]
