"""manage.py collect: live samples from an MQTT broker into the daybook, until it is stopped."""

from __future__ import annotations

import signal
import threading
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from records.live.buffer import Buffer
from records.live.collecting import Collector, broker_of


class Command(BaseCommand):
    """`manage.py collect`. One for each plant: two with one name would take the connection from each other."""

    requires_system_checks = ()  # it has to listen soon, and while the database is away
    help = "Take live samples from the MQTT broker of MQTT_URL; kept on disk while the database is away."

    def handle(self, **_options: Any) -> None:
        """Until Ctrl-C or a stop from outside."""
        if not settings.MQTT_URL:
            raise CommandError("MQTT_URL is not set: write mqtt://host:1883, the broker that the recorders talk to.")
        try:
            broker = broker_of(settings.MQTT_URL, tuple(settings.MQTT_TOPICS))
        except ValueError as error:
            raise CommandError(str(error)) from error
        stop = threading.Event()
        before = {one: signal.signal(one, lambda *_args: stop.set()) for one in (signal.SIGINT, signal.SIGTERM)}
        buffer = Buffer(Path(settings.FILES_DIR) / "incoming" / "live-messages")
        self._tell(f"Listening to {', '.join(broker.topics)}. Ctrl-C stops it; the broker keeps what comes meanwhile.")
        try:
            Collector(broker, buffer, self._tell, settings.MQTT_CLIENT).run(stop)
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
        self._tell("Stopped.")

    def _tell(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
