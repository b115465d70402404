"""What the demo refuses: each time one clear sentence and status 1, and nothing touched."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from pathlib import Path

import pytest

from tests.records.demo.running import demo

pytestmark = [pytest.mark.once, pytest.mark.slow]


def one_sentence(ended: subprocess.CompletedProcess[str]) -> str:
    """The only line of the ended run, which ended with 1."""
    assert ended.returncode == 1, ended.stdout + ended.stderr
    assert ended.stdout == ""
    lines = ended.stderr.strip().splitlines()
    assert len(lines) == 1, ended.stderr
    assert lines[0].startswith("daybook: ")
    return lines[0]


@pytest.mark.parametrize("options", [("--once", "--out", "out"), ("--dir", "out")])
def test_a_database_url_is_refused(tmp_path: Path, options: tuple[str, ...]) -> None:
    """The demo has a database of its own; the one that DATABASE_URL names is not made, not touched."""
    other = tmp_path / "real.sqlite3"
    words = [str(tmp_path / "out") if one == "out" else one for one in options]
    assert "DATABASE_URL" in one_sentence(demo(*words, DATABASE_URL=f"sqlite:///{other}"))
    assert not other.exists() and not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    """A file stands where the folder should go: even root cannot make it."""
    (tmp_path / "file").write_text("")
    assert "cannot be made" in one_sentence(demo("--once", "--out", tmp_path / "file" / "out"))


def test_a_folder_that_cannot_be_written_is_named() -> None:
    """/proc stands and takes no file, not even from root."""
    assert "cannot be written" in one_sentence(demo("--once", "--out", "/proc"))


def test_a_real_plants_database_is_left_alone(demo_dir: Path, tmp_path: Path) -> None:
    """A database whose first entry does not say 'invented' is not built on, not removed, not served."""
    out = tmp_path / "copy"
    shutil.copytree(demo_dir, out)
    with sqlite3.connect(out / "daybook.sqlite3") as connection:
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'records_installation'"
        )
        for (name,) in names.fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("UPDATE records_installation SET invented = 0")
    assert "real plant" in one_sentence(demo("--once", "--out", out))
    assert "real plant" in one_sentence(demo("--dir", out, "--port", "0"))
    (out / "demo.json").unlink()
    assert "real plant" in one_sentence(demo("--once", "--out", out))
    assert (out / "daybook.sqlite3").stat().st_size > 100_000


def test_options_that_do_not_go_together_are_named(tmp_path: Path) -> None:
    """--once without --out, --out without --once, --dir with --once, a port that is none."""
    assert "--out" in one_sentence(demo("--once"))
    assert "--once" in one_sentence(demo("--out", tmp_path / "a"))
    assert "--dir" in one_sentence(demo("--once", "--out", tmp_path / "a", "--dir", tmp_path / "b"))
    assert "port" in one_sentence(demo("--dir", tmp_path / "a", "--port", "70000"))
