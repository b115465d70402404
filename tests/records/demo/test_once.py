"""`manage.py demo --once`: three days built, signed and verified, the same when it is asked again."""

from __future__ import annotations

import shutil
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.pdf_tools import pdfsig_report, qpdf_check
from tests.records.demo.running import ROOT, demo, environment

pytestmark = [pytest.mark.once, pytest.mark.slow]

DAYS = ("2026-03-02", "2026-03-03", "2026-03-04")


def test_it_ends_well_with_a_line_for_each_thing(built: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """Status 0; a line a sheet, one for the certificate, one for the ledger, which fits."""
    _out, ended = built
    assert ended.returncode == 0, ended.stderr
    lines = ended.stdout.splitlines()
    assert len(lines) == len(DAYS) + 2
    assert all(f"day-sheet-{day}.pdf" in line for day, line in zip(DAYS, lines, strict=False))
    assert lines[-1].startswith("ledger: ") and lines[-1].endswith("everything fits")


@pytest.mark.parametrize("day", DAYS)
def test_both_signatures_of_each_sheet_hold(demo_dir: Path, day: str) -> None:
    """pdfsig (poppler) finds both valid and trusted under the plant's authority; qpdf finds no fault."""
    sheet = demo_dir / f"day-sheet-{day}.pdf"
    reports = pdfsig_report(sheet, (demo_dir / "authority.pem").read_text())
    assert [(one["signer"], one["valid"], one["trusted"]) for one in reports] == [
        ("Tomas Reed", True, True),
        ("Wren Castell", True, True),
    ]
    assert reports[-1]["whole"]
    assert "No syntax or stream encoding errors" in qpdf_check(sheet)


@pytest.mark.parametrize("day", DAYS)
def test_every_page_says_that_the_plant_is_invented(demo_dir: Path, day: str) -> None:
    """Each page of each sheet, by pdftotext."""
    path = str(demo_dir / f"day-sheet-{day}.pdf")
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout
    pages = text.rstrip("\f").split("\f")
    assert len(pages) > 1
    assert all("invented plant" in page.lower() for page in pages)


def test_again_verifies_and_adds_nothing(demo_dir: Path, tmp_path: Path) -> None:
    """A second run on a finished folder prints the same head and leaves the database's bytes and sheets alone."""
    out = tmp_path / "copy"
    shutil.copytree(demo_dir, out)
    before = {path.name: path.read_bytes() for path in out.glob("day-sheet-*.pdf")}
    rows = _entries(out)
    first, second = demo("--once", "--out", out), demo("--once", "--out", out)
    assert first.returncode == second.returncode == 0, second.stderr
    assert first.stdout == second.stdout
    assert _entries(out) == rows
    assert {path.name: path.read_bytes() for path in out.glob("day-sheet-*.pdf")} == before


def _entries(out: Path) -> tuple[int, str]:
    with sqlite3.connect(out / "daybook.sqlite3") as connection:
        found: tuple[int, str] = connection.execute(
            "SELECT number, leaf FROM records_entry ORDER BY number DESC LIMIT 1"
        ).fetchone()
    return found


def test_a_lost_sheet_is_put_back(demo_dir: Path, tmp_path: Path) -> None:
    """The bytes come from the kept files: nothing is signed again."""
    out = tmp_path / "copy"
    shutil.copytree(demo_dir, out)
    sheet = out / "day-sheet-2026-03-03.pdf"
    kept = sheet.read_bytes()
    sheet.unlink()
    assert demo("--once", "--out", out).returncode == 0
    assert sheet.read_bytes() == kept


def test_an_altered_record_is_said_and_ends_with_1(demo_dir: Path, tmp_path: Path) -> None:
    """A reading changed behind the triggers: the line names its entry."""
    out = tmp_path / "copy"
    shutil.copytree(demo_dir, out)
    with sqlite3.connect(out / "daybook.sqlite3") as connection:
        names = connection.execute("SELECT name FROM sqlite_master WHERE type='trigger' AND tbl_name='records_reading'")
        for (name,) in names.fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        (number,) = connection.execute("SELECT number FROM records_reading WHERE typed = '46.4'").fetchone()
        connection.execute("UPDATE records_reading SET typed = '36.4' WHERE number = ?", [number])
    ended = demo("--once", "--out", out)
    assert ended.returncode == 1
    assert f"DIFFERS  entry {number}" in ended.stdout or f" {number}" in ended.stdout
    assert "everything fits" not in ended.stdout


def test_secrets_are_for_their_owner_alone(demo_dir: Path) -> None:
    """The key file of sessions, the tablet's token and the signing keys: 0600 and 0700."""
    for name in ("secret", "demo.json"):
        assert stat.S_IMODE((demo_dir / name).stat().st_mode) == 0o600
    keys = [path for path in (demo_dir / "keys").rglob("*") if path.suffix in (".key", ".pem") and "key" in path.name]
    assert all(stat.S_IMODE(path.stat().st_mode) == 0o600 for path in keys)
    assert stat.S_IMODE((demo_dir / "keys").stat().st_mode) == 0o700


def test_a_start_that_was_cut_off_is_built_anew(demo_dir: Path, tmp_path: Path) -> None:
    """A database without its finishing mark, still marked as invented, is no finished plant."""
    out = tmp_path / "copy"
    shutil.copytree(demo_dir, out)
    (out / "demo.json").unlink()
    script = (
        "import os, sys; sys.argv = ['manage.py', 'demo']; from plant.demo import environment;"
        f"environment.point(['--once', '--out', {str(out)!r}]);"
        "os.environ['DJANGO_SETTINGS_MODULE'] = 'plant.settings'; import django; django.setup();"
        "from records.demo import building; assert building.standing() is None; building.clear_half_built();"
        "print(os.path.exists(building._database()))"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, env=environment(), cwd=ROOT, check=False
    )
    assert ended.stdout.strip() == "False", ended.stderr
