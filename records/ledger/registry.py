"""The one registry of record kinds: their tables, their columns in the content, and the writers of that content."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from functools import cache
from operator import attrgetter
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models
from django.db.models.functions import Cast

from records.ledger.canonical import canonical_of_checked, check, fixed, moment
from records.ledger.content_fields import FIELDS
from records.ledger.models import Entry, Record, Subtree


@cache
def kinds() -> dict[str, type[Record]]:
    """Every concrete record kind by its name."""
    found: dict[str, type[Record]] = {}
    for model in apps.get_app_config("records").get_models():
        if issubclass(model, Record):
            if model.KIND in found:
                raise RuntimeError(f"two record kinds are called {model.KIND!r}")
            found[model.KIND] = model
    return found


def append_only_tables() -> list[type[models.Model]]:
    """Every table whose rows may only be inserted."""
    return [Entry, Subtree, *kinds().values()]


class Writer:
    """Writes the content of one version of one kind, from the columns `names` and nothing else."""

    def __init__(self, kind: str, version: int) -> None:
        model = kinds()[kind]
        self.kind = kind
        self.version = version
        self.names = FIELDS[kind][version]
        self.get: Callable[[Record], tuple[Any, ...]] = attrgetter(*self.names)
        columns = {name: model._meta.get_field(name) for name in self.names}
        # Most columns are text and need nothing done: a verification writes millions of them.
        self._texts = [(name, one) for name, one in columns.items() if isinstance(one, _TEXTS)]
        self._parts = [(name, _part(one)) for name, one in columns.items() if not isinstance(one, _TEXTS)]
        uuids = {name for name, one in columns.items() if isinstance(one, models.UUIDField)}
        self._stored_parts = [(name, uuid_text if name in uuids else part) for name, part in self._parts]
        self.read_as = [Cast(name, models.TextField()) if name in uuids else name for name in self.names]

    def content(self, values: Iterable[Any]) -> dict[str, Any]:
        """The content of a row whose columns have these values, in the order of `names`."""
        return self._content(values, self._parts)

    def _content(self, values: Iterable[Any], parts: list[tuple[str, Callable[[Any], Any]]]) -> dict[str, Any]:
        record = dict(zip(self.names, values, strict=True))
        for name, column in self._texts:
            value = record[name]
            if value.__class__ is not str and value is not None:
                record[name] = str(column.to_python(value))
        for name, part in parts:
            value = record[name]
            if value is not None:
                record[name] = part(value)
        return {"kind": self.kind, "record": record, "version": self.version}

    def text(self, values: Iterable[Any]) -> str:
        """content() as canonical JSON; NotCanonical names what the ledger cannot hold."""
        return canonical_of_checked(self.content(values))

    def stored_text(self, values: Iterable[Any]) -> str:
        """text() of values read by values_list(*read_as): ids as the database writes them, which halves the work."""
        return canonical_of_checked(self._content(values, self._stored_parts))


@cache
def writer(kind: str, version: int) -> Writer:
    """The writer of a kind's version; KeyError when it was never released."""
    return Writer(kind, version)


def content_of(row: Record) -> dict[str, Any]:
    """What the ledger says of a row, from the row's own columns alone, by the writer of the row's content version."""
    found = writer(row.KIND, row.content_version)
    return found.content(found.get(row))


def text_of(row: Record) -> str:
    """content_of() as canonical JSON."""
    found = writer(row.KIND, row.content_version)
    return found.text(found.get(row))


_TEXTS = (models.CharField, models.TextField)


def _part(column: Any) -> Callable[[Any], Any]:
    """How a column's value goes into the content; values of another type are read as the column would read them."""
    read = column.to_python
    if isinstance(column, models.DecimalField):
        places = column.decimal_places
        return lambda value: fixed(read(value), places)
    if isinstance(column, models.DateTimeField):
        return lambda value: moment(value if hasattr(value, "tzinfo") else read(value))
    if isinstance(column, models.DateField):
        return lambda value: read(value).isoformat()
    if isinstance(column, models.UUIDField):
        return lambda value: str(value if value.__class__ is UUID else read(value))
    if isinstance(column, models.BooleanField):
        return lambda value: bool(read(value))
    if isinstance(column, models.IntegerField):
        return lambda value: _checked(int(value))
    if isinstance(column, models.JSONField):
        return _checked
    if isinstance(column, models.BinaryField):
        return _fingerprint
    raise RuntimeError(f"no content can be written from the column {column}: link by UUID or ledger number")


def _fingerprint(value: Any) -> dict[str, Any]:
    """Bytes stand in the content by their number and their hash."""
    data = bytes(value)
    return {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def uuid_text(stored: str) -> str:
    """A UUID as written in the content, from PostgreSQL's text of it or SQLite's 32 digits; ValueError for neither."""
    if len(stored) == 36:
        return stored
    if len(stored) == 32:
        return f"{stored[:8]}-{stored[8:12]}-{stored[12:16]}-{stored[16:20]}-{stored[20:]}"
    raise ValueError(f"{stored!r} is no UUID")


def _checked(value: Any) -> Any:
    check(value)
    return value
