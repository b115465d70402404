"""Progress: plain lines in a file, one moving line on a terminal."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from plant.bootstrap_terminal import TAIL_LINES, Progress, run_shown

ROOT = Path(__file__).resolve().parents[2]
STEP = "from plant.bootstrap_terminal import Progress; p = Progress('milking'); p.note('one of two'); p.done()"

pytestmark = pytest.mark.once


def test_file_gets_plain_lines_only():
    """Output that is no terminal has no control characters and no flood of notes."""
    ended = subprocess.run([sys.executable, "-c", STEP], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ended.stderr.splitlines() == ["daybook: milking", "daybook: milking: done in 0 s"]
    assert ended.stdout == ""


def test_terminal_gets_a_line_that_moves():
    """On a terminal a note replaces the one before it."""
    ours, theirs = pty.openpty()
    subprocess.run([sys.executable, "-c", STEP], cwd=ROOT, stderr=theirs, check=True)
    os.close(theirs)
    shown = os.read(ours, 4096)
    os.close(ours)
    assert b"\r\x1b[K  one of two\r\x1b[K" in shown


def test_command_gives_its_status_and_last_lines():
    """Of a long output the last lines are kept, standard error among them."""
    script = "import sys\nfor n in range(40): print(n, flush=True)\nprint('lost', file=sys.stderr)\nsys.exit(3)"
    status, tail = run_shown([sys.executable, "-c", script], Progress("counting"), lambda line: None)
    assert status == 3
    assert (len(tail), tail[-1]) == (TAIL_LINES, "lost")


def test_command_has_no_input():
    """A command that asks a question gets an end of file instead of waiting."""
    status, tail = run_shown([sys.executable, "-c", "input('why? ')"], Progress("asking"), lambda line: None)
    assert status == 1
    assert tail[-1].startswith("EOFError")
