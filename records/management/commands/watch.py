"""The watch in a process of its own, for a plant without a broker: the same tasks on the same schedule."""

from __future__ import annotations

import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand

from records import embedded


class Command(BaseCommand):
    """`manage.py watch`."""

    help = "Run the watch until it is stopped: late, missed, notices, drafts. For where no broker runs."

    def handle(self, **_options: Any) -> None:
        """Until Ctrl-C or a stop from outside; a second one at work does nothing twice."""
        stop = threading.Event()
        before = {one: signal.signal(one, lambda *_args: stop.set()) for one in (signal.SIGINT, signal.SIGTERM)}
        self.stdout.write("The watch runs. Ctrl-C stops it.")
        self.stdout.flush()
        try:
            embedded.run_loop(stop)
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
        self.stdout.write("The watch has stopped: nothing is looked at until it runs again.")
