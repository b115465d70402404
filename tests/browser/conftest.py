"""Debian's Chromium, driven by Playwright, and the invented plant behind a live server on loopback.

Playwright's sync API keeps an event loop running in this thread, in which Django refuses database work unless told that
nobody else is in it: true here, one test runs at a time. `SHOTS=folder` keeps a picture of each step.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from plant import clock
from records.flow.actions import record_movement
from records.flow.data import MovementData
from tests.browser.driving import FLAGS, Screen
from tests.browser.quillbrook import ROUND_AT, Quillbrook, begin, new_hand
from tests.conftest import Plant

TABLET = {"width": 1024, "height": 768}
SIX = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)  # 06:00 in Chicago


@pytest.fixture(autouse=True)
def _database_beside_playwright(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser a module; it ends with it, and so does its event loop."""
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # fixtures wider than a test come before the one above
    try:
        with sync_playwright() as play:
            opened = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
            yield opened
            opened.close()
    finally:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def new_screen(browser: Browser) -> Iterator[Callable[..., Screen]]:
    """`new_screen(address, width=.., height=.., script=False)`: a fresh profile with one page.

    A script's error or a blocked file fails the test when it ends.
    """
    made: list[tuple[BrowserContext, Screen]] = []

    def make(address: str, *, script: bool = True, touch: bool = True, **size: int) -> Screen:
        context = browser.new_context(
            viewport={**TABLET, **size},  # type: ignore[arg-type]
            has_touch=touch,
            java_script_enabled=script,
            accept_downloads=True,
            locale="en-US",
        )
        context.set_default_timeout(45_000)
        screen = Screen(context.new_page(), address)
        made.append((context, screen))
        return screen

    yield make
    wrong = [error for _context, screen in made for error in screen.errors]
    for context, _screen in made:
        context.close()
    assert wrong == []


@pytest.fixture
def morning(transactional_db: None, plant: Plant) -> Plant:
    """The small plan at 06:05, the silo full since 05:30 and due to be read."""
    plant.at(SIX - timedelta(minutes=30))
    record_movement(
        plant.actor("ines", "operator"),
        MovementData(
            form_id=uuid.uuid4(),
            source="",
            source_name="Nettle Farm",
            target="silo-a",
            product="raw-milk",
            started_at=plant.clock(),
            ended_at=plant.clock(),
            quantity_typed="9000",
            unit="lb",
            measured_by="mass",
        ),
        load=1,  # milk that is simply there: a load's own day is walked in quillbrook.py
    )
    plant.at(SIX + timedelta(minutes=5))
    return plant


@pytest.fixture
def noon(transactional_db: None, quick_keys: None) -> Iterator[Quillbrook]:
    """The whole plan when the round of 13:30 begins: twelve places hold product."""
    hand = new_hand()
    with clock.replaced(hand):
        made = begin(hand)
        made.to(ROUND_AT)
        yield made
