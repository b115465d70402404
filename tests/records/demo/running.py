"""Runs `manage.py demo` as a person would: a process of its own, with none of this process's settings."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
_OURS = ("DATABASE_URL", "DATABASE_URL_FILE", "DJANGO_SETTINGS_MODULE", "SECRET_KEY", "SECRET_KEY_FILE", "DATA_DIR")


def environment(**more: str) -> dict[str, str]:
    """The environment of the tests without what names a database; nothing is prepared."""
    plain = {name: value for name, value in os.environ.items() if name not in _OURS}
    return {**plain, "DAYBOOK_PREPARE": "off", **more}


def command(*arguments: str | Path) -> list[str]:
    """The command line of `manage.py demo`."""
    return [sys.executable, str(ROOT / "manage.py"), "demo", *(str(one) for one in arguments)]


def demo(*arguments: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
    """`manage.py demo …` until it ends."""
    return subprocess.run(
        command(*arguments), capture_output=True, text=True, env=environment(**more), timeout=600, cwd=ROOT, check=False
    )
