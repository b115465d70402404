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
DAYS = 3650
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
        found["sqlite"] = _part(Path(folder), f"sqlite:///{Path(folder) / DATABASE}", days)
    with tempfile.TemporaryDirectory(prefix="daybook-lots-") as folder, private_postgres("lots") as url:
        say("on PostgreSQL")
        found["postgresql"] = _part(Path(folder), url, days)
    result: dict[str, Any] = {name: max(one[name] for one in found.values()) for name in WANTED}
    result["met"] = all(result[name] <= most for name, most in WANTED.items())
    result |= {"benchmark": "lots", **found, "seconds": round(time.monotonic() - began, 1), "machine": machine()}
    print(json.dumps(result, sort_keys=True))
    return 0 if result["met"] else 1


def _part(folder: Path, url: str, days: int) -> dict[str, Any]:
    """One measuring process; its JSON line."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.lots_part", str(days)],
        cwd=ROOT,
        env={
            **{name: text for name, text in os.environ.items() if name not in ("KEYS_DIR", "FILES_DIR")},
            "DATABASE_URL": url,
            "DATA_DIR": str(folder),
            "SECRET_KEY": "benchmark",
            "DJANGO_SETTINGS_MODULE": "plant.settings",
        },
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found
