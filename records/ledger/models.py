"""The ledger's own tables and the base of every record."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.db import models


class Entry(models.Model):
    """One line of the ledger. `number` is gapless from 1; `content` is the canonical JSON whose leaf hash is `leaf`."""

    number = models.BigIntegerField(primary_key=True)
    act = models.UUIDField()
    kind = models.CharField(max_length=40)
    record = models.UUIDField(unique=True)
    content = models.TextField()
    leaf = models.CharField(max_length=64)

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["kind", "number"], name="entry_kind_number")]
        verbose_name_plural = "entries"

    def __str__(self) -> str:
        return f"entry {self.number}"


class Subtree(models.Model):
    """The hash of a completed subtree: leaves index * 2**level … (index + 1) * 2**level - 1; levels from 8 up."""

    level = models.PositiveSmallIntegerField()
    index = models.BigIntegerField()
    root = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["level", "index"], name="one_root_a_subtree")]

    def __str__(self) -> str:
        return f"level {self.level}, {self.index}"


class Record(models.Model):
    """The base of every record. Its number is that of its ledger entry.

    `observed_at`: when it was so, by the person or device; `received_at`: when the server had it. Names, roles and
    initials are copied in, so that the row alone gives its content for ever.
    """

    KIND: ClassVar[str]

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.BigIntegerField(unique=True)
    act = models.UUIDField()
    content_version = models.PositiveSmallIntegerField(default=1)
    observed_at = models.DateTimeField(db_index=True)
    received_at = models.DateTimeField()
    by_id = models.UUIDField(null=True)
    by_name = models.CharField(max_length=120, blank=True)
    by_initials = models.CharField(max_length=6, blank=True)
    by_role = models.CharField(max_length=30, blank=True)
    tablet = models.CharField(max_length=60, blank=True)

    class Meta:
        abstract = True
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.KIND} {self.number}"


class FileKept(Record):
    """A file of the daybook (photo, letter, PDF): kept under its SHA-256 in FILES_DIR."""

    KIND = "file kept"
    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    mime = models.CharField(max_length=100)
    size = models.BigIntegerField()


class Installation(Record):
    """The first entry of every ledger: which plant this is, and whether it is an invented one, for good."""

    KIND = "installation"
    plant_name = models.CharField(max_length=120)
    invented = models.BooleanField()
    only = models.PositiveSmallIntegerField(default=1, unique=True)  # there is one installation


def decimal(**options: Any) -> models.DecimalField[Any, Any]:
    """A measured value for queries: 15 significant digits, so that SQLite's floats give every digit back."""
    return models.DecimalField(max_digits=15, decimal_places=4, **options)
