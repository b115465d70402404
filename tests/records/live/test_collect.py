"""`manage.py collect` and a real broker: killed, the broker ended, the database away: nothing lost, nothing twice."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from django.db import connection
from django.utils import timezone
from paho.mqtt.enums import CallbackAPIVersion

from records.live.models import RefusedMessage, StagedSample
from tests.conftest import Plant
from tests.records.ledger.scratch import ROOT
from tests.records.live.made import fed
from tests.services import Mosquitto, private_mosquitto

WAIT_S = 45
NOBODY = "postgres://nobody@127.0.0.1:1/none"  # no server listens on port 1: the database is away


def here() -> str:
    """The test's own database, as another process reaches it."""
    one = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{one['NAME']}"
    return f"postgres://{one['USER']}@{one['HOST']}:{one['PORT']}/{one['NAME']}"


@contextmanager
def collecting(broker: Mosquitto, folder: Path, url: str) -> Iterator[subprocess.Popen[str]]:
    """The collector in a process of its own; killed at the end if it still runs."""
    environment = {
        **os.environ, "DATABASE_URL": url, "DATA_DIR": str(folder), "SECRET_KEY": "for tests only",
        "DAYBOOK_PREPARE": "off", "DJANGO_SETTINGS_MODULE": "plant.settings", "MQTT_URL": broker.url,
        "MQTT_TOPICS": "plant/#",
    }  # fmt: skip
    with (folder / "log").open("ab") as output:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "collect"], cwd=ROOT, env=environment, text=True, stdout=output, stderr=output
        )
        try:
            yield process
        finally:
            process.kill()
            process.wait(20)


def until(holds: Callable[[], bool], what: str, folder: Path) -> None:
    """Wait for something that will come."""
    deadline = time.monotonic() + WAIT_S
    while not holds():
        assert time.monotonic() < deadline, f"{what}\n{(folder / 'log').read_text()}"
        time.sleep(0.1)


class Recorder:
    """A recorder that publishes one sample a second of its own clock, and repeats what the broker did not confirm."""

    def __init__(self, broker: Mosquitto) -> None:
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="recorder", clean_session=False)
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", broker.port, keepalive=10)
        self.client.loop_start()
        self.first = timezone.now() - timedelta(hours=1)
        self.sent, self.confirmed_count = 0, 0
        self.client.on_publish = self._on_publish

    def says(self, count: int) -> None:
        """So many samples more."""
        for _ in range(count):
            at = self.first + timedelta(seconds=self.sent)
            body = json.dumps({"value": f"40.{self.sent % 10}", "at": at.isoformat()})
            self.client.publish("plant/silo-a", body, qos=1)
            self.sent += 1

    def confirmed(self) -> bool:
        """Whether the broker has confirmed all of it."""
        return self.confirmed_count == self.sent

    def _on_publish(self, *_args: Any) -> None:
        self.confirmed_count += 1

    def end(self) -> None:
        """Hang up."""
        self.client.disconnect()
        self.client.loop_stop()


@pytest.mark.slow
def test_nothing_is_lost_and_nothing_is_there_twice(transactional_db: None, plant: Plant, tmp_path: Path) -> None:
    """The collector is killed twice, the broker ends once, the database is away for a while, all mid-stream."""
    fed()

    def staged() -> int:
        return StagedSample.objects.count()

    with private_mosquitto() as broker:
        recorder = Recorder(broker)
        try:
            with collecting(broker, tmp_path, here()):
                until(lambda: "Connected" in (tmp_path / "log").read_text(), "it connects", tmp_path)
                recorder.says(60)
                until(lambda: staged() >= 40, "the first samples are staged", tmp_path)
            recorder.says(40)  # nobody collects: the broker keeps them
            with collecting(broker, tmp_path, here()):
                until(lambda: staged() >= 80, "what came meanwhile is staged", tmp_path)
                broker.end()
                recorder.says(30)
                broker.start()
                until(recorder.confirmed, "the recorder repeats itself", tmp_path)
                until(lambda: staged() == 130, "after the broker came back", tmp_path)
            with collecting(broker, tmp_path, NOBODY):
                recorder.says(50)
                buffer = tmp_path / "files" / "incoming" / "live-messages"
                until(lambda: buffer.exists() and buffer.read_bytes().count(b"\n") >= 50, "kept on disk", tmp_path)
            assert staged() == 130
            with collecting(broker, tmp_path, here()) as process:
                recorder.says(20)
                until(lambda: staged() == 200, "all of it", tmp_path)
                assert not buffer.exists()
                process.terminate()
                assert process.wait(20) == 0
        finally:
            recorder.end()
    assert staged() == 200 and not RefusedMessage.objects.exists()
    assert len(set(StagedSample.objects.values_list("at_ms", flat=True))) == 200
    with suppress(FileNotFoundError):
        assert "Traceback" not in (tmp_path / "log").read_text()


@pytest.mark.slow
def test_what_a_broker_without_power_did_not_confirm_comes_again(
    transactional_db: None, plant: Plant, tmp_path: Path
) -> None:
    """Killed mid-stream: a QoS 1 publisher resends what was not confirmed, and nothing is there twice.

    What the broker had confirmed and neither handed on nor saved is lost with it: nobody else has it.
    """
    fed()
    with private_mosquitto() as broker:
        recorder = Recorder(broker)
        try:
            with collecting(broker, tmp_path, here()):
                until(lambda: "Connected" in (tmp_path / "log").read_text(), "it connects", tmp_path)
                recorder.says(40)
                until(lambda: StagedSample.objects.count() == 40, "the first samples are staged", tmp_path)
                broker.kill()
                recorder.says(30)
                unconfirmed = recorder.sent - recorder.confirmed_count
                broker.start()
                until(recorder.confirmed, "the recorder repeats itself", tmp_path)
                until(lambda: StagedSample.objects.count() == 70, "after the broker came back", tmp_path)
        finally:
            recorder.end()
    assert unconfirmed == 30
    assert len(set(StagedSample.objects.values_list("at_ms", flat=True))) == 70


@pytest.mark.parametrize(("url", "said"), [("", "MQTT_URL is not set"), ("http://x", "write mqtt://host")])
def test_a_broker_that_is_none_is_one_sentence(url: str, said: str, settings: Any) -> None:
    """And the command ends."""
    from django.core.management import CommandError, call_command

    settings.MQTT_URL = url
    with pytest.raises(CommandError, match=said):
        call_command("collect")
