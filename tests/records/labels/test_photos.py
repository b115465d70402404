"""The photo of a roll or sleeve: through the page, on its entry, on its tub, in the day's data; else refused."""

from __future__ import annotations

import html
import io
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from records.flow.actions import record_movement
from records.labels.models import PackagingOpened
from records.labels.queries import packaging_of, packs_with_roll
from records.ledger.models import FileKept
from records.lots.models import Lot
from records.reports.filled import filling
from tests.conftest import Plant
from tests.records.freezer_runs.test_pages import text
from tests.records.labels.made import at, made_clear, opened, packing, ready_plant
from tests.records.labels.test_pages import send

pytestmark = pytest.mark.django_db
MB = 1024 * 1024


def picture(kind: str) -> bytes:
    """A small real picture."""
    out = io.BytesIO()
    Image.new("RGB", (8, 6), (200, 180, 90)).save(out, kind)
    return out.getvalue()


def sent(data: bytes, name: str) -> SimpleUploadedFile:
    """As a browser sends it: the type is what the name says."""
    return SimpleUploadedFile(name, data, "image/jpeg" if name.endswith(".jpg") else "image/png")


def test_the_photo_of_a_tub_and_a_lid(plant: Plant, client_for: Callable[..., Client]) -> None:
    """JPEG, PNG and none are kept; text under another name, and too large ones, are refused beside what was typed."""
    ready_plant(plant)
    made_clear(plant)
    ines = client_for(plant.people.ines)
    page = reverse("records:packaging-open", args=["filler"])
    typed = {"kind": "tub", "roll_code": "T-1", "product": "whole-milk", "printed": "whole-milk", "issued": "40"}
    renamed = send(ines, page, **typed, photo=sent(b"only words, no picture", "tub.jpg"))
    assert "This file is no photo that can be kept." in renamed and 'value="T-1"' in renamed
    large = send(ines, page, **typed, photo=sent(picture("JPEG") + bytes(26 * MB), "tub.jpg"))
    assert "The photo is larger than 25 MB." in large and 'value="T-1"' in large
    assert "may have 25 MB at most" in send(ines, page, **typed, photo=sent(bytes(50 * MB), "tub.jpg"))
    assert not PackagingOpened.objects.exists() and not FileKept.objects.exists()
    send(ines, page, **typed, photo=sent(picture("JPEG"), "tub.jpg"))
    send(ines, page, **{**typed, "kind": "lid", "roll_code": "L-1"}, photo=sent(picture("PNG"), "lid.png"))
    send(ines, page, **{**typed, "kind": "label", "roll_code": "R-1"})
    tub, lid, label = (PackagingOpened.objects.get(roll_code=one) for one in ("T-1", "L-1", "R-1"))
    assert (bool(tub.photo), bool(lid.photo), label.photo) == (True, True, "")
    for row, kind in ((tub, "JPEG"), (lid, "PNG")):
        address = reverse("records:packaging-photo", args=[row.number])
        answer = ines.get(address)
        assert answer.content == picture(kind) and answer["Content-Type"] == f"image/{kind.lower()}"
        assert answer["X-Content-Type-Options"] == "nosniff"
        entry = text(ines.get(reverse("records:filling-entry", args=[row.number])))
        assert f'src="{address}"' in entry and row.photo[:16] in entry and "Ines Alder" in entry
    assert ines.get(reverse("records:packaging-photo", args=[label.number])).status_code == 404
    assert "<img" not in text(ines.get(reverse("records:filling-entry", args=[label.number])))
    packed = record_movement(plant.actor("ines"), packing(code="WM 1"))
    shown = text(ines.get(reverse("records:tub", args=[packed.target_lot])))
    assert shown.count('class="kept-photo"') == 2 and all(one in shown for one in ("T-1", "L-1", "R-1"))
    day = filling(at(0), at(120))
    told = {one["entry"]: one["photo"] for one in day["entries"]}
    assert (told[tub.number], told[lid.number], told[label.number]) == (tub.photo, lid.photo, "")
    sheet = html.unescape(text(ines.get(reverse("records:day-so-far"))))
    assert f"photo {tub.photo[:16]}…" in sheet and f"photo {lid.photo[:16]}…" in sheet


def test_packaging_of_packs_is_packs_of_packaging(plant: Plant) -> None:
    """Both ends agree: rolls counted off before, opened after, followed by another, caught, and used though wrong."""
    ready_plant(plant)
    made_clear(plant)
    ines = plant.actor("ines")
    opened(ines, roll_code="before", at=at(20))
    opened(ines, roll_code="on", at=at(40))
    opened(ines, roll_code="caught", at=at(45), printed="nut-milk")
    opened(ines, roll_code="wrong", at=at(50), printed="nut-milk", kind="lid", used=True)
    row = record_movement(ines, packing(code="WM 1", started_at=at(55), ended_at=at(57)))
    opened(ines, roll_code="after", at=at(59))
    lot = Lot.objects.get(id=row.target_lot)
    assert [one.roll_code for one in packaging_of(lot)] == ["on", "wrong"]
    for code in ("before", "on", "caught", "wrong", "after"):
        assert (lot.id in {one.lot.id for one in packs_with_roll(code)}) is (code in ("on", "wrong")), code
