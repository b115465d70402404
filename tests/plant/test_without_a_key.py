"""What asks nobody to sign in runs without a secret key; what does says in one sentence that it is missing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[2]


def manage(tmp_path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """manage.py as after a clone: no setting but where its data would go."""
    bare = {name: value for name, value in os.environ.items() if name in ("PATH", "HOME", "LANG")}
    environment = {**bare, "DAYBOOK_PREPARE": "off", "DATA_DIR": str(tmp_path), "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *words],
        cwd=tmp_path, env=environment, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def test_a_calculation_is_explained(tmp_path: Path) -> None:
    """README's line."""
    words = ("--product", "ice cream mix", "--temperature", "175 F", "--time", "25 s")
    done = manage(tmp_path, "explain", "pasteurization", *words)
    assert done.returncode == 0 and "MET, 0 °F and 0 s over" in done.stdout, done.stderr


def test_a_wrong_unit_is_a_sentence(tmp_path: Path) -> None:
    """And no traceback."""
    words = ("--product", "milk", "--temperature", "161 K", "--time", "15 s")
    done = manage(tmp_path, "explain", "pasteurization", *words)
    assert done.returncode == 1 and "K is not a unit for this" in done.stderr and "Traceback" not in done.stderr


def test_serving_without_a_key_is_one_sentence(tmp_path: Path) -> None:
    """It names the setting."""
    done = manage(tmp_path, "runserver")
    assert done.returncode == 1 and done.stderr.startswith("daybook: SECRET_KEY is not set.")
    assert "Traceback" not in done.stderr
