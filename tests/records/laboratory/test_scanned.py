"""The form of a sample takes the label of a pack as a scanner types it, and says what is wrong with it."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client

from plant.people.models import Person
from records.laboratory.models import Sample
from records.lots.models import Lot
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.labels.made import GTIN, packed, ready_plant

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]


@pytest.fixture
def lot(plant: Plant) -> Lot:
    """Packs of oat milk, whose product has a GTIN and fourteen days to best before."""
    ready_plant(plant)
    row = packed(plant.actor("ines"), minutes=50, lasting=1, product="oat-milk", code="OM 260303")
    plant.at(NOW + HOUR)
    return Lot.objects.get(id=row.target_lot)


def body(lot_code: str) -> dict[str, str]:
    """A sample of a lot."""
    return {"form_id": str(uuid.uuid4()), "code": "B 7", "kind": "lot", "lot_code": lot_code, "tests": "coliform",
            "taken_at": "2026-03-03T10:05", "temperature_unit": "°F"}  # fmt: skip


@pytest.mark.parametrize(
    "typed", ["OM 260303", "om260303", f"]d2010{GTIN}10OM260303", f"(01) 0{GTIN} (15) 260317 (10) OM260303"]
)
def test_a_sample_names_the_lot_of_a_scan(plant: Plant, lot: Lot, client_for: Browser, typed: str) -> None:
    """The code, its spaces and case forgiven, or the label scanned, or the line beneath its symbol."""
    assert client_for(plant.people.ines).post("/samples/new/", body(typed)).status_code == 302
    assert Sample.objects.get().lot == lot.id


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (f"]d2010{GTIN}", "names no lot (10)"),
        (f"]d2010{GTIN}10OM999", "No lot of that code was packed"),
        (f"]d2010{GTIN}1526031810OM260303", "the label of OM 260303 says 2026-03-17"),
        ("OM 26", "No lot of the code “OM 26” was packed. Codes like it: OM 260303."),
        ("x" * 201, "200"),
    ],
)
def test_a_scan_that_fits_no_lot_is_kept_beside_its_message(
    plant: Plant, lot: Lot, client_for: Browser, typed: str, words: str
) -> None:
    """Nothing is written; what was scanned stays in its field."""
    page = client_for(plant.people.ines).post("/samples/new/", body(typed))
    text = page.content.decode()
    assert page.status_code == 422 and words in text and typed in text and not Sample.objects.exists()
    assert '<a href="#id_lot_code">' in text
