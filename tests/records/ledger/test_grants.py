"""The server's role on PostgreSQL appends records and cannot change, remove or unguard them."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from plant.people.models import Person
from records.ledger import triggers
from records.ledger.grants import statements
from records.ledger.models import Entry
from records.ledger.registry import append_only_tables
from records.ledger.verify import verify
from tests.records.ledger.conftest import append

TABLES = sorted(model._meta.db_table for model in append_only_tables())


@pytest.fixture
def role(db: None) -> Iterator[str]:
    """A role of the server, granted what the command grants; the connection acts as it. All undone by the rollback."""
    name = f"daybook_{uuid.uuid4().hex[:8]}"
    append(3)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE ROLE {name} NOSUPERUSER")
        call_command("grants", name, "--apply", stdout=StringIO())
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(f"SET LOCAL ROLE {name}")
        yield name
        cursor.execute("RESET ROLE")


def refused(sql: str) -> str:
    """What the database says as it refuses the statement."""
    with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    return str(caught.value)


@pytest.mark.postgres_only
def test_the_role_appends_records(role: str) -> None:
    """Through the same acts, up to the first stored subtree; and it can verify."""
    append(260, first=100)
    assert Entry.objects.count() == 263
    assert verify().good


@pytest.mark.postgres_only
@pytest.mark.parametrize("table", TABLES)
def test_the_role_cannot_change_records(role: str, table: str) -> None:
    """Neither UPDATE, DELETE nor TRUNCATE: for want of a right, before any trigger."""
    column = "number" if table != "records_subtree" else "level"
    for sql in (f"UPDATE {table} SET {column} = 1", f"DELETE FROM {table}", f"TRUNCATE {table}"):
        assert "permission denied" in refused(sql), sql


@pytest.mark.postgres_only
def test_the_role_cannot_remove_what_guards_records(role: str) -> None:
    """Triggers and functions belong to another role, and so does the setting that passes them by."""
    trigger = next(name for name in triggers.statements("postgresql") if "records_entry" in name)
    for sql in (
        "ALTER TABLE records_entry DISABLE TRIGGER ALL",
        f'DROP TRIGGER "{trigger}" ON records_entry',
        "DROP TABLE records_entry CASCADE",
        "DROP FUNCTION daybook_refuse_change() CASCADE",
        "CREATE OR REPLACE FUNCTION daybook_refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "'BEGIN RETURN NEW; END'",
    ):
        said = refused(sql)
        assert "must be owner" in said or "permission denied" in said, said
    assert "permission denied" in refused("SET session_replication_role = replica")


@pytest.mark.postgres_only
def test_the_role_may_read_all_that_a_backup_holds(role: str) -> None:
    """pg_dump reads every table and every sequence."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname, has_table_privilege(oid, 'SELECT') FROM pg_class "
            "WHERE relkind IN ('r', 'S') AND relnamespace = 'public'::regnamespace"
        )
        read = dict(cursor.fetchall())
    assert len(read) > 30 and all(read.values()), [name for name, may in read.items() if not may]


@pytest.mark.postgres_only
def test_the_role_works_on_the_other_tables(role: str) -> None:
    """People, sessions, drafts and the outbox are no records."""
    person = Person.objects.create(sign_in="x", name="X", initials="X")
    Person.objects.filter(pk=person.pk).update(name="Y")
    person.delete()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_session")
        cursor.execute("DELETE FROM records_notice")
        cursor.execute("SELECT count(*) FROM django_migrations")


@pytest.mark.postgres_only
def test_printed_statements_are_those_carried_out(db: None) -> None:
    """One to a line, ending in a semicolon."""
    out = StringIO()
    call_command("grants", "somebody", stdout=out)
    assert out.getvalue().splitlines() == [f"{line};" for line in statements("somebody")]


@pytest.mark.postgres_only
def test_a_role_that_is_not_there_is_one_sentence(db: None) -> None:
    """And so are quotes in its name."""
    for name in ("nobody_of_that_name", 'x"; DROP TABLE records_entry; --'):
        with pytest.raises(CommandError, match="There is no role"):
            call_command("grants", name, "--apply")


@pytest.mark.sqlite_only
def test_sqlite_has_no_roles(db: None) -> None:
    """The command says so."""
    with pytest.raises(CommandError, match="SQLite knows no roles"):
        call_command("grants", "somebody")
