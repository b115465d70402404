"""Debian packages: found missing by use, installed or asked for in one line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plant import bootstrap_system as system
from plant.bootstrap_terminal import CannotPrepare

pytestmark = pytest.mark.once


def program(folder: Path, name: str, text: str = "exit 0") -> Path:
    """A shell program in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / name
    file.write_text(f"#!/bin/sh\n{text}\n")
    file.chmod(0o755)
    return file


def test_library_that_cannot_be_loaded_is_missing():
    """A library counts as present when it loads: the C library does, an invented one does not."""
    assert system.missing_libraries(["libc.so.6", "libquillbrook.so.1"]) == ["libquillbrook.so.1"]


def test_file_that_is_no_library_is_missing(tmp_path: Path):
    """A file in the library's place that is not one (empty, hidden by a mount) counts as missing."""
    (tmp_path / "libempty.so.1").touch()
    assert system.missing_libraries([str(tmp_path / "libempty.so.1")])


def test_program_that_is_not_on_the_path_is_missing(tmp_path: Path):
    """Programs are looked for on the search path."""
    program(tmp_path, "qpdf")
    assert system.missing_programs(["pdfsig", "qpdf"], path=str(tmp_path)) == ["pdfsig"]


def test_newest_postgresql_is_taken(tmp_path: Path):
    """Of several versions that Debian installed side by side the newest is used, by number."""
    for version in ("9.6", "15", "17"):
        program(tmp_path / version / "bin", "initdb")
    assert system.postgres_programs(str(tmp_path)) == f"{tmp_path}/17/bin"


def test_postgresql_without_initdb_is_none(tmp_path: Path):
    """A client alone makes no cluster."""
    program(tmp_path / "15" / "bin", "psql")
    assert system.postgres_programs(str(tmp_path)) is None


def test_line_to_run_is_exact():
    """The line is what Debian's apt-get takes, without recommended packages or questions."""
    assert system.install_line(["python3-venv"]) == "apt-get install -y --no-install-recommends python3-venv"


def test_each_missing_package_is_named_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Two programs of one package make one word in the line."""
    monkeypatch.setenv("PATH", str(tmp_path))
    packages = system.missing_packages("test", makes_venv=False)
    assert packages.count("poppler-utils") == 1
    assert packages.index("chromium") < packages.index("qpdf")


def test_plain_command_needs_no_debian_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Commands other than demo and test do not look for programs or text libraries."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert system.missing_packages("verify", makes_venv=False) == []


def test_text_libraries_are_those_that_weasyprint_loads():
    """Our list is what WeasyPrint's own source loads by name (weasyprint/text/ffi.py).

    Left out: libharfbuzz-vector, which it can do without and Debian 12 does not have.
    """
    from importlib.metadata import distribution

    source = Path(str(distribution("weasyprint").locate_file("weasyprint/text/ffi.py"))).read_text(encoding="utf-8")
    named = set(re.findall(r"'(lib[\w.-]+\.so\.\d+)'", source.replace('"', "'")))
    assert named - {"libharfbuzz-vector.so.0"} == set(system.TEXT_LIBRARIES)


def test_without_leave_to_install_the_line_is_the_answer():
    """Where packages may not be installed, the trouble carries the exact line and nothing runs."""
    with pytest.raises(CannotPrepare) as trouble:
        system.ensure(lambda: ["qpdf", "chromium"], allowed=False)
    assert str(trouble.value).splitlines()[-1] == "apt-get install -y --no-install-recommends qpdf chromium"


def test_nothing_missing_runs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """When all is there apt-get is not touched, so no network is used."""
    program(tmp_path, "apt-get", f"touch {tmp_path}/called")
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    system.ensure(list, allowed=True)
    assert not (tmp_path / "called").exists()


def test_missing_package_is_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """apt-get is asked for exactly the missing packages, without questions."""
    program(tmp_path, "apt-get", f'echo "$DEBIAN_FRONTEND $*" > {tmp_path}/called')
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    system.ensure(lambda: [] if (tmp_path / "called").exists() else ["qpdf"], allowed=True)
    assert (tmp_path / "called").read_text().split() == (
        ["noninteractive", "-o", "DPkg::Lock::Timeout=120", "install", "-y", "--no-install-recommends", "qpdf"]
    )


def test_stale_package_lists_are_fetched_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """When the first try fails, the lists are updated and the install tried again."""
    works_after_update = '[ "$3" = update ] && touch fresh; test -e fresh'
    program(tmp_path, "apt-get", f'cd {tmp_path}; echo "$3" >> called; {works_after_update}')
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    system.install(["qpdf"])
    assert (tmp_path / "called").read_text().split() == ["install", "update", "install"]


def test_install_that_fails_says_so_with_the_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """No network: the sentence has the line to try by hand and apt-get's last words."""
    program(tmp_path, "apt-get", "echo E: Unable to fetch; exit 100")
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    with pytest.raises(CannotPrepare, match="E: Unable to fetch") as trouble:
        system.install(["qpdf"])
    assert "apt-get install -y --no-install-recommends qpdf" in str(trouble.value)


def test_package_that_stays_missing_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Installed according to Debian, yet not to be found: tried once more, then said."""
    program(tmp_path, "apt-get", f'echo "$*" >> {tmp_path}/called')
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    with pytest.raises(CannotPrepare, match="yet what they hold cannot be used"):
        system.ensure(lambda: ["qpdf"], allowed=True)
    assert "--reinstall qpdf" in (tmp_path / "called").read_text()
