"""Backups: the database, the keys and the kept files in one folder, with their hashes and the ledger's head.

    DIR/manifest.json      what is in it: every file's SHA-256, the number of entries, the head
    DIR/database.sqlite3   or database.dump (pg_dump, custom format)
    DIR/keys/  DIR/files/  copies of KEYS_DIR and FILES_DIR

Whoever reads a backup can sign as anyone in the plant: it is readable by its owner alone.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import OperationalError, ProgrammingError, connection

from plant import clock
from records.ledger import postgres_copies, tree
from records.ledger.canonical import moment
from records.ledger.merkle import Growing
from records.ledger.tree import TreeDamaged

FORMAT = 1
_MANIFEST = "manifest.json"
_FOLDERS = {"keys": "KEYS_DIR", "files": "FILES_DIR"}
# SQLite's last records may be in the files beside it.
_ALL_OF_IT = " (SQLite: with its -wal and -shm files)"


class CannotBackUp(RuntimeError):
    """The backup was not made; the message says what to do."""


class CannotRestore(RuntimeError):
    """Nothing was restored; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What a backup holds: the number of entries, their head (hex), the number of files beside the database."""

    entries: int
    head: str
    files: int


def back_up(folder: Path) -> Kept:
    """Copy everything into a new or empty folder, while the plant goes on working. Raises CannotBackUp."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise CannotBackUp(f"{folder} is not empty: name a new folder for each backup.")
        folder.chmod(0o700)
        # The database first: every file and key that it speaks of was on disk before it did.
        database = folder / _database_name()
        entries, head = _copy_database(database)
        for name, setting in _FOLDERS.items():
            _copy_folder(Path(getattr(settings, setting)), folder / name)
    except (OSError, sqlite3.Error) as error:
        raise CannotBackUp(f"The backup could not be written: {error}") from error
    hashes = {str(path.relative_to(folder)): _sha256(path) for path in _files_below(folder)}
    manifest = {
        "format": FORMAT,
        "made_at": moment(clock.now()),
        "database": connection.vendor,
        "entries": entries,
        "head": head,
        "sha256": hashes,
    }
    text = json.dumps(manifest, indent=1, sort_keys=True) + "\n"
    _write(folder / _MANIFEST, text.encode())
    return Kept(entries, head, len(hashes) - 1)


def restore(folder: Path) -> Kept:
    """Put a backup back: database, keys and files.

    Raises CannotRestore, before anything is touched, when the backup is damaged or of the other database, when the
    ledger here is longer or another one, or when the keys here are another installation's.
    """
    manifest = _checked_manifest(folder)
    entries, head = manifest["entries"], manifest["head"]
    if manifest["database"] != connection.vendor:
        raise CannotRestore(f"This is a backup of {manifest['database']}; DATABASE_URL names {connection.vendor}.")
    _refuse_other_head(folder, entries, head)
    _refuse_other_ledger(folder, entries)
    _refuse_other_keys(folder / "keys", Path(settings.KEYS_DIR))
    _put_database(folder)
    for name, setting in _FOLDERS.items():
        _copy_folder(folder / name, Path(getattr(settings, setting)))
    connection.close()
    found = tree.size(), tree.head(tree.size()).hex()
    if found != (entries, head):
        raise CannotRestore(
            f"After restoring, the ledger has {found[0]} entries with head {found[1]}, the backup said {entries} with "
            f"{head}: run manage.py verify."
        )
    return Kept(entries, head, len(manifest["sha256"]) - 1)


# --- the database


def _database_name() -> str:
    return "database.sqlite3" if connection.vendor == "sqlite" else "database.dump"


def _copy_database(target: Path) -> tuple[int, str]:
    """The copy, and the size and head of the ledger in it."""
    if connection.vendor != "sqlite":
        try:
            return postgres_copies.dump(target)
        except postgres_copies.ProgramFailed as error:
            raise CannotBackUp(str(error)) from error
    own = _sqlite_uri(_own_path(), "rw")
    with closing(sqlite3.connect(own, uri=True)) as source, closing(_new_file(target)) as copy:
        # One step: a consistent picture, taken while writers wait at most for its length.
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, no side files
    return _sqlite_head(target)


def _own_path() -> Path:
    return Path(str(connection.settings_dict["NAME"]))


def _sqlite_uri(path: Path, mode: str) -> str:
    return f"{path.absolute().as_uri()}?mode={mode}"


def _new_file(path: Path) -> sqlite3.Connection:
    _write(path, b"")
    return sqlite3.connect(path)


def _sqlite_head(path: Path, at: int | None = None) -> tuple[int, str]:
    """Size and head (of the first `at` entries) of the ledger in a file, from its leaves."""
    grown = Growing()
    with closing(sqlite3.connect(_sqlite_uri(path, "ro"), uri=True)) as file:
        try:
            rows = file.execute(
                "SELECT leaf FROM records_entry WHERE ? IS NULL OR number <= ? ORDER BY number", [at, at]
            )
        except sqlite3.OperationalError as error:
            if "no such table" in str(error):
                return 0, grown.root().hex()
            raise
        for (leaf,) in rows:
            grown.add(bytes.fromhex(leaf))
    return grown.size, grown.root().hex()


def _refuse_other_head(folder: Path, entries: int, head: str) -> None:
    """The backup's database must be the one that its manifest speaks of."""
    found = _head_in_backup(folder)
    if found != (entries, head):
        raise CannotRestore(
            f"The database in {folder} has {found[0]} entries with head {found[1]}, its {_MANIFEST} says {entries} "
            f"with {head}: one of the two was changed."
        )


def _refuse_other_ledger(folder: Path, entries: int) -> None:
    """The ledger here may be empty, or the beginning of the backup's."""
    try:
        size = tree.size()
        head = tree.head(size).hex()
    except (OperationalError, ProgrammingError):
        return  # no tables yet
    except TreeDamaged as error:
        raise CannotRestore(f"The ledger here is damaged; move it away first. ({error})") from error
    if size == 0:
        return
    if size > entries:
        raise CannotRestore(
            f"The ledger here has {size} entries, the backup {entries}: restoring would lose records. "
            f"If that is meant, move the database away first{_ALL_OF_IT}."
        )
    if _head_in_backup(folder, size) != (size, head):
        raise CannotRestore(
            "The ledger here is not the beginning of the one in the backup. "
            f"If it shall go, move the database away{_ALL_OF_IT}."
        )


def _head_in_backup(folder: Path, at: int | None = None) -> tuple[int, str]:
    """Size and head (of the first `at` entries) of the ledger in a backup."""
    database = folder / _database_name()
    try:
        if connection.vendor == "sqlite":
            return _sqlite_head(database, at)
        return postgres_copies.head_in(database, at)
    except postgres_copies.ProgramFailed as error:
        raise CannotRestore(str(error)) from error
    except (sqlite3.Error, ValueError, TypeError) as error:
        raise CannotRestore(f"{database} cannot be read: {error}") from error


def _put_database(folder: Path) -> None:
    if connection.vendor != "sqlite":
        try:
            postgres_copies.put_back(folder / "database.dump")
        except postgres_copies.ProgramFailed as error:
            raise CannotRestore(str(error)) from error
        return
    connection.close()
    path = _own_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    with (
        closing(sqlite3.connect(_sqlite_uri(folder / "database.sqlite3", "ro"), uri=True)) as source,
        closing(sqlite3.connect(path)) as target,
    ):
        try:
            source.backup(target)
        except sqlite3.Error as error:
            raise CannotRestore(f"{path} cannot be replaced ({error}): stop the server and the watch first.") from error


# --- folders and files


def _checked_manifest(folder: Path) -> dict[str, Any]:
    try:
        manifest = json.loads((folder / _MANIFEST).read_text(encoding="utf-8"))
        hashes, known = manifest["sha256"], manifest["format"] == FORMAT
        manifest["entries"], manifest["head"], manifest["database"]
    except FileNotFoundError as error:
        raise CannotRestore(f"{folder} holds no backup ({_MANIFEST} is not there).") from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CannotRestore(f"{folder / _MANIFEST} cannot be read: {error}") from error
    if not known:
        raise CannotRestore(f"This backup has format {manifest['format']}; this version knows {FORMAT}.")
    present = {str(path.relative_to(folder)) for path in _files_below(folder)} - {_MANIFEST}
    if present != set(hashes):
        odd = ", ".join(sorted(present ^ set(hashes))[:3])
        raise CannotRestore(f"The backup is not complete, or something was put into it: {odd}")
    for name, sha256 in hashes.items():
        if _sha256(folder / name) != sha256:
            raise CannotRestore(f"{folder / name} was changed since the backup was made.")
    return dict(manifest)


def _refuse_other_keys(kept: Path, here: Path) -> None:
    ours, theirs = here / "authority.pem", kept / "authority.pem"
    if ours.exists() and (not theirs.exists() or ours.read_bytes() != theirs.read_bytes()):
        raise CannotRestore(f"{here} holds the keys of another installation; move them away first.")


def _copy_folder(source: Path, target: Path) -> None:
    """Copy what is there, readable by the owner alone. Files that a writer has not finished (.new-…) are left out."""
    if not source.is_dir():
        return
    for path in _files_below(source):
        copy = target / path.relative_to(source)
        _make_private(copy.parent, target)
        with path.open("rb") as file:
            _write(copy, file.read())


def _make_private(folder: Path, top: Path) -> None:
    """Make a folder and what is missing between it and `top`, each for the owner alone."""
    if folder != top:
        _make_private(folder.parent, top)
        folder.mkdir(mode=0o700, exist_ok=True)
    elif not folder.exists():
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700)


def _files_below(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.is_symlink() and not path.name.startswith(".new-"):
            yield path


def _write(path: Path, data: bytes) -> None:
    temporary = path.with_name(f".new-{path.name}")
    descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    os.replace(temporary, path)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
