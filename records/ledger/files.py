"""Files of the daybook (photos, letters, PDFs): kept under their SHA-256 in FILES_DIR, their hash an entry.

No path ever comes from a person: the place of a file follows from its bytes. Nothing here is removed.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import unicodedata
from pathlib import Path
from typing import BinaryIO

from django.conf import settings

from records.ledger.actions import Act
from records.ledger.models import FileKept

LARGEST = 25 * 1024 * 1024
_MIME = re.compile(r"[a-z0-9][a-z0-9.+-]*/[a-z0-9][a-z0-9.+-]*")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_NAME_LONGEST = 200


class FileRefused(ValueError):
    """A file that is not kept; the message says why, for the person who sent it."""


class FileDamaged(LookupError):
    """A kept file is missing or no longer has the bytes of its hash: restore it from a backup."""


def keep(a: Act, data: bytes, name: str, mime: str) -> FileKept:
    """Keep a file and write its entry; the same bytes again give the entry that is there. Raises FileRefused.

    For large files call `put` before the act: the bytes are then on disk already when the ledger's lock is held.
    """
    sha256 = put(data)
    found = FileKept.objects.filter(sha256=sha256).first()
    if found is not None:
        return found
    if not _MIME.fullmatch(mime) or len(mime) > 100:
        raise FileRefused("The file's type is not one that can be kept.")
    return a.write(FileKept(sha256=sha256, name=printable_name(name), mime=mime, size=len(data)))


def put(data: bytes) -> str:
    """Write the bytes under their hash, whole or not at all; gives the hash. An entry makes them a record."""
    if not data:
        raise FileRefused("The file is empty.")
    if len(data) > LARGEST:
        raise FileRefused(f"The file is larger than {LARGEST // (1024 * 1024)} MB.")
    sha256 = hashlib.sha256(data).hexdigest()
    path = _path(sha256)
    if path.exists() and path.read_bytes() == data:
        return sha256
    path.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
    descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return sha256


def put_file(path: Path) -> str:
    """Move a file that lies in FILES_DIR already under its hash, read in pieces; gives the hash. For what is large."""
    with path.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        os.fsync(file.fileno())
    target = _path(sha256)
    target.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
    os.replace(path, target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return sha256


def note(a: Act, sha256: str, name: str, mime: str) -> FileKept:
    """The entry of a file that is on disk already; the one that is there, if any."""
    found = FileKept.objects.filter(sha256=sha256).first()
    if found is not None:
        return found
    return a.write(FileKept(sha256=sha256, name=printable_name(name), mime=mime, size=size_of(sha256)))


def size_of(sha256: str) -> int:
    """The size of a kept file [bytes]."""
    return _path(sha256).stat().st_size


def open_kept(sha256: str) -> BinaryIO:
    """A kept file, to be read in pieces."""
    return _path(sha256).open("rb")


def read(sha256: str) -> bytes:
    """The bytes of a kept file. Raises FileDamaged when they are missing or changed, ValueError for no hash."""
    try:
        data = _path(sha256).read_bytes()
    except FileNotFoundError as error:
        raise FileDamaged(f"The kept file {sha256} is missing. Restore it from a backup.") from error
    computed = hashlib.sha256(data).hexdigest()
    if computed != sha256:
        raise FileDamaged(f"The kept file {sha256} was changed: its bytes now hash to {computed}.")
    return data


def problem_of(sha256: str) -> str:
    """What is wrong with a kept file, or nothing. Reads it in pieces."""
    try:
        with _path(sha256).open("rb") as file:
            computed = hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        return "is missing"
    except (OSError, ValueError) as error:
        return f"cannot be read ({error})"
    return "" if computed == sha256 else f"was changed: its bytes now hash to {computed}"


def printable_name(name: str) -> str:
    """A file's name as a label: no folders, no control characters, at most 200 characters with the ending kept."""
    last = re.split(r"[/\\]", name)[-1]
    shown = "".join(one for one in last if unicodedata.category(one)[0] != "C").strip()
    stem, dot, ending = shown.rpartition(".")
    if len(shown) > _NAME_LONGEST and dot and len(ending) < 20:
        shown = stem[: _NAME_LONGEST - len(ending) - 1] + dot + ending
    return shown[:_NAME_LONGEST] or "file"


def _path(sha256: str) -> Path:
    if not _SHA256.fullmatch(sha256):
        raise ValueError("a kept file is named by the 64 hexadecimal digits of its SHA-256")
    return Path(settings.FILES_DIR) / sha256[:2] / sha256
