"""Files are kept under the hash of their bytes, once, and never under a name that a person gave."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from django.conf import settings

from records.ledger import files
from records.ledger.actions import act
from records.ledger.files import FileDamaged, FileRefused
from records.ledger.models import Entry, FileKept
from records.ledger.verify import verify
from tests.records.ledger.conftest import SOMEBODY

pytestmark = pytest.mark.django_db
DATA = b"a photo"
SHA256 = hashlib.sha256(DATA).hexdigest()


def keep(data: bytes = DATA, name: str = "photo.jpg", mime: str = "image/jpeg") -> FileKept:
    """Keep a file in an act of its own."""
    with act(SOMEBODY) as a:
        return files.keep(a, data, name, mime)


def place() -> Path:
    """Where it must lie."""
    return Path(settings.FILES_DIR) / SHA256[:2] / SHA256


def test_a_kept_file_is_an_entry_and_reads_back() -> None:
    """Hash, size, name and type are recorded; the bytes lie under the hash."""
    row = keep()
    assert (row.sha256, row.size, row.name, row.mime) == (SHA256, 7, "photo.jpg", "image/jpeg")
    assert files.read(SHA256) == DATA == place().read_bytes()
    assert Entry.objects.get().kind == "file kept"
    assert verify().files == 1


def test_the_same_bytes_are_kept_once() -> None:
    """A second time gives the first record, whatever the name."""
    assert keep().pk == keep(name="again.jpg").pk
    assert Entry.objects.count() == 1


def test_a_file_that_was_lost_comes_back_with_its_bytes() -> None:
    """Keeping the same bytes again repairs a missing or damaged file."""
    keep()
    place().write_bytes(b"damaged")
    keep()
    assert files.read(SHA256) == DATA


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\temp\\letter.pdf", "letter.pdf"),
        ("a\x00b\n\u202e.jpg", "ab.jpg"),
        ("", "file"),
        ("/", "file"),
        ("x" * 300 + ".jpeg", "x" * 195 + ".jpeg"),
    ],
)
def test_a_name_is_a_label(name: str, shown: str) -> None:
    """No folder, no control character, no endless name."""
    assert keep(name=name).name == shown
    assert place().exists()


@pytest.mark.parametrize("data", [b"", b"x" * (files.LARGEST + 1)])
def test_empty_and_huge_files_are_refused(data: bytes) -> None:
    """With a sentence, and nothing is written."""
    with pytest.raises(FileRefused, match="empty|larger than 25 MB"):
        keep(data)
    assert not Entry.objects.exists() and not list(Path(settings.FILES_DIR).glob("*"))


@pytest.mark.parametrize("mime", ["", "jpeg", "image/jpeg; x=<script>", "a/" + "b" * 100])
def test_odd_types_are_refused(mime: str) -> None:
    """A type is two plain words."""
    with pytest.raises(FileRefused, match="type"):
        keep(mime=mime)


@pytest.mark.parametrize("sha256", ["../../etc/passwd", "AB" * 32, "", "ab" * 31])
def test_only_a_hash_names_a_file(sha256: str) -> None:
    """Anything else is no address."""
    with pytest.raises(ValueError, match="64 hexadecimal"):
        files.read(sha256)


def test_no_half_written_file_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails while writing leaves neither file nor entry."""

    def fail(descriptor: int) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="disk full"):
        keep()
    assert not [one for one in Path(settings.FILES_DIR).rglob("*") if one.is_file()]
    assert not Entry.objects.exists()


def test_a_missing_file_is_named_when_read_and_when_verified() -> None:
    """By its hash, its name and its entry."""
    keep()
    place().unlink()
    with pytest.raises(FileDamaged, match="missing"):
        files.read(SHA256)
    (found,) = verify().found
    assert found.kind == "file" and found.entry == 1
    assert "'photo.jpg' of entry 1" in found.sentence and "is missing" in found.sentence


def test_a_changed_file_is_named_when_read_and_when_verified() -> None:
    """One byte is enough."""
    keep()
    place().write_bytes(b"A photo")
    with pytest.raises(FileDamaged, match="was changed"):
        files.read(SHA256)
    assert "was changed" in verify().found.kept[0].sentence
