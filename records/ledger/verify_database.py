"""Verification, third part: the database under the records. What it says wrongly, pages do not show.

Whether nothing else acts on the tables; whether columns and unique promises are as the migrations made them. On SQLite
also whether the indexes give every row, and whether each value stands in the one form that the daybook writes: a time
with a T for its space means the same to a reader, but no page that asks for a day finds it.
"""

from __future__ import annotations

from django.db import connection, models

from records.ledger import triggers
from records.ledger.findings import Findings
from records.ledger.foreign import foreign
from records.ledger.registry import append_only_tables

_SHOWN = 50
_DAY = "[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]"
_TIME = f"{_DAY} [0-9][0-9]:[0-9][0-9]:[0-9][0-9]"
_MICROSECONDS = "." + 6 * "[0-9]"
_HEX_ONLY = "NOT GLOB '*[^0-9a-f]*'"


def check_database(found: Findings) -> None:
    """Everything that this file is about; nothing is changed."""
    for what in foreign(connection):
        found.add("foreign", None, f"{what} is not the daybook's: it could drop, add or hide records")
    standing = {"sqlite": _sqlite_tables, "postgresql": _postgresql_tables}[connection.vendor]()
    for model in append_only_tables():
        columns, unique = standing.get(model._meta.db_table, ({}, []))
        _check_columns(model, columns, found)
        _check_promises(model, unique, found)
        if connection.vendor == "sqlite":
            _check_forms(model, found)
    if connection.vendor == "sqlite":
        _check_pages(found)


# Of each table: its columns with their types, and the columns of each unique index.
_Standing = dict[str, tuple[dict[str, str], list[set[str]]]]


def _check_columns(model: type[models.Model], columns: dict[str, str], found: Findings) -> None:
    table = model._meta.db_table
    for field in model._meta.concrete_fields:
        wanted = _plainly(field.db_type(connection) or "")
        if (standing := columns.get(str(field.column), "none")) != wanted:
            found.add("column", None, f"the column {field.column} of {table} is {standing}, it was made {wanted}")


def _check_promises(model: type[models.Model], unique: list[set[str]], found: Findings) -> None:
    for promise in triggers.promises(model):
        # A promise under a condition has its own guard on SQLite and none of the records has one on PostgreSQL.
        if not promise.condition and set(promise.columns) not in unique:
            names = ", ".join(promise.columns)
            found.add("column", None, f"{model._meta.db_table} no longer promises that {names} comes only once")


def _plainly(type_: str) -> str:
    return type_.lower().replace("character varying", "varchar").replace(" ", "")


def _sqlite_tables() -> _Standing:
    found: _Standing = {}
    with connection.cursor() as cursor:
        for model in append_only_tables():
            table = model._meta.db_table
            cursor.execute(f"PRAGMA table_info({triggers.quoted(table)})")
            columns = cursor.fetchall()
            unique = [{name for _, name, *_, key in columns if key}]
            cursor.execute(f"PRAGMA index_list({triggers.quoted(table)})")
            for _, index, is_unique, _, partial in cursor.fetchall():
                if is_unique and not partial:
                    cursor.execute(f"PRAGMA index_info({triggers.quoted(index)})")
                    unique.append({name for _, _, name in cursor.fetchall()})
            found[table] = {name: _plainly(type_) for _, name, type_, *_ in columns}, unique
    return found


def _postgresql_tables() -> _Standing:
    found: _Standing = {model._meta.db_table: ({}, []) for model in append_only_tables()}
    tables = [triggers.quoted(one) for one in found]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT attrelid::regclass::text, attname, format_type(atttypid, atttypmod) FROM pg_attribute "
            "WHERE attrelid = ANY(SELECT to_regclass(one) FROM unnest(%s::text[]) one) AND attnum > 0 "
            "AND NOT attisdropped",
            [tables],
        )
        for table, column, type_ in cursor.fetchall():
            found[table][0][column] = _plainly(type_)
        cursor.execute(
            "SELECT indrelid::regclass::text, array_agg(attname::text) FROM pg_index "
            "JOIN pg_attribute ON attrelid = indrelid AND attnum = ANY(indkey) "
            "WHERE indrelid = ANY(SELECT to_regclass(one) FROM unnest(%s::text[]) one) "
            "AND indisunique AND indisvalid AND indpred IS NULL GROUP BY indexrelid, indrelid",
            [tables],
        )
        for table, columns in cursor.fetchall():
            found[table][1].append(set(columns))
    return found


# --- SQLite


def _check_pages(found: Findings) -> None:
    """SQLite's own check: an index that lacks a row hides it from whoever asks by that index."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        for (said,) in cursor.fetchall():
            if said != "ok":
                found.add("database", None, f"the database's own check says: {said}")


def _check_forms(model: type[models.Model], found: Findings) -> None:
    table = model._meta.db_table
    columns = [(field, str(field.column)) for field in model._meta.concrete_fields]
    forms = {column: _form(field, triggers.quoted(column)) for field, column in columns}
    key = "number" if "number" in forms else "id"
    flags, all_of = ", ".join(forms.values()), " AND ".join(forms.values())
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {key}, {flags} FROM {triggers.quoted(table)} WHERE NOT ({all_of}) LIMIT {_SHOWN}")
        for number, *right in cursor.fetchall():
            names = ", ".join(name for name, good in zip(forms, right, strict=True) if good == 0)
            entry = number if key == "number" and isinstance(number, int) else None
            where = f"entry {number}" if key == "number" else f"row {number}"
            found.add("form", entry, f"{where}: {table} holds {names} in another form than the daybook writes")


def _form(field: models.Field[object, object], column: str) -> str:
    """The form of a column's values as the daybook writes them: an SQL condition that a NULL never fails."""
    if isinstance(field, models.UUIDField):
        return f"(typeof({column}) IN ('null', 'text') AND length({column}) = 32 AND {column} {_HEX_ONLY})"
    if isinstance(field, models.DateTimeField):
        whole = f"{column} GLOB '{_TIME}' OR {column} GLOB '{_TIME}{_MICROSECONDS}'"
        return f"(typeof({column}) IN ('null', 'text') AND ({whole}))"
    if isinstance(field, models.DateField):
        return f"(typeof({column}) IN ('null', 'text') AND {column} GLOB '{_DAY}')"
    if isinstance(field, models.BooleanField):
        return f"(typeof({column}) IN ('null', 'integer') AND coalesce({column}, 0) IN (0, 1))"
    if isinstance(field, models.IntegerField):
        return f"(typeof({column}) IN ('null', 'integer'))"
    if isinstance(field, models.DecimalField):
        return f"(typeof({column}) IN ('null', 'integer', 'real'))"
    kept_as = "blob" if isinstance(field, models.BinaryField) else "text"
    return f"(typeof({column}) IN ('null', '{kept_as}'))"
