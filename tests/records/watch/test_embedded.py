"""Without a broker the same tasks run in the server's process, and one failure stops none of them."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from records import embedded, tasks
from tests.records.ledger.scratch import copy_of, template

pytestmark = pytest.mark.once


def test_the_loop_runs_each_task_again_and_again_and_outlives_a_failure() -> None:
    """A task that fails is tried again; the others go on; setting the event ends the loop."""
    seen: list[str] = []

    def good() -> None:
        seen.append("good")

    def bad() -> None:
        seen.append("bad")
        raise RuntimeError("on purpose")

    stop = threading.Event()
    loop = threading.Thread(target=embedded.run_loop, args=(stop, {"good": (good, 0.05), "bad": (bad, 0.05)}))
    loop.start()
    deadline = time.monotonic() + 5
    while time.monotonic() < deadline and (seen.count("good") < 3 or seen.count("bad") < 3):
        time.sleep(0.01)
    stop.set()
    loop.join(timeout=5)
    assert not loop.is_alive() and seen.count("good") >= 3 and seen.count("bad") >= 3


def test_beat_has_the_same_schedule_as_the_loop() -> None:
    """One table feeds both."""
    beat = {name: one["schedule"].run_every.total_seconds() for name, one in tasks.app.conf.beat_schedule.items()}
    assert beat == {name: seconds for name, (_task, seconds) in tasks.EVERY.items()}


def test_the_watch_runs_in_a_process_of_its_own(django_db_setup: None, tmp_path: Path) -> None:
    """`manage.py watch` does what waits (here a notice to mail), goes on, and ends cleanly when it is stopped."""
    with template(tmp_path) as made, copy_of(made, tmp_path / "watched") as scratch:
        scratch.more["EMAIL_URL"] = f"file://{tmp_path / 'mail'}"
        waiting = scratch.python(
            "from plant import clock\nfrom records.people.models import Notice\n"
            "Notice.objects.create(message_id='<1@x.example>', to='wren@x.example', subject='late', body='late', "
            "made_at=clock.now())\n"
        )
        assert waiting.returncode == 0, waiting.stderr
        running = scratch.start("from django.core.management import call_command\ncall_command('watch')\n")
        assert running.stdout is not None and running.stdout.readline().startswith("The watch runs.")
        deadline = time.monotonic() + 30
        while not list((tmp_path / "mail").glob("*")) and time.monotonic() < deadline:
            time.sleep(0.1)
        assert list((tmp_path / "mail").glob("*")) and running.poll() is None
        running.terminate()
        said, errors = running.communicate(timeout=30)
        assert running.returncode == 0 and "The watch has stopped" in said, errors
