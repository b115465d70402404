"""manage.py import_trace: columns said once, the next file read without a question, refusals with their sentence."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command

from records.traces.models import TraceFile, TraceUpload
from tests.conftest import Plant

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 2, 6, 0, tzinfo=ZoneInfo("America/Chicago"))


def written(folder: Path, name: str, first: int = 0, rows: int = 120) -> Path:
    """A recorder's file: a row a second."""
    lines = ["Date and time,Milk out (°F),Forward"]
    for at in range(first, first + rows):
        lines.append(f"{START + timedelta(seconds=at):%Y-%m-%d %H:%M:%S},{163 + at % 3 / 10:.1f},0")
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def said(*given: object) -> str:
    """What the command prints."""
    out = io.StringIO()
    call_command("import_trace", *map(str, given), stdout=out)
    return out.getvalue()


@pytest.fixture
def later(plant: Plant) -> Plant:
    """Some hours after the files."""
    plant.at(START + timedelta(hours=30))
    return plant


COLUMNS = ("--column", "2=T-12", "--column", "3=fd-press-1", "--source", "Press recorder")


def test_a_source_is_said_once(later: Plant, tmp_path: Path) -> None:
    """The first file with its columns; the second by its source's memory; the same again adds nothing."""
    assert "120 rows, 240 new samples" in said(written(tmp_path, "one.csv"), *COLUMNS)
    assert "240 new samples" in said(written(tmp_path, "two.csv", first=120))
    assert "nothing was added" in said(tmp_path / "one.csv")
    assert TraceFile.objects.count() == 2 and not TraceUpload.objects.exists()


def test_looking_keeps_nothing(later: Plant, tmp_path: Path) -> None:
    """It names the columns with what they begin with."""
    text = said(written(tmp_path, "one.csv"), "--look")
    assert "2: number °F Milk out (°F)" in text and "163.1" in text and not TraceFile.objects.exists()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((), "How to read this file is not known yet"),
        (("--column", "2=T-12"), "--source NAME"),
        (("--column", "T-12", "--source", "x"), "write it as 2=tr-press-1"),
        (("--column", "9=T-12", "--source", "x"), "does not have"),
        (("--column", "2=T-99", "--source", "x"), "T-99"),
    ],
)
def test_what_is_not_known_is_asked_for(later: Plant, tmp_path: Path, given: tuple[str, ...], words: str) -> None:
    """One sentence, nothing kept, nothing left on disk."""
    with pytest.raises(CommandError, match=words):
        said(written(tmp_path, "one.csv"), *given)
    assert not TraceFile.objects.exists() and not TraceUpload.objects.exists()


def test_a_file_that_is_not_there(later: Plant, tmp_path: Path) -> None:
    """Said with its name."""
    with pytest.raises(CommandError, match=r"none\.csv cannot be read"):
        said(tmp_path / "none.csv")


def test_what_is_no_recording(later: Plant, tmp_path: Path) -> None:
    """The reason of the reader."""
    (tmp_path / "photo.csv").write_bytes(b"\xff\xd8\xff\xe0" + bytes(5000))
    with pytest.raises(CommandError, match=r"photo\.csv: "):
        said(tmp_path / "photo.csv", "--look")


@pytest.mark.parametrize("name", ["one.csv"])
def test_before_a_plan_nothing_is_kept(db: None, tmp_path: Path, name: str) -> None:
    """There are no instruments yet."""
    with pytest.raises(CommandError, match="No plan is in force"):
        said(written(tmp_path, name))
