"""Private servers for tests: on loopback, on a free port, in a folder of their own, ended by process id.

Each is made from Debian's own binaries; root starts PostgreSQL as an unprivileged user, as it demands.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from plant.bootstrap_system import install_line, postgres_programs

READY_SECONDS = 60
STOP_SECONDS = 20
TRIES = 3  # a port that was free may be taken before the server has it


class ServiceFailed(RuntimeError):
    """A private server did not start; the message carries its log."""


def free_port() -> int:
    """A TCP port on 127.0.0.1 that nobody holds at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def private_postgres(database: str = "daybook", *, durable: bool = False) -> Iterator[str]:
    """A PostgreSQL cluster for the block; yields the DATABASE_URL of an empty database.

    Without fsync, unless durable: then a commit is on disk before it is answered, as in a plant.
    """
    on_disk = "on" if durable else "off"
    programs = postgres_programs()
    if programs is None:
        raise ServiceFailed(f"PostgreSQL is missing. Run this line as root: {install_line(['postgresql'])}")
    user = _unprivileged_user()
    with _folder("postgres", user) as folder:
        data, log = folder / "data", folder / "log"
        made = subprocess.run(
            [
                f"{programs}/initdb",
                "-D",
                data,
                "--auth=trust",
                "--username=postgres",
                "--encoding=UTF8",
                "--locale=C.UTF-8",
                "--no-sync",
            ],
            **_as(user),
            cwd=folder,
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            check=False,
        )
        if made.returncode != 0:
            raise ServiceFailed(f"initdb failed:\n{made.stdout}{made.stderr}")
        settings = [
            "listen_addresses=127.0.0.1",
            "unix_socket_directories=",
            f"fsync={on_disk}",
            f"full_page_writes={on_disk}",
            f"synchronous_commit={on_disk}",
            "max_connections=200",
            "max_locks_per_transaction=256",  # a test that takes every trigger away, again and again, locks each
            "timezone=UTC",
        ]

        def command(port: int) -> list[str]:
            return [
                f"{programs}/postgres",
                "-D",
                str(data),
                "-p",
                str(port),
                *(word for one in settings for word in ("-c", one)),
            ]

        def answers(port: int) -> bool:
            asked = [f"{programs}/pg_isready", "-q", "-h", "127.0.0.1", "-p", str(port)]
            return subprocess.run(asked, cwd=folder, check=False).returncode == 0

        # SIGINT is PostgreSQL's fast shutdown: it does not wait for clients to leave.
        with _server(command, answers, log, user, signal.SIGINT) as port:
            subprocess.run(
                [f"{programs}/createdb", "-h", "127.0.0.1", "-p", str(port), "-U", "postgres", database],
                cwd=folder,
                check=True,
                stdin=subprocess.DEVNULL,
            )
            yield f"postgres://postgres@127.0.0.1:{port}/{database}"


@contextlib.contextmanager
def private_redis() -> Iterator[str]:
    """A Redis server for the block, keeping nothing on disk; yields its BROKER_URL."""
    program = shutil.which("redis-server")
    if program is None:
        raise ServiceFailed(f"Redis is missing. Run this line as root: {install_line(['redis-server'])}")
    with _folder("redis", None) as folder:

        def command(port: int) -> list[str]:
            return [
                program,
                "--bind",
                "127.0.0.1",
                "--port",
                str(port),
                "--save",
                "",
                "--appendonly",
                "no",
                "--dir",
                str(folder),
            ]

        with _server(command, _redis_answers, folder / "log", None, signal.SIGTERM) as port:
            yield f"redis://127.0.0.1:{port}/0"


class Mosquitto:
    """An MQTT broker on a port of its own, which can be ended and started again; it keeps sessions on disk."""

    def __init__(self, folder: Path) -> None:
        program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
        if program is None:
            raise ServiceFailed(f"Mosquitto is missing. Run this line as root: {install_line(['mosquitto'])}")
        self.program, self.folder, self.port = program, folder, free_port()
        self._process: subprocess.Popen[bytes] | None = None
        (folder / "conf").write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\nuser {pwd.getpwuid(os.geteuid()).pw_name}\n"
            f"persistence true\npersistence_location {folder}/\nautosave_on_changes true\nautosave_interval 1\n"
            "max_queued_messages 0\n"
        )

    @property
    def url(self) -> str:
        """Its address."""
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Until it answers."""
        with (self.folder / "log").open("ab") as output:
            self._process = subprocess.Popen(
                [self.program, "-c", str(self.folder / "conf")], cwd=self.folder, stdin=subprocess.DEVNULL,
                stdout=output, stderr=output, start_new_session=True,
            )  # fmt: skip
        if not _ready(self._process, lambda: _listens(self.port)):
            raise ServiceFailed(f"mosquitto did not start:\n{(self.folder / 'log').read_text(errors='replace')}")

    def kill(self) -> None:
        """As a machine that loses its power: nothing more is written."""
        if self._process is not None:
            _end(self._process, signal.SIGKILL)

    def end(self) -> None:
        """As a machine that is shut down: it writes its sessions first."""
        if self._process is not None:
            _end(self._process, signal.SIGTERM)


@contextlib.contextmanager
def private_mosquitto() -> Iterator[Mosquitto]:
    """An MQTT broker for the block, started."""
    with _folder("mosquitto", None) as folder:
        broker = Mosquitto(folder)
        try:
            broker.start()
            yield broker
        finally:
            broker.end()


def _listens(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
        return True
    return False


def _redis_answers(port: int) -> bool:
    """Asks PING and waits for +PONG (Redis serialization protocol, inline commands)."""
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1) as line:
        line.sendall(b"PING\r\n")
        return line.recv(16).startswith(b"+PONG")
    return False


@contextlib.contextmanager
def _server(
    command: Callable[[int], list[str]],
    answers: Callable[[int], bool],
    log: Path,
    user: pwd.struct_passwd | None,
    stop: signal.Signals,
) -> Iterator[int]:
    """Starts a server on a free port, yields the port once it answers, ends it whatever happens."""
    for _ in range(TRIES):
        port = free_port()
        with log.open("wb") as output:
            # A session of its own: Ctrl-C reaches the tests first, and the server only through us.
            process = subprocess.Popen(
                command(port),
                **_as(user),
                cwd=log.parent,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
            )
        try:
            if _ready(process, lambda port=port: answers(port)):  # type: ignore[misc]
                yield port
                return
            if process.poll() is None:
                break  # it runs and does not answer: another port would not help
        finally:
            _end(process, stop)
    raise ServiceFailed(f"{command(0)[0]} did not start:\n{log.read_text(errors='replace')}")


def _ready(process: subprocess.Popen[bytes], answers: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + READY_SECONDS
    while process.poll() is None and time.monotonic() < deadline:
        if answers() and process.poll() is None:
            return True
        time.sleep(0.05)
    return False


def _end(process: subprocess.Popen[bytes], stop: signal.Signals) -> None:
    for sign in (stop, signal.SIGQUIT, signal.SIGKILL):
        if process.poll() is not None:
            return
        process.send_signal(sign)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(STOP_SECONDS)


def _unprivileged_user() -> pwd.struct_passwd | None:
    """Who runs a server that refuses root: Debian's user for it, else nobody; None when we are not root."""
    if os.geteuid() != 0:
        return None
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        return pwd.getpwnam("nobody")


def _as(user: pwd.struct_passwd | None) -> dict[str, Any]:
    return {} if user is None else {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


@contextlib.contextmanager
def _folder(name: str, user: pwd.struct_passwd | None) -> Iterator[Path]:
    # Not below a test's own temporary folder: those are closed to other users.
    folder = Path(tempfile.mkdtemp(prefix=f"daybook-{name}-", dir="/tmp"))
    try:
        if user is not None:
            os.chown(folder, user.pw_uid, user.pw_gid)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
