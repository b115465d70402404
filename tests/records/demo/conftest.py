"""One plant built once for all tests that look at it."""

from __future__ import annotations

import fcntl
import json
import os
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.records.demo.running import demo

Ask = Callable[..., list[tuple[Any, ...]]]


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The folder of `demo --once`, and how the run that built it ended. Look only; copy it before you change it.

    Built once for all workers of a run: the first builds it while the others wait.
    """
    shared = "PYTEST_XDIST_WORKER" in os.environ
    root = tmp_path_factory.getbasetemp().parent if shared else tmp_path_factory.mktemp("demo")
    out, said = root / "built-once" / "out", root / "built-once.json"
    with (root / "built-once.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not said.exists():
            out.parent.mkdir()
            ended = demo("--once", "--out", out)
            said.write_text(json.dumps([ended.args, ended.returncode, ended.stdout, ended.stderr]), encoding="utf-8")
        return out, subprocess.CompletedProcess(*json.loads(said.read_text(encoding="utf-8")))


@pytest.fixture(scope="session")
def demo_dir(built: tuple[Path, subprocess.CompletedProcess[str]]) -> Path:
    """The built folder: daybook.sqlite3, keys, files, the signed sheets."""
    out, ended = built
    assert ended.returncode == 0, ended.stderr
    return out


@pytest.fixture
def ask(demo_dir: Path) -> Ask:
    """`ask(sql, …)`: rows of the demo's database, opened for reading only."""

    def rows(sql: str, *values: object) -> list[tuple[Any, ...]]:
        connection = sqlite3.connect(f"file:{demo_dir / 'daybook.sqlite3'}?mode=ro", uri=True)
        try:
            return list(connection.execute(sql, values))
        finally:
            connection.close()

    return rows
