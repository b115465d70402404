"""A whole invented day by its pages, from the separator to the tubs that left; then one reading is doubted.

Separated, blended, pasteurized, flavored, frozen with the feeder, hardened, filled and sent: exactly the tubs that the
reading could have reached are named.

Others receive the milk, wash and take the readings that are due (receiving by its pages: test_tanker_to_tub.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from plant import clock
from records.batches.models import BatchAddition, BatchSheet, FlavorAdded, Separated
from records.checks.models import Reading
from records.demo.acts import Again, Challenged, ChartOn, Cleared, Day, Move, Ready, Sent, Washed
from records.demo.scenario import CUP, FROZEN, PAPERS, PARTS, tanker
from records.flow.models import Movement
from records.freezer_runs.models import FreezerEvent
from records.ingredients.models import IngredientReceived
from records.labels.actions import check_clearance
from records.labels.data import CheckData
from records.labels.models import LineClearance, PackagingOpened
from records.laboratory.models import Sample
from records.lots.models import Lot
from records.recall.models import Dispatch
from records.runs.queries import open_run
from tests.browser.driving import Screen, open_with_password, unlock
from tests.browser.quillbrook import DAY, FINISHED, PRESS, RAW, Quillbrook, begin, new_hand

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
EVERYTHING = (*RAW, *PRESS, *FINISHED, *FROZEN, "filler", "separator")
MILK, TUBS = f"WM {DAY:%y%m%d}", "SH 1"

WORK = Day(
    title="the day of the pages",
    doing=(
        *PAPERS,
        Washed("17:00", "20:15", (*EVERYTHING, *PARTS), days_back=1),
        Washed("05:12", "05:42", EVERYTHING, "sanitized"),
        Ready("05:52", ("silo-a",)),
        *tanker("05:56", "06:12", "06:48", "Nettle Farm", "17200"),
        Ready("06:50", RAW[1:]),
        Move("07:24", "07:46", "silo-a", "whole-tank", "raw-milk", "620"),
        Again("07:56", "raw-temperature", "cream-tank", "38.0", "first look once the cream was in"),
        # The mix goes by the pages; whole milk before it by others: no cream, no hazelnut.
        ChartOn("07:48", "101", "164.3"),
        Ready("07:50", ("press-1", "finished-1"), product="whole-milk"),
        Move("08:05", "08:40", "whole-tank", "finished-1", "whole-milk", "500", via="press-1"),
        Ready("08:44", ("filler",)),
        Cleared("08:46", "whole-milk"),
        Challenged("08:50", "filler", "start"),
        Move("08:51", "09:36", "finished-1", "", "whole-milk", "400", via="filler", code="WM {day}",
             to_outside="packed", measured_by="count"),
        Ready("09:00", ("press-1", "finished-2"), "mix", product="ice-cream-mix"),
        Ready("10:00", ("flavor-vat-1",), "mix"),
        Ready("10:34", (*FROZEN, "filler"), "mix", product="salted-hazelnut"),
        Challenged("10:53", "filler", "start"),
        Sent("14:50", "WM {day}", "Millpond Grocer", "3 Alder Street, Quillbrook", "300"),
    ),
)  # fmt: skip


@pytest.fixture
def day(transactional_db: None, quick_keys: None) -> Iterator[Quillbrook]:
    """The whole plan at the start of that day."""
    hand = new_hand()
    with clock.replaced(hand):
        yield begin(hand, WORK)


class Hands:
    """Wren at the pages, and the others up to each moment."""

    def __init__(self, screen: Screen, day: Quillbrook) -> None:
        self.screen, self.day = screen, day

    def to(self, text: str) -> None:
        """The others work until then; who comes back unlocks."""
        self.day.to(text)
        self.screen.open("/floor/")
        if self.screen.page.locator("[name=unlock_secret]").count():
            unlock(self.screen, self.day.secret("wren"))

    def form(self, path: str, button: str = "It happened: record it", **typed: Any) -> None:
        """A form of a page, filled in by the names of its fields and sent."""
        self.screen.open(path)
        page = self.screen.page
        for name, text in typed.items():
            field = page.locator(f"main [name={name}]")
            kind = field.first.evaluate("one => one.tagName === 'SELECT' ? 'select' : one.type")
            if kind == "select":
                field.select_option(text)
            elif text == "on":
                field.check()
            elif kind in ("radio", "checkbox"):
                for one in (text,) if isinstance(text, str) else text:
                    page.locator(f"main [name={name}][value='{one}']").check()
            else:
                field.fill(text)
        self.screen.press(button)
        assert page.url.split("?")[0] != f"{self.screen.address}{path.split('?')[0]}", f"{path}: {self.screen.text}"

    def at(self, text: str) -> str:
        """A moment of the day as a field has it."""
        return f"{DAY.isoformat()}T{text}"

    def moved(self, source: str, target: str, product: str, gallons: str, times: tuple[str, str], **more: Any) -> None:
        """A movement that happened, by its form."""
        self.form(
            f"/movement/new/?from={source}&into={target}", target=target, product=product, quantity=gallons,
            started_at=self.at(times[0]), ended_at=self.at(times[1]), **more,
        )  # fmt: skip


def received(lot: str) -> str:
    """The entry by which an ingredient's lot was received."""
    return str(IngredientReceived.objects.get(supplier_lot=lot).number)


def separate(hands: Hands) -> None:
    """Cream and skim from the silo, then the separator's balance."""
    for target, product, gallons in (("cream-tank", "raw-cream", "40"), ("skim-tank", "raw-skim", "300")):
        hands.moved("silo-a", target, product, gallons, ("07:02", "07:40"), via="separator", measured_by="meter")
    hands.form(
        "/batches/separation/", place="separator", milk_mass="1328", milk_fat="4.63", cream_mass="152",
        cream_fat="40", skim_mass="1176", skim_fat="0.06",
    )  # fmt: skip
    assert Separated.objects.count() == 1


def blend(hands: Hands) -> None:
    """The sheet computed, each line weighed in, the blend tested: without that the press is refused."""
    lines = (
        ("cream", "cream-tank", {"fat": "40", "snf": "5.4", "test": "composite, 07:30"}),
        ("skim", "skim-tank", {"fat": "0.06", "snf": "9.1", "test": "07:30"}),
        ("skim milk powder", "", {"snf": "97"}), ("sugar", "", {"sugar": "100"}),
        ("stabilizer", "", {"other": "100", "fixed": "1.5"}),
    )  # fmt: skip
    typed = {"batch": "119", "place": "blend-vat", "product": "ice-cream-mix", "fat": "12", "snf": "11", "sugar": "15",
             "total": "498"}  # fmt: skip
    for at, (name, source, parts) in enumerate(lines):
        typed |= {f"name_{at}": name, f"source_{at}": source, **{f"{part}_{at}": much for part, much in parts.items()}}
    hands.form("/batches/new/", "Compute it and keep the sheet", **typed)
    sheet = BatchSheet.objects.get()
    weighed = (("149.5", "", ""), ("247.5", "", ""), ("25.4", "FP-5520", "0.5"), ("75.3", "HM-0212", "0.5"),
               ("1.7", "HM-ST-17", "0.2"))  # fmt: skip
    for at, (gross, lot, tare) in enumerate(weighed):
        more = {"received": received(lot), "scanned": lot, "tare": tare} if lot else {}
        hands.form(f"/batches/{sheet.number}/line/{at}/", gross=gross, scale="floor scale", **more)
    assert BatchAddition.objects.count() == 5
    hands.to("08:40")
    hands.form("/batches/test/", place="blend-vat", sample="B 119", fat="12.1", solids="38.4", method="infrared")


def pasteurize(hands: Hands) -> None:
    """Product in, water after it, the end, of the run that the others got ready."""
    hands.to("09:20")
    going = open_run("press-1")
    assert going is not None
    run = going.number
    hands.form(f"/runs/{run}/product/", "It begins now", source="blend-vat", target="finished-2", words="drain")
    hands.to("09:58")
    hands.form(f"/runs/{run}/water/", quantity="120", measured_by="meter", emptied="on", words="drain")
    hands.form(f"/runs/{run}/say/ended/", words="Ice cream mix, 120 gal; nothing unusual")


def flavor(hands: Hands) -> None:
    """Mix into the flavor vat, and what goes into it unheated by us."""
    hands.moved("finished-2", "flavor-vat-1", "ice-cream-mix", "58", ("10:02", "10:12"))
    hands.form(
        "/batches/flavor/", place="flavor-vat-1", product="salted-hazelnut", received=received("HZ-2207"),
        scanned="HZ-2207", amount="4", unit="kg", why="heated by the supplier", why_words="Validated roasting",
    )  # fmt: skip
    assert FlavorAdded.objects.count() == 1


def freeze(hands: Hands) -> int:
    """Purged, feeder filled, drawn, first tubs, temperature, cup, hardening, the draw's end."""
    hands.to("10:44")
    run = FreezerEvent.objects.earliest("number").number
    say = f"/freezer-runs/{run}/say"
    hands.form(f"{say}/purged/", amount="1", became="drain")
    hands.form(
        f"{say}/feeder/", ingredient="Roasted hazelnuts", lot_code="HZ-2207", allergens="tree nuts", amount="44",
        unit="lb",
    )  # fmt: skip
    hands.form(
        f"/freezer-runs/{run}/draw/", "It begins now", product="salted-hazelnut", source="flavor-vat-1",
        target="hardening-room",
    )  # fmt: skip
    hands.to("10:47")
    for about, tubs in (("draw temperature", "9"), ("weight", "4"), ("lid", "0")):
        became = {"became": "destroyed"} if tubs != "0" else {}
        hands.form(f"{say}/first-tubs/", about=about, tubs=tubs, **became)
    hands.form(f"{say}/temperature/", amount="21.8")
    hands.form(f"{say}/cup/", cup_product="89.5", **CUP)
    hands.to("11:04")
    hands.form(f"{say}/hardening/", tubs="120", drawn_at=hands.at("10:48"))
    hands.to("11:30")
    hands.form(f"/freezer-runs/{run}/drawn/", tubs="800", quantity="58", measured_by="level", emptied="on")
    hands.form(f"{say}/ended/")
    return run


def fill(hands: Hands) -> None:
    """The line cleared and looked at by a second person, tubs and lids opened; packed under a code."""
    none = dict.fromkeys(("labels", "lids", "tubs", "ingredients"), "none here")
    hands.form(
        "/filling/filler/clearance/", "Sign the clearance", product="salted-hazelnut", signer="wren",
        signer_secret=hands.day.secret("wren"), **none,
    )  # fmt: skip
    cleared = LineClearance.objects.latest("number")
    look = CheckData(cleared.form_id, cleared.number, True, clock.now())
    check_clearance(hands.day.crew.actor("hanne"), look)
    for kind, code in (("tub", "TS-220"), ("lid", "LS-310")):
        hands.form(
            "/filling/filler/opened/", "Record what is printed on it", kind=kind, roll_code=code,
            product="salted-hazelnut", printed="salted-hazelnut", issued="540",
        )  # fmt: skip
    assert PackagingOpened.objects.count() == 2


def test_one_doubted_reading_of_the_cream_leads_to_the_tubs_and_to_no_milk(
    day: Quillbrook, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """Cream of the doubted tank is in the hazelnut tubs; the whole milk of the same farm and day never met it."""
    hands = Hands(new_screen(live_server.url, width=1280, height=900), day)
    day.to("06:55")
    open_with_password(hands.screen, "wren", day.secret("wren"))
    hands.to("07:42")
    separate(hands)
    hands.to("08:00")
    blend(hands)
    pasteurize(hands)
    hands.to("10:14")
    flavor(hands)
    hands.to("10:37")
    fill(hands)
    freeze(hands)
    hands.to("11:34")
    hands.moved(
        "hardening-room", "(packed)", "salted-hazelnut", "58", ("10:54", "11:32"), via="filler", code=TUBS,
        measured_by="count",
    )  # fmt: skip
    released(hands)
    hands.to("15:00")
    send(hands, TUBS, "Harbor Lane Market", "40")
    assert Dispatch.objects.count() == 2, hands.screen.text
    assert Movement.objects.filter(target_name="packed", void=False).count() == 2

    # The one that was taken before any of the cream went into the blend.
    since = day.moment("07:02")
    doubted = Reading.objects.filter(subject="cream-tank", observed_at__gt=since).earliest("observed_at")
    hands.screen.open(f"/readings/{doubted.number}/")
    hands.screen.follow("Which product it could have reached")
    rows = hands.screen.page.locator("main table").first.locator("tbody tr th").all_inner_texts()
    text = hands.screen.text
    assert [one for one in rows if TUBS in one] and not [one for one in rows if MILK in one]
    assert "Harbor Lane Market" in text and "Millpond Grocer" not in text
    with hands.screen.page.expect_download() as sent:
        hands.screen.page.get_by_role("link", name="CSV").click()
    table = sent.value.path().read_text(encoding="utf-8-sig")
    assert TUBS in table and MILK not in table
    hands.screen.open(f"/tub/{Lot.objects.get(code=TUBS).id}/")
    for name in ("Nettle Farm", "FP-5520", "HM-0212", "HZ-2207"):
        assert name in hands.screen.text, name


def released(hands: Hands) -> None:
    """The tubs wait for the laboratory: sampled, and both counts in limits."""
    tests = ("coliform", "bacteria")
    hands.form("/samples/new/", "Record the sample", kind="lot", code="S 1", lot_code=TUBS, tests=tests)
    sample = Sample.objects.get(code="S 1").number
    hands.to("12:00")
    for test, typed in (("coliform", "<1"), ("bacteria", "1200")):
        hands.form(f"/samples/{sample}/result/", "Record the result", test=test, typed=typed, laboratory="the bench")


def send(hands: Hands, code: str, to: str, gallons: str) -> None:
    """Packs of a code leave for somebody."""
    hands.screen.open("/dispatch/new/")
    hands.screen.fill("Code on the packs", code)
    hands.screen.fill("To whom", to)
    hands.screen.fill("Address", "12 Harbor Lane, Quillbrook")
    hands.screen.page.locator("[name=quantity]").fill(gallons)
    hands.screen.press("It leaves now")
