"""Movements, washes and what else happened to vessels."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal


class Movement(Record):
    """Product from one place to another. A place is a vessel (code) or outside (words: a farm, a drain, a customer).

    Times may overlap others'; quantity may be unknown (null) or come with the end. `amends` names the movement that
    this one replaces; `void` says that it did not happen. observed_at is started_at.
    """

    KIND = "movement"
    form_id = models.UUIDField(unique=True)
    source = models.CharField(max_length=40, blank=True)
    source_name = models.CharField(max_length=120)
    target = models.CharField(max_length=40, blank=True)
    target_name = models.CharField(max_length=120)
    via = models.CharField(max_length=40, blank=True)  # the line it ran through: a pasteurizer, separator, freezer
    via_name = models.CharField(max_length=120, blank=True)
    started_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField(null=True)
    quantity_typed = models.CharField(max_length=40, blank=True)
    quantity = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    uncertainty = decimal(null=True)
    measured_by = models.CharField(max_length=20)  # level, meter, mass, count, unknown
    product = models.CharField(max_length=40)
    product_name = models.CharField(max_length=80)
    family = models.CharField(max_length=20)
    source_lots = models.JSONField(default=list)  # UUIDs
    target_lot = models.UUIDField(null=True, db_index=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        indexes = [
            models.Index(fields=["source", "started_at"], name="movement_source"),
            models.Index(fields=["target", "started_at"], name="movement_target"),
            models.Index(fields=["via", "started_at"], name="movement_via"),
            # What was recorded later than something else, of one place.
            models.Index(fields=["source", "number"], name="movement_source_number"),
            models.Index(fields=["target", "number"], name="movement_target_number"),
            models.Index(fields=["via", "number"], name="movement_via_number"),
        ]


class MovementEnd(Record):
    """The end of a movement that was recorded at its start, with its quantity."""

    KIND = "movement end"
    movement = models.BigIntegerField(unique=True)
    ended_at = models.DateTimeField()
    quantity_typed = models.CharField(max_length=40, blank=True)
    quantity = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    uncertainty = decimal(null=True)
    measured_by = models.CharField(max_length=20)
    note = models.TextField(blank=True)


class Wash(Record):
    """A wash or a sanitizing: two acts, two records, two clocks. Temperatures and strengths as typed, with units."""

    KIND = "wash"
    content_version = models.PositiveSmallIntegerField(default=2)
    form_id = models.UUIDField(unique=True)
    what = models.CharField(max_length=12)  # washed, sanitized
    vessel = models.CharField(max_length=40)
    vessel_name = models.CharField(max_length=120)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    method = models.CharField(max_length=120)
    temperature_typed = models.CharField(max_length=40, blank=True)
    temperature = decimal(null=True)
    temperature_unit = models.CharField(max_length=10, blank=True)
    strength = models.CharField(max_length=60, blank=True)
    contact_min = models.PositiveIntegerField(null=True)
    # Whether it was seen parted from what the plan joins it to: yes, no, or null (not asked, or nobody said).
    parted = models.CharField(max_length=3, null=True)
    joined = models.TextField(null=True)  # those places, as the question named them
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        indexes = [
            models.Index(fields=["vessel", "ended_at"], name="wash_vessel"),
            models.Index(fields=["vessel", "started_at"], name="wash_vessel_started"),
        ]


class LevelSeen(Record):
    """A level seen in a vessel, with what the book said then; the difference is a signed gain or loss."""

    KIND = "level seen"
    form_id = models.UUIDField(unique=True)
    vessel = models.CharField(max_length=40)
    vessel_name = models.CharField(max_length=120)
    quantity_typed = models.CharField(max_length=40)
    quantity = decimal()
    unit = models.CharField(max_length=10)
    book = decimal(null=True)
    difference = decimal(null=True)
    note = models.TextField(blank=True)

    class Meta(Record.Meta):
        indexes = [
            models.Index(fields=["vessel", "observed_at"], name="level_vessel"),
            models.Index(fields=["vessel", "number"], name="level_vessel_number"),
        ]


class PlantEvent(Record):
    """Something that a plan may ask a check for: tanker, batch, label roll, chart change, delivery …"""

    KIND = "plant event"
    form_id = models.UUIDField(unique=True)
    event = models.CharField(max_length=40)
    subject = models.CharField(max_length=40, blank=True)
    subject_name = models.CharField(max_length=120, blank=True)
    reference = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["event", "observed_at"], name="plant_event_kind")]


class NoProduction(Record):
    """A day (shift empty) or shift signed as without production."""

    KIND = "no production"
    plant_day = models.DateField()
    shift = models.CharField(max_length=40, blank=True)
    reason = models.TextField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["plant_day", "shift"], name="no_production_said_once")]


class ServiceState(Record):
    """A vessel taken out of service, or back."""

    KIND = "service state"
    vessel = models.CharField(max_length=40, db_index=True)
    vessel_name = models.CharField(max_length=120)
    out = models.BooleanField()
    reason = models.TextField()
