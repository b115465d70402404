"""The plant as a plan describes it, and the plant's own rows: vessels, equipment, instruments, products."""

from __future__ import annotations

from dataclasses import asdict, fields
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from plant.equipment.models import Equipment, Instrument, Vessel
from plant.hazard_plan.content import (
    EquipmentDef,
    InstrumentDef,
    Plan,
    PlanError,
    ProductDef,
    VesselDef,
    build,
)
from plant.hazard_plan.tidy import decimal_text
from plant.products.models import Product

# Plan's field -> (the plant's table, the class of content.py that one row of it is).
PLANT_TABLES: dict[str, tuple[type[models.Model], type[Any]]] = {
    "vessels": (Vessel, VesselDef),
    "equipment": (Equipment, EquipmentDef),
    "instruments": (Instrument, InstrumentDef),
    "products": (Product, ProductDef),
}


def described() -> dict[str, tuple[Any, ...]]:
    """The plant in use, as a plan holds it: Plan's fields vessels, equipment, instruments and products."""
    return {
        name: tuple(definition(row, kind) for row in table._default_manager.filter(is_active=True))
        for name, (table, kind) in PLANT_TABLES.items()
    }


def definition(row: models.Model, kind: type[Any]) -> Any:
    """One row of the plant as the class of content.py that describes it."""
    return build(kind, {one.name: _plain(getattr(row, one.name)) for one in fields(kind)})


def describe(plan: Plan, *, anything_approved: bool) -> None:
    """Make the plant what the plan says.

    Once anything is approved only new codes are added, and a difference is refused with PlanError.
    """
    for name, (table, kind) in PLANT_TABLES.items():
        rows = {row.code: row for row in table._default_manager.all()}  # type: ignore[attr-defined]
        wanted = getattr(plan, name)
        for at, one in enumerate(wanted):
            row = rows.get(one.code)
            path = f"{name}[{at}]"
            if row is not None and anything_approved:
                _same_or_refused(row, one, kind, path)
            else:
                _write(row or table(), one, path)
        _without(rows, {one.code for one in wanted}, name, anything_approved)


def _same_or_refused(row: models.Model, one: Any, kind: type[Any], path: str) -> None:
    if not row.is_active or definition(row, kind) != one:  # type: ignore[attr-defined]
        raise PlanError(
            path,
            f"{one.code} is described otherwise in the plant, which an approved plan stands on: "
            "change it on its own page, with a reason",
        )


def _without(rows: dict[str, Any], wanted: set[str], name: str, anything_approved: bool) -> None:
    for code in sorted(code for code, row in rows.items() if row.is_active and code not in wanted):
        if anything_approved:
            raise PlanError(
                name,
                f"{code} is in use in the plant and missing here: take it out of use on its page, with a reason",
            )
        rows[code].is_active = False
        rows[code].save(update_fields=["is_active"])


def _write(row: models.Model, one: Any, path: str) -> None:
    for name, value in asdict(one).items():
        setattr(row, name, _as_column(row, name, value))
    row.is_active = True  # type: ignore[attr-defined]
    try:
        row.clean_fields()
    except ValidationError as error:
        name, messages = next(iter(error.message_dict.items()))
        raise PlanError(f"{path}.{name}", str(messages[0])) from error
    row.save()


def _as_column(row: models.Model, name: str, value: Any) -> Any:
    column = row._meta.get_field(name)
    if isinstance(column, models.DecimalField):
        return Decimal(value) if value else None
    return list(value) if isinstance(value, tuple) else value


def _plain(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return decimal_text(value)
    return value.isoformat() if isinstance(value, date) else value
