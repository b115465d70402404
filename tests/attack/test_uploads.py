"""Files that are not what they say: the bytes decide what they are, and no browser is left to guess."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.checks.models import Reading
from records.ledger import files
from records.ledger.models import FileKept
from tests.conftest import Plant

SCRIPT = b"<html><script>alert(1)</script></html>"
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF"


@pytest.fixture
def browser(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's."""
    return client_for(plant.people.ines)


def send(browser: Client, data: bytes, name: str, mime: str) -> HttpResponse:
    """A reading of no check with a photo; the multipart body is written here, so that the name goes as it is."""
    said = {"form_id": str(uuid.uuid4()), "subject": "silo-a", "note": "see the photo"}
    parts = [f'Content-Disposition: form-data; name="{key}"\r\n\r\n{value}'.encode() for key, value in said.items()]
    head = f'Content-Disposition: form-data; name="photo"; filename="{name}"\r\nContent-Type: {mime}\r\n\r\n'
    parts.append(head.encode() + data)
    body = b"".join(b"--limit\r\n" + part + b"\r\n" for part in parts) + b"--limit--\r\n"
    answer: HttpResponse = browser.generic(  # type: ignore[assignment]
        "POST", reverse("records:free-reading"), body, "multipart/form-data; boundary=limit"
    )
    return answer


@pytest.mark.parametrize(
    ("data", "name", "mime"),
    [
        (SCRIPT, "a.html", "text/html"),
        (SCRIPT, "a.jpg", "image/jpeg"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "a.svg", "image/svg+xml"),
        (b"GIF89a" + SCRIPT, "a.gif", "image/gif"),
        (b"", "a.jpg", "image/jpeg"),
        (JPEG, "x" * 300 + ".jpg", "image/jpeg"),
        (JPEG + bytes(files.LARGEST + 1 - len(JPEG)), "a.jpg", "image/jpeg"),
    ],
    ids=["page", "page called jpg", "svg", "other picture", "empty", "long name", "a byte too many"],
)
def test_what_is_no_photo_is_refused_whole(browser: Client, data: bytes, name: str, mime: str) -> None:
    """Whatever its name and type say; the reading is not kept without it either."""
    assert send(browser, data, name, mime).status_code == 422
    assert not Reading.objects.exists() and not FileKept.objects.exists()


def test_body_beyond_bounds_is_not_read(browser: Client) -> None:
    """413 (RFC 9110, 15.5.14), before any form looks at it."""
    assert send(browser, JPEG + bytes(31 * 1024 * 1024), "a.jpg", "image/jpeg").status_code == 413


@pytest.mark.parametrize(
    ("data", "name", "mime", "kept"),
    [
        (JPEG + SCRIPT, "a.html", "text/html", ("a.html", "image/jpeg")),
        (b"RIFF<scrWEBP" + SCRIPT, "a.webp", "application/x-evil", ("a.webp", "image/webp")),
        (JPEG, "../../etc/pass\\wd.jpg", "image/jpeg", ("wd.jpg", "image/jpeg")),
        (JPEG, "a\x00b.jpg", "image/jpeg", ("ab.jpg", "image/jpeg")),
        (JPEG, "a\u202egpj.exe", "image/jpeg", ("agpj.exe", "image/jpeg")),
    ],
    ids=["page after a jpeg's start", "page in a webp", "folders", "NUL", "right to left"],
)
def test_photo_that_is_more_comes_back_as_a_picture_only(
    browser: Client, data: bytes, name: str, mime: str, kept: tuple[str, str]
) -> None:
    """The type by its first bytes, no sniffing (WHATWG Fetch, 3.6), no script by the policy; the place by its hash."""
    assert send(browser, data, name, mime).status_code == 302
    (row,) = FileKept.objects.all()
    assert (row.name, row.mime, row.size) == (*kept, len(data))
    shown = browser.get(reverse("records:reading-photo", args=[Reading.objects.get().number]))
    assert shown.content == data and shown.headers["Content-Type"] == row.mime
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.headers["Content-Security-Policy"].startswith("default-src 'none'; script-src 'self';")


def test_photo_of_exactly_the_bound_is_kept(browser: Client) -> None:
    """25 MB are 25 MB."""
    assert send(browser, JPEG + bytes(files.LARGEST - len(JPEG)), "a.jpg", "image/jpeg").status_code == 302
    assert FileKept.objects.get().size == files.LARGEST
