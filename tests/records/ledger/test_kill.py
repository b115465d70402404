"""A server killed while it appends loses nothing that it acknowledged, and keeps nothing twice."""

from __future__ import annotations

import http.client
import os
import random
import signal
import subprocess
import threading
import uuid
from collections.abc import Iterator
from typing import Any

import pytest

from tests.records.ledger.scratch import Scratch

KILLS = 20
CLIENTS = 3


class Client(threading.Thread):
    """Sends one record after the other and notes which were acknowledged, until the server is gone."""

    def __init__(self, port: int, enough: threading.Event) -> None:
        super().__init__(daemon=True)
        self.port, self.enough = port, enough
        self.acknowledged: list[uuid.UUID] = []
        self.unanswered: list[uuid.UUID] = []

    def run(self) -> None:
        while True:
            form_id = uuid.uuid4()
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
            try:
                line.request("POST", f"/{form_id}")
                answer = line.getresponse()
                answer.read()
            except (OSError, http.client.HTTPException):
                self.unanswered.append(form_id)
                return
            finally:
                line.close()
            if answer.status != 200:
                self.unanswered.append(form_id)
                return
            self.acknowledged.append(form_id)
            if len(self.acknowledged) >= 3:
                self.enough.set()


@pytest.fixture
def server(scratch: Scratch) -> Iterator[subprocess.Popen[str]]:
    """The server's master process; it ends when its input does."""
    process = scratch.start("from tests.records.ledger.served import main; main()")
    yield process
    process.communicate(timeout=30)


def line_of(server: subprocess.Popen[str]) -> int:
    """The next number that the master prints."""
    assert server.stdout is not None
    return int(server.stdout.readline())


@pytest.mark.slow
def test_twenty_kills_lose_no_acknowledged_record(scratch: Scratch, server: subprocess.Popen[str]) -> None:
    """Every acknowledged record is there exactly once; the others whole or not at all; the ledger verifies."""
    chance = random.Random(20260303)
    port = line_of(server)
    acknowledged: list[uuid.UUID] = []
    unanswered: list[uuid.UUID] = []
    for _ in range(KILLS):
        assert server.stdin is not None
        server.stdin.write("go\n")
        server.stdin.flush()
        child = line_of(server)
        enough = threading.Event()
        clients = [Client(port, enough) for _ in range(CLIENTS)]
        for one in clients:
            one.start()
        assert enough.wait(60)
        threading.Event().wait(chance.random() * 0.03)  # in the midst of something
        os.kill(child, signal.SIGKILL)
        _drain(clients, server)
        acknowledged += [form_id for one in clients for form_id in one.acknowledged]
        unanswered += [form_id for one in clients for form_id in one.unanswered]
    assert len(acknowledged) >= KILLS * 3 and unanswered
    kept = _kept(scratch)
    assert sorted(one for one in kept if one in set(acknowledged)) == sorted(acknowledged)
    assert set(kept) <= {*acknowledged, *unanswered} and len(kept) == len(set(kept))
    done = scratch.manage("verify")
    assert done.returncode == 0, done.stdout
    assert f"entries: {2 * len(kept)}\n" in done.stdout  # each act wrote two records, both or neither


def _drain(clients: list[Client], server: subprocess.Popen[Any]) -> None:
    """Wait for the clients. A request that was queued at the kill is answered by nobody until the next child."""
    for one in clients:
        one.join(0.2)
    waiting = [one for one in clients if one.is_alive()]
    if waiting:
        assert server.stdin is not None
        server.stdin.write("go\n")
        server.stdin.flush()
        child = line_of(server)
        threading.Event().wait(0.3)
        os.kill(child, signal.SIGKILL)
        _drain(waiting, server)


def _kept(scratch: Scratch) -> list[uuid.UUID]:
    done = scratch.python(
        "from records.checks.models import ReadingNote\n"
        "for one in ReadingNote.objects.values_list('form_id', flat=True): print(one)"
    )
    assert done.returncode == 0, done.stderr
    return [uuid.UUID(line) for line in done.stdout.split()]
