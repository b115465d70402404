"""Drafts and versions of the hazard plan as rows. What an approval freezes is their whole content (content.py)."""

from __future__ import annotations

import uuid

from django.db import models


class PlanVersion(models.Model):
    """One version of the plan. It is a draft until records holds an approval of it; then nothing under it changes."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=200)
    header = models.JSONField()  # content.PlantHeader
    settings = models.JSONField(default=dict)  # content.Settings
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("plant.Person", on_delete=models.PROTECT, null=True, related_name="+")
    source_hash = models.CharField(max_length=64, blank=True)  # of the written plan it was loaded from

    class Meta:
        ordering = ["-number"]

    def __str__(self) -> str:
        return f"{self.title}, version {self.number}"


class VersionRow(models.Model):
    """A row under a version; `key` is unique in it and `place` keeps the written order."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    version = models.ForeignKey(PlanVersion, on_delete=models.CASCADE, related_name="%(class)ss")
    key = models.CharField(max_length=80)
    place = models.PositiveIntegerField()

    class Meta:
        abstract = True
        ordering = ["place"]

    def __str__(self) -> str:
        return self.key


class ProcessStep(VersionRow):
    """A step of the process, in flow order."""

    number = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    places = models.JSONField(default=list, blank=True)

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "key"], name="one_step_a_key")]


class Hazard(VersionRow):
    """What may harm at a step, and what controls it."""

    step = models.CharField(max_length=80)
    kind = models.CharField(max_length=20)
    text = models.TextField()
    significant = models.BooleanField()
    reason = models.TextField()
    control = models.TextField()
    control_point = models.CharField(max_length=80, blank=True)

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "key"], name="one_hazard_a_key")]


class ControlPoint(VersionRow):
    """Where a hazard is controlled; which of them are CCPs."""

    name = models.CharField(max_length=160)
    kind = models.CharField(max_length=20)
    step = models.CharField(max_length=80, blank=True)
    clause = models.CharField(max_length=200, blank=True)
    programme = models.CharField(max_length=80, blank=True)
    reaches_product = models.BooleanField(default=False)
    bars_release = models.CharField(max_length=20, blank=True)

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "key"], name="one_control_point_a_key")]


class CriticalLimit(VersionRow):
    """A critical limit and its operating limit, with clause and basis. Numbers as written down, in `unit`."""

    quantity = models.CharField(max_length=60)
    unit = models.CharField(max_length=20, blank=True)
    low = models.CharField(max_length=20, blank=True)
    high = models.CharField(max_length=20, blank=True)
    operating_low = models.CharField(max_length=20, blank=True)
    operating_high = models.CharField(max_length=20, blank=True)
    wanted = models.JSONField(default=list, blank=True)
    clause = models.CharField(max_length=300)
    basis = models.CharField(max_length=60)
    rule = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)
    products = models.JSONField(default=list, blank=True)

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "key"], name="one_limit_a_key")]


class Monitoring(VersionRow):
    """What is watched, how, how often and by whom."""

    control_point = models.CharField(max_length=80)
    subjects = models.JSONField(default=list)
    what = models.CharField(max_length=200)
    what_es = models.CharField(max_length=200, blank=True)
    how = models.TextField()
    role = models.CharField(max_length=30)
    answer = models.JSONField()
    frequency = models.JSONField()
    limits = models.JSONField(default=list, blank=True)
    weight = models.CharField(max_length=10, default="safety")
    early_min = models.PositiveIntegerField(default=30)
    grace_min = models.PositiveIntegerField(default=30)
    missed_after = models.CharField(max_length=40, default="next due or shift end")
    agitator_min = models.PositiveIntegerField(default=0)
    recheck_min = models.PositiveIntegerField(default=0)
    corrective_action = models.TextField(blank=True)
    instruments = models.JSONField(default=list, blank=True)
    legal = models.BooleanField(default=False)

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "key"], name="one_monitoring_a_key")]


class PlanSection(VersionRow):
    """The other parts, each a table of content.py: shifts, closures, programmes and so on (stored.SECTIONS)."""

    kind = models.CharField(max_length=20)
    body = models.JSONField()

    class Meta(VersionRow.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "kind", "key"], name="one_section_a_kind_and_key")]
