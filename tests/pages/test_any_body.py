"""Whatever is sent to any form: a page with a sentence or a redirect, never an error of ours (Hypothesis).

Each form is filled from its own page: its fields' names, the choices it offers, and texts that people, browsers or
strangers may send. THOROUGH=1 sends 2,000 bodies to each form, otherwise 30.
"""

from __future__ import annotations

from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.people.rights import INSPECTOR_POSTS, PUBLIC, RIGHTS
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN
from tests.generated import BODIES
from tests.pages.routes import Route, routes
from tests.pages.test_rights import WHO, known

NASTY = [
    "", " ", "\0", "\x1b[2J", "<script>alert(1)</script>", "{{ 7*7 }}", "' OR '1'='1", "%s%n", "../../etc/passwd",
    "38.4", "38,4", "38..4", "3500", "-80", "+5", "1e999", "1e-999", "nan", "inf", "-0", "٣٨٫٤", "½", "0x10", "1_000",
    "9" * 400, "true", "yes", "no", "2026-03-03", "2026-13-45", "9999-12-31", "0001-01-01", "2026-03-08T02:30",
    "9999-12-31T23:59", "0001-01-01T00:00", "25:99", "05:00", "00000000-0000-0000-0000-000000000000", "silo-a",
    "nowhere", "\ud7ff\ufeff\u202e", "🥛" * 50, "x" * 20_000, "[]", "{}", "null", "\r\n\r\nSet-Cookie: x=1",
]  # fmt: skip


class Fields(HTMLParser):
    """The names of a page's fields and the values that it offers for each."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.offers: dict[str, list[str]] = {}
        self._select = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        had = dict(attrs)
        name = had.get("name") or ""
        if tag == "select":
            self._select = name
        if tag == "option" and self._select:
            self.offers.setdefault(self._select, []).append(had.get("value") or "")
        elif name and name != "csrfmiddlewaretoken" and tag in ("input", "select", "textarea", "button"):
            values = self.offers.setdefault(name, [])
            if had.get("value"):
                values.append(had["value"] or "")


def bodies(offers: dict[str, list[str]], who: str) -> st.SearchStrategy[dict[str, list[str]]]:
    """Bodies for these fields: each missing, as offered, nasty, any text, or given twice; often rightly signed."""
    right = {"signer": [who], "signer_secret": [PASSWORD, PIN], "sign_in": [who], "password": [PASSWORD], "pin": [PIN]}
    fields = {}
    for name, offered in offers.items():
        good = right.get(name, []) + [one for one in offered if one]
        value = st.sampled_from(NASTY) | st.text(max_size=60)
        if good:
            value = st.sampled_from(good) | value
        fields[name] = st.lists(value, min_size=1, max_size=1) | st.lists(value, max_size=3)
    return st.fixed_dictionaries(fields)


FORMS = [one for one in routes() if one.name != "records:home"]


@pytest.mark.slow
@pytest.mark.parametrize("route", FORMS, ids=[one.name for one in FORMS])
def test_no_body_breaks_a_form(route: Route, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Generated bodies to the form of each route, by somebody who may send it; each is undone after the answer."""
    allowed = RIGHTS.get(route.name, frozenset())
    who = next((name for role, name in WHO.items() if allowed == PUBLIC or role in allowed), "wren")
    client, address = client_for(getattr(plant.people, who)), route.address(known(plant))
    page = client.get(address)
    if page.status_code != 200 or not page.headers["Content-Type"].startswith("text/html"):
        assert client.post(address, {"x": "\0"}).status_code < 500
        return
    offers = Fields(page.content.decode()).offers
    if not offers or (who == "guest" and route.name not in INSPECTOR_POSTS):
        assert client.post(address, {"x": "\0"}).status_code < 500
        return
    cookies = dict(client.cookies.items())

    @settings(
        max_examples=BODIES,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(body=bodies(offers, who))
    def send(body: dict[str, list[str]]) -> None:
        client.cookies.clear()
        client.cookies.update(cookies)
        with transaction.atomic():
            answer: Any = client.post(address, body)
            transaction.set_rollback(True)
        assert answer.status_code < 500

    send()
