"""Readings that answer checks, the watch's transitions, and signed rounds. A due check itself is not a record."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal


class Reading(Record):
    """An answer: to a due check (monitoring key, subject, event, due_at) or, with due_at empty, unasked.

    Values are kept as typed with their unit, and as decimals for queries. `amends` names the reading this one replaces.
    """

    KIND = "reading"
    form_id = models.UUIDField()
    monitoring_key = models.CharField(max_length=80, blank=True)
    what = models.CharField(max_length=200)
    subject = models.CharField(max_length=40)
    subject_name = models.CharField(max_length=120)
    event = models.CharField(max_length=60, blank=True)
    due_at = models.DateTimeField(null=True)
    plan_number = models.PositiveIntegerField(null=True)  # the version in force when it was observed
    answer_kind = models.CharField(max_length=10)
    typed = models.TextField(blank=True)
    unit = models.CharField(max_length=20, blank=True)
    value = decimal(null=True)
    typed_second = models.CharField(max_length=40, blank=True)  # the recorder's, of a pair
    value_second = decimal(null=True)
    places = models.JSONField(default=dict)  # place -> answer, for a list of places
    file = models.CharField(max_length=64, blank=True)  # SHA-256 of a kept photo
    not_taken = models.TextField(blank=True)  # 'I could not take it': the reason
    instrument = models.CharField(max_length=40, blank=True)
    instrument_name = models.CharField(max_length=120, blank=True)
    instrument_role = models.CharField(max_length=30, blank=True)
    instrument_unit = models.CharField(max_length=10, blank=True)
    correction = decimal(null=True)
    accuracy = decimal(null=True)
    calibration_due = models.DateField(null=True)
    agitator_ran = models.BooleanField(null=True)
    bulb_covered = models.BooleanField(null=True)
    book_says = models.CharField(max_length=200, blank=True)  # what the vessel held by the book when it was observed
    lot = models.UUIDField(null=True)  # the lot that the vessel held when it was observed
    product = models.CharField(max_length=40, blank=True)  # what that lot was, or what ran through the line
    product_class = models.CharField(max_length=40, blank=True)
    note = models.TextField(blank=True)
    late_reason = models.TextField(blank=True)
    paper_form = models.CharField(max_length=40, blank=True)
    device_offset_ms = models.BigIntegerField(null=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_form_is_saved_once_a_person")]
        indexes = [
            models.Index(fields=["subject", "observed_at"], name="reading_subject"),
            models.Index(fields=["monitoring_key", "subject", "due_at"], name="reading_due"),
        ]


class ReadingNote(Record):
    """What a person wrote or did after a reading; the reading itself is untouched."""

    KIND = "reading note"
    reading = models.BigIntegerField(db_index=True)
    text = models.TextField()
    form_id = models.UUIDField(unique=True)


class Transition(Record):
    """The watch saw a check become late or missed. Unique, so it happens once."""

    KIND = "transition"
    key = models.CharField(max_length=250, unique=True)  # what|monitoring|subject|event|due
    what = models.CharField(max_length=20)  # late, missed, escalated
    monitoring_key = models.CharField(max_length=80)
    subject = models.CharField(max_length=40)
    subject_name = models.CharField(max_length=120)
    event = models.CharField(max_length=60, blank=True)
    due_at = models.DateTimeField(db_index=True)
    plan_number = models.PositiveIntegerField()
    sentence = models.TextField()


class RoundSigned(Record):
    """The PIN at the round's end signs what was read in it."""

    KIND = "round signed"
    shift = models.CharField(max_length=40)
    plant_day = models.DateField()
    started_at = models.DateTimeField()
    readings = models.JSONField(default=list)  # ledger numbers


class WatchState(models.Model):
    """The watch's own note of when it last looked, and from when on it answers for what is due. A working table."""

    only = models.PositiveSmallIntegerField(primary_key=True, default=1)
    looked_at = models.DateTimeField()
    answers_from = models.DateTimeField()

    def __str__(self) -> str:
        return f"looked at {self.looked_at}"
