"""What is recorded of a load of raw milk: one row for each thing that happened to it, in order of its own time."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal
from records.run_rows.models import OPENED, RunRow

ARRIVED = OPENED
SCREENED = "screened"
UNLOADING, UNLOADED = "unloading begun", "unloading ended"
# After a positive; each says whom, when and what was answered or done.
REGULATOR_TOLD, OWNER_TOLD, DECIDED = "regulator told", "owner told", "what becomes of the load"
TRACED, STOPPED, CLEARED = "producers tested", "pick-up stopped", "pick-up again"
STEPS = (REGULATOR_TOLD, OWNER_TOLD, DECIDED, TRACED, STOPPED, CLEARED)
TANKER, CANS, PARLOR = "tanker", "cans", "own parlor"
MEANS = (TANKER, CANS, PARLOR)
YES, NO, NOT_SEEN = "yes", "no", "not seen"


class LoadEvent(RunRow):
    """One thing that happened to a load. The first row is its arrival, with the paper; `place`: the vessel it is for.

    `pounds` by the scale ticket, `gallons` beside by the density of the product's kind. `farms`: [{"farm", "pounds"}],
    as typed, with what is known of each pick-up (farms.py).
    `stage`, `result` and the controls are those of a residue screen. `whom` is who was told, or which producer.
    """

    KIND = "load event"
    means = models.CharField(max_length=20, blank=True)
    tanker = models.CharField(max_length=60, blank=True)
    ticket = models.CharField(max_length=60, blank=True)
    pounds_typed = models.CharField(max_length=40, blank=True)
    pounds = decimal(null=True)
    gallons = decimal(null=True)
    farms = models.JSONField(default=list)
    seals = models.CharField(max_length=200, blank=True)
    seals_whole = models.CharField(max_length=10, blank=True)
    washed_at = models.DateTimeField(null=True)
    wash_place = models.CharField(max_length=120, blank=True)
    wash_by = models.CharField(max_length=120, blank=True)
    agitated_typed = models.CharField(max_length=20, blank=True)
    agitated_min = decimal(null=True)
    looks = models.CharField(max_length=20, blank=True)
    sampler = models.CharField(max_length=120, blank=True)
    sampler_license = models.CharField(max_length=60, blank=True)
    sample = models.CharField(max_length=60, blank=True)
    stage = models.CharField(max_length=20, blank=True)
    result = models.CharField(max_length=20, blank=True)
    kit = models.CharField(max_length=120, blank=True)
    kit_lot = models.CharField(max_length=60, blank=True)
    kit_expires = models.DateField(null=True)
    negative_control = models.CharField(max_length=10, blank=True)
    positive_control = models.CharField(max_length=10, blank=True)
    analyst = models.CharField(max_length=120, blank=True)
    certificate = models.CharField(max_length=60, blank=True)
    whom = models.CharField(max_length=200, blank=True)

    class Meta(RunRow.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_load_event_once_a_form")]
        indexes = [
            models.Index(fields=["place", "happened_at"], name="load_event_at_place"),
            models.Index(fields=["what", "happened_at"], name="load_event_kind"),
            models.Index(fields=["movement"], name="load_event_movement"),
        ]


class LoadPhoto(Record):
    """A photo of the wash tag that came with a load; its bytes are kept by their hash."""

    KIND = "load photo"
    form_id = models.UUIDField(unique=True)
    load = models.BigIntegerField(db_index=True)
    file = models.CharField(max_length=64)
    note = models.TextField(blank=True)
