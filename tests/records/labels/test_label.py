"""The label of a pack: its words, its symbol, and none where the product does not declare what is in it.

What a scanner gets from the printed page is read back by a general-purpose reader of bar codes that knows nothing of
how it was drawn (zxing-cpp), off the picture that poppler makes of the PDF.
"""

from __future__ import annotations

import io
import subprocess
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from PIL import Image

from plant.hazard_plan.content import PlantHeader
from plant.process.gs1 import elements
from records.deviations.holds import hold_by_hand
from records.flow.actions import MovementData, record_movement
from records.labels.paper import label_paper
from records.labels.sheet import label_of_pack
from records.labels.symbols import modules
from records.lots.models import Lot
from tests.conftest import Plant
from tests.records.labels.made import GTIN, at, made_clear, packed, ready_plant


@pytest.mark.once
def test_the_symbol_is_a_data_matrix() -> None:
    """ISO/IEC 16022: solid left and bottom borders, alternating top and right ones; 20 × 20 takes 22 codewords.

    The string has 16 + 8 + 2 digits and 'WM260302': FNC1, 13 pairs, two letters and three pairs are 19 codewords.
    """
    rows = modules(elements(GTIN, "WM 260302", None))
    assert len(rows) == len(rows[0]) and all(row[0] for row in rows) and all(rows[-1])
    assert rows[0] == [1, 0] * (len(rows) // 2) and [row[-1] for row in rows] == [0, 1] * (len(rows) // 2)


@pytest.mark.django_db
def test_the_label_of_a_code(plant: Plant) -> None:
    """Name, dates, allergens in words, cold, net contents, GS1 string from the plan; without a GTIN it says so."""
    ready_plant(plant)
    ines = plant.actor("ines")
    made_clear(plant, "oat-milk")
    row = packed(ines, "finished-1", "oat-milk", minutes=60, lasting=0, code="OM 260303")
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None and label.left == ()
    assert (label.contains, label.keep, label.net_contents) == (
        "Contains: milk", "Keep refrigerated", "1 pint (473 mL)",
    )  # fmt: skip
    assert label.best_before is not None and (label.best_before - label.packed_on).days == 14
    assert label.printed == f"(01) 0{GTIN} (15) {label.best_before:%y%m%d} (10) OM260303" and label.spaces_left_out
    assert "<svg" in label.symbol and label.missing == ("plant number",)
    plain = packed(ines, minutes=60, lasting=0, code="WM 260303")
    other = label_of_pack(Lot.objects.get(id=plain.target_lot))
    assert other is not None and other.printed == "" and "no GTIN" in other.without and "<svg" in other.symbol


@pytest.mark.django_db
def test_no_label_for_what_is_not_declared(plant: Plant) -> None:
    """Rework with hazelnuts went in: the allergen is named, no symbol is drawn."""
    ready_plant(plant)
    ines = plant.actor("ines")
    record_movement(ines, MovementData(uuid.uuid4(), "vat", "finished-1", "whole-milk", at(50), ended_at=at(55)))
    row = packed(ines, minutes=58, lasting=1)
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None and label.symbol == ""
    assert [(one.allergen, one.brought_by) for one in label.left] == [("tree nuts", ("Hazelnut milk",))]


def page_of(pdf: bytes, tmp_path: Path) -> tuple[str, Image.Image]:
    """The words and the picture of a PDF of one page, at the 300 dots an inch of an office printer."""
    path = tmp_path / f"{uuid.uuid4()}.pdf"
    path.write_bytes(pdf)
    words = subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True).stdout.decode()
    drawn = subprocess.run(["pdftoppm", "-r", "300", "-png", "-gray", path], check=True, capture_output=True).stdout
    assert words.count("\f") == 1
    return " ".join(words.split()), Image.open(io.BytesIO(drawn))


def read_back(picture: Image.Image) -> Any:
    """The one symbol of a picture."""
    (found,) = zxingcpp.read_barcodes(picture)
    return found


@pytest.mark.django_db
def test_the_printed_label_reads_back(plant: Plant, client_for: Callable[..., Client], tmp_path: Path) -> None:
    """GS1 General Specifications: a DataMatrix that begins with FNC1 is ]d2; it carries (01), (15), (10).

    Symbology identifiers: ISO/IEC 15424 (from memory). The picture alone is read; the words beside it say the same.
    """
    ready_plant(plant)
    by, ines = plant.actor("ines"), client_for(plant.people.ines)
    made_clear(plant, "oat-milk")
    row = packed(by, "finished-1", "oat-milk", minutes=60, lasting=0, code="OM 260303")
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None and label.best_before is not None
    answer = ines.get(reverse("records:label-pdf", args=[row.target_lot]))
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    words, picture = page_of(answer.content, tmp_path)
    found = read_back(picture)
    assert (found.format, found.symbology_identifier) == (zxingcpp.BarcodeFormat.DataMatrix, "]d2")
    assert found.text == f"(01)0{GTIN}(15){label.best_before:%y%m%d}(10)OM260303"
    assert found.bytes == f"010{GTIN}15{label.best_before:%y%m%d}10OM260303".encode()
    assert found.position.top_right.x - found.position.top_left.x == pytest.approx(20 * 0.5 / 25.4 * 300, rel=0.05)
    for said in (label.product, "Contains: milk", "Keep refrigerated", "OM 260303", label.packed_on.isoformat(),
                 label.best_before.isoformat(), "1 pint (473 mL)", "approves no label", "plant number"):  # fmt: skip
        assert said in words
    assert "is on hold" not in words
    wren = plant.actor("wren")
    hold_by_hand(wren, lot=label.lot.id, lot_label="OM 260303", vessel="", since_at=at(60), reason="Look.")
    held, _picture = page_of(ines.get(reverse("records:label-pdf", args=[row.target_lot])).content, tmp_path)
    assert "OM 260303 is on hold: Look." in held
    plain = packed(by, minutes=60, lasting=0, code="WM é 260303")
    _words, picture = page_of(ines.get(reverse("records:label-pdf", args=[plain.target_lot])).content, tmp_path)
    found = read_back(picture)
    assert (found.format, found.text) == (zxingcpp.BarcodeFormat.QRCode, "WM é 260303")


@pytest.mark.django_db
def test_what_is_not_declared_is_not_printed(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The address of the PDF leads to the reason."""
    ready_plant(plant)
    ines = plant.actor("ines")
    record_movement(ines, MovementData(uuid.uuid4(), "vat", "finished-1", "whole-milk", at(50), ended_at=at(55)))
    row = packed(ines, minutes=58, lasting=1)
    page = client_for(plant.people.ines).get(reverse("records:label-pdf", args=[row.target_lot]), follow=True)
    assert "No label is drawn" in page.content.decode() and page["Content-Type"].startswith("text/html")
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None
    with pytest.raises(ValueError, match="does not declare"):
        label_paper(label, [], PlantHeader("Plant", "America/Chicago", "us", ""), at(60))
