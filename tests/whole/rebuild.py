"""Making every typed record again from the ledger's entries alone, and a picture of what the pages show."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection, models

from plant.equipment.models import Equipment, Instrument, Vessel
from plant.hazard_plan.models import (
    ControlPoint,
    CriticalLimit,
    Hazard,
    Monitoring,
    PlanSection,
    PlanVersion,
    ProcessStep,
)
from plant.products.models import Product
from records.checks import queries as checks
from records.checks.models import WatchState
from records.deviations import queries as deviations
from records.flow import queries as flow
from records.ledger import triggers
from records.ledger.models import Entry, Record, Subtree
from records.ledger.registry import kinds
from records.people import plans
from records.people.models import Notice
from records.review.sheet import sheet_data

DESCRIPTIONS: tuple[type[models.Model], ...] = (
    PlanSection,
    Monitoring,
    CriticalLimit,
    ControlPoint,
    Hazard,
    ProcessStep,
    PlanVersion,
    Vessel,
    Equipment,
    Instrument,
    Product,
)


def rebuild() -> int:
    """Empty every typed record table, every description of the plant and every working table; insert the records anew
    from the contents of the entries. Gives how many. Only a test may put the triggers aside for this."""
    entries = list(Entry.objects.order_by("number"))
    _triggers_away()
    try:
        for model in (*kinds().values(), Subtree, Notice, WatchState, *DESCRIPTIONS):
            model._default_manager.all().delete()
    finally:
        _triggers_back()
    for entry in entries:
        _row(json.loads(entry.content)).save(force_insert=True)
    plans.approved.cache_clear()
    return len(entries)


def _row(content: dict[str, Any]) -> Record:
    model = kinds()[content["kind"]]
    row = model(content_version=content["version"])
    for name, value in content["record"].items():
        column = model._meta.get_field(name)
        setattr(row, name, value if isinstance(column, models.JSONField) else column.to_python(value))
    return row


def _triggers_away() -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = replica")
        else:
            for name in triggers.present(connection):
                cursor.execute(f'DROP TRIGGER "{name}"')


def _triggers_back() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = origin")
    triggers.install(connection)


def picture(days: list[date], moments: list[datetime]) -> str:
    """All that the pages compute: due checks with states, contents, open deviations, holds, whole sheets. As JSON."""
    found: dict[str, Any] = {}
    for moment in moments:
        due = checks.due_between(moment - timedelta(days=1), moment + timedelta(hours=12), moment)
        found[f"due {moment}"] = [
            [one.key, one.state, one.reading.number if one.reading else None, one.in_force.number] for one in due
        ]
        found[f"round {moment}"] = [one.key for one in checks.round_at(moment)]
        found[f"contents {moment}"] = {
            code: {key: value for key, value in asdict(one).items() if key != "running"}
            for code, one in flow.contents_at(moment).items()
        }
        found[f"open {moment}"] = [[one.number, deviations.missing(one)] for one in deviations.open_deviations(moment)]
        found[f"held {moment}"] = {
            str(lot): [one.number for one in rows] for lot, rows in deviations.held_by_name(moment).items()
        }
    for day in days:
        found[f"sheet {day}"] = sheet_data(day, 1, moments[-1])
    return json.dumps(found, default=str, sort_keys=True, indent=1)
