"""What an operator has typed survives the idle lock and a server that is down, and is written once."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from socketserver import ThreadingMixIn
from threading import Thread
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

import pytest
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.wsgi import get_wsgi_application
from playwright.sync_api import Error

from records.checks.models import Reading
from tests.browser.driving import Screen, join_tablet, open_with_pin
from tests.conftest import Plant
from tests.factories import PIN

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
SAVE = "Save, initials IA"


def begin_round(screen: Screen, plant: Plant) -> None:
    """Ines at her first check, the number typed and the questions answered."""
    join_tablet(screen, plant.token)
    open_with_pin(screen, "Ines Alder", PIN)
    screen.keys("38.4")
    screen.say("Did the agitator run", "Yes")
    screen.say("Does the milk cover the bulb", "Yes")


def test_a_number_sent_while_locked_is_saved_once(
    morning: Plant, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """The page locks while she walks; Save leads through the PIN, a wrong one first, and the number is kept once."""
    screen = new_screen(live_server.url)
    begin_round(screen, morning)
    morning.clock.on(minutes=7)
    screen.press(SAVE)
    screen.shot("locked")
    assert "not written yet" in screen.text and not Reading.objects.exists()
    for pin in ("000000", PIN):
        screen.page.locator("[name=unlock_secret]").fill(pin)
        screen.press("Go on")
    assert "Kept: Silo A" in screen.text
    assert [(one.typed, one.by_name) for one in Reading.objects.all()] == [("38.4", "Ines Alder")]
    screen.page.reload()
    assert Reading.objects.count() == 1


class Threads(ThreadingMixIn, WSGIServer):
    """A small server that can be stopped and started again at the same address."""

    daemon_threads = True
    allow_reuse_address = True


class Quiet(WSGIRequestHandler):
    """Says nothing of each request."""

    def log_message(self, format: str, *args: object) -> None:
        """Stay quiet."""


class Switch:
    """The plant's server with its switch."""

    def __init__(self) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.on()

    def on(self) -> None:
        """Start it."""
        application = StaticFilesHandler(get_wsgi_application())
        self.server = make_server("127.0.0.1", self.port, application, Threads, Quiet)
        Thread(target=self.server.serve_forever, daemon=True).start()

    def off(self) -> None:
        """Stop it: its port refuses."""
        self.server.shutdown()
        self.server.server_close()


@pytest.fixture
def switch() -> Iterator[Switch]:
    """A running server."""
    made = Switch()
    yield made
    made.off()


def test_a_number_typed_while_the_server_is_down_is_not_lost(
    morning: Plant, switch: Switch, new_screen: Callable[..., Screen]
) -> None:
    """Save fails; when the server is back the page holds number and answers, says they are not saved, and saves."""
    screen = new_screen(f"http://127.0.0.1:{switch.port}")
    begin_round(screen, morning)
    switch.off()
    with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
        screen.press(SAVE)
    screen.page.wait_for_url("chrome-error://**")  # the browser's own page comes a moment after the failure
    screen.shot("down")
    assert not Reading.objects.exists()
    switch.on()
    screen.open("/round/")
    screen.shot("back-again")
    assert screen.page.locator("[data-big]").input_value() == "38.4"
    assert screen.page.locator(".pair-of-questions input:checked").count() == 2
    assert "This was typed before and is not saved yet." in screen.text
    screen.press(SAVE)
    assert "Kept: Silo A" in screen.text
    assert [one.typed for one in Reading.objects.all()] == ["38.4"]
