"""Suppliers approved, what came from them, and what became of it. Nothing here has a status: it is computed."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal

OPENED, USED, USED_UP, THROWN_AWAY = "opened", "used", "used up", "thrown away"


class KeptOnce(Record):
    """A record of a form of its own. An amendment names the one it replaces; `void`: that one did not happen."""

    form_id = models.UUIDField(unique=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        abstract = True


class SupplierApproval(KeptOnce):
    """A supplier approved for an item and the hazard that the supplier controls, until a day. From observed_at on."""

    KIND = "supplier approved"
    supplier = models.CharField(max_length=120)
    item = models.CharField(max_length=120)
    hazard = models.TextField()
    grounds = models.TextField()
    until = models.DateField()

    class Meta(KeptOnce.Meta):
        indexes = [models.Index(fields=["item", "supplier"], name="approval_item")]


class IngredientReceived(KeptOnce):
    """A lot of an ingredient or of packaging as it came. Its id names it where it is held.

    `quantity` in `unit`; `best_by` empty where none is printed; `certificate`: SHA-256 of a kept file; `approval`: the
    number of the approval that stood then. `accepted` False: refused, with why.
    """

    KIND = "ingredient received"
    what = models.CharField(max_length=20)  # ingredient, packaging
    item = models.CharField(max_length=120)
    supplier = models.CharField(max_length=120)
    supplier_lot = models.CharField(max_length=80)
    quantity_typed = models.CharField(max_length=40)
    quantity = decimal()
    unit = models.CharField(max_length=10)
    best_by = models.DateField(null=True)
    certificate = models.CharField(max_length=64, blank=True)
    allergens: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    condition = models.TextField()
    accepted = models.BooleanField()
    refused_why = models.TextField(blank=True)
    approval = models.BigIntegerField(null=True)

    class Meta(KeptOnce.Meta):
        indexes = [models.Index(fields=["item", "supplier_lot"], name="ingredient_lot")]


class StockEvent(KeptOnce):
    """A lot opened, some of it used, all of it used up, or thrown away. `received`: the number of its first record."""

    KIND = "ingredient used"
    received = models.BigIntegerField(db_index=True)
    item = models.CharField(max_length=120)
    supplier_lot = models.CharField(max_length=80)
    what = models.CharField(max_length=20)
    amount_typed = models.CharField(max_length=40, blank=True)
    amount = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    into = models.CharField(max_length=160, blank=True)
