"""An inspector's packet of one lot: all that the lot's page knows, whole verdicts, what left, heads, one PDF."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant.people.models import Person
from records.checks.actions import record_reading
from records.deviations.holds import DESTROY
from records.deviations.models import Deviation
from records.judging.models import Verdict
from records.ledger.canonical import canonical
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall.models import ProductReturned
from records.recall.return_actions import take_back
from records.reports.lot_packet import packet_of
from records.reports.values import Data
from records.review.packet_views import ledger_of
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.recall.made import a_day, sent
from tests.records.recall.test_recall import begun, step
from tests.records.recall.test_returned import decided, said
from tests.records.reports.made import reading

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]


@pytest.fixture
def lot(plant: Plant) -> Lot:
    """150 gal of WM 0303: its silo read in and out of limits, 80 gal sent, 30 back."""
    ines = plant.actor("ines")
    a_day(plant)
    for hours, typed in ((7.5, "38.4"), (6.5, "46.4")):
        record_reading(ines, reading("silo-shift", typed, observed_at=NOW - hours * HOUR, late_reason="on paper"))
    sent(ines, "WM 0303", email="shop@quillbrook.example", packed_as="half-gallon jugs, 9 to a crate")
    take_back(ines, said())
    return Lot.objects.get(code="WM 0303")


def data_of(lot: Lot) -> Data:
    """Its data, as the attached JSON has it."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    found: Data = json.loads(canonical(packet_of(lot, in_force, NOW, ledger_of).data))
    return found


def pages_of(pdf: bytes, folder: Path) -> tuple[str, dict[str, bytes]]:
    """The words of a PDF by a reader that is not ours (poppler), and what is attached to it."""
    file = folder / "packet.pdf"
    file.write_bytes(pdf)
    words = subprocess.run(["pdftotext", "-raw", file, "-"], capture_output=True, check=True).stdout.decode()
    subprocess.run(["pdfdetach", "-saveall", "-o", folder, file], capture_output=True, check=True)
    return " ".join(words.split()), {one.name: one.read_bytes() for one in folder.glob("*.json")}


def test_it_carries_what_the_lots_page_knows(plant: Plant, lot: Lot) -> None:
    """Family, sources, minutes in the press, tanks with their washes, people."""
    data = data_of(lot)
    assert {one["label"] for one in data["before"]} >= {data["lot"]["label"]}
    assert [(one["from"], one["share"]) for one in data["sources"]] == [("Nettle Farm", "75 %"), ("Oxbow Farm", "25 %")]
    (press,) = data["lines"]
    assert press["line"] == "Press 1" and {one["what"] for one in press["washes"]} == {"washed", "sanitized"}
    assert [one["name"] for one in data["tanks"]] == ["Silo A", "Finished 1"]
    assert "Ines Alder, operator" in data["people"]
    assert (data["lot"]["made"], data["lot"]["gone"], data["lot"]["in_house"]) == ("150 gal", "50 gal", "100 gal")


def test_every_verdict_is_whole(plant: Plant, lot: Lot) -> None:
    """Rule or clause, plan version, numbers and reason, as the verdict's own record has them."""
    checks = data_of(lot)["checks"]
    assert [one["said"] for one in checks] == ["38.4 °F", "46.4 °F"]
    for one in checks:
        verdict = Verdict.objects.get(number=one["verdict"]["entry"])
        told = one["verdict"]
        assert (told["outcome"], told["clause"], told["plan"]) == (verdict.outcome, verdict.clause, verdict.plan_number)
        assert told["numbers"] == verdict.numbers and told["reason"] == verdict.reason and told["clause"]


def test_deviations_holds_dispatches_and_returns_are_in_it(plant: Plant, lot: Lot) -> None:
    """The warm silo's deviation, the hold that reached the packs, to whom it went, what came back and became of it."""
    data = data_of(lot)
    assert [one["number"] for one in data["deviations"]] == list(
        Deviation.objects.order_by("number").values_list("number", flat=True)
    )
    (left,), (back,) = data["dispatched"], data["returned"]
    assert (left["to"], left["email"], left["quantity"]) == ("Corner shop", "shop@quillbrook.example", "80")
    assert back["holds"][0]["ended"] is None
    assert any("came back from Corner shop" in one for one in data["on_hold"])
    assert {one["number"] for one in data["holds"]} >= {back["holds"][0]["number"]}
    assert data["recalls"] == []
    number = begun(plant, int(data["sources"][0]["entry"]))
    step(plant, number, "notice", consignee="Corner shop", words="by telephone")
    (recall,) = data_of(lot)["recalls"]
    assert recall["entry"] == number and [one["what"] for one in recall["steps"]] == ["notice"]


def test_the_pdf_says_it_and_carries_its_data(plant: Plant, lot: Lot, client_for: Browser, tmp_path: Path) -> None:
    """From the lot's page, for an inspector too: words of every part, cautions, page numbers, the data attached."""
    client = client_for(plant.people.guest)
    address = reverse("records:lot-packet", args=[lot.id])
    for page in ("records:tub", "records:lot"):
        assert f'href="{address}"' in client.get(reverse(page, args=[lot.id])).content.decode()
    answer = client.get(address)
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    assert 'filename="packet-WM-0303.pdf"' in answer["Content-Disposition"]
    words, files = pages_of(answer.content, tmp_path)
    for text in (
        "Packet of one lot", "Whole milk WM 0303", "Nettle Farm", "Press 1", "46.4 °F", "plan version 1", "not met",
        "Deviation", "Corner shop", "555 0100", "shop@quillbrook.example", "Product that came back", "still on hold",
        "does not say that a product is safe", "How to check this packet without us", "not signed", "page 1 of",
        "nobody has reviewed this day", "manage.py proof ENTRY",
    ):  # fmt: skip
        assert text in words, text
    assert json.loads(files["packet-WM-0303.json"])["lot"]["code"] == "WM 0303"


def test_the_same_moment_gives_the_same_bytes(plant: Plant, lot: Lot, client_for: Browser) -> None:
    """Made anew each time, and alike."""
    client, address = client_for(plant.people.wren), reverse("records:lot-packet", args=[lot.id])
    assert client.get(address).content == client.get(address).content


def test_what_it_says_follows_the_book(plant: Plant, lot: Lot) -> None:
    """After two people decided, the part that came back is no longer on hold."""
    decided(plant, ProductReturned.objects.get(), DESTROY)
    data = data_of(lot)
    assert data["returned"][0]["holds"][0]["ended"]["what"] == DESTROY
    assert not any("came back from" in one for one in data["on_hold"])


def test_statements_do_not_grow_with_the_readings(plant: Plant, lot: Lot) -> None:
    """Two readings or twelve, one dispatch or five."""
    ines = plant.actor("ines")
    counts = []
    for more in (0, 10):
        for place in range(more):
            at = NOW - 6.4 * HOUR + place * HOUR / 60
            record_reading(ines, reading("silo-shift", "38.1", observed_at=at, late_reason="on paper"))
            if place % 2:
                sent(ines, "WM 0303", quantity_typed="1")
        with CaptureQueriesContext(connection) as seen:
            found = data_of(lot)
        counts.append(len(seen))
    assert len(found["checks"]) == 12 and len(found["dispatched"]) == 6 and counts[1] <= counts[0] + 2


def test_no_lot_no_packet(plant: Plant, lot: Lot, client_for: Browser) -> None:
    """Not found; a part that came back leads to the packet of its lot; an administrator is refused."""
    client = client_for(plant.people.guest)
    assert client.get(reverse("records:lot-packet", args=[uuid4()])).status_code == 404
    part = Lot.objects.get(origin="returned")
    went = client.get(reverse("records:lot-packet", args=[part.id]))
    assert went["Location"] == reverse("records:lot-packet", args=[lot.id])
    vessel = Lot.objects.exclude(vessel="").order_by("number").first()
    assert vessel is not None
    answer = client.get(reverse("records:lot-packet", args=[vessel.id]))
    assert re.search(r"packet-[0-9a-f-]{36}\.pdf", answer["Content-Disposition"])
    assert client_for(plant.people.admin).get(reverse("records:lot-packet", args=[lot.id])).status_code == 403
