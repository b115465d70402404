"""Made-up rows of every record kind, the same on every run: a column's value follows from its name and the number."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models

from records.ledger.models import Record
from records.ledger.registry import kinds

START = datetime(2026, 3, 3, 14, 5, 0, 123456, tzinfo=UTC)
# Composed and decomposed é, a character beyond U+FFFF, both quotes, a backslash, a line and a tab: kept as they came.
TEXT = "é e\u0301 🧀 \"b\" 'c' \\ \n\t<&>"


def made_row(kind: str, n: int = 1, **columns: Any) -> Record:
    """An unsaved row of a kind with a value in every column."""
    model = kinds()[kind]
    values = {column.name: _value(column, n) for column in model._meta.concrete_fields}
    return model(**{**values, "number": n, "content_version": 1, **columns})


def bare_row(kind: str, n: int = 1, **columns: Any) -> Record:
    """An unsaved row in which every column that may be empty is."""
    model = kinds()[kind]
    values: dict[str, Any] = {}
    for column in model._meta.concrete_fields:
        if column.null:
            values[column.name] = None
        elif getattr(column, "blank", False) and isinstance(column, (models.CharField, models.TextField)):
            values[column.name] = ""
        else:
            values[column.name] = _value(column, n)
    return model(**{**values, "number": n, "content_version": 1, **columns})


def _value(column: Any, n: int) -> Any:
    seed = hashlib.sha256(f"{column.model.__name__} {column.name} {n}".encode()).digest()
    small = int.from_bytes(seed[:2], "big")
    if isinstance(column, models.UUIDField):
        return UUID(bytes=seed[:16])
    if isinstance(column, models.DecimalField):
        return Decimal(small) / 100
    if isinstance(column, models.DateTimeField):
        return START + timedelta(microseconds=small * n)
    if isinstance(column, models.DateField):
        return date(2026, 3, 3) + timedelta(days=small % 300)
    if isinstance(column, models.BooleanField):
        return bool(small % 2)
    if isinstance(column, models.PositiveSmallIntegerField):
        return small % 30_000 if column.name != "only" else n
    if isinstance(column, models.IntegerField):
        return small + 70_000 * n
    if isinstance(column, models.BinaryField):
        return seed * 3
    if isinstance(column, models.JSONField):
        return {"b": [1, None, True, TEXT], "a": {"ñ": "1.50"}}
    if isinstance(column, models.TextField):
        return f"{TEXT} {column.name} {n}"
    longest = column.max_length or 40
    return f"{seed.hex()[:8]} {TEXT} {column.name}"[: min(longest, 60)] if longest > 8 else seed.hex()[:longest]
