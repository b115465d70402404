"""Database triggers that refuse every change to records, on SQLite and PostgreSQL alike.

A bug cannot pass them, nor an administrator without removing one, and `verify` reports a missing trigger.
SQLite's INSERT OR REPLACE slips past UPDATE and DELETE triggers, so there each unique promise has a guard of its own.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage
from django.core.checks import Warning as CheckWarning
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from records.ledger.registry import append_only_tables

PREFIX = "daybook_keep_"
_PLAN_ROWS = ("PlanVersion", "ProcessStep", "Hazard", "ControlPoint", "CriticalLimit", "Monitoring", "PlanSection")


def quoted(name: str) -> str:
    """A name as SQL takes it."""
    return '"' + name.replace('"', '""') + '"'


@dataclass(frozen=True)
class Promise:
    """A unique promise of a table: its columns, and the condition (SQL on the table's columns) under which it holds."""

    columns: tuple[str, ...]
    condition: str = ""


def promises(model: type[models.Model]) -> list[Promise]:
    """Each unique promise of a table, the primary key first. RuntimeError for one that no guard can be made for."""
    meta = model._meta
    found = [Promise((_column(model, meta.pk.name),))]
    unique = [one.name for one in meta.concrete_fields if one.unique and not one.primary_key]
    found += [Promise((_column(model, name),)) for name in unique]
    found += [Promise(tuple(_column(model, name) for name in names)) for names in meta.unique_together]
    for constraint in meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            if constraint.expressions:
                raise RuntimeError(f"{constraint.name}: a unique promise on expressions has no guard yet")
            columns = tuple(_column(model, name) for name in constraint.fields)
            found.append(Promise(columns, _condition(model, constraint)))
    return found


def _column(model: type[models.Model], name: str) -> str:
    found: Any = model._meta.get_field(name)
    return str(found.column)


def _condition(model: type[models.Model], constraint: models.UniqueConstraint) -> str:
    if constraint.condition is None:
        return ""
    editor = connections["default"].schema_editor(collect_sql=True)  # not entered: it only writes the condition down
    return str(constraint._get_condition_sql(model, editor))  # type: ignore[attr-defined]


def _plan_models() -> list[tuple[type[models.Model], str]]:
    """The tables of plan versions, each with its column that names the version."""
    found = []
    for name in _PLAN_ROWS:
        found.append((apps.get_model("plant", name), "id" if name == "PlanVersion" else "version_id"))
    return found


def statements(vendor: str) -> dict[str, str]:
    """Each trigger's name and the statement that makes it."""
    return _sqlite() if vendor == "sqlite" else _postgresql()


def _sqlite() -> dict[str, str]:
    made: dict[str, str] = {}
    for model in append_only_tables():
        table = model._meta.db_table
        for event in ("UPDATE", "DELETE"):
            name = f"{PREFIX}{table}_{event.lower()}"
            made[name] = (
                f"CREATE TRIGGER {quoted(name)} BEFORE {event} ON {quoted(table)} BEGIN "
                f"SELECT RAISE(ABORT, 'a record is never changed: {table}'); END"
            )
        for at, promise in _replaceable(model):
            name = f"{PREFIX}{table}_replace_{at}"
            made[name] = _replace_guard(name, model, promise)
    for model, column in _plan_models():
        table = model._meta.db_table
        for event, rows in (("UPDATE", ("OLD", "NEW")), ("DELETE", ("OLD",)), ("INSERT", ("NEW",))):
            name = f"{PREFIX}{table}_{event.lower()}"
            versions = ", ".join(f"{row}.{quoted(column)}" for row in rows)
            made[name] = (
                f"CREATE TRIGGER {quoted(name)} BEFORE {event} ON {quoted(table)} WHEN EXISTS "
                f"(SELECT 1 FROM records_planapproval WHERE version_id IN ({versions})) BEGIN "
                f"SELECT RAISE(ABORT, 'an approved plan is never changed: {table}'); END"
            )
        frozen = f"{quoted(column)} IN (SELECT version_id FROM records_planapproval)"
        for at, promise in _replaceable(model):
            name = f"{PREFIX}{table}_replace_{at}"
            made[name] = _replace_guard(name, model, promise, frozen)
    return made


def _replaceable(model: type[models.Model]) -> list[tuple[str, Promise]]:
    """All that REPLACE could strike by: each promise, and the hidden row number where the key is no whole number."""
    found = [(str(at), promise) for at, promise in enumerate(promises(model))]
    if not isinstance(model._meta.pk, models.AutoField):
        found.append(("row", Promise(("rowid",))))  # not given, it is -1 in a trigger before the insert
    return found


def _replace_guard(name: str, model: type[models.Model], promise: Promise, only: str = "") -> str:
    """INSERT OR REPLACE deletes what stands in its way past the DELETE trigger: so no INSERT may find anything.

    `only`: SQL that limits the rows that may not be replaced.
    """
    table = model._meta.db_table
    same = " AND ".join(f"{quoted(one)} = NEW.{quoted(one)}" for one in promise.columns)
    if only:
        same += f" AND {only}"
    applies = ""
    if promise.condition:
        # A promise under a condition binds rows that both meet it.
        same += f" AND ({promise.condition})"
        columns = [_column(model, one.name) for one in model._meta.concrete_fields]
        new = ", ".join(f"NEW.{quoted(one)} AS {quoted(one)}" for one in columns)
        applies = f" AND EXISTS (SELECT 1 FROM (SELECT {new}) WHERE {promise.condition})"
    says = f"an approved plan is never changed: {table}" if only else f"a record is never replaced: {table}"
    return (
        f"CREATE TRIGGER {quoted(name)} BEFORE INSERT ON {quoted(table)} "
        f"WHEN EXISTS (SELECT 1 FROM {quoted(table)} WHERE {same}){applies} BEGIN "
        f"SELECT RAISE(ABORT, 'UNIQUE constraint failed: {says}'); END"
    )


def _postgresql() -> dict[str, str]:
    made: dict[str, str] = {}
    for model in append_only_tables():
        table = model._meta.db_table
        name = f"{PREFIX}{table}_change"
        made[name] = (
            f"CREATE TRIGGER {quoted(name)} BEFORE UPDATE OR DELETE ON {quoted(table)} "
            f"FOR EACH ROW EXECUTE FUNCTION daybook_refuse_change()"
        )
        name = f"{PREFIX}{table}_truncate"
        made[name] = (
            f"CREATE TRIGGER {quoted(name)} BEFORE TRUNCATE ON {quoted(table)} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION daybook_refuse_change()"
        )
    for model, column in _plan_models():
        table = model._meta.db_table
        name = f"{PREFIX}{table}_change"
        made[name] = (
            f"CREATE TRIGGER {quoted(name)} BEFORE INSERT OR UPDATE OR DELETE ON {quoted(table)} "
            f"FOR EACH ROW EXECUTE FUNCTION daybook_refuse_plan_change('{column}')"
        )
        name = f"{PREFIX}{table}_truncate"
        made[name] = (
            f"CREATE TRIGGER {quoted(name)} BEFORE TRUNCATE ON {quoted(table)} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION daybook_refuse_change()"
        )
    return made


_FUNCTIONS = (
    """
    CREATE OR REPLACE FUNCTION daybook_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'a record is never changed: %', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    """
    CREATE OR REPLACE FUNCTION daybook_refuse_plan_change() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        version uuid;
    BEGIN
        IF TG_OP IN ('UPDATE', 'DELETE') THEN
            version := (to_jsonb(OLD) ->> TG_ARGV[0])::uuid;
            IF EXISTS (SELECT 1 FROM records_planapproval WHERE version_id = version) THEN
                RAISE EXCEPTION 'an approved plan is never changed: %', TG_TABLE_NAME
                    USING ERRCODE = 'integrity_constraint_violation';
            END IF;
        END IF;
        IF TG_OP IN ('INSERT', 'UPDATE') THEN
            version := (to_jsonb(NEW) ->> TG_ARGV[0])::uuid;
            IF EXISTS (SELECT 1 FROM records_planapproval WHERE version_id = version) THEN
                RAISE EXCEPTION 'an approved plan is never changed: %', TG_TABLE_NAME
                    USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            RETURN NEW;
        END IF;
        RETURN OLD;
    END $$
    """,
)


def present(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The names and texts of our triggers that stand on our tables (PostgreSQL: only those enabled)."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s", [PREFIX + "%"]
            )
        else:
            # On the tables that a query finds by these names, which need not be those of the first schema.
            cursor.execute(
                "SELECT tgname, pg_get_triggerdef(oid, true) FROM pg_trigger WHERE tgname LIKE %s "
                "AND tgenabled IN ('O', 'A') AND tgrelid = ANY(SELECT to_regclass(one) FROM unnest(%s::text[]) one)",
                [PREFIX + "%", [quoted(one) for one in tables()]],
            )
        return dict(cursor.fetchall())


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """What should stand in the database and does not, or says something else: triggers, and PostgreSQL's functions."""
    standing = present(connection)
    wanted = statements(connection.vendor)
    if connection.vendor == "sqlite":
        return sorted(name for name, text in wanted.items() if standing.get(name) != text)
    absent = [name for name, text in wanted.items() if _plainly(standing.get(name, "")) != _plainly(text)]
    with connection.cursor() as cursor:
        # Whatever schema it is in: a trigger may call any of them.
        cursor.execute("SELECT proname, prosrc FROM pg_proc WHERE proname = ANY(%s)", [list(_functions())])
        found = cursor.fetchall()
    for name, text in _functions().items():
        if {body for one, body in found if one == name} != {_body(text)}:
            absent.append(f"{name}()")
    return sorted(absent)


def _functions() -> dict[str, str]:
    return {text.split("FUNCTION ")[1].split("(")[0]: text for text in _FUNCTIONS}


def _body(function: str) -> str:
    return function.split("$$")[1]


def _plainly(definition: str) -> str:
    """A trigger's definition as both we and PostgreSQL would write it: no quotes, no schema, events in its order."""
    text = definition.replace('"', "")
    return re.sub(r" ON \w+\.", " ON ", text).replace("UPDATE OR DELETE", "DELETE OR UPDATE")


def standing_check(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """System check: the triggers stand. A warning, not an error: `migrate`, which puts them back, must run."""
    found: list[CheckMessage] = []
    for using in databases or []:
        connection = connections[using]
        if tables() <= set(connection.introspection.table_names()) and (absent := missing(connection)):
            found.append(
                CheckWarning(
                    f"{len(absent)} of the triggers that keep records are missing from database {using!r}: "
                    f"{', '.join(absent[:3])}{' …' if absent[3:] else ''}",
                    hint="Find out who removed them. `manage.py migrate` puts them back; `manage.py verify` tells "
                    "whether anything was changed meanwhile.",
                    id="records.W001",
                )
            )
    return found


def install(connection: BaseDatabaseWrapper) -> None:
    """Make every trigger that is missing."""
    absent = missing(connection)
    if not absent:
        return
    wanted = statements(connection.vendor)
    table_of = {name: table for table in tables() for name in wanted if f' ON "{table}"' in wanted[name]}
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for function in _FUNCTIONS:
                cursor.execute(function)
        for name in absent:
            if name not in wanted:
                continue
            on = "" if connection.vendor == "sqlite" else f" ON {quoted(table_of[name])}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {quoted(name)}{on}")
            cursor.execute(wanted[name])


def tables() -> set[str]:
    """Every table that is kept: the records', and those of plan versions."""
    guarded = [*append_only_tables(), *(model for model, _ in _plan_models())]
    return {model._meta.db_table for model in guarded}


def install_after_migrate(using: str = "default", **_: Any) -> None:
    """post_migrate: the tables of both apps stand by then (plant is listed first)."""
    connection = connections[using]
    if tables() <= set(connection.introspection.table_names()):
        install(connection)
