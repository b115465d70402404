"""Closing the day, the sheet's states and its signatures."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record


class InCharge(Record):
    """The operator in charge of a shift, named; the latest naming governs."""

    KIND = "operator in charge"
    plant_day = models.DateField()
    shift = models.CharField(max_length=40)
    person_id = models.UUIDField()
    person_name = models.CharField(max_length=120)


class HandOver(Record):
    """A shift's hand-over, signed by the operator in charge (leaving) and by the one who takes over (taking)."""

    KIND = "hand-over"
    plant_day = models.DateField()
    shift = models.CharField(max_length=40)
    side = models.CharField(max_length=10)  # leaving, taking
    notes = models.TextField(blank=True)
    form_id = models.UUIDField(unique=True)


class DayClosing(Record):
    """A day closed by a person: the tree's size and root, signed by the plant's key; a later revision follows."""

    KIND = "day closing"
    plant_day = models.DateField()
    revision = models.PositiveSmallIntegerField()
    tree_size = models.BigIntegerField()
    root = models.CharField(max_length=64)
    head = models.TextField()  # canonical JSON that the plant's key signed
    signature = models.TextField()  # base64
    certificate = models.TextField()  # PEM
    reason = models.TextField(blank=True)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["plant_day", "revision"], name="one_closing_a_revision")]


class SheetState(Record):
    """A state of the day sheet's PDF: draft, closed, signed by the operator in charge, signed by the supervisor."""

    KIND = "sheet state"
    plant_day = models.DateField()
    revision = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=30)
    sha256 = models.CharField(max_length=64)
    size = models.BigIntegerField()
    pages = models.PositiveIntegerField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["plant_day", "revision", "state"], name="one_sheet_a_state")]


class SheetSignature(Record):
    """A signature on the day sheet; meaning and names are on the page too."""

    KIND = "sheet signature"
    plant_day = models.DateField()
    revision = models.PositiveSmallIntegerField()
    signed_as = models.CharField(max_length=30)  # operator in charge, supervisor
    meaning = models.CharField(max_length=200)
    certificate_serial = models.CharField(max_length=60)
    signed_sha256 = models.CharField(max_length=64)
    own_work = models.BooleanField(default=False)  # reviewed by the person who made the record; page one says so

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["plant_day", "revision", "signed_as"], name="one_sheet_signature_a_role")
        ]
