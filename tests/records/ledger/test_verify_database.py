"""The database taken in hand: what is put on its tables, what its indexes leave out, values in another form.

None of it changes what an entry says, so the contents alone would not show it; but pages would miss records.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.checks import Tags, run_checks
from django.db import connection

from records.ledger.models import Entry
from records.ledger.verify import Report, verify
from tests.records.ledger.conftest import append
from tests.records.ledger.scratch import Scratch

Tampered = Callable[..., Report]
DASHED = "substr({0},1,8)||'-'||substr({0},9,4)||'-'||substr({0},13,4)||'-'||substr({0},17,4)||'-'||substr({0},21)"


def run(*statements: str) -> None:
    """SQL, as somebody with the database in hand types it."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for one in statements:
            cursor.execute(one)


def kinds(report: Report) -> set[str]:
    """The kinds of what was found."""
    return {one.kind for one in report.found}


# --- what is put on the tables


@pytest.mark.sqlite_only
def test_trigger_that_swallows_every_record_is_named(db: None) -> None:
    """RAISE(IGNORE) skips the INSERT without an error: records are acknowledged and not there; `check` warns too."""
    append(4, ("reading",))
    for table in ("records_reading", "records_entry"):
        run(f"CREATE TRIGGER aside_{table} BEFORE INSERT ON {table} BEGIN SELECT RAISE(IGNORE); END")
    append(1, ("reading",), first=5)
    assert Entry.objects.count() == 4  # nothing said that it was lost
    assert ["aside_records_entry" in one.sentence for one in verify().found] == [True, False]
    (warning,) = run_checks(tags=[Tags.database], databases=["default"])
    assert warning.id == "records.W002" and "aside_records_reading" in warning.msg


FOREIGN = {
    "trigger": (
        "CREATE FUNCTION aside() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
        "CREATE TRIGGER aside BEFORE INSERT ON records_reading FOR EACH ROW EXECUTE FUNCTION aside()",
    ),
    "rule": ("CREATE RULE aside AS ON INSERT TO records_reading DO INSTEAD NOTHING",),
    "row security": ("ALTER TABLE records_reading ENABLE ROW LEVEL SECURITY",),
    "part of records_reading": ("CREATE TABLE aside () INHERITS (records_reading)",),
    "replica": ("SET LOCAL session_replication_role = replica",),
}


@pytest.mark.postgres_only
@pytest.mark.parametrize("what", FOREIGN)
def test_whatever_acts_on_a_table_beside_our_triggers_is_named(db: None, what: str) -> None:
    """A trigger or rule drops rows, a policy hides them, a child table's rows are guarded by nothing."""
    append(4, ("reading",))
    run(*FOREIGN[what])
    (found,) = verify().found
    assert found.kind == "foreign" and what in found.sentence


@pytest.mark.postgres_only
def test_table_of_the_same_name_in_an_earlier_schema_has_no_triggers(db: None) -> None:
    """What a query finds by the name is what counts, not that the triggers stand on some table of that name."""
    append(4, ("reading",))
    run(
        "CREATE SCHEMA aside",
        "SET LOCAL search_path = aside, public",
        "CREATE TABLE aside.records_reading (LIKE public.records_reading INCLUDING ALL)",
        "INSERT INTO aside.records_reading SELECT * FROM public.records_reading",
    )
    assert {one.sentence.split(" is ")[0] for one in verify().found} == {
        "the trigger daybook_keep_records_reading_change",
        "the trigger daybook_keep_records_reading_truncate",
    }


@pytest.mark.postgres_only
@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("DROP CONSTRAINT a_form_is_saved_once_a_person", "no longer promises that by_id, form_id"),
        ("ALTER COLUMN value TYPE text", "the column value of records_reading is text, it was made numeric(15,4)"),
    ],
)
def test_table_made_otherwise_is_named(db: None, change: str, says: str) -> None:
    """Without the promise a form could be saved twice; numbers kept as text sort as text."""
    append(4, ("reading",))
    run(f"ALTER TABLE records_reading {change}")
    assert [says in one.sentence for one in verify().found] == [True]


# --- SQLite: the schema written by hand, indexes that leave rows out


def by_hand(file: Path, *statements: tuple[str, list[str]]) -> None:
    """Statements on the schema itself (https://sqlite.org/pragma.html#pragma_writable_schema)."""
    base = sqlite3.connect(file, isolation_level=None)
    base.execute("PRAGMA writable_schema=ON")
    for sql, values in statements:
        base.execute(sql, values)
    (version,) = base.execute("PRAGMA schema_version").fetchone()
    base.execute(f"PRAGMA schema_version={version + 1}")
    base.close()


def made(scratch: Scratch) -> Path:
    """The file of a ledger with a few records."""
    done = scratch.python("from tests.records.ledger.conftest import append; append(12, ('reading',))")
    assert done.returncode == 0, done.stderr
    return Path(scratch.url.removeprefix("sqlite:///"))


@pytest.mark.sqlite_only
def test_index_that_leaves_a_reading_out_is_named(scratch: Scratch) -> None:
    """Made with a condition, then written as if it had none: whoever asks by time no longer finds the reading."""
    file, name = made(scratch), "records_reading_observed_at_3d81b38b"
    base = sqlite3.connect(file, isolation_level=None)
    (whole,) = base.execute("SELECT sql FROM sqlite_master WHERE name = ?", [name]).fetchone()
    base.execute(f"DROP INDEX {name}")
    base.execute(f"{whole} WHERE number <> 5")
    base.close()
    by_hand(file, ("UPDATE sqlite_master SET sql = ? WHERE name = ?", [whole, name]))
    base = sqlite3.connect(file)
    asked = base.execute("SELECT number FROM records_reading WHERE observed_at > '2000'").fetchall()
    base.close()
    assert (5,) not in asked and len(asked) == 11
    done = scratch.manage("verify")
    assert done.returncode == 1 and f"missing from index {name}" in done.stdout


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("BEFORE UPDATE ON", "BEFORE UPDATE OF act ON", "daybook_keep_records_reading_update"), "was changed"),
        (('"value" decimal', '"value" text', "records_reading"), "the column value of records_reading is text"),
        (("CREATE TRIGGER", "CREATE TRIGER", "daybook_keep_records_reading_update"), "cannot be read through"),
    ],
)
def test_schema_written_by_hand_is_named(scratch: Scratch, change: tuple[str, str, str], says: str) -> None:
    """A weaker trigger, another type of column; a schema that SQLite cannot read is one sentence and status 1."""
    before, after, name = change
    by_hand(made(scratch), ("UPDATE sqlite_master SET sql = replace(sql, ?, ?) WHERE name = ?", [before, after, name]))
    done = scratch.manage("verify")
    assert done.returncode == 1 and says in done.stdout + done.stderr and "Traceback" not in done.stderr


# --- SQLite: the same value in another form


FORMS = {
    "observed_at": "replace(observed_at, ' ', 'T')",
    "received_at": "strftime('%Y-%m-%d %H:%M:', received_at, '+5 hours') || substr(received_at, 18) || '+05:00'",
    "calibration_due": "strftime('%Y%m%d', calibration_due)",
    "form_id": DASHED.format("form_id"),
    "amends": "amends + 0.5",
    "agitator_ran": "CASE agitator_ran WHEN 1 THEN 'True' ELSE 'False' END",
}


@pytest.mark.sqlite_only
@pytest.mark.parametrize("column", FORMS)
def test_same_value_in_another_form_is_named(tampered: Tampered, column: str) -> None:
    """What a reader takes for the same, no query finds: a day's readings, a form that was saved before."""
    append(12, ("reading",))
    report = tampered(lambda: run(f"UPDATE records_reading SET {column} = {FORMS[column]} WHERE number = 8"))
    form = next(one for one in report.found if one.kind == "form")
    assert form.entry == 8 and column in form.sentence


@pytest.mark.sqlite_only
def test_ids_dashed_on_both_sides_are_named(tampered: Tampered) -> None:
    """Row and entry agree, and no page that follows a link finds the record."""
    append(4, ("reading",))

    def change() -> None:
        run(f"UPDATE records_reading SET id = {DASHED.format('id')} WHERE number = 2")
        run(f"UPDATE records_entry SET record = {DASHED.format('record')} WHERE number = 2")

    assert {(one.kind, one.entry) for one in tampered(change).found} == {("form", 2)}


@pytest.mark.sqlite_only
def test_content_as_bytes_does_not_stop_the_verification(tampered: Tampered) -> None:
    """SQLite takes bytes into a column of text: the entry is named, the others are looked at."""
    append(6, ("reading",))
    report = tampered(lambda: run("UPDATE records_entry SET content = CAST(content AS BLOB) WHERE number = 3"))
    assert {one.entry for one in report.found} == {3} and "form" in kinds(report)


@pytest.mark.sqlite_only
def test_damaged_file_is_one_sentence(scratch: Scratch) -> None:
    """Cut off in the middle, as a full disk leaves it: no traceback, and what to do."""
    file = made(scratch)
    with file.open("r+b") as opened:
        opened.truncate(file.stat().st_size // 2)
    done = scratch.manage("verify")
    assert done.returncode == 1 and "restore a backup beside it" in done.stderr and "Traceback" not in done.stderr


def test_untouched_database_has_nothing_foreign(db: None) -> None:
    """Neither do the migrations leave anything that verification would name."""
    append(12)
    assert verify().good and run_checks(tags=[Tags.database], databases=["default"]) == []
