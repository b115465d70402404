"""`manage.py demo` serves what it built, with the watch in its own process, until it is asked to end."""

from __future__ import annotations

import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.records.demo.running import ROOT, command, demo, environment

pytestmark = [pytest.mark.once, pytest.mark.slow]

LONGEST = 180.0


@pytest.fixture(scope="module")
def folder(demo_dir: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant built before, as a later start finds it (the three days of March 2026 serve as well as any)."""
    copied = tmp_path_factory.mktemp("served") / "demo"
    shutil.copytree(demo_dir, copied)
    return copied


@contextmanager
def served(folder: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], str, str]]:
    """The running demo, its address and all it printed until it was ready."""
    log = folder.parent / "log.txt"
    with log.open("w") as output:
        process = subprocess.Popen(
            [*command("--dir", folder, "--port", "0"), *more],
            stdout=output, stderr=subprocess.STDOUT, text=True, env=environment(), cwd=ROOT,
        )  # fmt: skip
    try:
        until = time.monotonic() + LONGEST
        while "Ctrl-C stops" not in (said := log.read_text()):
            assert process.poll() is None and time.monotonic() < until, said
            time.sleep(0.2)
        found = re.search(r"http://[0-9.]+:\d+", said)
        assert found is not None
        yield process, found[0], said
    finally:
        process.terminate()
        process.wait(timeout=30)


def get(address: str) -> str:
    """A page of the demo."""
    with urllib.request.urlopen(address, timeout=20) as answer:
        text: str = answer.read().decode()
    return text


def test_the_door_opens_with_the_banner_and_its_style(folder: Path) -> None:
    """The sign-in page answers, says that the plant is invented, and its style sheet is served."""
    with served(folder) as (_process, address, _said):
        page = get(f"{address}/sign-in/")
        assert "Invented plant" in page
        style = re.search(r'href="([^"]+daybook[^"]*\.css)"', page)
        assert style is not None and "font" in get(f"{address}{style[1]}")


def test_it_prints_who_signs_in_with_what_and_the_tablets_link(folder: Path) -> None:
    """Everybody's name and secret; the link opens the page that makes the browser the tablet."""
    with served(folder) as (_process, _address, said):
        link = re.search(r"http://\S+/tablet/\S+", said)
        assert link is not None and "Tablet 1" in get(link[0])
        for name in ("Ines Alder", "Tomas Reed", "Wren Castell", "Odile Marsh", "Hanne Quill", "Piet Lomax"):
            assert name in said
        assert said.count("PIN ") >= 2 and said.count("password ") >= 5


def test_the_watch_looks_in_the_same_process(folder: Path) -> None:
    """WatchState moves on by itself while it is served."""
    with served(folder):
        before = _looked_at(folder)
        until = time.monotonic() + 90
        while _looked_at(folder) == before:
            assert time.monotonic() < until, "the watch has not looked"
            time.sleep(0.5)


def _looked_at(folder: Path) -> str:
    with sqlite3.connect(folder / "daybook.sqlite3", timeout=20) as connection:
        (found,) = connection.execute("SELECT looked_at FROM records_watchstate").fetchone()
    return str(found)


def test_the_time_it_was_off_is_signed_as_without_production(folder: Path) -> None:
    """Shifts since it was last on, by 'the demo', once; no check of that time becomes late or missed."""
    with served(folder):
        pass
    with sqlite3.connect(folder / "daybook.sqlite3") as connection:
        signed = connection.execute("SELECT by_name, count(*) FROM records_noproduction GROUP BY by_name").fetchall()
        (missed,) = connection.execute(
            "SELECT count(*) FROM records_transition WHERE what = 'missed' AND due_at > '2026-03-06'"
        ).fetchone()
    assert [name for name, _count in signed] == ["the demo"]
    assert missed == 0
    with served(folder):
        pass
    with sqlite3.connect(folder / "daybook.sqlite3") as connection:
        again = connection.execute("SELECT by_name, count(*) FROM records_noproduction GROUP BY by_name").fetchall()
    assert again == signed


@pytest.mark.parametrize("ask", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_cleanly_when_asked(folder: Path, ask: signal.Signals) -> None:
    """Ctrl-C and a polite signal: 'stopped.', status 0, no traceback."""
    with served(folder) as (process, _address, _said):
        process.send_signal(ask)
        assert process.wait(timeout=30) == 0
    said = (folder.parent / "log.txt").read_text()
    assert said.rstrip().endswith("stopped.") and "Traceback" not in said


def test_a_port_in_use_is_one_sentence(folder: Path) -> None:
    """Said before anything is built."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        ended = demo("--dir", folder.parent / "another", "--port", str(port))
    assert ended.returncode == 1
    assert ended.stderr.strip() == (
        f"daybook: port {port} is in use: stop what serves there, or choose another with --port."
    )


def test_two_at_once_in_one_folder_are_refused(folder: Path) -> None:
    """The second says that another demo is at work there."""
    with served(folder):
        ended = demo("--dir", folder, "--port", "0")
    assert ended.returncode == 1 and "another demo is at work" in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1
