"""Editing a draft, row by row. A version that an approval froze is refused here, and by the database's own triggers."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from plant.hazard_plan import approvals
from plant.hazard_plan.content import EscalationDef, PlantHeader, ReviewerDef, Settings, build, to_json
from plant.hazard_plan.models import PlanSection, PlanVersion, VersionRow
from plant.hazard_plan.stored import SECTIONS, TABLES, plan_of, write_rows
from plant.people.models import Person

# Sections whose rows have no key of their own: they are told apart by their place.
UNKEYED = (ReviewerDef, EscalationDef, dict)


class Frozen(Exception):
    """The version is approved: nothing about it changes."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a draft as its page edits it."""

    id: UUID
    key: str
    value: Any


def kind_of(table: str) -> type[Any]:
    """The class of content.py (or dict) that one row of a table is; KeyError for an unknown table."""
    return TABLES[table][1] if table in TABLES else SECTIONS[table][1] or dict


def editable(version: PlanVersion) -> bool:
    """Whether the version is still a draft."""
    return all(one.version_id != version.id for one in approvals.approved())


def new_draft(version: PlanVersion, by: Person | None, now: datetime) -> PlanVersion:
    """A draft that says what a version says; an untouched draft of the same content is that draft (a double tap)."""
    plan = plan_of(version)
    with transaction.atomic():
        newest = PlanVersion.objects.order_by("-number").first()
        if newest and newest != version and editable(newest) and plan_of(newest) == plan:
            return newest
        last = PlanVersion.objects.aggregate(last=Max("number"))["last"] or 0
        draft = PlanVersion.objects.create(
            number=last + 1,
            title=plan.title,
            header=to_json(plan.plant),
            settings=to_json(plan.settings),
            made_at=now,
            made_by=by,
        )
        write_rows(draft, plan)
    return draft


def rows(version: PlanVersion, table: str) -> list[Row]:
    """The rows of one table of a version, in written order."""
    kind = kind_of(table)
    if table in TABLES:
        names = [one.name for one in fields(kind)]
        found = _rows(version, table).values("id", *names)
        return [Row(one.pop("id"), one["key"], build(kind, one, table)) for one in found]
    sections = _rows(version, table).values_list("id", "key", "body")
    return [Row(key, name, dict(body) if kind is dict else build(kind, body, table)) for key, name, body in sections]


def keys(version: PlanVersion, table: str) -> list[tuple[UUID, str]]:
    """The id and key of each row of one table."""
    return list(_rows(version, table).values_list("id", "key"))


def _rows(version: PlanVersion, table: str) -> Any:
    if table in TABLES:
        return TABLES[table][0]._default_manager.filter(version=version).order_by("place")
    return PlanSection.objects.filter(version=version, kind=SECTIONS[table][0]).order_by("place")


def save_row(version: PlanVersion, table: str, value: Any, row_id: UUID | None) -> None:
    """Write one row of a draft: a new one at the end when `row_id` is None.

    Raises Frozen, and ValidationError with the fields that are wrong.
    """
    with transaction.atomic():
        _refuse_frozen(version)
        row = _found(version, table, row_id) if row_id else _made(version, table, value)
        body = to_json(value)
        if isinstance(row, PlanSection):
            row.body = body
            row.key = row.key if _unkeyed(table) else body["key"]
        else:
            for name, said in body.items():
                setattr(row, name, said)
        _clean(row, version, table)
        row.save()


def remove_row(version: PlanVersion, table: str, row_id: UUID) -> None:
    """Take one row out of a draft. Raises Frozen."""
    with transaction.atomic():
        _refuse_frozen(version)
        _found(version, table, row_id).delete()


def save_header(version: PlanVersion, title: str, header: PlantHeader, settings: Settings) -> None:
    """Write a draft's title, plant and settings. Raises Frozen."""
    with transaction.atomic():
        _refuse_frozen(version)
        version.title, version.header, version.settings = title, to_json(header), to_json(settings)
        version.clean_fields(exclude={"made_by", "number", "settings"})
        version.save(update_fields=["title", "header", "settings"])


def header_of(version: PlanVersion) -> tuple[PlantHeader, Settings]:
    """A draft's header and settings."""
    return build(PlantHeader, version.header, "plant"), build(Settings, version.settings, "settings")


def confirm(version: PlanVersion, limit: str, reason: str, by: str) -> None:
    """Keep the qualified individual's confirmation of a limit that is laxer than a row nobody read in full."""
    save_row(version, "confirmations", {"limit": limit, "reason": reason, "by": by}, None)


def _refuse_frozen(version: PlanVersion) -> None:
    # An approval waits for this edit, or this edit for the approval (SQLite has one writer at a time anyway).
    list(PlanVersion.objects.select_for_update().filter(id=version.id))
    if not editable(version):
        raise Frozen


def _unkeyed(table: str) -> bool:
    return kind_of(table) in UNKEYED


def _found(version: PlanVersion, table: str, row_id: UUID) -> Any:
    return _rows(version, table).get(id=row_id)


def _made(version: PlanVersion, table: str, value: Any) -> VersionRow:
    last = _rows(version, table).aggregate(last=Max("place"))["last"]
    place = 0 if last is None else last + 1
    if table in TABLES:
        return TABLES[table][0](version=version, place=place)
    key = f"{place}" if _unkeyed(table) else value.key
    return PlanSection(version=version, kind=SECTIONS[table][0], place=place, key=key)


def _clean(row: Any, version: PlanVersion, table: str) -> None:
    row.clean_fields(exclude={"version", "body", "subjects", "answer", "frequency"})
    twin = _rows(version, table).filter(key=row.key).exclude(id=row.id)
    if twin.exists():
        raise ValidationError({"key": _("This key is used already in this draft.")})
