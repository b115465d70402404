"""The form of a wash tag's photo with what is wrong in each field: said beside it, nothing recorded."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from plant.people.models import Person
from records.receiving.models import LoadPhoto
from tests.conftest import Plant
from tests.mistaken import LONG, NUL, refused
from tests.records.receiving.made import arrived

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
JPEG = b"\xff\xd8\xff\xe0 a tag"


@pytest.mark.parametrize("value", [LONG, NUL], ids=["long", "nul"])
def test_a_wrong_note(plant: Plant, client_for: Browser, value: str) -> None:
    address = reverse("records:load-tag-new", args=[arrived(plant.actor("ines"))])
    good = {"form_id": str(uuid.uuid4()), "words": "", "photo": SimpleUploadedFile("tag.jpg", JPEG)}
    refused(client_for(plant.people.ines), address, good, "words", value)
    assert not LoadPhoto.objects.exists()


@pytest.mark.parametrize(
    ("name", "data"), [("tag.jpg", b""), ("tag.jpg", b"not a picture"), ("tag.txt", b"x"), ("", None)]
)
def test_no_picture(plant: Plant, client_for: Browser, name: str, data: bytes | None) -> None:
    address = reverse("records:load-tag-new", args=[arrived(plant.actor("ines"))])
    sent = {} if data is None else {"photo": SimpleUploadedFile(name, data)}
    good = {"form_id": str(uuid.uuid4()), "words": "front", **sent}
    refused(client_for(plant.people.ines), address, good, "words", "front", beside="photo")
    assert not LoadPhoto.objects.exists()
