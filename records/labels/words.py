"""Filling in words."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from records.labels.models import (
    INGREDIENTS,
    LABEL,
    LABELS,
    LID,
    LIDS,
    NONE,
    OFF,
    STILL,
    TUB,
    TUBS,
    PackagingCounted,
)


def thing_words(thing: str) -> str:
    """What is taken off a line, in the reader's language."""
    return {
        LABELS: _("Labels of the last product"),
        LIDS: _("Lids of the last product"),
        TUBS: _("Tubs of the last product"),
        INGREDIENTS: _("Ingredients of the last product"),
    }.get(thing, thing)


def answer_words(answer: str) -> str:
    """What became of it, in the reader's language."""
    return {OFF: _("taken off"), NONE: _("none here"), STILL: _("still there")}.get(answer, answer)


def kind_words(kind: str) -> str:
    """A kind of packaging, in the reader's language."""
    return {LABEL: _("label roll"), TUB: _("tub sleeve"), LID: _("lid sleeve")}.get(kind, kind)


def things_words(things: list[dict[str, Any]]) -> str:
    """Every answer of a clearance on one line."""
    return "; ".join(
        f"{thing_words(one['thing'])}: {answer_words(one['answer'])}" + (f" ({one['count']})" if one["count"] else "")
        for one in things
    )


def difference_words(row: PackagingCounted) -> str:
    """The reconciliation's difference, named."""
    if row.difference is None:
        return _("cannot be reconciled: nobody counted what was issued")
    if row.difference > 0:
        return _("%(count)d missing") % {"count": row.difference}
    if row.difference < 0:
        return _("%(count)d more than were issued") % {"count": -row.difference}
    return _("all accounted for")
