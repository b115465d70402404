"""SQLite's write-ahead log after a kill: what was acknowledged is in it, and whoever loses it loses those records."""

from __future__ import annotations

import os
import shutil
import signal
from pathlib import Path

import pytest

from tests.records.ledger.scratch import Scratch

pytestmark = [pytest.mark.sqlite_only, pytest.mark.slow]

APPEND = """
import sys
from tests.records.ledger.conftest import append
for first in range(1, 31, 3):
    append(3, first=first)
print("acknowledged", flush=True)
sys.stdin.readline()
"""


@pytest.fixture
def killed(scratch: Scratch) -> tuple[Scratch, Path, Path]:
    """Thirty records in the log alone, their writer killed; the database's file, and a head that lies outside."""
    file = Path(scratch.url.removeprefix("sqlite:///"))
    process = scratch.start(APPEND)
    assert process.stdout is not None and process.stdout.readline() == "acknowledged\n"
    done = scratch.manage("verify")
    assert done.stdout.startswith("entries: 30\n"), done.stderr
    os.kill(process.pid, signal.SIGKILL)
    process.communicate(timeout=30)
    head = scratch.folder / "head.txt"
    head.write_text("\n".join(done.stdout.splitlines()[:2]))
    assert log_of(file).stat().st_size > 0
    return scratch, file, head


def log_of(file: Path) -> Path:
    """The write-ahead log beside a database."""
    return file.with_name(f"{file.name}-wal")


def test_killed_writer_lost_nothing(killed: tuple[Scratch, Path, Path]) -> None:
    """Every acknowledged record comes back from the log, and the outside head fits."""
    scratch, _, head = killed
    done = scratch.manage("verify", "--head", str(head))
    assert done.returncode == 0 and "it vouches for entries 1 to 30" in done.stdout


def test_log_cut_or_removed_is_seen_by_the_outside_head_alone(killed: tuple[Scratch, Path, Path]) -> None:
    """What is left is the beginning of the same ledger, whole in itself: only a head outside knows that it was more."""
    scratch, file, head = killed
    log = log_of(file)
    whole = log.read_bytes()
    log.write_bytes(whole[: len(whole) // 2])
    done = scratch.manage("verify", "--head", str(head))
    assert done.returncode == 1 and "the outside head knows 30 entries" in done.stdout
    log.unlink(missing_ok=True)  # the verification, the last to leave, took it in
    alone = scratch.manage("verify")
    assert alone.returncode == 0 and "cut off its end" in alone.stdout


@pytest.mark.parametrize("left", ["nothing", "an empty file"])
def test_file_moved_away_without_its_log_stops_the_start(killed: tuple[Scratch, Path, Path], left: str) -> None:
    """SQLite would make the file anew and erase the log; so nothing starts, and put back, all records are there."""
    scratch, file, head = killed
    moved = scratch.folder / "moved.sqlite3"
    shutil.move(file, moved)
    if left == "an empty file":
        file.touch()
    size = log_of(file).stat().st_size
    done = scratch.manage("verify")
    assert done.returncode != 0 and "still holds records" in done.stderr
    assert log_of(file).stat().st_size == size
    shutil.move(moved, file)
    done = scratch.manage("verify", "--head", str(head))
    assert done.returncode == 0 and "it vouches for entries 1 to 30" in done.stdout
