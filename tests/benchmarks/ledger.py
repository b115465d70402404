"""What the ledger costs: python -m tests.benchmarks ledger [--size N]

append_ratio    a reading in a transaction of its own, with the ledger, against the same ORM create of the same typed
                row without it (no entry, no triggers), both without judging, on disk with synchronous=FULL; 1,000
                pairs. The worse of SQLite and PostgreSQL.                                                  wanted: 2
verify_ratio    the tree over the stored bytes against SHA-256 of each entry's bytes, both read from the database     6
rederive_ratio  the whole verification, typed rows included, against reading the same typed rows                      4
memory_ratio    peak memory of verifying the ledger against that of verifying 50,000 entries (a fifth of it, when the
                ledger has no more than those)                                                                      1.2

PostgreSQL is a private cluster that writes to disk before it answers, or the one that DATABASE_URL names.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.benchmarks.machine_part import machine
from tests.services import private_postgres

ROOT = Path(__file__).resolve().parents[2]
SIZE = 50_000
TRANSACTIONS = 1_000
WANTED = {"append_ratio": 2, "verify_ratio": 6, "rederive_ratio": 4, "memory_ratio": 1.2}


def main(arguments: list[str]) -> int:
    """Measure, print what was measured, end with the JSON line."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks ledger")
    parser.add_argument("--size", type=int, default=SIZE, help="entries to verify (default 50,000)")
    size = parser.parse_args(arguments).size
    if size < 10:
        parser.error("--size: at least 10 entries")
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="daybook-benchmark-") as folder:
        on_sqlite = _append_on_sqlite(Path(folder))
        smaller, larger = _verify(Path(folder), SIZE if size > SIZE else size // 5, size)
    on_postgres = _append_on_postgres()
    result: dict[str, Any] = {
        "benchmark": "ledger",
        "append_ratio": max(on_sqlite["ratio"], on_postgres["ratio"]),
        "verify_ratio": larger.pop("verify_ratio"),
        "rederive_ratio": larger.pop("rederive_ratio"),
        "memory_ratio": larger["peak_mb"] / smaller["peak_mb"],
    }
    result = {name: round(value, 2) if isinstance(value, float) else value for name, value in result.items()}
    result["met"] = all(result[name] <= most for name, most in WANTED.items())
    result |= {"append": {"sqlite": on_sqlite, "postgresql": on_postgres}, "verify": larger, "memory": smaller}
    result |= {"seconds": round(time.monotonic() - started, 1), "machine": machine()}
    print(json.dumps(result))
    return 0


def _append_on_sqlite(folder: Path) -> dict[str, Any]:
    say("appending on SQLite, synchronous=FULL")
    urls = [f"sqlite:///{folder / name}.sqlite3" for name in ("ledger", "plain")]
    return _part(["append", str(TRANSACTIONS)], *urls)


def _append_on_postgres() -> dict[str, Any]:
    say("appending on PostgreSQL")
    with _postgres() as urls:
        return _part(["append", str(TRANSACTIONS)], *urls)


def _verify(folder: Path, base: int, size: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """What verifying `base` entries takes, and `size` of them."""
    url = f"sqlite:///{folder / 'verified'}.sqlite3"
    say(f"building {base:,} entries")
    _part(["build", str(base)], url)
    smaller = _part(["verify"], url)
    say(f"building {size:,} entries")
    _part(["build", str(size)], url)
    say(f"verifying {size:,} entries")
    return smaller, _part(["verify", "timed"], url)


@contextmanager
def _postgres() -> Iterator[tuple[str, str]]:
    """Two databases of our own, removed afterwards."""
    import psycopg

    given = os.environ.get("DATABASE_URL", "")
    if not given.startswith(("postgres://", "postgresql://")):
        with private_postgres("ledger", durable=True) as url:
            plain = url.removesuffix("ledger") + "plain"
            with psycopg.connect(url, autocommit=True) as server:
                server.execute("CREATE DATABASE plain")
            yield url, plain
        return
    names = [f"daybook_benchmark_{os.getpid()}_{one}" for one in ("ledger", "plain")]
    with psycopg.connect(given, autocommit=True) as server:
        try:
            for name in names:
                server.execute(f"CREATE DATABASE {name}")
            base = given.rsplit("/", 1)[0]
            yield f"{base}/{names[0]}", f"{base}/{names[1]}"
        finally:
            for name in names:
                server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def _part(words: list[str], url: str, plain_url: str = "") -> dict[str, Any]:
    """One measuring process; its JSON line, ratios rounded."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.ledger_part", *words],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url, "PLAIN_URL": plain_url},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    result: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return result | ({"ratio": round(result["ratio"], 3)} if "ratio" in result else {})


def say(text: str) -> None:
    """A line of progress; the result is the last line of the output."""
    print(text, flush=True)
