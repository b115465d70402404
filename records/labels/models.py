"""What is recorded of a filling line: cleared, checked by a second person, packaging opened, packaging counted.

Each may be said not to have happened: a successor names it (`amends`), says why, and is `void`. observed_at is the
moment of the act itself.
"""

from __future__ import annotations

from typing import Any

from django.db import models

from records.ledger.models import Record

LABELS, LIDS, TUBS, INGREDIENTS = "labels", "lids", "tubs", "ingredients"
THINGS = (LABELS, LIDS, TUBS, INGREDIENTS)
OFF, NONE, STILL = "taken off", "none here", "still there"
ANSWERS = (OFF, NONE, STILL)
LABEL, TUB, LID = "label", "tub", "lid"
KINDS = (LABEL, TUB, LID)


class OfLine(Record):
    """What every record of a filling line has."""

    form_id = models.UUIDField(unique=True)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    product = models.CharField(max_length=60, blank=True)  # the product that is filled, or will be
    product_name = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        abstract = True


class LineClearance(OfLine):
    """A filling line cleared of one product for the next, signed. `before`: what ran, empty where nobody knows.

    `things`: for each of THINGS its answer and how many were taken off, as typed. `clear`: nothing is still there.
    """

    KIND = "line clearance"
    before = models.CharField(max_length=60, blank=True)
    before_name = models.CharField(max_length=120, blank=True)
    things: models.JSONField[list[dict[str, Any]], list[dict[str, Any]]] = models.JSONField(default=list)
    clear = models.BooleanField()

    class Meta(OfLine.Meta):
        abstract = False
        indexes = [models.Index(fields=["place", "observed_at"], name="line_clearance_place")]


class ClearanceCheck(OfLine):
    """A second person's look at a cleared line, signed. `clearance`: its entry; `agrees`: they found it clear too."""

    KIND = "line clearance check"
    clearance = models.BigIntegerField(db_index=True)
    agrees = models.BooleanField()

    class Meta(OfLine.Meta):
        abstract = False


class PackagingOpened(OfLine):
    """A roll of labels or a sleeve of lids or tubs brought to the line, by its lot code.

    `printed`: the product that it is printed for, as read off it; `matches`: it is the one that is filled. One that
    does not match is kept as caught, and as `used` where packs had it already. `photo`: SHA-256 of a kept file.
    """

    KIND = "packaging opened"
    kind = models.CharField(max_length=10)
    roll_code = models.CharField(max_length=60, db_index=True)
    printed = models.CharField(max_length=60)
    printed_name = models.CharField(max_length=120)
    matches = models.BooleanField()
    used = models.BooleanField(default=False)
    issued_typed = models.CharField(max_length=20, blank=True)
    issued = models.PositiveIntegerField(null=True)
    photo = models.CharField(max_length=64, blank=True)

    class Meta(OfLine.Meta):
        abstract = False
        indexes = [models.Index(fields=["place", "observed_at"], name="packaging_place")]


class PackagingCounted(OfLine):
    """A roll or sleeve off the line: used, returned and damaged, as typed; `difference` is what was issued less these.

    Positive: so many are missing; negative: more were counted than were issued; empty where the issue is not known.
    """

    KIND = "packaging counted"
    opened = models.BigIntegerField(db_index=True)
    roll_code = models.CharField(max_length=60, db_index=True)
    used_typed = models.CharField(max_length=20)
    used = models.PositiveIntegerField()
    returned_typed = models.CharField(max_length=20)
    returned = models.PositiveIntegerField()
    damaged_typed = models.CharField(max_length=20)
    damaged = models.PositiveIntegerField()
    difference = models.IntegerField(null=True)
    because = models.TextField(blank=True)

    class Meta(OfLine.Meta):
        abstract = False
