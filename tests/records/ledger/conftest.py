"""What the tests of the ledger share: appending, and changing behind the triggers' back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.db import connection

from records.ledger import triggers
from records.ledger.actions import Actor, act
from records.ledger.models import Record
from records.ledger.verify import Report, verify
from tests.records.ledger.made import made_row
from tests.records.ledger.scratch import Scratch, copy_of, template

SOMEBODY = Actor(UUID(int=7), "Ines Alder", "IA", "operator", "Round tablet")
KINDS = ("reading", "verdict", "deviation", "movement")


def append(count: int, kinds: tuple[str, ...] = KINDS, first: int = 1) -> list[Record]:
    """Append made-up records of several kinds, three to an act."""
    rows: list[Record] = []
    numbers = list(range(first, first + count))
    for at in range(0, count, 3):
        with act(SOMEBODY) as a:
            rows += [a.write(made_row(kinds[n % len(kinds)], n)) for n in numbers[at : at + 3]]
    return rows


@contextmanager
def triggers_away() -> Iterator[None]:
    """As somebody with the whole database in hand would: the triggers are dropped, and put back afterwards."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute(
                "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE tgname LIKE %s", [triggers.PREFIX + "%"]
            )
            for name, table in cursor.fetchall():
                cursor.execute(f'DROP TRIGGER "{name}" ON {table}')
        else:
            for name in triggers.present(connection):
                cursor.execute(f'DROP TRIGGER "{name}"')
    yield
    triggers.install(connection)


@pytest.fixture(scope="session")
def _template(django_db_setup: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with template(tmp_path_factory.mktemp("template")) as source:
        yield source


@pytest.fixture
def scratch(_template: str, tmp_path: Path) -> Iterator[Scratch]:
    """A migrated, empty database of this test's own, for other processes."""
    with copy_of(_template, tmp_path / "scratch") as made:
        yield made


@pytest.fixture
def other_scratch(_template: str, tmp_path: Path) -> Iterator[Scratch]:
    """A second one."""
    with copy_of(_template, tmp_path / "other") as made:
        yield made


@pytest.fixture
def tampered(db: None) -> Callable[..., Report]:
    """`tampered(change, *arguments)`: what a verification finds after the change was made without the triggers."""

    def run(change: Callable[..., Any], *arguments: Any) -> Report:
        before = verify()
        assert before.good, list(before.found)
        with triggers_away():
            change(*arguments)
        return verify()

    return run
