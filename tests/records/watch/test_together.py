"""Two watches at once do nothing twice: two processes on both databases, and a real worker with a real broker."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection

from records.checks import watch
from records.checks.models import Transition, WatchState
from records.deviations.models import Deviation, Hold
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import fill_silo
from tests.services import private_redis

ROOT = Path(__file__).resolve().parents[3]
LOOK = """
import sys, time
from datetime import datetime
import django
django.setup()
from plant import clock
from records.checks import escalation, watch
moment = datetime.fromisoformat(sys.argv[1])
with clock.replaced(lambda: moment):
    while time.time() < float(sys.argv[2]):
        time.sleep(0.001)
    for _ in range(3):
        watch.look()
        escalation.escalate()
"""


def environment() -> dict[str, str]:
    """This test's own database, for another process."""
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        url = f"sqlite:///{settings['NAME']}"
    else:
        url = "postgres://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**settings)
    return {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "tests.settings", "PYTHONPATH": str(ROOT)}


@pytest.mark.django_db(transaction=True)
def test_two_processes_look_at_once_and_nothing_happens_twice(plant: Plant) -> None:
    """Both look three times from the same instant: each transition, deviation and hold is there once."""
    watch.begin_at(NOW + timedelta(hours=3, minutes=50))
    WatchState.objects.update(answers_from=NOW - timedelta(hours=4))
    fill_silo(plant)
    moment = (NOW + timedelta(hours=4)).isoformat()
    start = str(time.time() + 6)
    both = [
        subprocess.Popen([sys.executable, "-c", LOOK, moment, start], cwd=ROOT, env=environment()) for _ in range(2)
    ]
    assert [one.wait(timeout=90) for one in both] == [0, 0]
    keys = list(Transition.objects.values_list("key", flat=True))
    assert keys and len(keys) == len(set(keys))
    assert Deviation.objects.filter(control_point="raw-storage", subject="silo-a", cause="missed").count() == 1
    assert Hold.objects.filter(vessel="silo-a", reason__contains="missed").count() == 1
    numbers = list(Entry.objects.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.django_db(transaction=True)
def test_a_real_worker_runs_the_watch_from_a_real_broker(plant: Plant, tmp_path: Path) -> None:
    """Celery's own worker takes the task from Redis, twice over, and writes each transition once.

    The worker keeps the real clock, so the plan's checks of this very day are what it finds.
    """
    from datetime import UTC, datetime

    watch.begin_at(datetime.now(UTC) - timedelta(days=1))
    with private_redis() as broker:
        env = {**environment(), "BROKER_URL": broker, "SECRET_KEY": "only for this test"}
        log = (tmp_path / "worker.log").open("wb")
        worker = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "plant.celery", "worker", "--concurrency=2", "--loglevel=INFO"],
            cwd=ROOT,
            env=env,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            send = (
                "import django; django.setup()\nfrom records.tasks import look_at_checks\n"
                "[look_at_checks.delay() for _ in range(4)]"
            )
            subprocess.run([sys.executable, "-c", send], cwd=ROOT, env=env, check=True, timeout=60)
            deadline = time.time() + 60
            text = ""
            while time.time() < deadline and text.count("succeeded in") < 4:
                time.sleep(0.3)
                text = (tmp_path / "worker.log").read_text(errors="replace")
        finally:
            worker.terminate()
            worker.wait(timeout=30)
            log.close()
    assert text.count("succeeded in") >= 4, text
    keys = list(Transition.objects.filter(what="missed").values_list("key", flat=True))
    assert keys and len(keys) == len(set(keys))
