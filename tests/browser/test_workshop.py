"""The Workshop by hand: a broken seal, who told the regulator, the work and its tests, and no fault that axe knows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from records.workshop.models import RegulatorNotice, SealAct, WorkDone
from tests.browser.driving import Screen, open_with_password
from tests.browser.test_every_page_axe import TOUCHED, look
from tests.conftest import NOW, Plant
from tests.factories import PASSWORD
from tests.records.checks.made import fill_silo
from tests.records.workshop.made import HOUR, all_in_order, calibrated, held, sealed
from tests.records.workshop.test_calibration import read_silo

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def bench(transactional_db: None, plant: Plant, live_server: Any, new_screen: Callable[..., Screen]) -> Screen:
    """Piet before the Workshop of a press in order, but for its recorder's seal, found broken an hour ago."""
    all_in_order(plant, NOW - timedelta(days=20))
    sealed(plant, what="found broken", seal_place="recorder", number="", at=NOW - HOUR)
    fill_silo(plant)
    read_silo(plant, "44.4", NOW - 2 * HOUR)
    screen = new_screen(live_server.url)
    open_with_password(screen, "piet", PASSWORD)
    return screen


def seen(screen: Screen, name: str, address: str) -> None:
    """Open a page, keep its picture, and find no fault, at no width, and nothing too small to touch."""
    wrong = look(screen, address)
    screen.page.set_viewport_size({"width": 1024, "height": 768})
    wrong += [f"{address}: too small to touch: {one}" for one in screen.page.evaluate(TOUCHED)]
    screen.shot(name)
    assert wrong == [], "\n".join(wrong)


def test_a_broken_seal_is_told_and_renewed(bench: Screen) -> None:
    """From the caution to the notice, then a work that breaks no more and renews the seal."""
    assert bench.heading == "Workshop" and "Nobody is recorded" in bench.text
    seen(bench, "workshop", "/workshop/")
    bench.follow("Record who told the regulator")
    bench.tap(bench.page.get_by_text("told", exact=True))
    bench.page.locator("[name=told_whom]").fill("duty line, 555-0100")
    bench.page.get_by_label("How").select_option("telephone")
    bench.shot("workshop-told")
    bench.press("Record it")
    assert RegulatorNotice.objects.get().told_by == "Piet Lomax"
    bench.open("/workshop/place/press-1/worked/")
    bench.shot("workshop-work-empty")
    bench.page.get_by_label("Part", exact=True).select_option("recorder")
    bench.fill("What was done", "pen arm straightened")
    bench.page.locator("[name=started_at]").fill("2026-03-03T08:45")
    bench.page.locator("[name=renewed_2]").fill("8")
    bench.fill("New seals set by", "state inspector")
    bench.say("Whose seal is the new one", "the regulator")
    bench.say("Were surfaces opened", "no")
    bench.press("Record the work")
    bench.shot("workshop-entry")
    assert WorkDone.objects.get().tests == ["2", "3", "4", "8", "10"]
    assert SealAct.objects.order_by("-number")[0].what == "renewed"
    bench.open("/workshop/")
    bench.shot("workshop-after")
    assert "to be tested again before forward flow: 2, recorder: temperature" in bench.text


def test_every_page_of_the_workshop_is_looked_at(bench: Screen, plant: Plant) -> None:
    """Forms, a place's history, a test's verdict, a calibration with what it puts in doubt."""
    short = held(plant, seconds="14.2", tries=("14.2", "14.6")).row
    saved = calibrated(plant)
    for name, address in {
        "test": "/workshop/place/press-1/test/",
        "holding": "/workshop/place/press-1/holding-time/",
        "seal": "/workshop/place/press-1/seal/?seal_place=timing%20pump",
        "calibration": "/workshop/instrument/T-04/calibration/",
        "place": "/workshop/place/press-1/",
        "held": f"/workshop/entry/{short.number}/",
        "doubt": f"/workshop/entry/{saved.row.number}/",
        "amend": f"/workshop/entry/{short.number}/amend/",
        "void": f"/workshop/entry/{short.number}/did-not-happen/",
    }.items():
        seen(bench, f"workshop-{name}", address)
