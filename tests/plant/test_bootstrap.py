"""manage.py before Django: what it says on a bare machine, and that it says it in one sentence."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from plant import bootstrap
from plant.bootstrap_terminal import CannotPrepare

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.once


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A copy of the project's first steps, with no environment and an empty folder of programs."""
    (tmp_path / "plant").mkdir()
    (tmp_path / "tests").mkdir()
    (tmp_path / "programs").mkdir()
    for name in ("manage.py", "requirements.txt", "tests/requirements.txt", "plant/__init__.py"):
        shutil.copy(ROOT / name, tmp_path / name)
    for file in (ROOT / "plant").glob("bootstrap*.py"):
        shutil.copy(file, tmp_path / "plant")
    return tmp_path


def manage(bare: Path, *words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """Runs manage.py without site-packages (-S), with nothing on PATH."""
    return subprocess.run(
        [sys.executable, "-S", "manage.py", *words],
        cwd=bare,
        env={"PATH": str(bare / "programs"), **settings},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


def test_missing_programs_end_a_test_run_with_the_line_to_run(bare: Path):
    """Without the programs that the tests need, `test` prints the line that installs them and leaves with 1."""
    ended = manage(bare, "test")
    assert ended.returncode == 1
    assert "Run this line as root" in ended.stderr
    last = ended.stderr.splitlines()[-1]
    assert last.startswith("apt-get install -y --no-install-recommends ")
    assert {"chromium", "poppler-utils", "qpdf", "libnss3-tools", "redis-server", "gettext"} <= set(last.split())


def test_missing_programs_leave_no_environment_behind(bare: Path):
    """Nothing is made before the Debian packages are there."""
    manage(bare, "test")
    assert not (bare / ".venv").exists()


def test_preparing_switched_off_says_what_is_missing(bare: Path):
    """With DAYBOOK_PREPARE=off and no Django, one sentence names the list to install."""
    ended = manage(bare, "check", DAYBOOK_PREPARE="off")
    assert (ended.returncode, ended.stderr.count("\n")) == (1, 1)
    assert "install requirements.txt" in ended.stderr
    assert not (bare / ".venv").exists()


def test_misspelled_switch_is_refused(bare: Path):
    """A value that is neither on nor off stops the start with the setting's name."""
    ended = manage(bare, "check", DAYBOOK_PREPARE="False")
    assert ended.returncode == 1
    assert ended.stderr == "daybook: DAYBOOK_PREPARE is 'False': write on or off.\n"


def test_old_python_gets_one_sentence(bare: Path):
    """A Python before 3.11 is told so."""
    pretend = "import sys, runpy; sys.version_info = (3, 9, 2); runpy.run_path('manage.py', run_name='__main__')"
    ended = subprocess.run([sys.executable, "-c", pretend], cwd=bare, capture_output=True, text=True, check=False)
    assert ended.returncode == 1
    assert ended.stderr == "daybook: Python 3.11 or newer is needed; this is Python 3.9.\n"


def test_manage_can_be_read_by_an_old_python():
    """manage.py keeps to the grammar of Python 3.8: its sentence about the version must be reached."""
    ast.parse((ROOT / "manage.py").read_text(encoding="utf-8"), feature_version=(3, 8))


def test_first_steps_need_the_standard_library_only():
    """Everything that runs before Django is imported by a Python without site-packages."""
    asked = [sys.executable, "-S", "-c", "import plant.bootstrap"]
    assert subprocess.run(asked, cwd=ROOT, check=False).returncode == 0


def test_handing_on_twice_ends_in_a_sentence(bare: Path):
    """A Python that was handed the work and is not the environment's own stops instead of going round."""
    ended = manage(bare, "check", DAYBOOK_HANDED_ON="1")
    assert ended.returncode == 1
    assert "remove it and run again" in ended.stderr


def test_tests_need_both_pinned_lists():
    """`test` installs the tests' packages too; other commands leave them out."""
    assert bootstrap.requirement_files("test") == ("requirements.txt", "tests/requirements.txt")
    assert bootstrap.requirement_files("demo") == ("requirements.txt",)


@pytest.mark.parametrize(("value", "answer"), [("on", True), ("off", False)])
def test_switch_is_on_or_off(monkeypatch: pytest.MonkeyPatch, value: str, answer: bool):
    """DAYBOOK_PREPARE takes on and off."""
    monkeypatch.setenv(bootstrap.SWITCH, value)
    assert bootstrap.wanted() is answer


def test_empty_switch_is_refused(monkeypatch: pytest.MonkeyPatch):
    """An empty DAYBOOK_PREPARE is not taken for either."""
    monkeypatch.setenv(bootstrap.SWITCH, "")
    with pytest.raises(CannotPrepare, match="write on or off"):
        bootstrap.wanted()
