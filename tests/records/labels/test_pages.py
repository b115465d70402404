"""The pages of filling: a change of product by what people type, refusals beside their fields, the code's label."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from records.flow.actions import record_movement
from records.labels.models import THINGS, ClearanceCheck, LineClearance, PackagingCounted, PackagingOpened
from records.lots.models import Lot
from records.reports.filled import filling
from tests.conftest import Plant
from tests.factories import PIN
from tests.records.flow.made import washed
from tests.records.freezer_runs.test_pages import local, text
from tests.records.labels.made import at, packed, packing, ready_plant

pytestmark = pytest.mark.django_db


def send(client: Client, address: str, **typed: Any) -> str:
    """A form with an id of its own, an hour after NOW; the page that it leads to."""
    return text(client.post(address, {"form_id": str(uuid.uuid4()), "at": local(60), "note": "", **typed}, follow=True))


def test_a_change_of_product_by_its_pages(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Cleared, checked by a second person, a wrong roll caught, the right one counted, its packs, label, day sheet."""
    ready_plant(plant)
    ines, tomas = client_for(plant.people.ines), client_for(plant.people.tomas)
    page = reverse("records:filling")
    assert "No clearance is recorded." in text(ines.get(page))
    clear = reverse("records:line-clear", args=["filler"])
    none = dict.fromkeys(THINGS, "none here") | {f"{one}_count": "" for one in THINGS}
    sign = {"signer": str(plant.people.ines.id), "signer_secret": PIN}
    refused = send(ines, clear, product="oat-milk", **{**none, "labels": "", "lids_count": "3"}, **sign)
    assert "Choose one." in refused and 'value="3"' in refused and not LineClearance.objects.exists()
    said = {**none, "labels": "taken off"}
    assert "Write a whole number of pieces" in send(ines, clear, product="oat-milk", **said, **sign)
    said["labels_count"] = "12"
    assert "waits for the second person" in send(ines, clear, product="oat-milk", **said, **sign)
    check = reverse("records:line-check", args=[LineClearance.objects.get().number])
    assert "another one than who cleared" in send(ines, check, agrees="yes", **sign)
    sign["signer"] = str(plant.people.tomas.id)
    assert "checked by" in send(tomas, check, agrees="yes", **sign) and ClearanceCheck.objects.get().agrees
    roll = reverse("records:packaging-open", args=["filler"])
    assert 'value="oat-milk" selected' in text(ines.get(roll))
    typed = {"kind": "label", "roll_code": "R<b>7", "product": "oat-milk", "issued": "500"}
    wrong = send(ines, roll, printed="nut-milk", **typed)
    assert "Refused: label roll R&lt;b&gt;7 is printed for Hazelnut milk" in wrong and "caught, not used" in wrong
    assert "Recorded: label roll" in send(ines, roll, printed="oat-milk", **{**typed, "roll_code": "R-8"})
    row = record_movement(plant.actor("ines"), packing("finished-1", "oat-milk", code="OM 1"))
    count = reverse("records:packaging-count", args=[PackagingOpened.objects.get(roll_code="R-8").number])
    page_of_count = send(ines, count, used="400", returned="90", damaged="7", because="")
    assert "3 missing" in page_of_count and PackagingCounted.objects.get().difference == 3
    assert "OM 1" in text(ines.get(page + "?roll=R-8")) and "no pack with R-9" in text(ines.get(page + "?roll=R-9"))
    label = text(ines.get(reverse("records:label-sheet", args=[row.target_lot])))
    assert "Contains: milk" in label and "(10) OM1" in label and "It approves no label" in label
    void = reverse("records:filling-void", args=[PackagingCounted.objects.get().number])
    assert "strike it through" in text(ines.get(void))
    sign |= {"signer": str(plant.people.ines.id), "amend_reason": "counted the wrong roll"}
    assert "wrong roll</textarea>" in send(ines, void, **{**sign, "signer_secret": "000000"})
    assert PackagingCounted.objects.count() == 1
    assert "It did not happen: counted the wrong roll" in send(ines, void, **sign)
    assert 'class="struck"' in text(ines.get(page))
    data = filling(at(0), at(120))
    assert len(data["entries"]) == 6 and data["not_counted"] == ["R-8 (Milk with oats)"]
    assert [one["warns"] for one in data["entries"]].count(True) == 3  # the roll caught, the count and its voiding


def test_addresses_that_lead_nowhere(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Other lines, entries and lots than there are: not found, for whoever may look."""
    ready_plant(plant)
    ines = client_for(plant.people.ines)
    for name, args in (
        ("line-clear", ["press-1"]), ("packaging-open", ["nowhere"]), ("line-check", [2**63]), ("line-check", [1]),
        ("packaging-count", [2**63]), ("packaging-photo", [2**63]), ("filling-void", [2**63]),
        ("filling-amend", [2**63]), ("filling-entry", [2**63]), ("filling-entry", [1]),
        ("label-sheet", [uuid.uuid4()]), ("label-sheet", [Lot.objects.filter(code=None).first() or uuid.uuid4()]),
    ):  # fmt: skip
        asked = [one.id if isinstance(one, Lot) else one for one in args]
        assert ines.get(reverse(f"records:{name}", args=asked)).status_code == 404, name


def test_the_page_says_which_wash_a_line_owes(plant: Plant, client_for: Callable[..., Client]) -> None:
    """After hazelnut milk: its tree nuts, until the filler is washed. Nothing is owed for what every product has."""
    ready_plant(plant)
    client, page = client_for(plant.people.ines), reverse("records:filling")
    owed = "Before a product that does not declare it, the line is washed"
    packed(plant.actor("ines"), minutes=40)
    assert owed not in text(client.get(page))
    packed(plant.actor("ines"), "vat", "nut-milk", minutes=50)
    shown = text(client.get(page))
    assert owed in shown and "Hazelnut milk ran since the last wash: tree nuts" in shown
    plant.at(at(90))
    washed(plant.actor("ines"), "filler", at(70))
    assert owed not in text(client.get(page))
