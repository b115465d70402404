"""What a recall's scope costs with ten years behind it: python -m tests.benchmarks lots [--days N]

scope_ratio    the scope of a farm's load from the database, with quantities, shares and who got it, against loading the
               same movements and washes into networkx and taking the descendants                        wanted: 0.3
history_ratio  the Floor page with ten years (200,000 movements) behind it, against one month                     1.2

Both on SQLite and on PostgreSQL; the worse of the two counts. Times of the clock, the least of several runs in turns:
much of the work is the database's.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from plant.demo.environment import DATABASE
from tests.benchmarks.ledger import say
from tests.benchmarks.machine_part import machine
from tests.services import private_postgres

ROOT = Path(__file__).resolve().parents[2]
DAYS, MONTH = 3650, 30
TURNS = 9
WANTED = {"scope_ratio": 0.3, "history_ratio": 1.2}


def main(arguments: list[str]) -> int:
    """Measure, print the JSON line; 1 when a ratio is above its bound."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks lots", description=__doc__)
    parser.add_argument("--days", type=int, default=DAYS, help="days of history (55 movements each)")
    days = parser.parse_args(arguments).days
    if days < 60:
        parser.error("--days: at least 60")
    began = time.monotonic()
    found: dict[str, dict[str, Any]] = {}
    with tempfile.TemporaryDirectory(prefix="daybook-lots-") as folder:
        say("on SQLite")
        paths = [Path(folder) / name for name in ("month", "years")]
        found["sqlite"] = _measured(days, [(path, f"sqlite:///{path / DATABASE}") for path in paths])
    with tempfile.TemporaryDirectory(prefix="daybook-lots-") as folder, private_postgres("month") as url:
        import psycopg

        say("on PostgreSQL")
        with psycopg.connect(url, autocommit=True) as server:
            server.execute("CREATE DATABASE years")
        urls = (url, url.removesuffix("month") + "years")
        paths = [Path(folder) / name for name in ("month", "years")]
        found["postgresql"] = _measured(days, list(zip(paths, urls, strict=True)))
    result: dict[str, Any] = {name: max(one[name] for one in found.values()) for name in WANTED}
    result["met"] = all(result[name] <= most for name, most in WANTED.items())
    result |= {"benchmark": "lots", **found, "seconds": round(time.monotonic() - began, 1), "machine": machine()}
    print(json.dumps(result, sort_keys=True))
    return 0 if result["met"] else 1


def _measured(days: int, places: list[tuple[Path, str]]) -> dict[str, Any]:
    """A process with a month and one with all the days, asked in turns, so that a busy machine is busy for both."""
    parts = []
    for (folder, url), some in zip(places, (MONTH, days), strict=True):
        folder.mkdir()
        parts.append(_part(folder, url, some))
    try:
        built = [json.loads(_line(one)) for one in parts]
        least = [float("inf"), float("inf")]
        for _turn in range(TURNS):
            for place, one in enumerate(parts):
                least[place] = min(least[place], float(_ask(one, "floor")))
        scopes = json.loads(_ask(parts[1], "scopes"))
    finally:
        for one in parts:
            assert one.stdin is not None
            one.stdin.close()
            one.wait(60)
    return {
        "movements": built[1]["movements"],
        "scope_ratio": round(scopes["scope_s"] / scopes["networkx_s"], 3),
        "history_ratio": round(least[1] / least[0], 3),
        "floor_month_s": round(least[0], 4),
        "floor_years_s": round(least[1], 4),
        **scopes,
    }


def _ask(part: subprocess.Popen[str], words: str) -> str:
    assert part.stdin is not None
    part.stdin.write(words + "\n")
    part.stdin.flush()
    return _line(part)


def _line(part: subprocess.Popen[str]) -> str:
    assert part.stdout is not None
    line = part.stdout.readline()
    if not line:
        raise SystemExit("a measuring process ended early; its message stands above")
    return line


def _part(folder: Path, url: str, days: int) -> subprocess.Popen[str]:
    """A process that builds its database and answers."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.lots_part", str(days)],
        cwd=ROOT,
        env={
            **{name: text for name, text in os.environ.items() if name not in ("KEYS_DIR", "FILES_DIR")},
            "DATABASE_URL": url,
            "DATA_DIR": str(folder),
            "SECRET_KEY": "benchmark",
            "DJANGO_SETTINGS_MODULE": "plant.settings",
        },
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
