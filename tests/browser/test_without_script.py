"""The essential path without JavaScript: sign in, read, out of limits, what was done, the next check, sign."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from records.checks.models import Reading, RoundSigned
from records.deviations.models import CorrectiveAction, Deviation
from tests.browser.driving import Screen, join_tablet, open_with_pin
from tests.conftest import Plant
from tests.factories import PIN

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


def read(screen: Screen, typed: str) -> None:
    """Type the number with the keyboard, answer both questions, save."""
    screen.page.locator("[data-big]").fill(typed)
    screen.say("Did the agitator run", "Yes")
    screen.say("Does the milk cover the bulb", "Yes")
    screen.press("Save, initials IA")


def test_without_script(morning: Plant, live_server: Any, new_screen: Callable[..., Screen]) -> None:
    """Nothing of it needs a script; a refused number stands where it was typed, with its sentence."""
    screen = new_screen(live_server.url, script=False)
    join_tablet(screen, morning.token)
    open_with_pin(screen, "Ines Alder", PIN)
    assert screen.page.locator(".round-work h2").inner_text().startswith("Silo A")
    assert not screen.page.locator("[data-keypad]").is_visible()  # keys that would do nothing are not shown

    read(screen, "46..4")
    assert screen.page.locator("[data-big]").input_value() == "46..4"
    assert screen.page.locator("[data-errors]").is_visible() and not Reading.objects.exists()

    read(screen, "46.4")
    assert "out of limits" in screen.text
    screen.fill("What was done at once?", "Cooling switched on.")
    screen.press("Save, initials IA")
    assert (Reading.objects.get().typed, CorrectiveAction.objects.get().text) == ("46.4", "Cooling switched on.")
    assert Deviation.objects.filter(control_point="raw-storage", subject="silo-a").count() == 1
    assert screen.heading == "Round"

    screen.open("/round/sign/")
    screen.say("Who signs", "Ines Alder")
    screen.fill("PIN", PIN)
    screen.press("Sign the round")
    assert RoundSigned.objects.count() == 1
