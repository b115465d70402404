"""The database itself refuses every change to a record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.checks import Tags, run_checks
from django.core.management import call_command
from django.db import DatabaseError, IntegrityError, connection, models, transaction

from plant.hazard_plan.models import PlanVersion, ProcessStep
from records.ledger import triggers
from records.ledger.actions import act
from records.ledger.models import Entry, Subtree
from records.ledger.registry import append_only_tables, kinds
from records.ledger.triggers import Promise, promises
from tests.records.ledger.conftest import SOMEBODY, append
from tests.records.ledger.made import made_row

pytestmark = pytest.mark.django_db
TABLES = sorted(model._meta.db_table for model in append_only_tables())


def model_of(table: str) -> type[models.Model]:
    """The model of an append-only table."""
    return next(model for model in append_only_tables() if model._meta.db_table == table)


def one_row(table: str, without: str = "") -> dict[str, Any]:
    """A row of the table, inserted, one column of it empty if so asked; its columns as the database holds them."""
    model = model_of(table)
    if issubclass(model, Entry):
        append(1)
    elif issubclass(model, Subtree):
        Subtree(level=8, index=0, root="00" * 32).save(force_insert=True)
    else:
        row = made_row(model.KIND)  # type: ignore[attr-defined]
        if without:
            setattr(row, without, None)
        row.save(force_insert=True)
    return stored(table)[0]


def stored(table: str) -> list[dict[str, Any]]:
    """All rows of the table."""
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT * FROM "{table}"')
        names = [one[0] for one in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def refused(sql: str, values: list[Any] | None = None) -> str:
    """What the database says as it refuses the statement."""
    with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)
    return str(caught.value)


@pytest.mark.parametrize("table", TABLES)
def test_update_and_delete_are_refused(table: str) -> None:
    """On every append-only table, by plain SQL."""
    before = one_row(table)
    column = model_of(table)._meta.concrete_fields[1].column
    assert "never changed" in refused(f'UPDATE "{table}" SET "{column}" = "{column}"')
    assert "never changed" in refused(f'DELETE FROM "{table}"')
    assert stored(table) == [before]


@pytest.mark.postgres_only
@pytest.mark.parametrize("table", TABLES)
def test_truncate_is_refused(table: str) -> None:
    """TRUNCATE passes row triggers by; a statement trigger refuses it."""
    one_row(table)
    assert "never changed" in refused(f'TRUNCATE "{table}" CASCADE')


PROMISES = [
    (model._meta.db_table, at, promise) for model in append_only_tables() for at, promise in enumerate(promises(model))
]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("table", "at", "promise"), PROMISES, ids=lambda one: str(getattr(one, "columns", one)))
def test_replace_is_refused_for_every_unique_promise(table: str, at: int, promise: Promise) -> None:
    """INSERT OR REPLACE that collides in the columns of one promise alone finds a guard."""
    row = one_row(table, promise.condition.removesuffix(" IS NULL").strip('"'))
    model = model_of(table)
    values = {**row, **_elsewhere(model, keep=promise.columns, row=row)}
    names = ", ".join(f'"{one}"' for one in values)
    marks = ", ".join(["%s"] * len(values))
    said = refused(f'INSERT OR REPLACE INTO "{table}" ({names}) VALUES ({marks})', list(values.values()))
    assert "never replaced" in said
    assert stored(table) == [row]


def _elsewhere(model: type[models.Model], keep: tuple[str, ...], row: dict[str, Any]) -> dict[str, Any]:
    """Other values for the columns of all other promises, so that these do not collide."""
    changed = {}
    for promise in promises(model):
        for column in promise.columns:
            value = row[column]
            if column not in keep and value is not None:  # nothing collides with nothing
                changed[column] = value + 1000 if isinstance(value, int) else "f" * 32
    return changed


@pytest.mark.sqlite_only
@pytest.mark.parametrize("table", [table for table in TABLES if table != Subtree._meta.db_table])
def test_replace_by_hidden_row_number_is_refused(table: str) -> None:
    """A table without a whole-number key has a rowid that REPLACE could strike by."""
    row = one_row(table)
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT rowid FROM "{table}"')
        (rowid,) = cursor.fetchone()
    values = {"rowid": rowid, **row, **_elsewhere(model_of(table), keep=(), row=row)}
    names, marks = ", ".join(f'"{one}"' for one in values), ", ".join(["%s"] * len(values))
    said = refused(f'INSERT OR REPLACE INTO "{table}" ({names}) VALUES ({marks})', list(values.values()))
    assert "never replaced" in said
    assert stored(table) == [row]


@pytest.mark.sqlite_only
def test_every_unique_index_of_the_database_is_a_promise() -> None:
    """The guards are made from the models; the database has no unique index that they do not know."""
    for model in append_only_tables():
        table = model._meta.db_table
        known = {frozenset(promise.columns) for promise in promises(model)}
        with connection.cursor() as cursor:
            cursor.execute(f'PRAGMA index_list("{table}")')
            unique = [row[1] for row in cursor.fetchall() if row[2]]
            for name in unique:
                cursor.execute(f'PRAGMA index_info("{name}")')
                assert frozenset(row[2] for row in cursor.fetchall()) in known, (table, name)


class OneOpen(models.Model):
    """A table with a unique promise under a condition, made for the test."""

    place = models.CharField(max_length=10)
    shut = models.BooleanField()

    class Meta:
        app_label = "ledger_tests"
        constraints = [
            models.UniqueConstraint(fields=["place"], condition=models.Q(shut=False), name="one_open_a_place")
        ]


@pytest.fixture
def one_open(db: None) -> Iterator[type[models.Model]]:
    """The table, with the guard of its conditional promise."""
    with connection.cursor() as cursor:
        for sql in (
            'CREATE TABLE "ledger_tests_oneopen" ("id" integer PRIMARY KEY, "place" text, "shut" bool)',
            'CREATE UNIQUE INDEX "one_open" ON "ledger_tests_oneopen" ("place") WHERE NOT "shut"',
            triggers._replace_guard("guard", OneOpen, promises(OneOpen)[1]),
        ):
            cursor.execute(sql)
    yield OneOpen


@pytest.mark.sqlite_only
def test_a_conditional_promise_is_guarded_where_it_holds(one_open: type[models.Model]) -> None:
    """REPLACE is refused where the condition holds for both rows, and nothing else is."""
    insert = 'INSERT OR REPLACE INTO "ledger_tests_oneopen" VALUES (%s, %s, %s)'
    with connection.cursor() as cursor:
        cursor.execute(insert, [1, "A", False])
        cursor.execute(insert, [2, "A", True])
        cursor.execute(insert, [3, "A", True])
        cursor.execute(insert, [4, "B", False])
    assert "never replaced" in refused(insert, [5, "A", False])
    assert one_open._default_manager.count() == 4


def test_a_second_row_for_a_promise_is_an_integrity_error() -> None:
    """Callers tell a broken promise from other trouble, on both databases."""
    append(1, ("lot",))
    with pytest.raises(IntegrityError), act(SOMEBODY) as a:
        a.write(made_row("lot", 1))


# --- plans


@pytest.fixture
def approved(db: None) -> PlanVersion:
    """A version with a step, approved."""
    version = PlanVersion.objects.create(number=1, title="Plan", header={}, made_at=made_row("lot").observed_at)
    ProcessStep.objects.create(version=version, key="a", place=1, number=1, name="Receiving")
    made_row("plan approval", version_id=version.id).save(force_insert=True)
    return version


def test_a_draft_is_edited_freely() -> None:
    """Without an approval, rows of a version change and go."""
    version = PlanVersion.objects.create(number=1, title="Plan", header={}, made_at=made_row("lot").observed_at)
    step = ProcessStep.objects.create(version=version, key="a", place=1, number=1, name="Receiving")
    step.name = "Storage"
    step.save()
    version.delete()
    assert not ProcessStep.objects.exists()


def test_an_approved_version_is_frozen(approved: PlanVersion) -> None:
    """Neither it nor a row under it changes, goes, or comes."""
    for table in ("plant_planversion", "plant_processstep"):
        assert "approved plan" in refused(f"UPDATE {table} SET number = 9")
        assert "approved plan" in refused(f"DELETE FROM {table}")
    with pytest.raises(IntegrityError, match="approved plan"), transaction.atomic():
        ProcessStep.objects.create(version=approved, key="b", place=2, number=2, name="Storage")


def test_a_row_cannot_move_under_an_approved_version(approved: PlanVersion) -> None:
    """Nor can a draft's row be moved there."""
    draft = PlanVersion.objects.create(number=2, title="Plan", header={}, made_at=approved.made_at)
    step = ProcessStep.objects.create(version=draft, key="b", place=1, number=1, name="Storage")
    step.version = approved
    with pytest.raises(IntegrityError, match="approved plan"), transaction.atomic():
        step.save()


@pytest.mark.sqlite_only
def test_replace_cannot_take_an_approved_row_away(approved: PlanVersion) -> None:
    """INSERT OR REPLACE under a draft, but with the key, number or row number of an approved row, is refused."""
    draft = PlanVersion.objects.create(number=2, title="Plan", header={}, made_at=approved.made_at)
    step = stored("plant_processstep")[0]
    for changed in ({"version_id": draft.id.hex}, {"version_id": draft.id.hex, "id": "f" * 32, "rowid": 1}):
        values = {**step, **changed}
        names, marks = ", ".join(f'"{one}"' for one in values), ", ".join(["%s"] * len(values))
        said = refused(f"INSERT OR REPLACE INTO plant_processstep ({names}) VALUES ({marks})", list(values.values()))
        assert "approved plan" in said
    version = {**next(one for one in stored("plant_planversion") if one["number"] == 1), "id": "f" * 32}
    names, marks = ", ".join(f'"{one}"' for one in version), ", ".join(["%s"] * len(version))
    said = refused(f"INSERT OR REPLACE INTO plant_planversion ({names}) VALUES ({marks})", list(version.values()))
    assert "approved plan" in said
    assert stored("plant_processstep") == [step]


# --- that they stand


def test_a_missing_trigger_is_a_warning_of_the_system_check() -> None:
    """`manage.py check --database default` names it; a whole set says nothing."""
    assert run_checks(tags=[Tags.database], databases=["default"]) == []
    name = next(iter(triggers.statements(connection.vendor)))
    table = "records_entry" if "records_entry" in name else name.removeprefix(triggers.PREFIX).rsplit("_", 1)[0]
    with connection.cursor() as cursor:
        cursor.execute(f'DROP TRIGGER "{name}"' + (f" ON {table}" if connection.vendor == "postgresql" else ""))
    (warning,) = run_checks(tags=[Tags.database], databases=["default"])
    assert warning.id == "records.W001" and name in warning.msg


@pytest.mark.django_db(transaction=True)
def test_migrate_restores_what_a_table_rebuild_dropped() -> None:
    """AlterField on SQLite makes the table anew, without its triggers; post_migrate puts them back."""
    model: Any = kinds()["reading note"]
    old: Any = model._meta.get_field("text")
    new = models.CharField(max_length=9000)
    new.set_attributes_from_name("text")
    new.model = model
    with connection.schema_editor() as editor:
        editor.alter_field(model, old, new)
    try:
        if connection.vendor == "sqlite":
            assert [one for one in triggers.missing(connection) if "readingnote" in one]
        call_command("migrate", verbosity=0)
        assert triggers.missing(connection) == []
    finally:
        with connection.schema_editor() as editor:
            editor.alter_field(model, new, old)
        call_command("migrate", verbosity=0)
    assert triggers.missing(connection) == []
