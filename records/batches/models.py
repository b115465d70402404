"""What is recorded of batches. A batch is named by the number of its first sheet; amendments are successors."""

from __future__ import annotations

from typing import Any

from django.db import models

from records.ingredients.models import KeptOnce
from records.ledger.models import decimal

Plain = dict[str, Any]


class BatchSheet(KeptOnce):
    """A computed sheet for a batch in a vat. Contents in % by mass, masses in kg, all as decimal texts in `lines`.

    Each line: name, source (a vessel's code, or empty: an ingredient), fat, snf, sugar, other (tested contents), test
    (which sample, when), fixed (a mass that is given), allergen (the words, or empty), target (the mass computed).
    `wanted`: fat, snf, sugar, solids where asked for; `computed`: what the sheet comes to; `total` its mass.
    `tolerance`: how far a weighed mass may be from its target [% of the target].
    """

    KIND = "batch sheet"
    batch = models.CharField(max_length=60)  # the plant's own number of the batch
    place = models.CharField(max_length=40, db_index=True)
    place_name = models.CharField(max_length=120)
    product = models.CharField(max_length=60)
    product_name = models.CharField(max_length=120)
    wanted: models.JSONField[Plain, Plain] = models.JSONField(default=dict)
    lines: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)
    computed: models.JSONField[Plain, Plain] = models.JSONField(default=dict)
    total_typed = models.CharField(max_length=40, blank=True)
    total = decimal()
    tolerance = decimal()


class BatchAddition(KeptOnce):
    """One line of a sheet weighed in. Masses in kg; `net` is what went in, gross less tare.

    `movement` brought it into the vat; `received` and `stock` name the ingredient's lot and its use. `scanned`: the lot
    as a scanner read it. `off`: net less target [% of the target]; `blend`: what the batch then is, with the targets of
    the lines that are still to come [% by mass, decimal texts].
    """

    KIND = "batch addition"
    sheet = models.BigIntegerField(db_index=True)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    line = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    source = models.CharField(max_length=40, blank=True)
    received = models.BigIntegerField(null=True)
    supplier_lot = models.CharField(max_length=80, blank=True)
    allergen = models.CharField(max_length=120, blank=True)
    gross_typed = models.CharField(max_length=40)
    gross = decimal()
    tare_typed = models.CharField(max_length=40, blank=True)
    tare = decimal()
    net = decimal()
    target = decimal()
    off = decimal()
    scale = models.CharField(max_length=40)
    scanned = models.CharField(max_length=80, blank=True)
    blend: models.JSONField[Plain, Plain] = models.JSONField(default=dict)
    movement = models.BigIntegerField(null=True)
    stock = models.BigIntegerField(null=True)


class AdditionConfirmed(KeptOnce):
    """A second person looked at an addition: the lot, the weight, the allergen."""

    KIND = "addition confirmed"
    addition = models.BigIntegerField(unique=True)
    sheet = models.BigIntegerField(db_index=True)


class SecondLook(KeptOnce):
    """The second look at a vitamin or a flavor that went in: `how` is person or scan, `scanned` what the scan read.

    `addition`: the number of the record looked at, `addition_kind` its kind.
    """

    KIND = "second look"
    addition = models.BigIntegerField(unique=True)
    addition_kind = models.CharField(max_length=40)
    place = models.CharField(max_length=40)
    how = models.CharField(max_length=10)
    scanned = models.CharField(max_length=80, blank=True)


class BlendTest(KeptOnce):
    """Fat and total solids of what is in a vat [% by mass]; observed_at is when the sample was taken."""

    KIND = "blend test"
    place = models.CharField(max_length=40, db_index=True)
    place_name = models.CharField(max_length=120)
    sheet = models.BigIntegerField(null=True, db_index=True)
    sample = models.CharField(max_length=60)
    fat_typed = models.CharField(max_length=40)
    fat = decimal()
    solids_typed = models.CharField(max_length=40)
    solids = decimal()
    method = models.CharField(max_length=120)


class Separated(KeptOnce):
    """Milk separated: what went in and what came out, weighed and tested. Masses in kg, fat in % by mass.

    Each stream: mass, mass_u, fat, fat_u (standard uncertainties, as typed). `computed`: cream and skim by the balance,
    the differences of what was weighed, what is not accounted for with its uncertainty.
    """

    KIND = "separation"
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    streams: models.JSONField[Plain, Plain] = models.JSONField(default=dict)
    computed: models.JSONField[Plain, Plain] = models.JSONField(default=dict)


class VitaminAdded(KeptOnce):
    """A vitamin concentrate used for a quantity of milk, and what that comes to in IU a quart."""

    KIND = "vitamin added"
    vitamin = models.CharField(max_length=2)  # A, D
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    product = models.CharField(max_length=60)
    product_name = models.CharField(max_length=120)
    received = models.BigIntegerField()
    supplier_lot = models.CharField(max_length=80)
    strength_typed = models.CharField(max_length=40)
    strength = decimal()  # IU per mL
    amount_typed = models.CharField(max_length=40)
    amount = decimal()  # mL
    milk_typed = models.CharField(max_length=40)
    milk = decimal()
    milk_unit = models.CharField(max_length=10)
    iu_per_quart = decimal()
    low = decimal(null=True)
    high = decimal(null=True)
    clause = models.CharField(max_length=300)
    stock = models.BigIntegerField(null=True)


class FlavorAdded(KeptOnce):
    """An ingredient into product that is pasteurized already, with the reason why it may go in unheated."""

    KIND = "flavor added"
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    product = models.CharField(max_length=60)
    product_name = models.CharField(max_length=120)
    received = models.BigIntegerField()
    item = models.CharField(max_length=120)
    supplier_lot = models.CharField(max_length=80)
    amount_typed = models.CharField(max_length=40)
    amount = decimal()
    unit = models.CharField(max_length=10)
    why = models.CharField(max_length=40, blank=True)
    why_words = models.TextField(blank=True)
    movement = models.BigIntegerField(null=True)
    stock = models.BigIntegerField(null=True)
