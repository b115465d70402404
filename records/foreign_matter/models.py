"""What was looked at against foreign matter: strainers and magnets, the metal detector, parts counted, breakages.

No statuses: acts and moments. Each may be amended by a successor (`amends`), which may say that it did not happen
(`void`). observed_at is when it was looked at.
"""

from __future__ import annotations

from typing import Any

from django.db import models

from records.ledger.models import Record, decimal

Plain = dict[str, Any]


class Look(Record):
    """What every record here has. `good`: nothing found, nothing missing, nothing failed; `words` says it as printed.

    `suspect_since`: from when on product is in question, where it is not good. `check_key` and `reading`: the plan's
    check that it answers, and the entry among the readings. `photo` is a kept file's SHA-256.
    """

    form_id = models.UUIDField()
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    good = models.BooleanField()
    words = models.TextField()
    suspect_since = models.DateTimeField(null=True)
    check_key = models.CharField(max_length=80, blank=True)
    reading = models.BigIntegerField(null=True)
    photo = models.CharField(max_length=64, blank=True)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)
    plan_number = models.PositiveIntegerField()

    class Meta(Record.Meta):
        abstract = True


class StrainerLook(Look):
    """A strainer, filter, sieve or magnet opened and looked at; `found` is the plan's own answer, or one of ours.

    `length_typed`: the longest dimension [mm] of what was caught; `hard`: whether it was hard or sharp.
    """

    KIND = "strainer or magnet look"
    device = models.CharField(max_length=20)  # strainer, magnet
    after = models.CharField(max_length=20)  # load, run, strip-down, other
    found = models.CharField(max_length=120)
    length_typed = models.CharField(max_length=40, blank=True)
    length_mm = decimal(null=True)
    hard = models.CharField(max_length=10, blank=True)  # yes, no

    class Meta(Look.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_strainer_look_once_a_form")]
        indexes = [models.Index(fields=["place", "device", "observed_at"], name="strainer_look_place")]


class DetectorChallenge(Look):
    """A metal detector challenged with its test pieces: each `metal`, `size` as typed in mm, and whether `seen`."""

    KIND = "metal detector challenge"
    when = models.CharField(max_length=20)  # start, hourly, end, after work
    pieces: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)
    rejected = models.BooleanField()  # the reject device, or the stop, worked

    class Meta(Look.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_challenge_once_a_form")]
        indexes = [models.Index(fields=["place", "observed_at"], name="challenge_place")]


class PartsCount(Look):
    """Parts counted at strip-down: each `part`, how many the list has (`listed`), how many were `counted`."""

    KIND = "parts count"
    parts: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)

    class Meta(Look.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_parts_count_once_a_form")]
        indexes = [models.Index(fields=["place", "observed_at"], name="parts_count_place")]


class Breakage(Look):
    """Glass, hard plastic or ceramic broken. `cleared`: which area was cleared, how; `near`: open product nearby."""

    KIND = "breakage"
    material = models.CharField(max_length=20)  # glass, hard plastic, ceramic, other
    what = models.TextField()
    spot = models.CharField(max_length=200)
    cleared = models.TextField(blank=True)
    all_found = models.BooleanField()
    near = models.BooleanField()
    whole_at = models.DateTimeField(null=True)  # last seen whole

    class Meta(Look.Meta):
        abstract = False
        constraints = [models.UniqueConstraint(fields=["by_id", "form_id"], name="a_breakage_once_a_form")]
        indexes = [models.Index(fields=["place", "observed_at"], name="breakage_place")]
