"""Files that hold keys: readable by their owner alone, written whole or not at all."""

from __future__ import annotations

import contextlib
import fcntl
import os
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

NEW_PREFIX = ".new-"


class KeysError(Exception):
    """Base of what can go wrong with keys; the message says what to do next."""


class LooseKeys(KeysError):
    """A key file or its folder can be read by others."""


class KeysMissing(KeysError):
    """The folder holds no keys, or lacks one that was asked for."""


class KeysPresent(KeysError):
    """The folder already holds keys; making new ones would orphan what they signed."""


def make_private_folder(folder: Path) -> None:
    """Make a folder (and its parents) that only its owner may enter."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    require_private(folder)


def require_private(path: Path) -> None:
    """Refuse a file or folder that group or others may touch.

    Raises LooseKeys with the line that puts it right, KeysMissing when it is not there.
    """
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
    except FileNotFoundError:
        raise KeysMissing(f"{path} is missing. Restore the keys folder from the backup.") from None
    if mode & 0o077:
        wanted = "700" if path.is_dir() else "600"
        raise LooseKeys(
            f"{path} may be read or changed by others (mode {mode:03o}). Keys are their owner's alone: "
            f"chmod {wanted} {path}"
        )


def require_private_tree(folder: Path) -> None:
    """Apply require_private to a folder and to everything in it."""
    require_private(folder)
    for path in sorted(folder.rglob("*")):
        if not path.name.startswith(NEW_PREFIX):  # another process may be writing: it is renamed in a moment
            require_private(path)


def read_private(path: Path) -> bytes:
    """Read a key file after checking who else could."""
    require_private(path)
    return path.read_bytes()


def write_private(path: Path, data: bytes) -> None:
    """Write a file of mode 0600: readers see the old bytes or the new ones, never a part of them."""
    descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=NEW_PREFIX)  # mkstemp makes mode 0600
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder for one process and thread at a time (the lock ends with the process, too)."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
