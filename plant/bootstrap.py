"""Prepares what a command needs before Django can be imported, then runs it with the prepared Python.

Debian packages come first (quick to check, and the one thing that may need another person), then the
virtual environment and its packages, then the same command line again with .venv's own Python. Only the
standard library is used.
"""

from __future__ import annotations

import contextlib
import fcntl
import importlib.util
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn

from plant import bootstrap_system as system
from plant.bootstrap_environment import Environment
from plant.bootstrap_terminal import CannotPrepare, say

ROOT = Path(__file__).resolve().parent.parent
SWITCH = "DAYBOOK_PREPARE"
# Set only across our own exec: an environment that stays incomplete ends in a sentence instead of a loop.
HANDED_ON = "DAYBOOK_HANDED_ON"


def prepare(argv: Sequence[str]) -> None:
    """Returns once this process can run argv; else replaces it, or ends it with a sentence and status 1."""
    try:
        if wanted():
            _prepare(argv)
        elif importlib.util.find_spec("django") is None:
            raise CannotPrepare(
                f"Django cannot be imported, and {SWITCH}=off forbids preparing: install requirements.txt."
            )
    except CannotPrepare as trouble:
        say(str(trouble))
        sys.exit(1)


def wanted() -> bool:
    """Whether DAYBOOK_PREPARE allows preparing: 'on' (the default) or 'off'; anything else is refused."""
    value = os.environ.get(SWITCH, "on")
    if value not in {"on", "off"}:
        raise CannotPrepare(f"{SWITCH} is {value!r}: write on or off.")
    return value == "on"


def requirement_files(command: str) -> tuple[str, ...]:
    """The pinned lists that a command needs, relative to the project's folder."""
    return ("requirements.txt", "tests/requirements.txt") if command == "test" else ("requirements.txt",)


def _prepare(argv: Sequence[str]) -> None:
    command = argv[1] if len(argv) > 1 else ""
    environment = Environment(ROOT, requirement_files(command))
    handed_on = os.environ.pop(HANDED_ON, None) is not None
    inside = os.path.realpath(sys.prefix) == os.path.realpath(environment.folder)
    prepared = environment.is_prepared()
    system.ensure(
        lambda: system.missing_packages(command, makes_venv=not (prepared or inside)),
        allowed=system.may_install(),
    )
    if not prepared:
        if handed_on:
            raise CannotPrepare(f"{environment.folder} is still incomplete: remove it and run again.")
        with _alone():
            # Another start of the same command may have done the work while this one waited.
            if not environment.is_prepared():
                if inside and not environment.is_sound():
                    _hand_on(sys._base_executable)  # type: ignore[attr-defined]
                environment.prepare()
    if not inside:
        if handed_on:
            raise CannotPrepare(f"{environment.python} is not the environment's own: remove .venv and run again.")
        os.environ[HANDED_ON] = "1"
        _hand_on(str(environment.python))


def _hand_on(python: str) -> NoReturn:
    sys.stdout.flush()
    sys.stderr.flush()
    try:
        os.execv(python, [python, *sys.orig_argv[1:]])
    except OSError as error:
        raise CannotPrepare(f"{python} cannot be started: {error.strerror}.") from error


@contextlib.contextmanager
def _alone() -> Iterator[None]:
    """Keeps two starts from building the same environment at once; the lock ends with the process."""
    descriptor = os.open(ROOT, os.O_RDONLY | os.O_CLOEXEC)
    try:
        # Some network file systems know no such lock; then two starts at once are the person's own risk.
        with contextlib.suppress(OSError):
            try:
                fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                say("waiting: another start is preparing this folder")
                fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
