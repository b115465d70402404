"""Serving the demo: waitress with its threads, the watch in the same process, and nothing that reloads."""

from __future__ import annotations

import errno
import signal
import socket
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from plant import clock
from records import embedded
from records.checks import watch
from records.checks.models import WatchState
from records.demo import staff
from records.demo.building import State
from records.deviations.errors import Refused
from records.flow.actions import no_production
from records.flow.errors import DifferentContent
from records.people.plans import plan_in_force

THREADS = 8
OFF_AFTER = timedelta(minutes=15)
WHY_OFF = "The demo was switched off: nothing was made."


class CannotServe(Exception):
    """Its text is the one sentence that the person needs."""


def listen(host: str, port: int) -> socket.socket:
    """A socket bound before anything is built, so that a port in use is said at once."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
        one = socket.socket(found[0], socket.SOCK_STREAM)
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        one.bind(found[4])
    except OSError as error:
        raise CannotServe(_why(error, host, port)) from error
    return one


def _why(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"port {port} is in use: stop what serves there, or choose another with --port."
    if error.errno == errno.EACCES:
        return f"port {port} needs more rights than you have: choose one above 1023 with --port."
    return f"cannot serve at {host} port {port}: {error.strerror or error}."


def wake(tell: Callable[[str], None]) -> None:
    """A later start: the shifts since the watch last looked made nothing, and it answers from now on."""
    before = WatchState.objects.filter(only=1).first()
    now = clock.now()
    if before is not None and now - before.looked_at > OFF_AFTER:
        signed = _sign_off(before.looked_at, now)
        if signed:
            tell(f"the demo was off for {signed} shifts: signed as without production")
    watch.begin_at(now)


def _sign_off(since: datetime, now: datetime) -> int:
    """Each shift that began while it was off; the one in which it was switched off keeps what was done in it."""
    in_force = plan_in_force(now)
    if in_force is None:
        return 0
    signed = 0
    for shift in in_force.calendar.shift_instances(since, now):
        if shift.closed or not since <= shift.start_at <= now:
            continue
        try:
            no_production(staff.THE_DEMO, shift.plant_day, shift.key, WHY_OFF)
            signed += 1
        except (Refused, DifferentContent):
            continue  # said before, or something was written for that shift all the same
    return signed


def sign_ins(state: State, address: str) -> list[str]:
    """What a visitor needs: the address, the link that makes the browser the tablet, who signs in with what."""
    lines = [
        f"Quillbrook Creamery, an invented plant, is served at {address}/",
        f"first make this browser the plant's tablet (operators sign in on it): {address}/tablet/{state.token}/",
    ]
    lines += [f"  {one.name:<18} {one.role:<21} name {one.sign_in:<7} {one.secret}" for one in staff.STAFF]
    lines.append("a deviation is open for you to answer, a delivery waits in the round. Ctrl-C stops.")
    return lines


def serve(sock: socket.socket, host: str, tell: Callable[[str], None], state: State) -> None:
    """Serve until Ctrl-C or a polite signal. The watch ends with it."""
    from waitress import create_server

    Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)  # whitenoise finds the files where they are kept
    server = create_server(
        get_wsgi_application(),
        sockets=[sock],
        threads=THREADS,
        ident="daybook",
        max_request_body_size=33_554_432,  # what plant.settings takes; more is answered by a plain page
    )
    address = f"http://{_shown(host)}:{sock.getsockname()[1]}"
    thread, stop = embedded.start()
    for polite in (signal.SIGINT, signal.SIGTERM):
        signal.signal(polite, _interrupt)
    for line in sign_ins(state, address):
        tell(line)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        stop.set()
        server.close()
        thread.join(timeout=10)
        tell("stopped.")


def _interrupt(_number: int, _frame: object) -> None:
    raise KeyboardInterrupt


def _shown(host: str) -> str:
    if host in ("0.0.0.0", "::", ""):
        return "127.0.0.1"
    return f"[{host}]" if ":" in host else host


