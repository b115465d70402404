"""Every record kind has its trigger, its writer, its content version and a stored sample of what that writes.

The samples keep released versions as they are: python -m tests.records.ledger.write_samples adds missing ones only.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.db import connection, models
from django.utils.text import slugify

from records.ledger import triggers
from records.ledger.content_fields import FIELDS
from records.ledger.models import Record
from records.ledger.registry import append_only_tables, kinds, text_of, writer
from records.ledger.verify_entries import _Reader
from tests.records.ledger.conftest import triggers_away
from tests.records.ledger.made import bare_row, made_row

SAMPLES = Path(__file__).parent / "samples"
VERSIONS = [(kind, version) for kind, versions in FIELDS.items() for version in versions]
# Of a row, but not of what it says.
OUTSIDE_CONTENT = {"content_version"}


def sample_file(kind: str, version: int) -> Path:
    """Where the sample of a version is kept."""
    return SAMPLES / f"{slugify(kind)}-{version}.json"


def sample_texts(kind: str, version: int) -> list[str]:
    """What the writer says of a full row and of a bare one."""
    return [text_of(make(kind, content_version=version)) for make in (made_row, bare_row)]


@pytest.mark.once
def test_registry_and_writers_name_the_same_kinds() -> None:
    """No kind without a writer, no writer without a kind."""
    assert set(FIELDS) == set(kinds())


@pytest.mark.once
def test_every_record_model_is_registered() -> None:
    """All subclasses of Record that have a table are kinds."""
    concrete = {model for model in _all_below(Record) if not model._meta.abstract}
    assert concrete == set(kinds().values())


def _all_below(base: type[Record]) -> set[type[Record]]:
    below = set(base.__subclasses__())
    return below | {deeper for one in below for deeper in _all_below(one)}


@pytest.mark.once
@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_the_newest_version_covers_every_column(kind: str) -> None:
    """A column that no content speaks of could be changed unseen."""
    columns = {column.name for column in kinds()[kind]._meta.concrete_fields}
    assert set(FIELDS[kind][max(FIELDS[kind])]) == columns - OUTSIDE_CONTENT


@pytest.mark.once
@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_a_new_row_is_of_the_newest_version(kind: str) -> None:
    """The default of content_version is the newest writer's."""
    assert kinds()[kind]().content_version == max(FIELDS[kind])


@pytest.mark.once
@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_a_kind_links_by_ids_and_numbers_only(kind: str) -> None:
    """No foreign key: a content never depends on another table's text."""
    assert not [one for one in kinds()[kind]._meta.concrete_fields if isinstance(one, models.ForeignKey)]


@pytest.mark.once
@pytest.mark.parametrize(("kind", "version"), VERSIONS)
def test_the_writer_writes_its_stored_sample(kind: str, version: int) -> None:
    """A released version writes the same bytes for ever."""
    path = sample_file(kind, version)
    assert path.exists(), "run python -m tests.records.ledger.write_samples"
    assert json.loads(path.read_text(encoding="utf-8")) == sample_texts(kind, version)


@pytest.mark.once
def test_no_sample_is_left_over() -> None:
    """A sample without its writer means that a released version was taken away."""
    assert {one.name for one in SAMPLES.glob("*.json")} == {sample_file(*one).name for one in VERSIONS}


@pytest.mark.django_db
@pytest.mark.parametrize(("kind", "version"), VERSIONS)
def test_the_database_gives_the_sample_back(kind: str, version: int) -> None:
    """Rows that went through SQLite or PostgreSQL give the same bytes: those of the stored sample."""
    stored = json.loads(sample_file(kind, version).read_text(encoding="utf-8"))
    for make, text in ((made_row, stored[0]), (bare_row, stored[1])):
        row = make(kind, content_version=version)
        row.save(force_insert=True)
        fetched = kinds()[kind]._default_manager.get(pk=row.pk)
        assert text_of(fetched) == text
        assert [one.text for _, one in _Reader(kinds()[kind]).between(0, 1)] == [text]
        _forget(kind)


def _forget(kind: str) -> None:
    """Take the row away again, as nobody but this test may."""
    with triggers_away():
        kinds()[kind]._default_manager.all().delete()


@pytest.mark.django_db
def test_every_append_only_table_has_its_triggers() -> None:
    """Nothing is missing after migrate, and each table is among those guarded."""
    assert triggers.missing(connection) == []
    wanted = " ".join(triggers.statements(connection.vendor).values())
    for model in append_only_tables():
        assert f'ON "{model._meta.db_table}"' in wanted


@pytest.mark.once
def test_an_unknown_version_has_no_writer() -> None:
    """Nobody guesses how an unknown version was written."""
    with pytest.raises(KeyError):
        writer("reading", 99)
