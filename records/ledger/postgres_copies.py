"""PostgreSQL's part of backing up: its own pg_dump and pg_restore, at one snapshot whose head is known."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.db import connection

from records.ledger.merkle import Growing

INSTALL = "apt-get install -y --no-install-recommends postgresql-client"


class ProgramFailed(RuntimeError):
    """pg_dump or pg_restore is missing or failed; the message carries its words, or the line to install it."""


def dump(target: Path) -> tuple[int, str]:
    """Write the database to a file (custom format); gives the size and head of the ledger in it."""
    program = _program("pg_dump")
    other: Any = connection.get_new_connection(connection.get_connection_params())
    try:
        other.autocommit = False
        with other.cursor() as cursor:
            # pg_dump sees exactly what this transaction sees, whatever is appended meanwhile.
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
            _run([program, "--format=custom", f"--snapshot={snapshot}", f"--file={target}"])
        target.chmod(0o600)
        with other.cursor(name="leaves") as cursor:
            cursor.execute("SELECT leaf FROM records_entry ORDER BY number")
            return _head(leaf for (leaf,) in cursor)
    finally:
        other.close()


def head_in(file: Path, at: int | None = None) -> tuple[int, str]:
    """The size and head (of the first `at` entries) of the ledger in a dump."""
    text = _run([_program("pg_restore"), "--data-only", "--table=records_entry", "--file=-", str(file)])
    return _head(leaf for number, leaf in sorted(_entries(text)) if at is None or number <= at)


def put_back(file: Path) -> None:
    """Replace the database's content by the dump's, all of it or nothing."""
    program = _program("pg_restore")
    connection.close()
    database = str(connection.settings_dict["NAME"])
    options = ["--clean", "--if-exists", "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error"]
    _run([program, *options, f"--dbname={database}", str(file)])


def _entries(copied: str) -> Iterator[tuple[int, str]]:
    """Number and leaf of the rows of a COPY."""
    columns: list[str] = []
    for line in copied.split("\n"):  # not splitlines: a text may hold U+2028 and others that it takes for line ends
        if line.startswith("COPY ") and "records_entry (" in line:
            columns = [name.strip(' "') for name in line[line.index("(") + 1 : line.index(")")].split(",")]
        elif line == "\\.":
            columns = []
        elif columns:
            row = dict(zip(columns, line.split("\t"), strict=True))
            yield int(row["number"]), row["leaf"]


def _head(leaves: Iterator[str]) -> tuple[int, str]:
    grown = Growing()
    for leaf in leaves:
        grown.add(bytes.fromhex(leaf))
    return grown.size, grown.root().hex()


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise ProgramFailed(f"{name} is missing. Run this line as root: {INSTALL}")
    return found


def _run(command: list[str]) -> str:
    settings = connection.settings_dict
    # In the environment, not on the command line, where others could read the password.
    named = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    given = {variable: str(settings[key]) for variable, key in named.items() if settings.get(key)}
    done = subprocess.run(
        command, env={**os.environ, **given}, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )
    if done.returncode != 0:
        raise ProgramFailed(f"{Path(command[0]).name} failed: {done.stderr.strip()[-600:]}")
    return done.stdout
