"""A shift on a tablet in a real browser: the round, a warm silo, its deviation answered and closed, the day closed, its
sheet signed by two people, downloaded and looked at by somebody else's program."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from records.deviations import queries as deviations
from records.ledger.verify import verify
from records.people.keys import authority
from tests.browser.driving import Screen, join_tablet, open_with_password, open_with_pin, unlock
from tests.browser.quillbrook import AGAIN_AT, AND_AGAIN_AT, DAY, SILO_AT, Quillbrook
from tests.pdf_tools import pdfsig_report, qpdf_check

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

INES = "Save, initials IA"
PARTS = {
    "problem": "Compressor switched on again by Piet Lomax; the silo was at 43.9 °F after half an hour.",
    "recurrence": "Its breaker is looked at in every round.",
    "evaluation": "Recorder chart read: above 45 °F for less than an hour. Sent to another use all the same.",
    "product": "Nothing left the silo while it was held.",
}


@dataclass
class Scene:
    """The plant and who sits where: Ines at the tablet, Wren and Odile at their own desks."""

    plant: Quillbrook
    tablet: Screen
    wren: Screen
    odile: Screen

    def sign(self, screen: Screen, name: str) -> None:
        """The two components of a signature, afresh."""
        screen.fill("Your sign-in name", name)
        screen.fill("Password", self.plant.secret(name))


def test_a_shift(noon: Quillbrook, live_server: Any, new_screen: Callable[..., Screen], tmp_path: Path) -> None:
    """From the operator's name on the tablet to a PDF whose two signatures pdfsig finds valid."""
    desk = {"width": 1280, "height": 900}
    scene = Scene(noon, *(new_screen(live_server.url, **size) for size in ({}, desk, desk)))
    join_tablet(scene.tablet, noon.crew.token)
    scene.tablet.shot("01-names")
    open_with_pin(scene.tablet, "Ines Alder", noon.secret("ines"))
    walk_the_round(scene)
    read_it_again(scene)
    sign_the_round(scene)
    answer_the_deviation(scene)
    dispose(scene)
    close_the_deviation(scene)
    close_the_day(scene)
    sign_the_sheet(scene)
    sheet = download(scene, tmp_path)
    reports = pdfsig_report(sheet, authority().root_pem)
    assert [(one["signer"], one["valid"], one["trusted"]) for one in reports] == [
        ("Ines Alder", True, True),
        ("Wren Castell", True, True),
    ]
    assert "No syntax or stream encoding errors" in qpdf_check(sheet)
    assert verify().good


def take(tablet: Screen, typed: str) -> None:
    """Answer the check that the round shows, and count: three taps beside the digits, two more where it asks."""
    before = tablet.taps
    tablet.keys(typed)
    assert tablet.page.locator("[data-big]").input_value() == typed
    questions = tablet.page.locator(".pair-of-questions fieldset")
    asked = questions.count()
    assert questions.locator("input:checked").count() == 0  # never answered beforehand
    bar = tablet.page.locator(".entry .bar").bounding_box()
    for at in range(asked):  # in sight without a push of the finger
        box = questions.nth(at).bounding_box()
        assert box is not None and bar is not None and box["y"] + box["height"] <= bar["y"] + 1
    if asked:
        tablet.say("Did the agitator run", "Yes")
        tablet.say("Does the milk cover the bulb", "Yes")
    assert "out of limits" not in tablet.page.locator("form.entry").inner_text()  # nobody judges what is not kept
    tablet.press(INES)
    assert tablet.taps - before <= 3 + asked


def place(tablet: Screen) -> str:
    """Which place the round asks for."""
    return tablet.page.locator(".round-work h2").inner_text().split(",")[0]


def walk_the_round(scene: Scene) -> None:
    """Twelve temperatures one after the other; the silo is too warm and asks at once what was done."""
    tablet, seen = scene.tablet, []
    scene.plant.hand.to(scene.plant.moment(SILO_AT))
    while tablet.page.locator("[data-big]").count():
        seen.append(place(tablet))
        tablet.shot(f"02-round-{len(seen):02}")
        if seen[-1] == "Silo A":
            take(tablet, "46.4")
            tablet.shot("03-out-of-limits")
            assert "out of limits" in tablet.text and "46.4" in tablet.text
            tablet.fill("What was done at once?", "Compressor was off: switched on. Piet Lomax called.")
            tablet.press(INES)
            assert "write what was done" not in tablet.text  # it is written
        else:
            take(tablet, "-18.0" if seen[-1] == "Hardening room" else "37.6")
        scene.plant.hand.on(8)
    assert len(seen) == 12 and len(set(seen)) == 12
    assert "Nothing waits now" in tablet.text
    tablet.shot("04-nothing-waits")


def read_it_again(scene: Scene) -> None:
    """The re-check when its minutes are over, twice in limits."""
    tablet = scene.tablet
    for at, typed in ((AGAIN_AT, "43.9"), (AND_AGAIN_AT, "41.2")):
        scene.plant.to(at)
        tablet.open("/round/")
        unlock(tablet, scene.plant.secret("ines"))
        assert place(tablet) == "Silo A"
        tablet.shot(f"05-again-{at[:2]}{at[3:]}")
        take(tablet, typed)
        tablet.shot(f"05-after-{at[:2]}{at[3:]}")


def sign_the_round(scene: Scene) -> None:
    """Her PIN under fourteen readings."""
    tablet = scene.tablet
    tablet.open("/round/sign/")
    tablet.shot("06-sign-round")
    assert tablet.page.locator("tbody tr").count() == 14
    tablet.say("Who signs", "Ines Alder")
    tablet.fill("PIN", scene.plant.secret("ines"))
    tablet.press("Sign the round")
    assert "Nothing of yours waits for a signature." in tablet.text


def answer_the_deviation(scene: Scene) -> None:
    """The supervisor reads it and writes the parts that are missing."""
    scene.plant.to("15:00")
    wren = scene.wren
    open_with_password(wren, "wren", scene.plant.secret("wren"))
    assert wren.heading == "Deviations"
    wren.shot("07-deviations")
    wren.tap(wren.page.get_by_role("link", name="Silo A").first)
    wren.page.wait_for_url("**/deviations/*/")
    wren.shot("08-deviation")
    assert "Compressor was off" in wren.text and "46.4" in wren.text
    for part, text in PARTS.items():
        section = wren.page.locator(f"#part-{part}")
        if section.locator("summary").count():
            section.locator("summary").tap()
        section.get_by_role("textbox").fill(text)
        with wren.page.expect_navigation():
            section.get_by_role("button").last.tap()
        assert text in wren.text
    wren.shot("09-parts")


def dispose(scene: Scene) -> None:
    """She proposes what becomes of the held milk; somebody else signs that."""
    wren, odile = scene.wren, scene.odile
    wren.tap(wren.page.locator("a[href*='/holds/']").first)
    wren.page.wait_for_url("**/holds/*/")
    wren.shot("10-hold")
    wren.follow("Propose what becomes of it")
    wren.shot("11-propose")
    wren.page.get_by_label("send to another use").check()
    wren.page.get_by_role("textbox", name="Why").fill("To animal feed; nothing of it is used for food.")
    scene.sign(wren, "wren")
    wren.press("Propose it, signed")
    open_with_password(odile, "odile", scene.plant.secret("odile"))
    odile.open("/holds/")
    odile.shot("12-holds")
    odile.tap(odile.page.locator("main a[href*='/holds/']").first)
    odile.follow("Second signature")
    odile.shot("13-second")
    odile.page.get_by_label("I have read the reason").check()
    scene.sign(odile, "odile")
    odile.press("Sign: the hold is lifted so")
    assert "hold lifted" in odile.page.locator("body").inner_text()


def close_the_deviation(scene: Scene) -> None:
    """By somebody who took none of its readings."""
    wren = scene.wren
    number = deviations.open_deviations().get(subject="silo-a").number
    wren.open(f"/deviations/{number}/")
    wren.follow("Close it")
    wren.shot("14-close-deviation")
    wren.page.get_by_role("textbox").first.fill("Complete. Chart and the milk's receipt are filed.")
    scene.sign(wren, "wren")
    wren.press("Close, signed")
    assert not deviations.open_deviations().filter(number=number).exists()


def close_the_day(scene: Scene) -> None:
    """Everybody else's day runs out; the supervisor names who is in charge and closes it."""
    wren = scene.wren
    scene.plant.to("21:20")
    wren.open(f"/days/{DAY}/")
    unlock(wren, scene.plant.secret("wren"))
    wren.shot("15-day")
    wren.tap(wren.page.locator("a[href*='/evening/in-charge/']"))
    wren.page.get_by_label("Operator in charge").select_option(label="Ines Alder")
    wren.press("Name them")
    wren.follow("Close the day")
    wren.shot("16-close-day")
    scene.sign(wren, "wren")
    wren.press("Close the day, signed")
    wren.shot("17-closed")
    assert "Closed: revision 1" in wren.text


def sign_the_sheet(scene: Scene) -> None:
    """The operator in charge with her PIN on the tablet, then the supervisor."""
    tablet, wren = scene.tablet, scene.wren
    tablet.open(f"/days/{DAY}/")
    unlock(tablet, scene.plant.secret("ines"))
    tablet.follow("Read and sign")
    tablet.shot("18-sign-sheet")
    tablet.page.get_by_label("I have read the sheet").check()
    tablet.say("Who signs", "Ines Alder")
    tablet.fill("PIN", scene.plant.secret("ines"))
    tablet.press("Sign the sheet")
    assert "Signed. The signed sheet is kept." in tablet.text
    wren.open(f"/days/{DAY}/")
    wren.follow("Read and sign")
    wren.page.get_by_label("I have read the sheet").check()
    scene.sign(wren, "wren")
    wren.press("Sign the sheet")
    wren.shot("19-signed")


def download(scene: Scene, folder: Path) -> Path:
    """The signed sheet from the page's own link, with the browser's session (the browser itself would show it)."""
    page = scene.wren.page
    link = page.get_by_role("link", name="signed, supervisor").get_attribute("href")
    answer = page.request.get(f"{scene.wren.address}{link}")
    assert answer.headers["content-type"] == "application/pdf"
    path = folder / "sheet.pdf"
    path.write_bytes(answer.body())
    return path
