"""The field for a pack's code takes what a scanner types of our own label, and says what is wrong with nonsense."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from plant.people.models import Person
from plant.process.gs1 import check_digit
from plant.process.gs1_scan import read_scan
from records.lots.models import Lot
from records.recall.codes import look
from records.recall.models import Dispatch, ProductReturned
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.labels.made import GTIN, packed, ready_plant
from tests.records.labels.test_label import page_of, read_back

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]
OTHER = "950110153001" + str(check_digit("950110153001"))


@pytest.fixture
def lot(plant: Plant) -> Lot:
    """Packs of oat milk, whose product has a GTIN."""
    ready_plant(plant)
    row = packed(plant.actor("ines"), minutes=50, lasting=1, product="oat-milk", code="OM 260303")
    return Lot.objects.get(id=row.target_lot)


def test_the_printed_label_finds_its_lot(plant: Plant, lot: Lot, client_for: Browser, tmp_path: Path) -> None:
    """Our own label printed, its picture read by a scanner's library, and what that types put into the field."""
    client = client_for(plant.people.ines)
    _words, picture = page_of(client.get(reverse("records:label-pdf", args=[lot.id])).content, tmp_path)
    symbol = read_back(picture)
    typed = symbol.bytes.decode()
    assert symbol.symbology_identifier == "]d2" and "OM260303" in typed
    assert read_scan(typed, 2026).best_before == date(2026, 3, 17)  # packed on 3 March, 14 days by the plan
    for text in (typed, f"]d2{typed}", f"\x1d{typed}", symbol.text):
        assert client.get("/tub/", {"code": text})["Location"] == f"/tub/{lot.id}/", text
    plain = packed(plant.actor("ines"), minutes=55, lasting=0, code="WM 260303")
    _words, picture = page_of(client.get(reverse("records:label-pdf", args=[plain.target_lot])).content, tmp_path)
    symbol = read_back(picture)
    for text in (symbol.text, f"{symbol.symbology_identifier}{symbol.text}"):
        assert client.get("/tub/", {"code": text})["Location"] == f"/tub/{plain.target_lot}/", text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (f"]d2010{GTIN[:-1]}410OM260303", "check digit"),
        (f"]d2010{GTIN}", "names no lot (10)"),
        ("]d20109501101", "cut short in (01)"),
        (f"010{GTIN}15261345" "10OM260303", "no such day in (15)"),
        (f"]d2010{GTIN}10OM999", "lot OM999 (10)"),
        (f"]d2010{OTHER}10OM260303", "not its product’s"),
        ("OM\x00260303", "no label carries"),
        ("OM <b>9", "No lot of the code “OM &lt;b&gt;9”"),
        ("x" * 300, "longer than 200"),
    ],
)
def test_nonsense_is_kept_with_a_message_beside_it(
    plant: Plant, lot: Lot, client_for: Browser, typed: str, words: str
) -> None:
    page = client_for(plant.people.guest).get("/tub/", {"code": typed})
    text = page.content.decode().replace("&#x27;", "’").replace("product's", "product’s")
    assert page.status_code == 404 and words in text
    assert 'aria-describedby="code_error"' in text and 'id="code_error"' in text
    kept = typed.replace("<", "&lt;").replace(">", "&gt;")
    assert f'value="{kept}"' in text
    if OTHER in typed:  # the lot itself is one tap away: nothing says that the label is right
        assert f"/tub/{lot.id}/" in text


def test_spaces_and_case_are_forgiven_where_one_code_fits(plant: Plant, lot: Lot) -> None:
    """By an index: the statement names it. Two codes that differ in that alone: a person chooses."""
    assert look("om260303", 2026).lot == lot and look(" OM 260303", 2026).lot == lot
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("EXPLAIN QUERY PLAN SELECT 1 FROM records_lot WHERE REPLACE(UPPER(code), ' ', '') = 'A'")
            assert "lot_code_squeezed" in str(cursor.fetchall())
    twin = Lot.objects.get(id=packed(plant.actor("ines"), minutes=56, lasting=1, product="oat-milk",
                                     code="OM260303").target_lot)  # fmt: skip
    assert look("OM260303", 2026).lot == twin and look("om 260303", 2026).lot is None
    scan = look(f"]d2010{GTIN}10OM260303", 2026)
    assert scan.lot is None and set(scan.like) == {lot, twin} and "Choose" in scan.sentence


def test_dispatch_return_and_scope_take_a_scan_too(plant: Plant, lot: Lot, client_for: Browser) -> None:
    """The record names the lot's own code; a bad scan is kept with its sentence."""
    client = client_for(plant.people.ines)
    scan = f"]d2010{GTIN}10OM260303"
    when = {"dispatched_at": "2026-03-03T10:25", "returned_at": "2026-03-03T10:26"}
    plant.at(NOW + HOUR)
    body = {"form_id": str(uuid.uuid4()), "code": scan, "consignee": "Corner shop", "address": "1 Mill Lane",
            "quantity": "2", "unit": "gal", **when}  # fmt: skip
    bad = client.post("/dispatch/new/", body | {"code": f"]d2010{GTIN}"})
    assert bad.status_code == 422 and "names no lot (10)" in bad.content.decode()
    assert f"]d2010{GTIN}" in bad.content.decode() and not Dispatch.objects.exists()
    assert client.post("/dispatch/new/", body).status_code == 302
    assert Dispatch.objects.get().code == "OM 260303"
    said = body | {"form_id": str(uuid.uuid4()), "condition": "whole", "reason": "too many", "kept_where": "cage 2"}
    assert client.post("/returns/new/", said).status_code == 302
    assert ProductReturned.objects.get().code == "OM 260303"
    assert "OM 260303" in client.get("/recall/scope/", {"code": scan}).content.decode()


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        ("15260317", ""),  # packed on 3 March, 14 days to best before
        ("11260303" "15260317", ""),
        ("15260318", "2026-03-18 (15), and the label of OM 260303 says 2026-03-17"),
        ("17260310", "2026-03-10 (17)"),
        ("11260304" "15260317", "2026-03-04 (11), and OM 260303 was packed on 2026-03-03"),
    ],
)
def test_a_date_that_contradicts_the_lot_is_said(plant: Plant, lot: Lot, dates: str, words: str) -> None:
    """(15), (17) and (11) beside what the plan in force then says; the lot stays one tap away."""
    found = look(f"]d2010{GTIN}{dates}10OM260303", 2026)
    assert (found.lot == lot) is (words == "") and words in found.sentence
    assert found.like == (() if not words else (lot,))


def test_a_product_without_days_contradicts_no_date(plant: Plant, lot: Lot) -> None:
    """The plan says no best before of whole milk."""
    plain = packed(plant.actor("ines"), minutes=55, lasting=0, code="WM 260303")
    assert look("]d210WM260303\x1d15260318", 2026).lot == Lot.objects.get(id=plain.target_lot)


def test_a_scan_of_another_days_label_sends_nothing(plant: Plant, lot: Lot, client_for: Browser) -> None:
    """Beside the field, what was scanned kept; the code typed by hand is taken."""
    plant.at(NOW + HOUR)
    client = client_for(plant.people.ines)
    body = {"form_id": str(uuid.uuid4()), "code": f"]d2010{GTIN}1526031810OM260303", "consignee": "Corner shop",
            "address": "1 Mill Lane", "quantity": "2", "unit": "gal", "dispatched_at": "2026-03-03T10:25"}  # fmt: skip
    page = client.post("/dispatch/new/", body)
    assert page.status_code == 422 and "2026-03-18 (15)" in page.content.decode() and not Dispatch.objects.exists()
    assert client.post("/dispatch/new/", body | {"code": "OM 260303"}).status_code == 302
