"""A paper chart under fingers: changed, photographed, marked by tapping, compared; and the pages for everybody."""

from __future__ import annotations

import math
import uuid
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from records.charts.actions import change, keep_photo
from records.charts.models import ChartCompared, ChartFit, ChartOn, ChartPhoto
from records.checks.photos import Photo
from tests.browser.driving import Screen, open_with_password
from tests.browser.test_every_page_axe import TOUCHED, look
from tests.conftest import NOW, Plant
from tests.factories import PASSWORD
from tests.records.charts.drawn import WIDTH, chart_png, point
from tests.records.charts.made import HOUR, is_on, off, on
from tests.records.flow.made import made_ready, moved, ran
from tests.records.traces.made_traces import kept, samples

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

# A run of the morning before: warming, holding at 162 °F with a little life in it, diverted once, cooling to the wash.
STEP_MS = 20_000


def temperature(hour: float) -> float:
    """What the recorder of the drawn chart wrote at an hour of its day."""
    if hour < 8 or hour > 15:
        return 118 + 4 * math.sin(hour)
    if hour < 8.5:
        return 122 + (hour - 8) * 80
    if 11 < hour < 11.2:
        return 150
    return 162.4 + 0.5 * math.sin(hour * 40)


def chart_of_yesterday(plant: Plant, paper: Callable[[float], float] = temperature) -> tuple[ChartOn, ChartPhoto]:
    """On from 10:00 yesterday to now, its trace stored, milk run, photographed; `paper` is what the pen wrote."""
    plant.at(NOW + timedelta(minutes=30))  # 10:00
    ines = plant.actor("ines")
    start = NOW - 23.5 * HOUR
    count = 24 * 3600 * 1000 // STEP_MS
    hours = [(10 + at * STEP_MS / 3_600_000) % 24 for at in range(count)]
    kept(samples(start, [round(temperature(one) * 10) for one in hours], STEP_MS))
    made_ready(ines, start - HOUR)
    moved(ines, started_at=start - HOUR)
    ran(ines, started_at=start + HOUR)
    first = is_on(ines, put_on_at=start)
    data = on(chart_number="62", put_on_at=start + 24 * HOUR)
    change(ines, off(first, form_id=data.form_id, taken_off_at=start + 24 * HOUR), data)
    drawn = chart_png([(one, paper(one)) for one in hours])
    photo = keep_photo(ines, first.number, "front", Photo(drawn, "61.png", "image/png"), "", uuid.uuid4())
    return first, photo


def tap(screen: Screen, at: tuple[float, float]) -> None:
    """A finger on a point of the photo, given in its own pixels."""
    photo = screen.page.locator("#fit-photo img")
    photo.scroll_into_view_if_needed()
    box = photo.bounding_box()
    assert box is not None
    scale = box["width"] / WIDTH
    screen.page.touchscreen.tap(box["x"] + at[0] * scale, box["y"] + at[1] * scale)


@pytest.fixture
def wren(transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]) -> Screen:
    """Wren, signed in."""
    plant.at(NOW + timedelta(minutes=30))
    screen = new_screen(live_server.url)
    open_with_password(screen, "wren", PASSWORD)
    return screen


def test_marks_are_tapped_and_the_trace_lies_on_the_ink(plant: Plant, wren: Screen) -> None:
    """Four taps, two values and a time; shown, kept, compared."""
    chart, photo = chart_of_yesterday(plant, lambda hour: temperature(hour) - (9 if 13 < hour < 13.4 else 0))
    wren.open(f"/charts/{chart.number}/photos/{photo.number}/marks/")
    wren.shot("charts-marks")
    for at in (point(0, 40), point(18, 100), point(12, 220), point(12, 220)):
        tap(wren, at)
    assert wren.page.locator("#tap-choices [aria-pressed=true]").inner_text() == "On the time line"
    for name, wanted in (("center_x", 500), ("center_y", 375), ("outer_y", 41.7)):
        typed = float(wren.page.locator(f"#id_{name}").input_value())
        assert typed == pytest.approx(wanted, abs=2.0) or name != "center_x"
    wren.page.locator("#id_center_x").fill("500")
    wren.page.locator("#id_center_y").fill("375")
    wren.page.locator("#id_inner_value").fill("100")
    wren.page.locator("#id_outer_value").fill("220")
    wren.page.locator("#id_first_at").fill("2026-03-02T12:00")
    wren.say("Printed hours grow", "clockwise")
    wren.press("Only show them")
    assert "4,320 stored samples" in wren.text and not ChartFit.objects.exists()
    wren.shot("charts-marks-shown")
    wren.press("Keep these marks")
    assert ChartFit.objects.count() == 1
    wren.shot("charts-over")
    wren.page.locator("label[for=photo-alone]").tap()
    assert not wren.page.locator(".chart-over").is_visible()
    wren.page.locator("label[for=photo-alone]").tap()
    wren.say("What is seen", "They disagree")
    wren.fill("If they disagree: at what time", "2026-03-02T13:12")
    wren.fill("What was seen there", "paper 153 °F, trace 162 °F")
    wren.press("Record it")
    assert "disagree at 2026-03-02 13:12" in wren.text and ChartCompared.objects.count() == 1
    wren.shot("charts-chart")
    wren.page.emulate_media(media="print")
    assert wren.page.get_by_text("Regulator's initials and date").is_visible()
    assert not wren.page.get_by_role("link", name="All charts").is_visible()
    wren.shot("charts-print")


def test_photo_is_sent_from_the_tablet(plant: Plant, wren: Screen, tmp_path: Path) -> None:
    """A file from the camera."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW)
    file = tmp_path / "front.png"
    file.write_bytes(chart_png())
    wren.open(f"/charts/{chart.number}/photos/new/")
    wren.say("Which side", "front")
    wren.page.locator("#id_photo").set_input_files(file)
    wren.shot("charts-photo")
    wren.press("Keep the photo")
    assert ChartPhoto.objects.get().side == "front" and "Lay the stored trace over it" in wren.text


def test_pages_can_be_read_and_touched_by_everybody(plant: Plant, wren: Screen) -> None:
    """axe-core finds nothing (WCAG 2.2 A and AA), nothing is wider than the screen, what is touched is large."""
    chart, photo = chart_of_yesterday(plant)
    second = ChartOn.objects.get(chart_number="62")
    is_on(plant.actor("ines"), chart_number="63", put_on_at=NOW + timedelta(minutes=20))
    wrong = []
    for path in (
        "/charts/", "/charts/new/", "/charts/new/?recorder=T-12", "/charts/initials/",
        f"/charts/{chart.number}/", f"/charts/{second.number}/change/", f"/charts/{second.number}/off/",
        f"/charts/{chart.number}/sign/", f"/charts/{chart.number}/amend-on/", f"/charts/{chart.number}/amend-off/",
        f"/charts/{chart.number}/photos/new/", f"/charts/{chart.number}/photos/{photo.number}/marks/",
        f"/charts/{chart.number}/photos/{photo.number}/over/",
    ):  # fmt: skip
        wrong += look(wren, path)
        wrong += [f"{path}: too small to touch: {one}" for one in wren.page.evaluate(TOUCHED)]
        wren.shot("charts-" + path.strip("/").replace("/", "-").replace("?", "-"))
    assert wrong == [], "\n".join(wrong)


def test_without_script_the_marks_are_typed(
    transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """By the numbers of the grid; the choice of taps is not there."""
    chart, photo = chart_of_yesterday(plant)
    screen = new_screen(live_server.url, script=False)
    open_with_password(screen, "wren", PASSWORD)
    screen.open(f"/charts/{chart.number}/photos/{photo.number}/marks/")
    assert not screen.page.locator("#tap-choices").is_visible()
    typed = {
        "center_x": "500", "center_y": "375", "inner_x": "600", "inner_y": "375", "inner_value": "100",
        "outer_x": "500", "outer_y": "41.7", "outer_value": "220", "mark_x": "500", "mark_y": "41.7",
        "first_at": "2026-03-02T12:00",
    }  # fmt: skip
    for name, value in typed.items():
        screen.page.locator(f"#id_{name}").fill(value)
    screen.say("Printed hours grow", "clockwise")
    screen.press("Keep these marks")
    assert ChartFit.objects.get().marks["outer_y"] == "41.7"
    assert screen.page.locator(".chart-over-trace").count() == 1
