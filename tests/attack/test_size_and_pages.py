"""Sent too large, by a wrong method, to a wrong host: a plain page with every header, and nothing written."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from records.ledger.models import Entry
from tests.conftest import Plant
from tests.factories import PASSWORD

LEVEL = "/vessel/silo-a/level/"
Browser = Callable[..., Client]


class Unread(io.BytesIO):
    """A body that must not be read."""

    def read(self, size: int | None = -1) -> bytes:
        raise AssertionError("the body was read")


def test_body_too_large_is_refused_unread(plant: Plant) -> None:
    """From a stranger too: 413 with a sentence before a byte of it is taken."""
    form: dict[str, Any] = {"content_type": "multipart/form-data; boundary=x", "wsgi.input": Unread()}
    form["CONTENT_LENGTH"] = str(2**31)
    answer = Client().generic("POST", "/sign-in/", b"x", **form)
    page = answer.content.decode()
    assert answer.status_code == 413
    assert "What was sent is too large" in page and "Nothing was written." in page
    assert "Invented plant" in page and "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize(
    "body",
    [
        {"quantity": "1" * 5_000_000},
        {f"f{at}": "1" for at in range(1500)},
        {f"f{at}": io.BytesIO(b"1") for at in range(150)},
    ],
    ids=["five megabytes in a field", "1,500 fields", "150 files"],
)
def test_form_beyond_the_limits_is_a_plain_page(body: dict[str, Any], plant: Plant, client_for: Browser) -> None:
    """Django's own bounds answer with our page, and nothing is written."""
    client, count = client_for(plant.people.ines), Entry.objects.count()
    client.raise_request_exception = False
    answer = client.post(LEVEL, body)
    assert answer.status_code == 400 and "Nothing was written." in answer.content.decode()
    assert Entry.objects.count() == count


def test_note_of_a_megabyte_is_said_beside_the_field(plant: Plant, client_for: Browser) -> None:
    """One megabyte passes Django's bound; the form's own sentence answers, and what was typed stands there still."""
    text, count = "milk " * 200_000, Entry.objects.count()
    answer = client_for(plant.people.ines).post("/readings/new/", {"subject": "silo-a", "note": text})
    page = answer.content.decode()
    assert answer.status_code == 422 and "longer than 4000 characters" in page and text[:2000] in page
    assert Entry.objects.count() == count


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "OPTIONS", "TRACE"])
@pytest.mark.parametrize("address", ["/lock/", "/sign-out/", "/floor/", LEVEL])
def test_method_that_a_page_does_not_know_is_a_plain_page(
    method: str, address: str, plant: Plant, client_for: Browser
) -> None:
    """405 says so in words: reloading an address that only takes forms must not leave a blank tablet."""
    answer = client_for(plant.people.ines).generic(method, address)
    if answer.status_code == 405:
        assert "Nothing was written." in answer.content.decode() and answer.headers["Allow"]
    else:
        assert method == "GET" and answer.status_code == 200


def test_foreign_host_is_a_plain_page(plant: Plant) -> None:
    """A name that is not ours: 400 with the headers of every page."""
    answer = Client(raise_request_exception=False).get("/", HTTP_HOST="evil.example")
    assert answer.status_code == 400 and "could not be read" in answer.content.decode()
    assert "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize("address", ["/floor/", "/people/", "/days/", "/nowhere/", "/due/"])
def test_page_of_a_signed_in_person_is_kept_by_no_proxy(address: str, plant: Plant, client_for: Browser) -> None:
    """Pages differ by person: a cache between is told that they are private and must be asked for again."""
    said = client_for(plant.people.wren).get(address).headers.get("Cache-Control", "")
    assert "private" in said and "no-cache" in said


@pytest.mark.parametrize("kind", ["tablet", "link"])
def test_token_of_a_link_reaches_no_log(kind: str, plant: Plant, caplog: pytest.LogCaptureFixture) -> None:
    """A refused form at the address of a tablet's or a person's link is logged without the token."""
    client = Client(enforce_csrf_checks=True)
    with caplog.at_level(logging.DEBUG):
        client.post(f"/{kind}/{plant.token}/", {})
        client.get(f"/{kind}/{plant.token}x/")
    said = " ".join(record.getMessage() for record in caplog.records)
    assert caplog.records and plant.token not in said


def test_headers_of_every_page(plant: Plant, client_for: Browser) -> None:
    """Found, forbidden or missing: no sniffing, no framing, no address told to others, only our own scripts."""
    for address in ("/round/", "/people/", "/nowhere/", "/readings/"):
        headers = client_for(plant.people.ines).get(address).headers
        assert headers["X-Content-Type-Options"] == "nosniff" and headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"
        assert "script-src 'self'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]


def test_cookies_are_closed_to_scripts_and_other_sites(plant: Plant, settings: Any) -> None:
    """Session and tablet cookies: HttpOnly, SameSite; secure where the plant says that it has TLS."""
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    client = Client()
    given = {**client.post(f"/tablet/{plant.token}/").cookies}
    who = {"sign_in": "wren", "password": PASSWORD, "with": "password"}
    given |= client.post("/sign-in/?with=password", who).cookies
    assert {"sessionid", "daybook_tablet"} <= set(given)
    for name in ("sessionid", "daybook_tablet"):
        assert given[name]["httponly"] and given[name]["samesite"] == "Lax" and given[name]["secure"]


@pytest.mark.parametrize(
    "path", ["../plant/settings.py", "%2e%2e/manage.py", "..%2f..%2fetc/passwd", "css/../../manage.py"]
)
def test_static_files_lead_nowhere_else(path: str, plant: Plant) -> None:
    """No address under /static/ reaches another file."""
    assert Client().get(f"/static/{path}").status_code in (301, 302, 404)
