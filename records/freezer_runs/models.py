"""What is recorded of a run of a continuous freezer: one row for each thing that happened, in order of its own time.

Draw temperature, overrun, weight and minutes to hardening are readings of the plan's checks, and product is a movement:
both have records of their own, and a row points to them.
"""

from __future__ import annotations

from django.db import models

from records.ledger.models import decimal
from records.run_rows.models import RunRow

PURGED = "barrel purged"
DRAW_BEGUN = "draw begun"
DRAW_ENDED = "draw ended"
FIRST_RIGHT = "first tubs right"
DRAW = "draw temperature"
CUP = "cup weighed"
FED = "feeder filled"
HARDENING = "into hardening"
# What the first tubs are looked at for, and what becomes of product that is set aside or purged.
FIRST = ("draw temperature", "weight", "lid")
REWORK, DRAIN, DESTROYED, KEPT = "like-flavor rework", "drain", "destroyed", "kept apart, not decided"
BECAME = (REWORK, DRAIN, DESTROYED, KEPT)


class FreezerEvent(RunRow):
    """One thing that happened in a run of a freezer.

    `about`: what of the first tubs was right. `tubs`: how many were set aside, went into hardening, were made.
    `became`: what became of what was set aside or purged, with its `allergens` and the hours in which rework has to be
    used. A cup is kept as weighed (`cup_*` in `mass_unit`, the mix's `mix_lb_gal` [lb/gal]) with `overrun` [%] and
    `lb_gal` [lb/gal] as computed then. `minutes`: from the draw to the hardening room. `reading`, `reading_two`: of the
    plan's checks that it answered.
    """

    KIND = "freezer run event"
    about = models.CharField(max_length=40, blank=True)
    tubs = models.PositiveIntegerField(null=True)
    became = models.CharField(max_length=40, blank=True)
    allergens = models.CharField(max_length=200, blank=True)  # names, by comma
    use_within_h = models.PositiveIntegerField(null=True)
    ingredient = models.CharField(max_length=120, blank=True)
    lot_code = models.CharField(max_length=60, blank=True)
    amount_typed = models.CharField(max_length=40, blank=True)
    amount = decimal(null=True)
    unit = models.CharField(max_length=20, blank=True)
    instrument = models.CharField(max_length=40, blank=True)
    cup_empty = models.CharField(max_length=40, blank=True)
    cup_mix = models.CharField(max_length=40, blank=True)
    cup_product = models.CharField(max_length=40, blank=True)
    mass_unit = models.CharField(max_length=10, blank=True)
    mix_lb_gal = models.CharField(max_length=40, blank=True)
    overrun = decimal(null=True)
    lb_gal = decimal(null=True)
    drawn_at = models.DateTimeField(null=True)
    minutes = decimal(null=True)
    reading = models.BigIntegerField(null=True)
    reading_two = models.BigIntegerField(null=True)

    class Meta(RunRow.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_freezer_event_once_a_form")]
        indexes = [
            models.Index(fields=["place", "happened_at"], name="freezer_event_at_place"),
            models.Index(fields=["became", "happened_at"], name="freezer_event_became"),
        ]
