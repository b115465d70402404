"""A recorder's file dropped on the page, mapped, looked at, kept; its dip followed to the deviation and the lot."""

from __future__ import annotations

import base64
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from records.traces.models import TraceFile
from tests.browser.driving import Screen, open_with_password
from tests.browser.test_every_page_axe import TOUCHED, look
from tests.conftest import Plant
from tests.factories import PASSWORD
from tests.records.flow.made import moved, ran

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
CHICAGO = ZoneInfo("America/Chicago")
START = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
DIP = 1234

DROP = """
([name, data]) => {
  const bytes = Uint8Array.from(atob(data), (one) => one.charCodeAt(0));
  const given = new DataTransfer();
  given.items.add(new File([bytes], name, {type: "text/csv"}));
  const form = document.getElementById("trace-drop");
  for (const kind of ["dragover", "drop"]) {
    form.dispatchEvent(new DragEvent(kind, {dataTransfer: given, bubbles: true, cancelable: true}));
  }
}
"""


def recorded() -> bytes:
    """Two hours at 1 Hz as a recorder writes them: semicolons, decimal commas, day first; one second at 150 °F."""
    lines = ["Recorder 7;;", "Zeit;T-12 Milk out;Forward"]
    for second in range(7200):
        when = (START + timedelta(seconds=second)).astimezone(CHICAGO)
        value = 150.0 if second == DIP else 163.0 + second % 5 / 10
        lines.append(f"{when:%d.%m.%Y %H:%M:%S};{value:.1f};{int(second < 3600)}".replace(".", ",", 0))
    text = "\r\n".join(lines) + "\r\n"
    return text.replace(";163.", ";163,").replace(";150.", ";150,").encode("cp1252")


@pytest.fixture
def screen(transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]) -> Screen:
    """Wren at the page of a recorder's file, after an hour of whole milk through Press 1."""
    plant.at(START - timedelta(hours=1))
    moved(plant.actor("tomas"), started_at=START - timedelta(hours=2))
    plant.at(START + timedelta(hours=3))
    ran(plant.actor("tomas"), started_at=START, ended_at=START + timedelta(hours=1))
    found = new_screen(live_server.url)
    open_with_password(found, "wren", PASSWORD)
    found.follow("Traces")
    found.follow("A recorder's file")
    return found


def test_from_a_dropped_file_to_the_lot(screen: Screen) -> None:
    """Drop, map, look, keep; the dip leads to its deviation, the deviation to the held lot."""
    screen.shot("file-send")
    with screen.page.expect_navigation():
        screen.page.evaluate(DROP, ["press.csv", base64.b64encode(recorded()).decode()])
    assert screen.heading == "press.csv"
    screen.shot("file-mapped")
    screen.fill("Which recorder or logger is it from?", "Press 1 recorder")
    assert screen.page.get_by_label("Column 2 holds").input_value() == "T-12"
    screen.page.get_by_label("Unit of column 2").select_option("°F")
    screen.page.get_by_label("Column 3 holds").select_option("fd-press-1")
    screen.page.get_by_label("Unit of column 3").select_option("1")
    order = screen.page.get_by_label("How are its dates written?")
    order.select_option("dmy")
    screen.press("Show what it says")
    assert "Rows understood: 7200 of 7200" in screen.text and not TraceFile.objects.exists()
    assert "150.0" in screen.page.locator("#trace-preview").inner_text()
    screen.shot("file-looked-at")
    screen.press("Keep it, and judge it")
    assert "Kept and judged." in screen.page.locator("body").inner_text()
    screen.shot("file-kept")
    dip = screen.page.locator("#trace-findings li", has_text="150").first
    assert "out of limits" in dip.inner_text() or "not proven" in dip.inner_text()
    with screen.page.expect_navigation():
        screen.tap(dip.get_by_role("link", name="deviation"))
    assert "Press 1" in screen.text and "150" in screen.text
    screen.shot("file-deviation")
    assert "Whole milk" in screen.text or "Finished 1" in screen.text
    assert screen.errors == []


def test_the_next_file_is_known_and_the_same_adds_nothing(screen: Screen) -> None:
    """The second time the file is looked at without a question, and says that it was kept before."""
    data = base64.b64encode(recorded()).decode()
    test_from_a_dropped_file_to_the_lot(screen)
    screen.open("/traces/import/")
    with screen.page.expect_navigation():
        screen.page.evaluate(DROP, ["again.csv", data])
    assert "This file was kept before" in screen.text
    screen.press("Keep it, and judge it")
    assert "nothing was added" in screen.page.locator("body").inner_text() and TraceFile.objects.count() == 1


def test_what_is_no_recording_is_refused_beside_the_field(screen: Screen) -> None:
    """A photo that was given another name: a sentence, and nothing kept."""
    photo = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40
    with screen.page.expect_navigation():
        screen.page.evaluate(DROP, ["photo.csv", base64.b64encode(photo).decode()])
    screen.shot("file-refused")
    assert screen.page.locator("[data-errors], .errors").first.is_visible()
    assert not TraceFile.objects.exists()


def test_the_pages_can_be_read_and_touched_by_everybody(screen: Screen) -> None:
    """axe-core finds nothing (WCAG 2.2 A and AA); nothing is wider than the screen; what is touched is large."""
    with screen.page.expect_navigation():
        screen.page.evaluate(DROP, ["press.csv", base64.b64encode(recorded()).decode()])
    path = screen.page.url.removeprefix(screen.address)
    wrong = []
    for one in ("/traces/import/", path):
        wrong += look(screen, one)
        wrong += [f"{one}: too small to touch: {small}" for small in screen.page.evaluate(TOUCHED)]
    assert wrong == [], "\n".join(wrong)
