"""A migrated database of a test's own, with keys and files beside it, for processes that come and go."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.db import connection

ROOT = Path(__file__).resolve().parents[3]
PREPARE = "import django; django.setup()\n"


@dataclass
class Scratch:
    """The database's address and the environment of a process that works on it."""

    url: str
    folder: Path
    more: dict[str, str] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        """For subprocess: this database, these folders."""
        return {
            **os.environ,
            "DATABASE_URL": self.url,
            "DATA_DIR": str(self.folder),
            "SECRET_KEY": "for tests only",
            "DJANGO_SETTINGS_MODULE": "plant.settings",
            "DAYBOOK_PREPARE": "off",
            **self.more,
        }

    def manage(self, *words: str) -> subprocess.CompletedProcess[str]:
        """manage.py in a process of its own."""
        return self._run([sys.executable, "manage.py", *words])

    def python(self, code: str, *words: str) -> subprocess.CompletedProcess[str]:
        """A piece of Python with Django ready."""
        return self._run([sys.executable, "-c", PREPARE + code, *words])

    def start(self, code: str, *words: str) -> subprocess.Popen[str]:
        """The same, left running; its input and output are pipes."""
        pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
        return subprocess.Popen(
            [sys.executable, "-c", PREPARE + code, *words], cwd=ROOT, env=self.environment, text=True, **pipes
        )

    def _run(self, command: list[str]) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command, cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False, timeout=120
        )


@contextmanager
def template(folder: Path) -> Iterator[str]:
    """A migrated database to copy from: a file, or the name of a PostgreSQL database."""
    if connection.vendor == "sqlite":
        file = folder / "template.sqlite3"
        _migrate(Scratch(f"sqlite:///{file}", folder))
        yield str(file)
        return
    name = f"{connection.settings_dict['NAME']}_template_{os.getpid()}"[-63:]
    with _database(name, ""):
        _migrate(Scratch(_url(name), folder))
        yield name


@contextmanager
def copy_of(source: str, folder: Path) -> Iterator[Scratch]:
    """A copy of a template."""
    folder.mkdir(parents=True, exist_ok=True)
    if connection.vendor == "sqlite":
        file = folder / "daybook.sqlite3"
        shutil.copyfile(source, file)
        yield Scratch(f"sqlite:///{file}", folder)
        return
    name = f"{source[-40:]}_{folder.name}"[-63:]
    with _database(name, source):
        yield Scratch(_url(name), folder)


def _migrate(scratch: Scratch) -> None:
    done = scratch.manage("migrate", "-v", "0")
    assert done.returncode == 0, done.stderr
    if scratch.url.startswith("sqlite"):
        # Everything into the one file that is copied.
        import sqlite3

        file = sqlite3.connect(scratch.url.removeprefix("sqlite:///"))
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        file.close()


def _url(name: str) -> str:
    of = connection.settings_dict
    password = f":{of['PASSWORD']}" if of["PASSWORD"] else ""
    return f"postgres://{of['USER']}{password}@{of['HOST']}:{of['PORT'] or 5432}/{name}"


@contextmanager
def _database(name: str, source: str) -> Iterator[None]:
    import psycopg

    of = connection.settings_dict
    where: dict[str, Any] = {"host": of["HOST"], "port": of["PORT"] or 5432, "user": of["USER"], "dbname": "postgres"}
    with psycopg.connect(**where, password=of["PASSWORD"] or None, autocommit=True) as server:
        server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        server.execute(f'CREATE DATABASE "{name}"' + (f' TEMPLATE "{source}"' if source else ""))
        try:
            yield
        finally:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
