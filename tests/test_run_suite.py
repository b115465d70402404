"""How the suite is run: what belongs to which run, when it counts as passed, and its private servers."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
import redis

from tests import run_suite, selection, services
from tests.run_suite import NOTHING_TO_RUN, Part, verdict

ROOT = Path(__file__).resolve().parents[1]
MARKED = """
import pytest
def test_anywhere(): pass
@pytest.mark.once
def test_once(): pass
@pytest.mark.sqlite_only
def test_sqlite(): pass
@pytest.mark.postgres_only
def test_postgres(): pass
"""

pytestmark = pytest.mark.once


def selected(tmp_path: Path, **settings: str) -> set[str]:
    """Names of the tests that pytest runs, of four with different marks, under these settings."""
    (tmp_path / "test_marked.py").write_text(MARKED)
    names = "markers =\n  once: x\n  sqlite_only: x\n  postgres_only: x\n"
    (tmp_path / "pytest.ini").write_text(f"[pytest]\n{names}")
    clean = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", selection.AGAIN}}
    plugins = ["-p", "tests.selection", "-p", "no:django", "-p", "no:cacheprovider", "-p", "no:xdist"]
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", "-v", *plugins, str(tmp_path)],
        cwd=tmp_path,
        env={**clean, "PYTHONPATH": str(ROOT), **settings},
        capture_output=True,
        text=True,
        check=True,
    )
    return {line.split("::")[1].split()[0] for line in ran.stdout.splitlines() if "PASSED" in line}


def test_sqlite_run_leaves_out_what_is_about_postgresql(tmp_path: Path):
    """Without DATABASE_URL everything runs but the tests about PostgreSQL itself."""
    assert selected(tmp_path) == {"test_anywhere", "test_once", "test_sqlite"}


def test_second_run_leaves_out_what_needs_one_run(tmp_path: Path):
    """The run on PostgreSQL repeats only what can differ there."""
    settings = {"DATABASE_URL": "postgres://nobody@127.0.0.1/none", selection.AGAIN: "1"}
    assert selected(tmp_path, **settings) == {"test_anywhere", "test_postgres"}


def test_developers_run_on_postgresql_keeps_tests_marked_once(tmp_path: Path):
    """By hand, with DATABASE_URL alone, nothing is left out but the tests about SQLite itself."""
    settings = {"DATABASE_URL": "postgresql://nobody@127.0.0.1/none"}
    assert selected(tmp_path, **settings) == {"test_anywhere", "test_once", "test_postgres"}


def test_one_failed_part_fails_the_suite():
    """A later part that is well does not cover an earlier one that is not."""
    assert verdict([Part("ruff", 1, 0.1), Part("pytest", 0, 1.0)], chosen=False) == 1


def test_suite_is_well_when_all_parts_are():
    """Every status zero gives zero."""
    assert verdict([Part("ruff", 0, 0.1), Part("pytest", 0, 1.0)], chosen=False) == 0


def test_whole_run_without_a_test_fails():
    """A run of everything that finds no test is a fault, not a pass."""
    assert verdict([Part("SQLite", 0, 1.0), Part("PostgreSQL", NOTHING_TO_RUN, 1.0)], chosen=False) == 1


def test_chosen_tests_may_belong_to_one_run():
    """Tests named by hand that all belong to one database pass, though the other run has none."""
    assert verdict([Part("SQLite", 0, 1.0), Part("PostgreSQL", NOTHING_TO_RUN, 1.0)], chosen=True) == 0


def test_chosen_tests_that_do_not_exist_fail():
    """Arguments that select nothing at all are a fault."""
    assert verdict([Part("a", NOTHING_TO_RUN, 1.0), Part("b", NOTHING_TO_RUN, 1.0)], chosen=True) == 1


def test_own_settings_do_not_reach_the_tests():
    """A developer's database and key are left out; the run's own values and other variables stay."""
    base = {"DATABASE_URL": "postgres://plant/real", "SECRET_KEY": "real", "PATH": "/bin"}
    assert run_suite.environment(base, {"DATABASE_URL": "x"}) == {"PATH": "/bin", "DATABASE_URL": "x"}


def test_every_setting_of_the_project_is_kept_away():
    """Each name that plant/settings.py reads from the environment is in the list that the runner removes."""
    import re

    text = (ROOT / "plant" / "settings.py").read_text(encoding="utf-8")
    read = set(re.findall(r"env\.(?:text|flag|whole|listed|folder)\(\s*\"([A-Z_]+)\"", text))
    assert read
    assert read <= set(run_suite.SETTINGS)


def test_ci_runs_the_suite():
    """.ci/run can be executed and calls the one command."""
    script = ROOT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    assert "python3 manage.py test" in script.read_text(encoding="utf-8")


@pytest.mark.slow
def test_private_postgresql_answers_on_loopback_and_ends():
    """The cluster is PostgreSQL, listens on loopback alone, has the database that it names, and is gone after."""
    with services.private_postgres() as url:
        with psycopg.connect(url) as connection:
            row = connection.execute("select current_database(), current_setting('listen_addresses')").fetchone()
        assert row == ("daybook", "127.0.0.1")
    assert not listens(url)


@pytest.mark.slow
def test_private_postgresql_ends_when_its_block_fails():
    """A failure inside the block stops the server and removes its folder all the same."""
    with pytest.raises(ZeroDivisionError), services.private_postgres() as url:
        with psycopg.connect(url) as connection:
            row = connection.execute("show data_directory").fetchone()
        raise ZeroDivisionError
    assert row is not None
    assert not Path(row[0]).exists()
    assert not listens(url)


def test_private_redis_keeps_a_value_and_ends():
    """The broker is Redis, keeps what it is given, and is gone after the block."""
    with services.private_redis() as url, redis.Redis.from_url(url) as client:
        client.set("vat", "full")
        assert client.get("vat") == b"full"
    assert not listens(url)


def test_server_that_does_not_start_shows_its_log(tmp_path: Path):
    """A program that ends at once is tried again and then reported with what it wrote."""

    def command(port: int) -> list[str]:
        return [sys.executable, "-c", "raise SystemExit('no milk')"]

    server = services._server(command, lambda port: False, tmp_path / "log", None, services.signal.SIGTERM)
    with pytest.raises(services.ServiceFailed, match="no milk"), server:
        pass


def listens(url: str) -> bool:
    """Whether anything answers at the address."""
    parts = urlsplit(url)
    try:
        socket.create_connection((parts.hostname, parts.port), timeout=1).close()
    except OSError:
        return False
    return True
