"""A small server that appends what it is sent and answers once it is committed, to be killed while it works.

It prepares Django once; for each line on its input it forks a child that serves HTTP on the same port, and prints the
child's process id. The test kills the child with SIGKILL; nothing of the child's is shared but the listening socket.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from socketserver import ThreadingMixIn
from typing import Any
from uuid import UUID
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer


class Server(ThreadingMixIn, WSGIServer):
    """A thread for each request, as a plant's server has."""

    daemon_threads = True
    request_queue_size = 50


class Quiet(WSGIRequestHandler):
    """Without a line for each request."""

    def log_message(self, *args: Any) -> None:
        pass


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    """POST /UUID appends a reading note with that form id, and a verdict; the answer is its number."""
    from django.db import connection

    from records.ledger.actions import act
    from tests.records.ledger.conftest import SOMEBODY
    from tests.records.ledger.made import made_row

    form_id = UUID(environ["PATH_INFO"].strip("/"))
    try:
        with act(SOMEBODY) as a:
            row = a.write(made_row("reading note", id=form_id, form_id=form_id))
            a.write(made_row("verdict", id=UUID(int=form_id.int ^ 1), follows=None))
    finally:
        connection.close()  # this request's thread ends with it
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [str(row.number).encode()]


def main() -> None:
    """Bind, say the port, and fork a serving child for each line read."""
    server = Server(("127.0.0.1", 0), Quiet)
    server.set_app(application)
    from records.ledger import verify  # noqa: F401  # imported before the forks, so that these are quick

    print(server.server_port, flush=True)
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            server.serve_forever()
        print(child, flush=True)
        os.waitpid(child, 0)
