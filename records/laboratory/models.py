"""Samples taken, and the results of the laboratory. Both may be amended by a successor; neither has a status."""

from __future__ import annotations

from typing import Any

from django.db import models

from records.ledger.models import Record, decimal

LOT, VESSEL, FARM, SITE = "lot", "vessel", "farm", "environment"
OFFICIAL, RETAINED, PLATE = "official", "retained", "control plate"
DOUBTED = "control plate"  # the rule of a verdict that is not proven because of one
KINDS = (LOT, VESSEL, FARM, SITE, OFFICIAL, RETAINED, PLATE)


class Sample(Record):
    """A sample: observed_at is when it was taken. `root`: number of the first of its line of amendments, None there.

    `code` is what stands on the bottle. `tests`: what was asked of the laboratory. `temperature` in transport, as typed
    with its unit. `kept_where`, `kept_until`: of a retained sample.
    """

    KIND = "sample"
    form_id = models.UUIDField()
    root = models.BigIntegerField(null=True, db_index=True)
    code = models.CharField(max_length=60, db_index=True)
    kind = models.CharField(max_length=20)
    place = models.CharField(max_length=40, blank=True)
    place_name = models.CharField(max_length=120, blank=True)
    lot = models.UUIDField(null=True, db_index=True)
    lot_label = models.CharField(max_length=200, blank=True)
    product = models.CharField(max_length=60, blank=True)
    product_name = models.CharField(max_length=120, blank=True)
    farm = models.CharField(max_length=120, blank=True)
    zone = models.PositiveIntegerField(default=0)
    taken_by = models.CharField(max_length=120)
    temperature_typed = models.CharField(max_length=20, blank=True)
    temperature = decimal(null=True)
    temperature_unit = models.CharField(max_length=10, blank=True)
    sent_to = models.CharField(max_length=120, blank=True)
    tests: models.JSONField[list[Any], list[Any]] = models.JSONField(default=list)
    kept_where = models.CharField(max_length=120, blank=True)
    kept_until = models.DateField(null=True)
    words = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)
    plan_number = models.PositiveIntegerField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_sample_once_a_form")]
        indexes = [
            models.Index(fields=["observed_at"], name="sample_taken"),
            models.Index(fields=["kind", "kept_until"], name="sample_kept_until"),
        ]


class LabResult(Record):
    """A result of one test of a sample: observed_at is when it was read. `sample` is the number of the sample's root.

    `typed` as written; `value` with its `sign` ("<", ">") for counts and amounts, `sign` alone for found and not found.
    `given`: by hand, or in a laboratory's table. `batch`: the name of the plates poured and read together, those of
    controls among them.
    """

    KIND = "laboratory result"
    form_id = models.UUIDField()
    sample = models.BigIntegerField(db_index=True)
    sample_code = models.CharField(max_length=60)
    test = models.CharField(max_length=60)
    typed = models.CharField(max_length=60)
    value = decimal(null=True)
    sign = models.CharField(max_length=20, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    estimated = models.BooleanField(default=False)
    too_many = models.BooleanField(default=False)
    laboratory = models.CharField(max_length=120, blank=True)
    method = models.CharField(max_length=120, blank=True)
    analyst = models.CharField(max_length=120, blank=True)
    given = models.CharField(max_length=20)
    batch = models.CharField(max_length=60, null=True, blank=True)
    content_version = models.PositiveSmallIntegerField(default=2)
    words = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)
    plan_number = models.PositiveIntegerField()

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_laboratory_result_once_a_form")]
        indexes = [models.Index(fields=["test", "observed_at"], name="laboratory_result_test")]
