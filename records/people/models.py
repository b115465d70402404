"""Acts on people, tablets and the plan that must be provable, and the outbox (which is not a record)."""

from __future__ import annotations

from django.db import models

from records.ledger.models import Record


class AccountAct(Record):
    """Something done to a person's account. `what`: see records.people.actions."""

    KIND = "account act"
    person_id = models.UUIDField(db_index=True)
    person_name = models.CharField(max_length=120)
    what = models.CharField(max_length=40)
    role = models.CharField(max_length=30, blank=True)
    detail = models.TextField(blank=True)
    reason = models.TextField(blank=True)


class Certificate(Record):
    """A person's signing certificate, issued or revoked. Old ones stay."""

    KIND = "certificate"
    person_id = models.UUIDField(null=True)
    person_name = models.CharField(max_length=120)
    what = models.CharField(max_length=10)  # issued, revoked
    serial = models.CharField(max_length=60)
    fingerprint = models.CharField(max_length=64)
    pem = models.TextField()
    not_before = models.DateTimeField()
    not_after = models.DateTimeField()


class TabletAct(Record):
    """A tablet enrolled or withdrawn."""

    KIND = "tablet act"
    tablet_id = models.UUIDField()
    tablet_name = models.CharField(max_length=60)
    what = models.CharField(max_length=20)


class FailedAttempt(Record):
    """A wrong PIN or password. A security record, outside plant days."""

    KIND = "failed attempt"
    person_id = models.UUIDField(null=True, db_index=True)
    person_name = models.CharField(max_length=120, blank=True)
    tablet_id = models.UUIDField(null=True)
    component = models.CharField(max_length=10)  # PIN, password
    locked = models.BooleanField(default=False)  # this one locked the person on that tablet


class PlanSignature(Record):
    """One of the two signatures that approve a plan version; `content_hash` is what was signed."""

    KIND = "plan signature"
    version_id = models.UUIDField()
    version_number = models.PositiveIntegerField()
    content_hash = models.CharField(max_length=64)
    meaning = models.CharField(max_length=120)

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["version_id", "content_hash", "meaning"], name="one_plan_signature_a_meaning"
            )
        ]


class PlanApproval(Record):
    """A plan version frozen: its whole content as canonical JSON. In force from `in_force_from` until the next is."""

    KIND = "plan approval"
    version_id = models.UUIDField(unique=True)
    version_number = models.PositiveIntegerField(unique=True)
    in_force_from = models.DateTimeField(db_index=True)
    plan = models.TextField()
    content_hash = models.CharField(max_length=64)


class PlantRevision(Record):
    """A vessel, instrument, product or other description changed after a plan was approved."""

    KIND = "plant revision"
    table = models.CharField(max_length=20)  # vessel, equipment, instrument, product
    row_id = models.UUIDField()
    code = models.CharField(max_length=40)
    before = models.JSONField()
    after = models.JSONField()
    reason = models.TextField()


class Notice(models.Model):
    """The outbox: mail that must go out, at least once, under a stable Message-ID. A working table, not a record."""

    message_id = models.CharField(max_length=200, unique=True)
    to = models.TextField()
    subject = models.CharField(max_length=200)
    body = models.TextField()
    made_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)
    claimed_at = models.DateTimeField(null=True)  # a sender is at it; see records.people.outbox
    tries = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["made_at"], condition=models.Q(sent_at__isnull=True), name="notices_to_send")]

    def __str__(self) -> str:
        return self.subject
