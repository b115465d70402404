"""Work on equipment, tests of record, seals, what the regulator was told, calibrations. No statuses: acts and moments.

Each may be amended: a successor names the one it replaces (`amends`), says why, and may say that it did not happen
(`void`). observed_at is the moment of the act itself: a work's end, a test, a seal seen.
"""

from __future__ import annotations

from typing import Any

from django.db import models

from records.ledger.models import Record, decimal

Plain = dict[str, Any]


class Kept(Record):
    """What every record of the workshop has: its form, its place, and what it amends."""

    form_id = models.UUIDField(unique=True)
    place = models.CharField(max_length=40)
    place_name = models.CharField(max_length=120)
    note = models.TextField(blank=True)
    amends = models.BigIntegerField(null=True, unique=True)
    amend_reason = models.TextField(blank=True)
    void = models.BooleanField(default=False)

    class Meta(Record.Meta):
        abstract = True


class WorkDone(Kept):
    """Work on a part, and which tests it asks to be repeated before the next forward flow.

    `tests` are their numbers, `tests_words` the same as printed. Counts are of parts and tools taken to the place and
    brought back. `opened`: surfaces that touch product were opened.
    """

    KIND = "work done"
    part = models.CharField(max_length=40)
    part_words = models.CharField(max_length=120)
    what = models.TextField()
    worker = models.CharField(max_length=120)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    seals_broken: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)  # place, number
    seals_renewed: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)  # place, number, by
    parts_before = models.PositiveIntegerField(null=True)
    parts_after = models.PositiveIntegerField(null=True)
    tools_before = models.PositiveIntegerField(null=True)
    tools_after = models.PositiveIntegerField(null=True)
    count_note = models.TextField(blank=True)
    opened = models.BooleanField()
    cleaned = models.BooleanField(default=False)
    sanitized = models.BooleanField(default=False)
    tests: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    tests_words: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    plan_number = models.PositiveIntegerField()

    class Meta(Kept.Meta):
        indexes = [models.Index(fields=["place", "ended_at"], name="work_place")]


class EquipmentTest(Kept):
    """One test of the numbered list. `report` is a kept file's SHA-256; `rule` and `clause` say how often it is due."""

    KIND = "equipment test"
    test = models.CharField(max_length=10)
    test_words = models.CharField(max_length=160)
    instrument = models.CharField(max_length=40, blank=True)
    results = models.TextField()  # the numbers as typed
    met = models.BooleanField()
    by_regulator = models.BooleanField()
    tester = models.CharField(max_length=120)
    report = models.CharField(max_length=64, blank=True)
    rule = models.CharField(max_length=80)
    clause = models.CharField(max_length=300)
    basis = models.CharField(max_length=60)

    class Meta(Kept.Meta):
        indexes = [models.Index(fields=["place", "test", "observed_at"], name="equipment_test_place")]


class HoldingTest(Kept):
    """A holding-time test of one set-up. `seconds` is the least of all that was typed: that one is judged.

    `set_point` in `set_point_unit` and `classes` are those of the plan then, `homogenizer` the state in the test. Its
    verdict is a record of its own.
    """

    KIND = "holding-time test"
    set_up = models.CharField(max_length=80)
    set_up_name = models.CharField(max_length=160)
    set_point = models.CharField(max_length=20)
    set_point_unit = models.CharField(max_length=10)
    classes: models.JSONField[list[str], list[str]] = models.JSONField(default=list)
    seconds_typed = models.CharField(max_length=40)
    diverted_typed = models.CharField(max_length=40, blank=True)
    tries: models.JSONField[list[str], list[str]] = models.JSONField(default=list)  # as typed
    seconds = decimal()
    medium = models.CharField(max_length=20)  # water, product
    homogenizer = models.CharField(max_length=20)
    pump_rate_typed = models.CharField(max_length=40, blank=True)
    pump_rate = decimal(null=True)
    pump_rate_unit = models.CharField(max_length=10, blank=True)
    by_regulator = models.BooleanField()
    tester = models.CharField(max_length=120)
    report = models.CharField(max_length=64, blank=True)
    plan_number = models.PositiveIntegerField()

    class Meta(Kept.Meta):
        indexes = [models.Index(fields=["place", "set_up", "observed_at"], name="holding_test_place")]


class SealAct(Kept):
    """A seal applied, seen whole, found broken, found missing, broken for work, or renewed."""

    KIND = "seal act"
    seal_place = models.CharField(max_length=40)
    seal_place_words = models.CharField(max_length=120)
    what = models.CharField(max_length=20)
    number_seen = models.CharField(max_length=40, blank=True)
    number_known = models.CharField(max_length=40, blank=True)  # by the book, before this act
    sealed_by = models.CharField(max_length=120, blank=True)
    by_regulator = models.BooleanField(null=True)
    work = models.BigIntegerField(null=True)  # the work that it was broken or renewed in

    class Meta(Kept.Meta):
        indexes = [models.Index(fields=["place", "observed_at"], name="seal_act_place")]


class RegulatorNotice(Kept):
    """Who told the regulator of what, or sent the written form, how, and the answer. observed_at is when."""

    KIND = "notice to the regulator"
    subject_kind = models.CharField(max_length=40)
    subject_number = models.BigIntegerField(db_index=True)
    what = models.CharField(max_length=20)  # told, form sent, answer
    told_by = models.CharField(max_length=120)
    told_whom = models.CharField(max_length=160)
    how = models.CharField(max_length=20)
    answer = models.TextField(blank=True)


class Calibration(Kept):
    """An instrument against a reference. Numbers as typed in `points`; errors are readings minus reference, in `unit`.

    `worst_error` as found, `worst_left` as left, each the one that is farthest off. `outcome` weighs the uncertainty
    (met, not met, not proven), `within` does not. `good_after`: as left within tolerance at every point.
    """

    KIND = "calibration"
    instrument = models.CharField(max_length=40, db_index=True)
    instrument_name = models.CharField(max_length=120)
    unit = models.CharField(max_length=10)
    points: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)
    reference = models.CharField(max_length=160)
    reference_u_typed = models.CharField(max_length=40)
    repeatability_typed = models.CharField(max_length=40, blank=True)
    tolerance = decimal()
    resolution = decimal()
    correction_before = decimal()
    worst_error = decimal()
    uncertainty = decimal()
    worst_left = decimal(null=True)
    outcome = models.CharField(max_length=20)
    within = models.BooleanField()
    good_after = models.BooleanField()
    last_good_at = models.DateTimeField(null=True)
    doubted: models.JSONField[list[Plain], list[Plain]] = models.JSONField(default=list)
    adjusted = models.BooleanField()
    tester = models.CharField(max_length=120)
    report = models.CharField(max_length=64, blank=True)
