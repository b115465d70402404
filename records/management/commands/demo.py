"""manage.py demo: the invented plant, built once and served; with --once built, signed and verified, not served."""

from __future__ import annotations

import fcntl
import os
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from plant.demo import environment


class Command(BaseCommand):
    """Builds what is missing in the demo's own folder, then serves it or reports it."""

    help = "Build the invented plant and serve it; with --once --out DIR only its signed day sheets, verified."
    requires_system_checks: list[str] = []  # its database is made here

    def add_arguments(self, parser: ArgumentParser) -> None:
        environment.add_arguments(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        from records.demo.building import NotOurs
        from records.demo.serving import CannotServe

        folder = Path(settings.DATA_DIR)
        if Path(connection.settings_dict["NAME"]) != folder / environment.DATABASE:
            raise CommandError("run it as `python3 manage.py demo`, which gives the demo a database of its own.")
        try:
            with _alone(folder):
                self._once(folder) if options["once"] else self._serve(options["host"], options["port"])
        except (NotOurs, CannotServe) as trouble:
            self.say(str(trouble))
            sys.exit(1)
        except OSError as error:
            self.say(f"{error.filename or folder} cannot be written: {error.strerror or error}.")
            sys.exit(1)

    def say(self, line: str) -> None:
        """One line of progress or trouble."""
        print(f"daybook: {line}", file=sys.stderr, flush=True)

    def out(self, line: str) -> None:
        """One line of result."""
        self.stdout.write(line)
        self.stdout.flush()

    def _once(self, folder: Path) -> None:
        from records.demo import building, once

        state = building.standing()
        if state is None:
            building.clear_half_built()
            state = building.build_once(self.say)
        if not once.hand_out(state, folder, self.out):
            sys.exit(1)

    def _serve(self, host: str, port: int) -> None:
        from records.demo import building, serving

        sock = serving.listen(host, port)
        state = building.standing()
        if state is None:
            building.clear_half_built()
            self.say("building the invented plant (about a minute, once)")
            state = building.build_until_now(self.say)
        else:
            serving.wake(self.say)
        connection.close()
        serving.serve(sock, host, self.out, state)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One demo at a time in a folder; the lock ends with the process."""
    descriptor = os.open(folder / ".lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        print(f"daybook: another demo is at work in {folder}: stop it, or choose another folder.", file=sys.stderr)
        sys.exit(1)
    try:
        yield
    finally:
        os.close(descriptor)
