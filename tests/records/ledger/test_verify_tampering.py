"""Whoever has the whole database in hand and changes it is found out, and the entry is named. On both databases."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection

from records.ledger import merkle, triggers
from records.ledger.canonical import canonical
from records.ledger.models import Entry, Record, Subtree
from records.ledger.registry import kinds, text_of
from records.ledger.verify import Report, verify
from tests.records.ledger.conftest import append, triggers_away
from tests.records.ledger.made import made_row

Tampered = Callable[..., Report]


def named(report: Report) -> set[tuple[str, int | None]]:
    """What was found, as (kind of finding, entry)."""
    return {(one.kind, one.entry) for one in report.found}


def row_of(number: int) -> Record:
    """The typed row of an entry."""
    return kinds()[Entry.objects.get(number=number).kind]._default_manager.get(number=number)


def edit_row(number: int, **columns: object) -> None:
    """UPDATE a typed row."""
    type(row_of(number))._default_manager.filter(number=number).update(**columns)


def rewrite(number: int, **columns: object) -> None:
    """Change row, content and leaf so that they agree."""
    edit_row(number, **columns)
    text = text_of(row_of(number))
    leaf = merkle.leaf_hash(text.encode()).hex()
    Entry.objects.filter(number=number).update(content=text, leaf=leaf)


def test_an_untouched_ledger_fits(db: None) -> None:
    """Nothing differs in a ledger that only actions wrote; count and head are those of its leaves."""
    append(10)
    report = verify()
    assert report.good and report.count == 10
    leaves = [bytes.fromhex(leaf) for leaf in Entry.objects.values_list("leaf", flat=True)]
    assert report.head == merkle.root(leaves).hex()


def test_an_empty_ledger_has_the_head_of_nothing(db: None) -> None:
    """SHA-256 of no bytes, as RFC 6962 section 2.1 says."""
    report = verify()
    assert report.good and report.head == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_a_removed_trigger_is_reported(db: None) -> None:
    """A trigger that is away is named, even if nothing was changed."""
    append(3)
    name = next(name for name in triggers.statements(connection.vendor) if "records_reading" in name)
    with connection.cursor() as cursor:
        cursor.execute(f'DROP TRIGGER "{name}"' + (" ON records_reading" if connection.vendor == "postgresql" else ""))
    assert [one.kind for one in verify().found] == ["trigger"]
    assert name in verify().found.kept[0].sentence


@pytest.mark.postgres_only
def test_a_hollowed_trigger_function_is_reported(db: None) -> None:
    """Triggers that stand but call a function that lets everything through are no triggers."""
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE OR REPLACE FUNCTION daybook_refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN NEW; END $$"
        )
    assert "daybook_refuse_change()" in verify().found.kept[0].sentence


@pytest.mark.postgres_only
def test_a_disabled_trigger_is_reported(db: None) -> None:
    """ALTER TABLE … DISABLE TRIGGER leaves the trigger in the catalog; it counts as missing."""
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE records_entry DISABLE TRIGGER ALL")
    assert {one.kind for one in verify().found} == {"trigger"}


def test_every_column_of_a_typed_row_counts(tampered: Tampered, db: None) -> None:
    """Each column of a reading, altered in turn, names the entry and the column."""
    append(8, ("reading",))
    for column in made_row("reading")._meta.concrete_fields:
        if column.name == "number":
            continue
        before = getattr(row_of(5), column.name)
        after = _other(column.name, before)
        with triggers_away():
            edit_row(5, **{column.name: after})
        report = verify()
        assert ("row", 5) in named(report), column.name
        assert {entry for _, entry in named(report)} == {5}, column.name
        shown = "content version" if column.name == "content_version" else column.name
        assert any(shown in one.sentence for one in report.found), column.name
        with triggers_away():
            kinds()["reading"]._default_manager.filter(number=5).update(**{column.name: before})
    assert verify().good


def _other(name: str, value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return value[:-1] + ("x" if value[-1] != "x" else "y")
    if isinstance(value, uuid.UUID):
        return uuid.uuid4()
    if isinstance(value, dict):
        return {**value, "more": 1}
    if hasattr(value, "tzinfo"):
        return value + timedelta(microseconds=1)
    if hasattr(value, "day"):
        return value + timedelta(days=1)
    return value + 1


@pytest.mark.parametrize("column", ["number", "act", "kind", "record", "content", "leaf"])
def test_every_column_of_an_entry_counts(tampered: Tampered, column: str) -> None:
    """Each column of an entry, altered in turn, names the entry."""
    append(8)
    changed: dict[str, object] = {
        "number": 800,
        "act": uuid.uuid4(),
        "kind": "lot",
        "record": uuid.uuid4(),
        "content": Entry.objects.get(number=5).content.replace('"kind"', '"kinD"', 1),
        "leaf": "00" * 32,
    }
    report = tampered(lambda: Entry.objects.filter(number=5).update(**{column: changed[column]}))
    assert 5 in {entry for _, entry in named(report)}
    assert {entry for _, entry in named(report)} <= ({5, 9, 800} if column == "number" else {5})


def test_an_edited_content_is_named_with_its_values(tampered: Tampered) -> None:
    """The finding shows what the row and the entry say."""
    append(6, ("reading",))

    def change() -> None:
        said = json.loads(Entry.objects.get(number=4).content)
        said["record"]["typed"] = "38.2"
        Entry.objects.filter(number=4).update(content=canonical(said))

    report = tampered(change)
    assert named(report) == {("leaf", 4), ("row", 4)}
    assert any("typed is" in one.sentence and "'38.2' in the entry" in one.sentence for one in report.found)


def test_a_content_with_its_leaf_is_betrayed_by_the_row(tampered: Tampered) -> None:
    """Content and leaf rewritten together differ from the typed row."""
    append(6, ("reading",))

    def change() -> None:
        text = Entry.objects.get(number=4).content.replace('"version":1', '"version":2')
        Entry.objects.filter(number=4).update(content=text, leaf=merkle.leaf_hash(text.encode()).hex())

    assert named(tampered(change)) == {("row", 4)}


def test_a_consistent_rewrite_breaks_the_stored_subtree(tampered: Tampered) -> None:
    """Row, content and leaf rewritten alike no longer make the subtree that was stored when it was complete."""
    append(260)
    report = tampered(lambda: rewrite(100, by_name="Somebody Else"))
    assert named(report) == {("subtree", 256)}
    assert "entries 1 to 256" in report.found.kept[0].sentence


def test_a_deleted_entry_is_a_gap_and_leaves_an_orphan(tampered: Tampered) -> None:
    """The missing number is named, and the row that has lost its entry."""
    append(9)
    report = tampered(lambda: Entry.objects.filter(number=4).delete())
    assert named(report) == {("gap", 4), ("orphan", 4)}
    assert report.head == ""


def test_a_deleted_row_leaves_its_entry(tampered: Tampered) -> None:
    """An entry without its typed row is named."""
    append(9)
    assert named(tampered(lambda: row_of(4).delete())) == {("row", 4)}


def test_a_record_deleted_whole_is_a_gap(tampered: Tampered) -> None:
    """Deleting entry and row alike leaves the number missing."""
    append(9)

    def change() -> None:
        row_of(4).delete()
        Entry.objects.filter(number=4).delete()

    assert named(tampered(change)) == {("gap", 4)}


def test_a_run_of_missing_entries_is_one_gap(tampered: Tampered) -> None:
    """Three numbers missing in a row are named as a range."""
    append(9)
    report = tampered(lambda: Entry.objects.filter(number__in=[4, 5, 6]).delete())
    assert "entries 4 to 6 are missing" in [one.sentence for one in report.found]


def test_two_swapped_entries_are_both_named(tampered: Tampered) -> None:
    """Contents name their own number: two entries that change places are both named."""
    append(9)

    def change() -> None:
        four, five = Entry.objects.get(number=4), Entry.objects.get(number=5)
        Entry.objects.filter(number__in=[4, 5]).delete()
        for entry, number in ((four, 5), (five, 4)):
            entry.number = number
            entry.save(force_insert=True)

    assert {entry for _, entry in named(tampered(change))} == {4, 5}


def test_two_records_swapped_whole_are_both_named(tampered: Tampered) -> None:
    """Swapping the typed rows' numbers along with the entries does not help: the contents still say the old ones."""
    append(9, ("reading",))

    def change() -> None:
        readings = kinds()["reading"]._default_manager
        for old, new in ((4, -1), (5, 4), (-1, 5)):
            readings.filter(number=old).update(number=new)
            Entry.objects.filter(number=old).update(number=new)

    assert {entry for _, entry in named(tampered(change))} == {4, 5}


def test_an_inserted_row_has_no_entry(tampered: Tampered) -> None:
    """A typed row that no entry speaks of is named by kind and number."""
    append(9)
    report = tampered(lambda: made_row("wash", 4).save(force_insert=True))
    assert named(report) == {("orphan", 4)} and "wash" in report.found.kept[0].sentence


@pytest.mark.parametrize("number", [-3, 0, 50])
def test_an_inserted_row_outside_the_line_has_no_entry(tampered: Tampered, number: int) -> None:
    """Numbers before the first and after the last entry are looked at, too."""
    append(9)
    report = tampered(lambda: made_row("wash", 4, number=number).save(force_insert=True))
    assert named(report) == {("orphan", number)}


def test_an_inserted_entry_has_no_row(tampered: Tampered) -> None:
    """An entry appended with a right leaf but no typed row is named."""
    append(9)

    def change() -> None:
        text = text_of(made_row("wash", 10))
        Entry(10, uuid.uuid4(), "wash", made_row("wash", 10).id, text, merkle.leaf_hash(text.encode()).hex()).save(
            force_insert=True
        )

    assert ("row", 10) in named(tampered(change))


def test_a_removed_subtree_is_missing(tampered: Tampered) -> None:
    """Deleting a stored subtree is noticed."""
    append(257)
    assert named(tampered(lambda: Subtree.objects.all().delete())) == {("subtree", 256)}


def test_a_subtree_too_many_is_named(tampered: Tampered) -> None:
    """A stored subtree over entries that are not there is named."""
    append(257)
    report = tampered(lambda: Subtree(level=8, index=7, root="00" * 32).save(force_insert=True))
    assert "from 1793 on" in report.found.kept[0].sentence


@pytest.mark.sqlite_only
def test_a_column_that_cannot_be_read_is_named(tampered: Tampered) -> None:
    """SQLite takes any bytes anywhere: a time that is none does not stop the verification."""
    append(9, ("reading",))

    def change() -> None:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE records_reading SET observed_at = 'yesterday', id = 'nobody' WHERE number = 4")
            cursor.execute("UPDATE records_entry SET act = 'nobody' WHERE number = 6")

    assert {entry for _, entry in named(tampered(change))} == {4, 6}
