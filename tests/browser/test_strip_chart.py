"""The strip chart under fingers and keys: panned, zoomed, and at rest the server's own picture of the new window."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from tests.browser.driving import Screen, open_with_password
from tests.browser.test_every_page_axe import TOUCHED, look
from tests.conftest import Plant
from tests.factories import PASSWORD
from tests.records.traces.made_traces import day_with_a_dip, kept, samples

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

DAY = datetime(2026, 3, 2, 11, 0, tzinfo=UTC)  # 05:00 in Chicago: the plant day begins
HOUR = timedelta(hours=1)


def window(screen: Screen) -> tuple[datetime, datetime]:
    """The window that the picture shows."""
    body = screen.page.locator("#strip .strip-body")
    start, end = (int(body.get_attribute(f"data-{name}") or "0") for name in ("from", "until"))
    return datetime.fromtimestamp(start / 1000, UTC), datetime.fromtimestamp(end / 1000, UTC)


def at_rest(screen: Screen, start: datetime, end: datetime) -> None:
    """Wait until the server's picture of that window is there, and the address says so."""
    asked = f"{start:%Y-%m-%dT%H:%M:%S}", f"{end:%Y-%m-%dT%H:%M:%S}"
    screen.page.wait_for_function(
        "([from, until]) => { const said = new URLSearchParams(document.getElementById('strip').dataset.rests);"
        " return said.get('from').startsWith(from) && said.get('until').startsWith(until); }",
        arg=asked,
    )
    assert window(screen) == (start, end)


@pytest.fixture
def chart(transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]) -> Screen:
    """Wren before the chart of a day in which the trace fell for one second."""
    kept(day_with_a_dip(DAY))
    kept(samples(DAY + 8 * HOUR, [1500] * 900))
    screen = new_screen(live_server.url)
    open_with_password(screen, "wren", PASSWORD)
    screen.open("/traces/T-12/")
    at_rest(screen, DAY, DAY + 24 * HOUR)
    return screen


def test_keys_pan_and_zoom(chart: Screen) -> None:
    """Arrows move by a quarter, plus halves, minus doubles; words, form, table and address follow."""
    chart.shot("strip-day")
    chart.page.locator("#strip").focus()
    chart.page.keyboard.press("+")
    chart.page.keyboard.press("+")
    at_rest(chart, DAY + 9 * HOUR, DAY + 15 * HOUR)
    chart.page.keyboard.press("ArrowLeft")
    at_rest(chart, DAY + 7.5 * HOUR, DAY + 13.5 * HOUR)
    chart.shot("strip-six-hours")
    assert "2026-03-02 12:30:00" in chart.page.locator("#strip-when").inner_text()
    assert chart.page.locator("#strip-from").input_value() == "2026-03-02T12:30"
    asked = parse_qs(urlsplit(chart.page.url).query)
    assert asked["from"] == ["2026-03-02T18:30:00.000Z"] and "width" not in asked
    chart.page.keyboard.press("ArrowRight")
    chart.page.keyboard.press("-")
    at_rest(chart, DAY + 6 * HOUR, DAY + 18 * HOUR)
    assert chart.page.evaluate("document.activeElement.id") == "strip"
    chart.page.keyboard.press("Home")
    at_rest(chart, DAY, DAY + 24 * HOUR)


def test_a_drag_draws_from_the_columns_and_rests_on_the_servers_picture(chart: Screen) -> None:
    """While it is dragged the line is there without a pause; let go, the window is the one under the hand."""
    box = chart.page.locator("#strip").bounding_box()
    assert box is not None
    chart.page.locator("#strip").focus()
    chart.page.keyboard.press("+")
    at_rest(chart, DAY + 6 * HOUR, DAY + 18 * HOUR)
    middle, y = box["x"] + box["width"] / 2, box["y"] + 150
    chart.page.mouse.move(middle, y)
    chart.page.mouse.down()
    chart.page.mouse.move(middle + 200, y, steps=8)
    # The columns of three windows came: the line is drawn from them, with the dip of one second in it.
    chart.page.wait_for_function(
        "() => { const line = document.querySelector('.strip-trace'); const panel = line.closest('.strip-panel');"
        " if (line.hasAttribute('transform')) { return false; }"
        " const low = Number(panel.dataset.low), high = Number(panel.dataset.high);"
        " const floor = Number(panel.dataset.floor);"
        " const y = floor - (120 - low) / (high - low) * (floor - panel.dataset.top);"
        " return line.getAttribute('d').includes(' ' + y.toFixed(2)); }"
    )
    chart.shot("strip-dragged")
    chart.page.mouse.up()
    chart.page.wait_for_function(
        "() => new URLSearchParams(document.getElementById('strip').dataset.rests).get('from') < '2026-03-02T16:30'"
    )
    start, end = window(chart)
    assert end - start == 12 * HOUR and DAY < start < DAY + 5 * HOUR


def test_the_wheel_comes_closer_to_what_is_under_the_pointer(chart: Screen) -> None:
    """The moment under the pointer stays where it is."""
    box = chart.page.locator("#strip").bounding_box()
    assert box is not None
    chart.page.mouse.move(box["x"] + box["width"] * 0.3, box["y"] + 150)
    chart.page.mouse.wheel(0, -900)
    chart.page.wait_for_function(
        "() => { const said = new URLSearchParams(document.getElementById('strip').dataset.rests);"
        " return Date.parse(said.get('until')) - Date.parse(said.get('from')) < 8 * 3600e3; }"
    )
    start, end = window(chart)
    assert DAY + 3 * HOUR < start < DAY + 9 * HOUR and end < DAY + 16 * HOUR


def test_links_move_without_a_new_page(chart: Screen) -> None:
    """The same links that work without a script."""
    chart.page.evaluate("window.kept = true")
    chart.page.get_by_role("link", name="Closer").click()
    at_rest(chart, DAY + 6 * HOUR, DAY + 18 * HOUR)
    assert chart.page.evaluate("window.kept") is True


def test_the_picture_is_drawn_as_wide_as_the_screen(chart: Screen) -> None:
    """On a narrow screen its type stays readable instead of shrinking with it."""
    chart.page.set_viewport_size({"width": 640, "height": 768})
    chart.page.wait_for_function("() => document.querySelector('#strip svg').viewBox.baseVal.width < 700")
    chart.shot("strip-narrow")
    assert window(chart) == (DAY, DAY + 24 * HOUR)


def test_the_pages_can_be_read_and_touched_by_everybody(chart: Screen) -> None:
    """axe-core finds nothing (WCAG 2.2 A and AA), at three widths nothing is wider than the screen, links are large."""
    wrong = []
    for path in ("/traces/", "/traces/T-12/", "/traces/T-12/?from=nonsense"):
        wrong += look(chart, path)
        wrong += [f"{path}: too small to touch: {one}" for one in chart.page.evaluate(TOUCHED)]
    assert wrong == [], "\n".join(wrong)


def test_without_script_links_and_form_lead_on(
    transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """Closer by a link, an hour by the form, a wrong time with its sentence, the table folded out."""
    kept(day_with_a_dip(DAY))
    screen = new_screen(live_server.url, script=False)
    open_with_password(screen, "wren", PASSWORD)
    screen.open("/traces/")
    screen.press("Mon 2026-03-02", "link")
    assert not screen.page.locator("#strip-hint").is_visible()
    screen.press("Closer", "link")
    assert window(screen) == (DAY + 6 * HOUR, DAY + 18 * HOUR)
    screen.fill("From", "2026-03-02T12:00:00")
    screen.fill("Until", "2026-03-02T12:05:00")
    screen.press("Show")
    assert window(screen) == (DAY + 7 * HOUR, DAY + 7 * HOUR + timedelta(minutes=5))
    screen.page.locator("main summary").click()
    assert "120.0" in screen.page.locator("#strip-table tbody tr").first.inner_text()
    screen.shot("strip-table")
    screen.fill("Until", "2026-03-01T12:00:00")
    screen.press("Show")
    assert screen.page.locator("[data-errors]").is_visible()
    assert "The end must be later than the beginning." in screen.page.locator("#strip-form").inner_text()
