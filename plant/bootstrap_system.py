"""What must come from Debian: what a command needs, what is missing, the line that installs it.

Libraries are looked for by loading them and programs by finding them, not by asking the package manager: what
counts is that they work. As root the packages are installed; else the exact line to run is the answer.
"""

from __future__ import annotations

import ctypes
import glob
import importlib
import importlib.util
import os
import shutil
from collections.abc import Callable, Iterable, Mapping

from plant.bootstrap_terminal import CannotPrepare, Progress, run_shown

VENV_PACKAGE = "python3-venv"
# What WeasyPrint 70 loads by name, and the Debian package that holds each.
TEXT_LIBRARIES: Mapping[str, str] = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz.so.0": "libharfbuzz0b",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
    "libfontconfig.so.1": "libfontconfig1",
    "libgobject-2.0.so.0": "libglib2.0-0",
}
# These bring the others along.
TEXT_PACKAGES = ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core")
TEST_PROGRAMS: Mapping[str, str] = {
    "chromium": "chromium",
    "pdfsig": "poppler-utils",
    "pdftoppm": "poppler-utils",
    "qpdf": "qpdf",
    "certutil": "libnss3-tools",
    "redis-server": "redis-server",
    "mosquitto": "mosquitto",
    "msgmerge": "gettext",
}
POSTGRES_PACKAGE = "postgresql"
APT_LINE = ("apt-get", "install", "-y", "--no-install-recommends")


def missing_libraries(names: Iterable[str]) -> list[str]:
    """The shared libraries that cannot be loaded."""
    return [name for name in names if not _loads(name)]


def _loads(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True


def missing_programs(programs: Iterable[str], path: str | None = None) -> list[str]:
    """The programs that are not on the search path (PATH, unless another is given)."""
    return [name for name in programs if shutil.which(name, path=path) is None]


def postgres_programs(base: str = "/usr/lib/postgresql") -> str | None:
    """The folder with initdb and postgres of the newest PostgreSQL that Debian installed, or None."""
    found = [folder for folder in glob.glob(f"{base}/*/bin") if os.access(f"{folder}/initdb", os.X_OK)]
    return max(found, key=_major, default=None)


def _major(folder: str) -> float:
    try:
        return float(folder.split("/")[-2])
    except ValueError:
        return 0.0


def missing_packages(command: str, *, makes_venv: bool) -> list[str]:
    """The Debian packages that must still be installed for this command, in a fixed order, each once."""
    missing: list[str] = []
    if makes_venv and not _can_make_venv():
        missing.append(VENV_PACKAGE)
    if command in {"demo", "test"} and missing_libraries(TEXT_LIBRARIES):
        missing += TEXT_PACKAGES
    if command == "test":
        missing += [TEST_PROGRAMS[name] for name in missing_programs(TEST_PROGRAMS)]
        if postgres_programs() is None:
            missing.append(POSTGRES_PACKAGE)
    return list(dict.fromkeys(missing))


def _can_make_venv() -> bool:
    importlib.invalidate_caches()
    return all(importlib.util.find_spec(name) is not None for name in ("venv", "ensurepip"))


def install_line(packages: Iterable[str]) -> str:
    """The exact line for a person to run."""
    return " ".join([*APT_LINE, *packages])


def may_install() -> bool:
    """Whether Debian packages can be installed from here: by root, with apt-get at hand."""
    return os.geteuid() == 0 and shutil.which("apt-get") is not None


def ensure(missing: Callable[[], list[str]], *, allowed: bool) -> None:
    """Installs what missing() names; raises CannotPrepare with the line to run where that is not allowed."""
    packages = missing()
    if not packages:
        return
    line = install_line(packages)
    if not allowed:
        raise CannotPrepare(f"Debian packages are missing. Run this line as root, then start again:\n{line}")
    install(packages)
    if missing():
        # Packages that Debian counts as installed while their files are gone or hidden.
        owners = [TEXT_LIBRARIES[name] for name in missing_libraries(TEXT_LIBRARIES)]
        lost = dict.fromkeys([*missing(), *owners])
        apt([*APT_LINE, "--reinstall", *lost], "putting back lost files of Debian packages")
    if left := missing():
        line = install_line(["--reinstall", *left])
        raise CannotPrepare(
            f"Debian counts these as installed, yet what they hold cannot be used. Try by hand:\n{line}"
        )


def install(packages: list[str]) -> None:
    """Installs packages; package lists that are missing or out of date are fetched once."""
    title = f"installing from Debian: {' '.join(packages)}"
    if apt([*APT_LINE, *packages], title)[0] == 0:
        return
    apt(["apt-get", "update"], "fetching Debian's package lists")
    status, tail = apt([*APT_LINE, *packages], title)
    if status != 0:
        last = "\n".join(f"  {line}" for line in tail[-5:])
        raise CannotPrepare(
            f"Debian's packages could not be installed; is the network there? Try it by hand:\n"
            f"{install_line(packages)}\napt-get's last words:\n{last}"
        )


def apt(command: list[str], title: str) -> tuple[int, list[str]]:
    """Runs apt-get without questions, waiting for another one to end; returns its status and last lines."""
    progress = Progress(title)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    waiting = ["-o", "DPkg::Lock::Timeout=120"]
    status, tail = run_shown([command[0], *waiting, *command[1:]], progress, lambda line: line or None, environment)
    if status == 0:
        progress.done()
    return status, tail
