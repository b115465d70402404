"""A backup holds everything, is known by its head, and never takes the place of a longer or different ledger."""

from __future__ import annotations

import hashlib
import json
import shutil
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from records.ledger import tree
from tests.records.ledger.scratch import Scratch, copy_of

BUILD = """
import sys
from records.people.actions import begin_installation
from records.ledger import files
from records.ledger.actions import act
from records.ledger.models import Installation
from tests.records.ledger.conftest import SOMEBODY, append
first, count = int(sys.argv[1]), int(sys.argv[2])
if not Installation.objects.exists():
    begin_installation("Quillbrook Creamery", invented=True)
with act(SOMEBODY) as a:
    files.keep(a, b"photo %d" % first, "photo.jpg", "image/jpeg")
append(count, first=first)
"""


def build(scratch: Scratch, first: int = 100, count: int = 5) -> str:
    """Append to the plant's ledger; gives what verify prints of it."""
    done = scratch.python(BUILD, str(first), str(count))
    assert done.returncode == 0, done.stderr
    return head(scratch)


def head(scratch: Scratch) -> str:
    """Entries and head as `verify` prints them, of a ledger that fits."""
    done = scratch.manage("verify")
    assert done.returncode == 0, done.stdout + done.stderr
    return "\n".join(done.stdout.splitlines()[:2])


@pytest.fixture(scope="module")
def made(_template: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Scratch, str, Path]]:
    """A plant with a few records, what verify prints of it, and its backup. Made once; nothing changes it."""
    folder = tmp_path_factory.mktemp("made")
    with copy_of(_template, folder / "plant") as scratch:
        before = build(scratch)
        done = scratch.manage("backup", str(folder / "backup"))
        assert done.returncode == 0, done.stderr
        assert before in done.stdout
        yield scratch, before, folder / "backup"


@pytest.fixture
def backup(made: tuple[Scratch, str, Path], tmp_path: Path) -> Path:
    """A copy of that backup, to be changed at will."""
    return Path(shutil.copytree(made[2], tmp_path / "backup"))


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def test_a_restored_plant_has_the_same_head(
    made: tuple[Scratch, str, Path], backup: Path, other_scratch: Scratch
) -> None:
    """Into an empty database: ledger, keys and files come back. Then again over itself; then the plant goes on.

    From then on the ledger is longer than the backup, which no longer takes its place.
    """
    scratch, before, _ = made
    for _ in range(2):
        done = other_scratch.manage("restore", str(backup))
        assert done.returncode == 0, done.stderr
        assert before in done.stdout and head(other_scratch) == before
    for name in ("keys", "files"):
        assert files_of(scratch.folder / name) == files_of(other_scratch.folder / name) != {}
    since = build(other_scratch, first=300)
    refused = other_scratch.manage("restore", str(backup))
    assert refused.returncode == 1 and "would lose records" in refused.stderr
    assert head(other_scratch) == since != before


def test_text_with_odd_line_ends_does_not_stop_a_restore(
    scratch: Scratch, other_scratch: Scratch, tmp_path: Path
) -> None:
    """U+2028, U+2029 and U+0085 end a line for some readers; pg_dump writes them as they are."""
    note = (
        "from records.ledger.actions import act\n"
        "from tests.records.ledger.conftest import SOMEBODY\n"
        "from tests.records.ledger.made import made_row\n"
        "with act(SOMEBODY) as a: a.write(made_row('reading note', 1, text='a\\u2028b\\u2029c\\u0085d'))\n"
    )
    done = scratch.python(note)
    assert done.returncode == 0, done.stderr
    done = scratch.manage("backup", str(tmp_path / "backup"))
    assert done.returncode == 0, done.stderr
    for into in (other_scratch, scratch):
        done = into.manage("restore", str(tmp_path / "backup"))
        assert done.returncode == 0, done.stderr


def test_another_ledger_is_not_overwritten(backup: Path, other_scratch: Scratch) -> None:
    """Even a shorter one, when it is not the beginning of the backup's."""
    other = build(other_scratch, first=500, count=1)
    done = other_scratch.manage("restore", str(backup))
    assert done.returncode == 1 and "not the beginning" in done.stderr
    assert head(other_scratch) == other


def test_other_keys_are_not_overwritten(backup: Path, other_scratch: Scratch) -> None:
    """Keys of another installation stay where they are."""
    keys = other_scratch.folder / "keys"
    keys.mkdir(mode=0o700)
    (keys / "authority.pem").write_text("another")
    done = other_scratch.manage("restore", str(backup))
    assert done.returncode == 1 and "keys of another installation" in done.stderr
    assert (keys / "authority.pem").read_text() == "another"


def database_of(folder: Path) -> Path:
    """The database's copy in a backup."""
    return next(one for one in folder.iterdir() if one.name.startswith("database."))


def of_another_database(folder: Path) -> None:
    """Make it say that it is of some other database."""
    manifest = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").write_text(json.dumps({**manifest, "database": "another"}))


def written_anew(folder: Path, **changes: object) -> None:
    """The manifest of what is there now, as somebody who hides a change writes it."""
    manifest = json.loads((folder / "manifest.json").read_text())
    files = [one for one in folder.rglob("*") if one.is_file() and one.name != "manifest.json"]
    hashes = {str(one.relative_to(folder)): hashlib.sha256(one.read_bytes()).hexdigest() for one in files}
    (folder / "manifest.json").write_text(json.dumps({**manifest, "sha256": hashes, **changes}))


def without_a_database(folder: Path) -> None:
    """Something else in its place, with a manifest that fits."""
    database_of(folder).write_bytes(b"no database" * 1000)
    written_anew(folder)


DAMAGE: list[tuple[Callable[[Path], object], str]] = [
    (lambda folder: database_of(folder).write_bytes(b"x"), "was changed"),
    (lambda folder: (folder / "keys" / "plant.pem").unlink(), "not complete"),
    (lambda folder: (folder / "files" / "more").write_bytes(b"x"), "not complete"),
    (lambda folder: (folder / "manifest.json").write_text("{}"), "cannot be read"),
    (lambda folder: (folder / "manifest.json").unlink(), "holds no backup"),
    (of_another_database, "This is a backup of another"),
    (lambda folder: written_anew(folder, entries=9999), "one of the two was changed"),
    (lambda folder: written_anew(folder, entries="many"), "says many with"),
    (lambda folder: written_anew(folder, head="0" * 64), "says [0-9]+ with 0000"),
    (without_a_database, "cannot be read|pg_restore failed"),
]


@pytest.mark.parametrize(("change", "says"), DAMAGE, ids=[says for _, says in DAMAGE])
def test_a_damaged_or_foreign_backup_is_refused(
    backup: Path, change: Callable[[Path], object], says: str, settings: Any, db: None
) -> None:
    """A changed, missing or added file, no manifest, another database: one sentence, and nothing is touched."""
    change(backup)
    with pytest.raises(CommandError, match=says):
        call_command("restore", str(backup))
    assert not settings.KEYS_DIR.exists() and not settings.FILES_DIR.exists() and tree.size() == 0


def test_a_backup_is_readable_by_its_owner_alone(made: tuple[Scratch, str, Path]) -> None:
    """It holds the keys."""
    for path in [made[2], *made[2].rglob("*")]:
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path


def test_a_backup_needs_a_folder_of_its_own(backup: Path, db: None) -> None:
    """A folder with something in it is left alone."""
    with pytest.raises(CommandError, match="not empty"):
        call_command("backup", str(backup))


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path, db: None) -> None:
    """No traceback."""
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match="could not be written"):
        call_command("backup", str(tmp_path / "file" / "backup"))


def test_a_backup_taken_while_records_are_made_is_whole(
    scratch: Scratch, other_scratch: Scratch, tmp_path: Path
) -> None:
    """Its head is that of the entries in it, whatever was appended meanwhile."""
    build(scratch)
    working = scratch.start(
        "from tests.records.ledger.conftest import append\n"
        "print('go', flush=True)\n"
        "from itertools import count\n"
        "for n in count(1000, 3): append(3, first=n)\n"
    )
    try:
        assert working.stdout is not None and working.stdout.readline() == "go\n"
        done = scratch.manage("backup", str(tmp_path / "backup"))
        assert done.returncode == 0, done.stderr
        assert working.poll() is None, "the appending ended before the backup did"
    finally:
        working.kill()
        working.communicate()
    restored = other_scratch.manage("restore", str(tmp_path / "backup"))
    assert restored.returncode == 0, restored.stderr
    assert head(other_scratch) in done.stdout


@pytest.mark.postgres_only
def test_without_pg_dump_the_line_to_install_it_is_printed(
    tmp_path: Path, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The client programs come from Debian."""
    assert shutil.which("pg_dump"), "pg_dump is missing. Run as root: apt-get install postgresql-client"
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(CommandError, match="apt-get install -y --no-install-recommends postgresql-client"):
        call_command("backup", str(tmp_path / "backup"))
