"""Rows that stand: the last of each line of amendments, without those that say that it did not happen."""

from __future__ import annotations

from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet

from records.flow.models import Movement, Wash
from records.ledger.models import Entry

M = TypeVar("M", Movement, Wash)


def standing(rows: QuerySet[M], known_by: int | None = None) -> QuerySet[M]:
    """Of these movements or washes, those that no later row replaces and that did happen.

    `known_by`: as the book had it at this entry; what was recorded or amended after it is not seen.
    """
    successor = rows.model._default_manager.filter(amends=OuterRef("number"))
    if known_by is not None:
        rows, successor = rows.filter(number__lte=known_by), successor.filter(number__lte=known_by)
    return rows.filter(~Exists(successor), void=False)


def with_fate(rows: QuerySet[M]) -> QuerySet[M]:
    """These rows with `replaced`: whether a later row stands for each."""
    successor = rows.model._default_manager.filter(amends=OuterRef("number"))
    return rows.annotate(replaced=Exists(successor))


def stands(row: Movement | Wash) -> bool:
    """Whether a row of `with_fate` is the one that counts."""
    return not row.void and not getattr(row, "replaced", False)


def asked_at_once(subqueries: dict[str, Any]) -> dict[str, Any]:
    """The answers of many single-value subqueries in one query, by name; each is one step in an index."""
    names = list(subqueries)
    found: Any = Entry.objects.filter(number=1).annotate(**subqueries).values_list(*names).first()
    return dict(zip(names, found, strict=True)) if found and names else {}
