"""The same tasks on the same schedule, run by a thread of the server's own process: no broker needed."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from typing import Any

from django.db import close_old_connections

log = logging.getLogger(__name__)


def run_loop(stop: threading.Event, every: dict[str, tuple[Any, float]] | None = None) -> None:
    """Run each task when its time has come until `stop` is set. An error is logged and the task tried again in time."""
    from records.tasks import EVERY

    table = EVERY if every is None else every
    next_at = dict.fromkeys(table, time.monotonic())
    while not stop.is_set():
        for name, (task, seconds) in table.items():
            if time.monotonic() >= next_at[name]:
                next_at[name] = time.monotonic() + seconds
                _run(name, task)
        stop.wait(max(0.05, min(next_at.values()) - time.monotonic()))


def _run(name: str, task: Callable[[], object]) -> None:
    close_old_connections()
    try:
        task()
    except Exception:  # the watch must outlive any one failure
        log.exception("The task %s failed; it runs again at its next time.", name)
    finally:
        close_old_connections()


def start() -> tuple[threading.Thread, threading.Event]:
    """The loop in a thread; set the event to end it."""
    stop = threading.Event()
    thread = threading.Thread(target=run_loop, args=(stop,), name="watch", daemon=True)
    thread.start()
    return thread, stop
