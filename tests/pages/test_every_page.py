"""What holds for every page that opens without an id: read as a browser and a screen reader would."""

from __future__ import annotations

from collections.abc import Callable
from html.parser import HTMLParser

import pytest
from django.test import Client

from plant.people.models import Role
from records.people.rights import PUBLIC, RIGHTS
from tests.conftest import Plant
from tests.pages.routes import Route, routes
from tests.pages.test_rights import WHO

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

OPEN = [one for one in routes() if not one.parts]
UNLABELLED = {"hidden", "submit", "button", "reset", "image"}


class Page(HTMLParser):
    """Headings, title, fields with their labels, and what the content policy would block."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.h1 = 0
        self.title = ""
        self.language = ""
        self.landmarks = 0
        self.fields: list[dict[str, str | None]] = []
        self.labelled: set[str] = set()
        self.ids: list[str] = []
        self.blocked: list[str] = []
        self._inside: list[str] = []
        self._labels_open = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if "id" in given:
            self.ids.append(given["id"] or "")
        if "style" in given or any(name.startswith("on") for name in given):
            self.blocked.append(f"{tag} with style or script in an attribute")
        if tag == "script" and "src" not in given:
            self.blocked.append("a script without src")
        if tag == "style":
            self.blocked.append("a style element")
        if tag == "html":
            self.language = given.get("lang") or ""
        if tag == "label":
            self._labels_open += 1
            self.labelled.add(given.get("for") or "")
        if tag == "main":
            self.landmarks += 1
        if tag in ("input", "select", "textarea") and given.get("type") not in UNLABELLED:
            self.fields.append({**given, "in a label": "yes" if self._labels_open else None})
        self.h1 += tag == "h1"
        self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._labels_open -= 1
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "title" in self._inside and "svg" not in self._inside:
            self.title += data

    def without_label(self) -> list[str]:
        """The fields that nothing names."""
        return [
            str(one.get("name"))
            for one in self.fields
            if not (one["in a label"] or one.get("aria-label") or one.get("aria-labelledby"))
            and one.get("id") not in self.labelled
        ]


@pytest.mark.parametrize("route", OPEN, ids=[one.name for one in OPEN])
def test_page_is_well_made(route: Route, plant: Plant, client_for: Callable[..., Client]) -> None:
    """One top heading, a title, a language, one main part, a label for each field, no id twice, no inline script."""
    allowed = RIGHTS.get(route.name, frozenset())
    clients = [client_for(getattr(plant.people, name)) for role, name in WHO.items() if role in allowed]
    for client in [Client()] if allowed == PUBLIC else clients:
        answer = client.get(route.address())
        if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
            assert answer.status_code in (200, 302, 405)
            continue
        page = Page(answer.content.decode())
        assert page.h1 == 1, f"{page.h1} top headings"
        assert page.title.strip() and page.language and page.landmarks == 1
        assert page.without_label() == []
        assert page.blocked == []
        assert sorted(page.ids) == sorted(set(page.ids))
        assert "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize("role", list(Role))
def test_first_page_of_each_role_opens(role: Role, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Home leads somewhere that opens."""
    answer = client_for(getattr(plant.people, WHO[role])).get("/", follow=True)
    assert answer.status_code == 200


@pytest.mark.parametrize("role", list(Role))
def test_navigation_shows_only_pages_that_open(role: Role, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Each link of the role's navigation opens to that role."""
    client = client_for(getattr(plant.people, WHO[role]))
    nav = client.get("/", follow=True).context["nav"]
    assert [client.get(address, follow=True).status_code for _label, address, _here in nav] == [200] * len(nav)


@pytest.mark.parametrize(
    ("address", "status"),
    [("/nowhere/", 404), ("/people/", 403)],
)
def test_error_pages_are_well_made(address: str, status: int, plant: Plant, client_for: Callable[..., Client]) -> None:
    """A missing and a forbidden page have their heading, title and way back too."""
    answer = client_for(plant.people.ines).get(address)
    page = Page(answer.content.decode())
    assert answer.status_code == status and page.h1 == 1 and page.title.strip()


def test_invented_plant_says_so_on_every_page(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Signed in or not."""
    for answer in (Client().get("/sign-in/"), client_for(plant.people.wren).get("/people/")):
        assert "Invented plant, demonstration only" in answer.content.decode()
