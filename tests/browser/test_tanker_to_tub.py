"""A day in a real browser from tanker to sold tubs; then one reading is doubted, and the tubs are named."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from plant import clock
from records.flow.models import Movement
from records.lots.models import Lot
from records.recall.models import Dispatch
from records.receiving.models import LoadEvent
from tests.browser.driving import Screen, open_with_password, unlock
from tests.conftest import NOW, Plant
from tests.factories import PASSWORD
from tests.records.deviations.made import read
from tests.records.flow.made import made_ready, moved

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
MINUTE = timedelta(minutes=1)


def local(moment: Any) -> str:
    """A moment as the page's field has it: on Chicago's clocks."""
    return str((moment - timedelta(hours=6)).strftime("%Y-%m-%dT%H:%M"))


def later(screen: Screen, plant: Plant, minutes: int) -> None:
    """So many minutes on; the screen has locked itself meanwhile."""
    plant.at(clock.now() + minutes * MINUTE)
    screen.open("/floor/")
    unlock(screen, PASSWORD)


def receive(screen: Screen, plant: Plant, tanker: str, farm: str) -> None:
    """A load through its pages: its paper, its screen, unloading, the end with the ticket's pounds."""
    screen.open("/receiving/new/")
    screen.fill("Tanker, its number or name", tanker)
    screen.fill("Pounds by the ticket", "6880")
    screen.fill("Farm 1", farm)
    screen.press("It arrived: record it")
    load = LoadEvent.objects.latest("number").number
    screen.open(f"/receiving/{load}/unload/")
    screen.press("It begins now")
    assert "The plan wants it before unloading" in screen.text
    screen.open(f"/receiving/{load}/screen/")
    screen.say("Drug residues", "not found")
    for name, text in (("kit", "strip kit"), ("kit_lot", "K-3"), ("analyst", "Wren Castell")):
        screen.page.locator(f"[name={name}]").fill(text)
    screen.say("Negative control right?", "yes")
    screen.say("Positive control right?", "yes")
    screen.press("Record the test")
    screen.open(f"/receiving/{load}/unload/")
    screen.press("It begins now")
    later(screen, plant, 20)
    screen.open(f"/receiving/{load}/unloaded/")
    screen.press("It ended: record it")


def move(screen: Screen, source: str, target: str, gallons: str, plant: Plant, code: str = "") -> None:
    """A movement that took ten minutes, by its form."""
    began = clock.now()
    later(screen, plant, 10)
    screen.open(f"/movement/new/?from={source}&into={target}")
    screen.page.locator("[name=started_at]").fill(local(began))
    screen.page.locator("[name=ended_at]").fill(local(clock.now()))
    screen.page.locator("[name=quantity]").fill(gallons)
    screen.page.locator("[name=product]").select_option("whole-milk")
    screen.page.locator("[name=emptied]").check()
    if code:
        screen.page.locator("[name=target]").select_option("(packed)")
        screen.fill("Code on the packs", code)
    screen.press("It happened: record it")
    assert "Recorded: " in screen.page.locator("body").inner_text(), screen.text


def test_from_the_tanker_to_the_tubs_that_a_doubted_reading_touched(
    plant: Plant, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """Two fills of one silo, a wash between them: the reading of the first leads to its code and no other."""
    wren = new_screen(live_server.url, width=1280, height=900)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    open_with_password(wren, "wren", PASSWORD)
    receive(wren, plant, "T-12", "Nettle Farm")
    doubted = read(plant, "39.5").reading
    move(wren, "silo-a", "finished-1", "800", plant)
    move(wren, "finished-1", "", "800", plant, code="WM 1")
    # Others wash, and the second load takes the same way.
    plant.at(clock.now() + 60 * MINUTE)
    made_ready(plant.actor("tomas"), clock.now())
    plant.at(clock.now() + 10 * MINUTE)
    tomas = plant.actor("tomas")
    at = clock.now()
    for step in (
        {"source_name": "Oxbow Farm", "quantity_typed": "700"},
        {"source": "silo-a", "source_name": "", "target": "finished-1", "via": "press-1", "product": "whole-milk"},
        {"source": "finished-1", "source_name": "", "target": "", "target_name": "packed", "code": "WM 2",
         "product": "whole-milk"},
    ):  # fmt: skip
        plant.at(at + 6 * MINUTE)
        moved(tomas, started_at=at, ended_at=at + 5 * MINUTE, **({"quantity_typed": "700"} | step))
        at += 6 * MINUTE
    later(wren, plant, 10)
    send(wren, "WM 1", "Harbor Lane Market", "400")
    send(wren, "WM 2", "Millpond Grocer", "300")
    assert Dispatch.objects.count() == 2 and Movement.objects.count() == 6

    wren.open(f"/readings/{doubted.number}/")
    wren.follow("Which product it could have reached")
    rows = wren.page.locator("main table").first.locator("tbody tr th").all_inner_texts()
    assert len(rows) == 3 and [one for one in rows if "WM 1" in one] and not [one for one in rows if "WM 2" in one]
    assert "Harbor Lane Market" in wren.text and "Millpond Grocer" not in wren.text
    with wren.page.expect_download() as sent:
        wren.page.get_by_role("link", name="CSV").click()
    table = sent.value.path().read_text(encoding="utf-8-sig")
    assert "WM 1" in table and "WM 2" not in table and "400" in table
    # And backward, from the other code: its own farm alone.
    wren.open(f"/tub/{Lot.objects.get(code='WM 2').id}/")
    assert "Oxbow Farm" in wren.text and "Nettle Farm" not in wren.text
    assert wren.errors == []


def send(screen: Screen, code: str, to: str, gallons: str) -> None:
    """Packs of a code leave for somebody."""
    screen.open("/dispatch/new/")
    screen.fill("Code on the packs", code)
    screen.fill("To whom", to)
    screen.fill("Address", "12 Harbor Lane, Quillbrook")
    screen.page.locator("[name=quantity]").fill(gallons)
    screen.press("It leaves now")
