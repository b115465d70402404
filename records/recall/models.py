"""What left for whom, and what a recall or its rehearsal was. None has a status: a later record ends it."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record, decimal

# What can be recorded of a recall. The first five are what 21 CFR 117.139(b) asks of a recall plan.
NOTICE, PUBLIC, CHECK = "notice", "public notice", "effectiveness check"
RETURNED, DESTROYED = "returned", "destroyed"
REPLY, LOCATED, GROWN, NOTE = "reply", "located", "scope grown", "note"
WITH_CONSIGNEE = (NOTICE, REPLY, CHECK)
WITH_QUANTITY = (RETURNED, DESTROYED, LOCATED)


class Dispatch(Record):
    """A pack lot, or a part of one, that left the plant: to whom, how much, by whom carried (21 CFR 1.345).

    No movement: a movement goes between vessels and outside, and this one has neither vessel, but a recipient whose
    address and telephone are asked for. observed_at is dispatched_at.
    """

    KIND = "dispatch"
    content_version = models.PositiveSmallIntegerField(default=2)
    form_id = models.UUIDField(unique=True)
    lot = models.UUIDField(db_index=True)
    code = models.CharField(max_length=60)
    product = models.CharField(max_length=40)
    product_name = models.CharField(max_length=80)
    dispatched_at = models.DateTimeField(db_index=True)
    consignee = models.CharField(max_length=120)
    address = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    email = models.CharField(max_length=120, null=True, blank=True)  # or fax, where they have one
    carrier = models.CharField(max_length=200, blank=True)
    packed_as = models.CharField(max_length=120, null=True, blank=True)  # how it is packaged: size and kind of packs
    quantity_typed = models.CharField(max_length=40, blank=True)
    quantity = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)


class ProductReturned(Record):
    """Packs that came back from a customer: how much, in what condition, how warm, why, and where they are kept apart.

    No movement, as a dispatch is none: its mirror. `lot` is the lot that was packed, in whose scope and account it
    stays; `part` is a lot of its own, for the hold under which it is until two people dispose of it. observed_at is
    returned_at.
    """

    KIND = "product returned"
    form_id = models.UUIDField(unique=True)
    lot = models.UUIDField(db_index=True)
    part = models.UUIDField(db_index=True)
    code = models.CharField(max_length=60)
    product = models.CharField(max_length=40)
    product_name = models.CharField(max_length=80)
    returned_at = models.DateTimeField(db_index=True)
    consignee = models.CharField(max_length=120)
    quantity_typed = models.CharField(max_length=40, blank=True)
    quantity = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    temperature_typed = models.CharField(max_length=20, blank=True)
    temperature = decimal(null=True)
    temperature_unit = models.CharField(max_length=10, blank=True)
    condition = models.TextField()
    reason = models.TextField()
    kept_where = models.CharField(max_length=120)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)


class RecallBegun(Record):
    """A recall, or a rehearsal of one, begun: why, from what, and the scope as it was computed then.

    `origin`: what the scope starts from, as its page's address says it. `lots`: each lot in scope with its label, what
    was made of it and where it went, as texts. observed_at is begun_at; the minutes of a rehearsal count from it.
    """

    KIND = "recall begun"
    form_id = models.UUIDField(unique=True)
    mock = models.BooleanField()
    reason = models.TextField()
    begun_at = models.DateTimeField()
    origin = models.JSONField(default=dict)
    origin_words = models.TextField()
    lots = models.JSONField(default=list)


class RecallStep(Record):
    """One thing done in a recall: a notice, a reply, a check, product returned, destroyed or located.

    `recall` is the number of its beginning. Quantities stand as typed with their unit. observed_at is happened_at.
    """

    KIND = "recall step"
    content_version = models.PositiveSmallIntegerField(default=2)
    form_id = models.UUIDField(unique=True)
    recall = models.BigIntegerField(db_index=True)
    what = models.CharField(max_length=30)
    happened_at = models.DateTimeField()
    consignee = models.CharField(max_length=120, blank=True)
    code = models.CharField(max_length=60, blank=True)
    quantity_typed = models.CharField(max_length=40, blank=True)
    quantity = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    words = models.TextField(blank=True)
    lots = models.JSONField(default=list)  # of a scope that grew: the lots that are new in it, as in RecallBegun
    part = models.UUIDField(null=True, blank=True, db_index=True)  # of a return recorded with it: the lot it is held as
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)


class RecallEnded(Record):
    """A recall or rehearsal ended, once: its outcome in words, its minutes, and what was accounted for.

    `percent`: what was located (or returned, destroyed) of what was made, None where it cannot be computed; `why_none`
    says why. observed_at is ended_at.
    """

    KIND = "recall ended"
    form_id = models.UUIDField(unique=True)
    recall = models.BigIntegerField(unique=True)
    ended_at = models.DateTimeField()
    outcome = models.TextField()
    minutes = models.PositiveIntegerField()
    made = decimal(null=True)
    accounted = decimal(null=True)
    unit = models.CharField(max_length=10, blank=True)
    percent = decimal(null=True)
    why_none = models.TextField(blank=True)
    missing = models.JSONField(default=list)  # what was still missing when it was ended all the same
