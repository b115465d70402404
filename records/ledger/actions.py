"""The only writer of records: one act, one transaction, one ledger entry for each record row."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import connection, transaction

from plant import clock
from records.ledger import merkle
from records.ledger.models import Entry, Record, Subtree
from records.ledger.registry import text_of

R = TypeVar("R", bound=Record)

# Subtrees of 2**8 leaves and more are stored when complete, so that a head or a proof reads a few rows.
STORED_FROM = 8
# One fixed number for pg_advisory_xact_lock: whoever appends to this database's ledger holds it.
LEDGER_LOCK = 7_312_026


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts, as printed: copied into every record of the act. The watch acts without a person."""

    person_id: uuid.UUID | None = None
    name: str = ""
    initials: str = ""
    role: str = ""
    tablet: str = ""


WATCH = Actor(name="the watch", role="watch")


class _Last:
    """The ledger's last number while its lock is held; acts inside one another share it."""

    def __init__(self, number: int) -> None:
        self.number = number


_open: ContextVar[_Last | None] = ContextVar("ledger_open", default=None)
_UUID = Entry._meta.get_field("record")
_LAST = f"SELECT max(number) FROM {Entry._meta.db_table}"
_INSERT = (
    f"INSERT INTO {Entry._meta.db_table} (number, act, kind, record, content, leaf) VALUES (%s, %s, %s, %s, %s, %s)"
)


class Act:
    """An act under way: it holds the ledger's lock, one moment and one id."""

    def __init__(self, by: Actor, now: datetime, last: _Last) -> None:
        self.id = uuid.uuid4()
        self.by = by
        self.now = now
        self._last = last

    def write(self, row: R, *, observed_at: datetime | None = None) -> R:
        """Insert one record and its ledger entry; gives the row back with its number.

        `observed_at` defaults to the act's own moment. Raises NotCanonical for a value that the ledger cannot hold
        (NUL, a fraction in JSON, too many digits) before anything is written, IntegrityError when a unique promise is
        broken: go on after that only from `attempt`.
        """
        number = self._last.number + 1
        self._stamp(row, number, observed_at)
        text = text_of(row)
        row.save(force_insert=True)
        _insert_entry(row, text)
        self._last.number = number
        if number % (1 << STORED_FROM) == 0:
            _store_subtrees(number)
        return row

    def write_many(self, rows: Sequence[R], *, observed_at: Sequence[datetime]) -> None:
        """`write` for many rows of one kind, in a few statements; each gets its number. Raises as `write`."""
        texts = []
        for number, (row, seen) in enumerate(zip(rows, observed_at, strict=True), self._last.number + 1):
            self._stamp(row, number, seen)
            texts.append(text_of(row))
        if not rows:
            return
        _insert_rows(rows)
        _insert_entries(rows, texts)
        first, self._last.number = self._last.number + 1, rows[-1].number
        for number in range(first, self._last.number + 1):
            if number % (1 << STORED_FROM) == 0:
                _store_subtrees(number)

    def _stamp(self, row: Record, number: int, observed_at: datetime | None) -> None:
        row.number = number
        row.act = self.id
        row.observed_at = observed_at or self.now
        row.received_at = self.now
        row.by_id, row.by_name, row.by_initials = self.by.person_id, self.by.name, self.by.initials
        row.by_role, row.tablet = self.by.role, self.by.tablet

    @contextmanager
    def attempt(self) -> Iterator[None]:
        """A part of the act that may fail and leave the rest standing: its writes and their numbers are taken back."""
        before = self._last.number
        try:
            with transaction.atomic():
                yield
        except BaseException:
            self._last.number = before
            raise


@contextmanager
def act(by: Actor) -> Iterator[Act]:
    """One transaction under the ledger's lock. Compute before you enter; write; leave quickly.

    Entering an act inside another joins the outer transaction but is an act of its own.
    """
    outer = _open.get() if connection.in_atomic_block else None
    with transaction.atomic():
        last = outer or _Last(_lock_and_read())
        before = last.number
        token = _open.set(last)
        try:
            yield Act(by, clock.now(), last)
        except BaseException:
            last.number = before
            raise
        finally:
            _open.reset(token)


def _lock_and_read() -> int:
    """Take the ledger's lock (on SQLite BEGIN IMMEDIATE has taken it); the number of the last entry, or 0."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # A statement of its own, so that the next sees what the holder before us committed; sent with it.
            cursor.execute(f"SELECT pg_advisory_xact_lock({LEDGER_LOCK}); {_LAST}")
            cursor.nextset()
        else:
            cursor.execute(_LAST)
        return int(cursor.fetchone()[0] or 0)


def _insert_entry(row: Record, text: str) -> None:
    # Plain SQL: half the time of the ORM's insert, in every transaction of the plant.
    act_id, record = (_UUID.get_db_prep_value(one, connection) for one in (row.act, row.id))
    with connection.cursor() as cursor:
        cursor.execute(
            _INSERT, [row.number, act_id, row.KIND, record, text, merkle.leaf_hash(text.encode()).hex()]
        )


def _insert_rows(rows: Sequence[Record]) -> None:
    # As _insert_entry: a recorder's day is over a hundred rows, and the ORM's statement for them takes twice the time.
    fields = rows[0]._meta.concrete_fields
    quote = connection.ops.quote_name
    names = ", ".join(quote(one.column or one.name) for one in fields)
    table, places = quote(rows[0]._meta.db_table), ", ".join(["%s"] * len(fields))
    ready = [(one.attname, one.get_db_prep_save) for one in fields]
    values = [[save(getattr(row, name), connection) for name, save in ready] for row in rows]
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({places})", values)
    for row in rows:
        row._state.adding, row._state.db = False, connection.alias


def _insert_entries(rows: Sequence[Record], texts: Sequence[str]) -> None:
    values = [
        [
            row.number,
            _UUID.get_db_prep_value(row.act, connection),
            row.KIND,
            _UUID.get_db_prep_value(row.id, connection),
            text,
            merkle.leaf_hash(text.encode()).hex(),
        ]
        for row, text in zip(rows, texts, strict=True)
    ]
    with connection.cursor() as cursor:
        cursor.executemany(_INSERT, values)


def _store_subtrees(size: int) -> None:
    """Store the roots of every subtree that the entry numbered `size` completes."""
    width = 1 << STORED_FROM
    leaves = Entry.objects.filter(number__gt=size - width, number__lte=size).order_by("number")
    root = merkle.perfect_root([bytes.fromhex(leaf) for leaf in leaves.values_list("leaf", flat=True)])
    level, index = STORED_FROM, size // width - 1
    while True:
        Subtree(level=level, index=index, root=root.hex()).save(force_insert=True)
        if index % 2 == 0:
            return
        left = Subtree.objects.values_list("root", flat=True).get(level=level, index=index - 1)
        root = merkle.node_hash(bytes.fromhex(left), root)
        level, index = level + 1, index // 2
