"""The machine on which a benchmark ran, for its JSON line."""

from __future__ import annotations

import os
import platform
import sqlite3


def machine() -> dict[str, object]:
    """Processor, cores, load, versions."""
    return {
        "processor": _processor(),
        "cores": os.cpu_count(),
        "load": round(os.getloadavg()[0], 1),
        "system": f"{platform.system()} {platform.release()}",
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
    }


def _processor() -> str:
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:
            names = [line.split(":", 1)[1].strip() for line in file if line.startswith("model name")]
    except OSError:
        names = []
    return names[0] if names else platform.machine()
