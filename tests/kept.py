"""What a test acts out before it begins is acted out once a run of the tests and put back for the next: far quicker.

`acted_once` marks an act (a plan comes into force, a day's milk goes through the plant). The first call does it for
real and keeps what it changed: rows, files, the clock. A call with the same arguments, at the same moment and from the
same ledger puts that back. Nothing a test asserts is kept: the act itself is what tests elsewhere are about.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model

from plant import clock

P = ParamSpec("P")
R = TypeVar("R")
Row = tuple[Any, ...]
Rows = dict[Any, Row]


@dataclass
class Room:
    """What acting happens in, besides the database: the clock that a test sets and the drawer its keys come from."""

    read_clock: Callable[[], datetime]
    set_clock: Callable[[datetime], None]
    keys_taken: Callable[[], dict[int, int]]
    open_drawer: Callable[[dict[int, int]], None]


@dataclass
class Changed:
    """The rows of one table that an act added, changed and took away."""

    table: type[Model]
    added: list[Row] = field(default_factory=list)
    altered: list[tuple[Row, Row]] = field(default_factory=list)  # (before, after)
    gone: list[Any] = field(default_factory=list)

    def put(self, cursor: Any) -> None:
        """Into a table that is as it was before the act."""
        quote, names = connection.ops.quote_name, _columns(self.table)
        name, key = quote(self.table._meta.db_table), quote(_key(self.table))
        if self.gone:
            cursor.executemany(f"DELETE FROM {name} WHERE {key} = %s", [(one,) for one in self.gone])
        if self.added:
            columns = ", ".join(map(quote, names))
            places = ", ".join(["%s"] * len(names))
            cursor.executemany(f"INSERT INTO {name} ({columns}) VALUES ({places})", self.added)
        at = names.index(_key(self.table))
        for before, after in self.altered:
            # Only what changed: triggers look at which columns an update names.
            new = [(quote(n), b) for n, a, b in zip(names, before, after, strict=True) if a != b]
            sets = ", ".join(f"{column} = %s" for column, _value in new)
            cursor.execute(f"UPDATE {name} SET {sets} WHERE {key} = %s", [*(value for _c, value in new), after[at]])


@dataclass
class Kept:
    """What an act changed, and what it gave."""

    changed: list[Changed]
    files: dict[str, dict[Path, bytes]]
    keys_taken: dict[int, int]
    moment: datetime
    given_back: int | None  # which of the arguments it gave back: the plant of the test, not that of the first
    result: Any

    @classmethod
    def of(cls, act: Callable[..., Any], args: Any, changes: Any, room: Room) -> tuple[Any, Kept]:
        """Acts it out: what it gave, and what is kept of it."""
        rows, files = _all_rows(), _all_files()
        result = act(*args, **changes)
        new_files = {
            folder: {path: data for path, data in inside.items() if files[folder].get(path) != data}
            for folder, inside in _all_files().items()
        }
        given_back = next((at for at, one in enumerate(args) if one is result), None)
        kept = copy.deepcopy(result) if given_back is None else None
        changed = _differences(rows, _all_rows())
        return result, cls(changed, new_files, room.keys_taken(), clock.now(), given_back, kept)

    def put(self, room: Room) -> tuple[int | None, Any]:
        """As if it were acted out now."""
        with transaction.atomic(), connection.cursor() as cursor:  # foreign keys are looked at when it ends
            for one in self.changed:
                one.put(cursor)
        for folder, inside in self.files.items():
            _write(Path(getattr(settings, folder)), inside)
        room.open_drawer(self.keys_taken)
        room.set_clock(self.moment)
        return self.given_back, copy.deepcopy(self.result)


_kept: dict[tuple[Any, ...], Kept] = {}
_rooms: list[Room] = []


@contextmanager
def acting_in(room: Room) -> Iterator[None]:
    """For one test: what its acts happen in."""
    _rooms.append(room)
    try:
        yield
    finally:
        _rooms.remove(room)


def acted_once(act: Callable[P, R]) -> Callable[P, R]:
    """An act by actors, numbers, words and definitions (whatever says by its repr what it is)."""

    @functools.wraps(act)
    def again(*args: P.args, **changes: P.kwargs) -> R:
        if not _rooms or _rooms[-1].read_clock() != clock.now():  # a test with a clock of its own
            return act(*args, **changes)
        key = (act.__module__, act.__qualname__, repr(args), repr(changes), clock.now(), _head())
        if key in _kept:
            given_back, result = _kept[key].put(_rooms[-1])
            return args[given_back] if given_back is not None else result  # type: ignore[return-value]
        result, _kept[key] = Kept.of(act, args, changes, _rooms[-1])
        return result  # type: ignore[no-any-return]

    return again


def _head() -> Any:
    """What was acted so far: an entry's record has an id that no other acting out could have given it."""
    from records.ledger.models import Entry

    return Entry.objects.order_by("-number").values_list("number", "record").first()


def _tables() -> list[type[Model]]:
    """The plant's before the records': a trigger refuses rows under a plan that is approved already."""
    return [*apps.get_app_config("plant").get_models(), *apps.get_app_config("records").get_models()]


def _columns(table: type[Model]) -> list[str]:
    return [one.column for one in table._meta.concrete_fields]


def _key(table: type[Model]) -> str:
    return table._meta.pk.column


def _all_rows() -> list[tuple[type[Model], Rows]]:
    quote = connection.ops.quote_name
    found = []
    with connection.cursor() as cursor:
        for table in _tables():
            names = _columns(table)
            at = names.index(_key(table))
            cursor.execute(f"SELECT {', '.join(map(quote, names))} FROM {quote(table._meta.db_table)}")
            found.append((table, {row[at]: row for row in cursor.fetchall()}))
    return found


def _differences(
    before: list[tuple[type[Model], Rows]], after: list[tuple[type[Model], Rows]]
) -> list[Changed]:
    changes = []
    for (table, old), (_table, new) in zip(before, after, strict=True):
        one = Changed(
            table,
            [row for key, row in new.items() if key not in old],
            [(old[key], row) for key, row in new.items() if key in old and old[key] != row],
            [key for key in old if key not in new],
        )
        if one.added or one.altered or one.gone:
            changes.append(one)
    return changes


def _all_files() -> dict[str, dict[Path, bytes]]:
    """By the setting that names their folder."""
    return {
        name: {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        for name in ("KEYS_DIR", "FILES_DIR")
        for folder in [Path(getattr(settings, name))]
    }


def _write(folder: Path, files: dict[Path, bytes]) -> None:
    for inner in sorted({parent for path in files for parent in path.parents}):
        (folder / inner).mkdir(mode=0o700, exist_ok=True)  # each by itself: parents=True would leave them open
    for path, data in files.items():
        target = folder / path
        target.touch(mode=0o600)
        target.write_bytes(data)
