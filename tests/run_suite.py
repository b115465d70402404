"""The whole suite (`python3 manage.py test`): ruff, mypy, pytest on SQLite, pytest on a private PostgreSQL.

Arguments go to both runs of pytest, and leave ruff and mypy out. tests/selection.py sorts the tests.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from tests.selection import AGAIN
from tests.services import ServiceFailed, private_postgres

ROOT = Path(__file__).resolve().parent.parent
NOTHING_TO_RUN = 5  # pytest's status when no test was collected
INTERRUPT_SECONDS = 20
# A developer's own settings must not reach the tests.
SETTINGS = [
    "ALLOWED_HOSTS",
    "BEHIND_TLS_PROXY",
    "BROKER_URL",
    "CSRF_TRUSTED_ORIGINS",
    "DATABASE_URL",
    "DATA_DIR",
    "DEBUG",
    "EMAIL_URL",
    "FILES_DIR",
    "IDLE_LOCK_MINUTES",
    "KEYS_DIR",
    "MAIL_FROM",
    "MQTT_CLIENT",
    "MQTT_TOPICS",
    "MQTT_URL",
    "SECRET_KEY",
    "SECRET_KEY_FILE",
    "SECURE_COOKIES",
    "STATIC_ROOT",
    "DJANGO_SETTINGS_MODULE",
]


@dataclass(frozen=True)
class Part:
    """One part of the suite, after it ran: name, exit status, seconds."""

    name: str
    status: int
    seconds: float

    def line(self) -> str:
        word = {0: "ok", NOTHING_TO_RUN: "no test for this run"}.get(
            self.status, f"FAILED (status {self.status})"
        )
        return f"{self.name}: {word}, {self.seconds:.0f} s"


def main(arguments: Sequence[str]) -> int:
    """Runs every part even when one fails; 0 only when all are well."""
    with _ended_by_signals():
        parts = [] if arguments else checks()
        parts.append(part("pytest on SQLite", lambda: pytest(arguments, {})))
        parts.append(part("pytest on PostgreSQL", lambda: on_postgres(arguments)))
    print("\nsuite:")
    for one in parts:
        print(f"  {one.line()}")
    return verdict(parts, chosen=bool(arguments))


def checks() -> list[Part]:
    """Style and types."""
    python = sys.executable
    return [
        part("ruff", lambda: run([python, "-m", "ruff", "check", "."])),
        part("mypy", lambda: run([python, "-m", "mypy", "--strict", "plant", "records"])),
    ]


def part(name: str, work: Callable[[], int]) -> Part:
    """Runs one part under its heading."""
    print(f"\n== {name} ==", flush=True)
    started = time.monotonic()
    status = work()
    return Part(name, status, time.monotonic() - started)


def verdict(parts: Sequence[Part], *, chosen: bool) -> int:
    """0 when all parts are well. Tests chosen by arguments may all belong to one run, but not to none."""
    statuses = [one.status for one in parts]
    if chosen and 0 in statuses:
        statuses = [status for status in statuses if status != NOTHING_TO_RUN]
    return int(any(statuses))


def pytest(arguments: Sequence[str], settings: Mapping[str, str]) -> int:
    """pytest over the arguments, or over everything; two workers, a test file stays with one of them."""
    return run([sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadfile", *arguments], settings)


def on_postgres(arguments: Sequence[str]) -> int:
    """pytest once more, on a cluster that lives as long as the run, without the tests marked once."""
    try:
        with private_postgres() as url:
            return pytest(arguments, {"DATABASE_URL": url, AGAIN: "1"})
    except ServiceFailed as trouble:
        print(trouble, file=sys.stderr)
        return 1


def environment(base: Mapping[str, str], settings: Mapping[str, str]) -> dict[str, str]:
    """base without the project's own settings, and with those of this run."""
    return {name: value for name, value in base.items() if name not in SETTINGS} | dict(settings)


def run(command: Sequence[str], settings: Mapping[str, str] | None = None) -> int:
    """Runs a command at the project's root, output shown as it comes; on Ctrl-C lets it end by itself."""
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment(os.environ, settings or {}), stdin=subprocess.DEVNULL
    )
    try:
        return process.wait()
    except BaseException as trouble:
        if not isinstance(trouble, KeyboardInterrupt):
            process.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(INTERRUPT_SECONDS)
        if process.poll() is None:
            process.kill()
            process.wait()
        raise


@contextlib.contextmanager
def _ended_by_signals() -> Iterator[None]:
    """SIGTERM and SIGHUP end the run as an exception: the cluster is stopped and its folder removed."""

    def leave(number: int, frame: FrameType | None) -> None:
        sys.exit(128 + number)

    before = {number: signal.signal(number, leave) for number in (signal.SIGTERM, signal.SIGHUP)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
