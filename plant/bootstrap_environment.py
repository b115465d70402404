"""The virtual environment beside manage.py: whole, stale or half-made, and how it is made.

A stamp inside it keeps the hashes of the pinned lists that were installed, so that a second start costs a few
file reads and no network. A mark stands in it from the first moment to the last of any work on it: found at a
start, it says that the work was cut off.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from plant.bootstrap_terminal import CannotPrepare, Progress, run_shown, say

STAMP = "daybook-prepared.json"
MARK = "daybook-unfinished"
PIN = re.compile(r"^([A-Za-z0-9][A-Za-z0-9._-]*)==([^\s;\\]+)", re.MULTILINE)


def pins(text: str) -> dict[str, str]:
    """Package name (normalized as in PEP 503) to exact version, from the text of a pinned list."""
    return {normal(name): version for name, version in PIN.findall(text)}


def normal(name: str) -> str:
    """A package name as PEP 503 compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


@dataclass(frozen=True)
class Environment:
    """The project's .venv and the pinned lists (paths relative to root) that should be installed in it."""

    root: Path
    files: tuple[str, ...]

    @property
    def folder(self) -> Path:
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        return self.folder / "bin" / "python"

    @property
    def site_packages(self) -> Path | None:
        return next(iter(sorted(self.folder.glob("lib/python3.*/site-packages"))), None)

    def hashes(self) -> dict[str, str]:
        """SHA-256 of each pinned list, by its path."""
        try:
            return {name: hashlib.sha256((self.root / name).read_bytes()).hexdigest() for name in self.files}
        except OSError as error:
            raise CannotPrepare(f"{error.filename} cannot be read: {error.strerror}.") from error

    def stamped(self) -> dict[str, str]:
        """The hashes at the last complete installation; empty when there is none."""
        try:
            found = json.loads((self.folder / STAMP).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def pinned(self) -> dict[str, str]:
        """Every pinned package and its version, from all lists."""
        return {
            name: version
            for file in self.files
            for name, version in pins((self.root / file).read_text(encoding="utf-8")).items()
        }

    def installed(self) -> dict[str, tuple[str, Path]]:
        """Package name to version and its metadata folder, for each package that pip finished."""
        found: dict[str, tuple[str, Path]] = {}
        if self.site_packages is not None:
            for folder in self.site_packages.glob("*.dist-info"):
                name, _, version = folder.name.removesuffix(".dist-info").rpartition("-")
                if (folder / "RECORD").is_file():
                    found[normal(name)] = (version, folder)
        return found

    def is_prepared(self) -> bool:
        """Quick: nothing was cut off, the stamp fits the lists, Python and each pinned package are there."""
        if (self.folder / MARK).exists() or not os.access(self.python, os.X_OK):
            return False
        stamped = self.stamped()
        if any(stamped.get(name) != value for name, value in self.hashes().items()):
            return False
        installed = self.installed()
        versions = {name: version for name, (version, _) in installed.items()}
        if any(versions.get(name) != version for name, version in self.pinned().items()):
            return False
        # The one package whose loss would keep manage.py from even saying what is wrong.
        return not any(lost_files(folder) for name, (_, folder) in installed.items() if name == "django")

    def is_sound(self) -> bool:
        """Slow: nothing was cut off, Python starts and has pip, no file of an installed package is gone."""
        if (self.folder / MARK).exists() or not os.access(self.python, os.X_OK):
            return False
        try:
            asked = [str(self.python), "-I", "-c", "import pip"]
            tried = subprocess.run(asked, capture_output=True, stdin=subprocess.DEVNULL, check=False)
        except OSError:
            return False
        whole = not any(lost_files(folder) for _, folder in self.installed().values())
        return whole and tried.returncode == 0

    def prepare(self) -> None:
        """Makes the environment where it is not sound, installs the pinned lists by their hashes, stamps."""
        try:
            if not self.is_sound():
                self.make()
            self.install()
        except OSError as error:
            where = error.filename or self.root
            raise CannotPrepare(f"{where} cannot be written: {error.strerror}. {_OWN_FOLDER}") from error

    def make(self) -> None:
        """A fresh environment in place of whatever is there."""
        if not os.access(self.root, os.W_OK, effective_ids=True):
            raise CannotPrepare(f"the folder {self.root} cannot be written. {_OWN_FOLDER}")
        if self.folder.is_symlink() or self.folder.is_file():
            raise CannotPrepare(f"{self.folder} is in the way: it is not a folder. Remove it and run again.")
        if self.folder.exists():
            say("the virtual environment is broken or half-made; making it again")
            shutil.rmtree(self.folder)
        self.folder.mkdir()
        (self.folder / MARK).touch()
        progress = Progress("making a virtual environment in .venv")
        command = [sys.executable, "-m", "venv", str(self.folder)]
        status, tail = run_shown(command, progress, lambda line: None)
        if status != 0:
            raise CannotPrepare(f"no virtual environment could be made. Python's last words:\n{_quoted(tail)}")
        progress.done()

    def install(self) -> None:
        """pip, exact pins and hashes only."""
        if not os.access(self.folder, os.W_OK, effective_ids=True):
            raise CannotPrepare(f"the folder {self.folder} cannot be written. {_OWN_FOLDER}")
        hashes, total = self.hashes(), len(self.pinned())
        (self.folder / MARK).touch()
        (self.folder / STAMP).unlink(missing_ok=True)
        progress = Progress(f"installing {total} Python packages (a minute or two the first time)")
        status, tail = run_shown(self._pip(), progress, PipReader(total), {**os.environ, "PIP_USER": "0"})
        if status != 0:
            raise CannotPrepare(
                "the Python packages could not be installed; is the network there? pip's last words:\n" + _quoted(tail)
            )
        (self.folder / STAMP).write_text(json.dumps(hashes, indent=1), encoding="utf-8")
        (self.folder / MARK).unlink()
        progress.done()

    def _pip(self) -> list[str]:
        # Wheels only: a bare Debian has no compiler.
        options = ["--require-hashes", "--only-binary=:all:", "--no-input", "--progress-bar=off"]
        options.append("--disable-pip-version-check")
        lists = [word for name in self.files for word in ("-r", str(self.root / name))]
        return [str(self.python), "-m", "pip", "install", *options, *lists]


_OWN_FOLDER = "Copy the project to a folder of your own, or run this as the folder's owner."


class PipReader:
    """Counts the packages in pip's output and puts where it is into a few words."""

    def __init__(self, total: int) -> None:
        self.total = total
        self.seen = 0

    def __call__(self, line: str) -> str | None:
        if line.startswith(("Collecting ", "Requirement already satisfied: ")):
            name = line.removeprefix("Collecting ").removeprefix("Requirement already satisfied: ")
            self.seen = min(self.seen + 1, self.total)
            return f"{self.seen} of {self.total}: {name.split('==')[0]}"
        if line.startswith("Installing collected packages"):
            return f"{self.total} of {self.total}: putting them in place"
        return None


def lost_files(metadata: Path) -> list[str]:
    """Python files that a package's RECORD lists (PyPA: recording installed projects) and that are gone."""
    with (metadata / "RECORD").open(encoding="utf-8", newline="") as listed:
        names = [row[0] for row in csv.reader(listed) if row and row[0].endswith((".py", ".so"))]
    return [name for name in names if not (metadata.parent / name).exists()]


def _quoted(lines: list[str]) -> str:
    return "\n".join(f"  {line}" for line in lines if line) or "  (none)"
