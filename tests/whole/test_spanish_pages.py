"""A plant that works in Spanish meets no English: every page that a link leads to, and every form sent empty."""

from __future__ import annotations

import re
import uuid
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import pytest
from django.test import Client
from django.urls import resolve

from plant import clock
from plant.people.models import Person
from records.checks.actions import amend_reading, record_reading, write_note
from records.checks.entry import ReadingData
from records.deviations import actions as deviations
from records.deviations import holds
from records.deviations.models import Deviation, Hold
from records.flow.actions import see_level
from records.flow.data import LevelData
from records.people import sessions
from records.people.tablets import enrol_tablet
from records.review import actions
from tests.conftest import SetClock, actor_of
from tests.whole.test_second_plant import DAY, EVENING, answer_all, crew, run_the_night

__all__ = ["crew"]  # the fixture

pytestmark = pytest.mark.once

# The commonest English words that are no Spanish ones, and the book's own; the plant's data is in Spanish.
WORDS = """
    the of is are was were not with by from this that to be been has have and or for at on in it its what when who
    which why day sheet round floor reading readings check checks limit limits due late missed hold held lot lots sign
    signed save saved back tank vessel vessels wash washed sanitized kept open closed draft operator
    owner maintenance milk raw cream ice yes write written enter choose none nothing version shift shifts
    destroy release rework book level gauge count
    people time reason amended entry recorded instrument instruments met proven
"""
ENGLISH = frozenset(WORDS.split())
# Commands, addresses, names of rows and what is typed as a key, which are the same in every language.
LEFT = re.compile(
    r"fruit or nuts|\b[0-9a-f]{30,}\b|manage\.py proof \d+ --out FILE|raw-plant|load_plan|DEVELOPERS\.md|authority\.pem|\bhead\b|[\w.+-]+@[\w.-]+|https?://\S+"
)
# A hash in groups: none of them is a word, also where its eight digits hold 'be' between numbers.
HEX = re.compile(r"\b(?=[a-f]*[0-9])[0-9a-f]{6,}\b")


class Visible(HTMLParser):
    """What a person reads or hears on a page, piece by piece; its links; whether it has a form to send.

    Left out: scripts, styles, and what is marked as English (`lang="en"`), such as the wording of a standard.
    """

    SILENT = ("script", "style", "code", "pre")
    VOID = ("area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr")
    SPOKEN = ("title", "aria-label", "placeholder", "alt")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self.links: list[str] = []
        self.form = False
        self._within: list[bool] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        silent = tag in self.SILENT or given.get("lang") == "en"
        if not (silent or any(self._within)):
            self.pieces += [given[name] for name in self.SPOKEN if given.get(name)]
            if tag == "input" and given.get("type") in ("submit", "button"):
                self.pieces.append(given.get("value", ""))
        if tag == "a" and given.get("href"):
            self.links.append(given["href"])
        self.form = self.form or (tag == "form" and given.get("method", "").lower() == "post" and "action" not in given)
        if tag not in self.VOID:
            self._within.append(silent)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._within and tag not in self.VOID:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        if data.strip() and not any(self._within):
            self.pieces.append(" ".join(data.split()))


def english_in(page: str) -> list[str]:
    """The pieces of a page that have an English word in them."""
    found = []
    for piece in Visible(page).pieces:
        words = set(re.findall(r"[a-z']+", HEX.sub(" ", LEFT.sub(" ", piece).lower())))
        if words & ENGLISH:
            found.append(piece)
    return found


@pytest.fixture
def busy(crew: dict[str, Person], set_clock: SetClock) -> dict[str, Person]:
    """The second plant after a night with something of everything: too warm, amended, held, away, closed once."""
    run_the_night(crew, set_clock)
    set_clock.at(EVENING + timedelta(hours=9))
    nuria, pablo = actor_of(crew["nuria"], "operator"), actor_of(crew["pablo"], "supervisor")
    data = ReadingData(form_id=uuid.uuid4(), subject="tanque", monitoring_key="temperatura", typed="7,5")
    warm = record_reading(nuria, data)
    write_note(nuria, warm.reading, "Se llamó a mantenimiento.", uuid.uuid4())
    again = ReadingData(form_id=uuid.uuid4(), subject="tanque", monitoring_key="temperatura", typed="7,2")
    amend_reading(nuria, warm.reading.number, again, "Se leyó mal.", day_closed=False)
    record_reading(
        nuria,
        ReadingData(form_id=uuid.uuid4(), subject="sala", monitoring_key="sala-limpia", not_taken="Nadie estaba libre"),
    )
    deviation = Deviation.objects.order_by("-number").first()
    assert deviation is not None
    deviations.write_part(pablo, deviation, "problem", "Se enfrió la leche.", uuid.uuid4())
    hold = Hold.objects.order_by("-number").first()
    assert hold is not None
    holds.propose_disposition(pablo, hold, "destroy", "Pasó demasiado tiempo por encima de 6 °C.")
    see_level(nuria, LevelData(uuid.uuid4(), "tanque", "900", "L", clock.now()))
    for later in (30, 60):
        set_clock.at(EVENING + timedelta(hours=9, minutes=later))
        answer_all(crew, "3,8")
    actions.name_in_charge(pablo, DAY, "noche", crew["nuria"])
    actions.close_day(pablo, DAY)
    actions.sign_sheet(nuria, DAY, actions.OPERATOR_IN_CHARGE)
    return crew


def signed_in(person: Person, token: str, tablet: object, role: str) -> Client:
    """A browser with the person signed in and awake."""
    client = Client()
    operator = role == "operator"
    if operator:
        client.cookies[sessions.TABLET_COOKIE] = token
    session = client.session
    sessions.begin(session, person, tablet if operator else None, "PIN" if operator else "password")  # type: ignore[arg-type]
    session[sessions.SEEN] = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
    session.save()
    return client


LEAVES = ("/sign-out", "/lock", "/static/")
ALIKE = 2  # addresses of one route that are looked at: the others differ in data alone


def pages_of(client: Client, start: str = "/") -> Iterator[tuple[str, str]]:
    """Every page that a link leads to, and what each form answers when it is sent empty: (address, text)."""
    waiting, seen = [start], {start}
    routes: Counter[str] = Counter()
    while waiting:
        address = waiting.pop(0)
        route = resolve(urlsplit(address).path).view_name
        routes[route] += 1
        if routes[route] > ALIKE:
            continue
        response = client.get(address, follow=True)
        if "text/html" not in response.headers.get("Content-Type", ""):
            continue
        text = response.content.decode()
        yield address, text
        page = Visible(text)
        if page.form and routes[route] == 1:
            sent = client.post(address, {}, follow=True)
            if "text/html" in sent.headers.get("Content-Type", ""):
                yield f"{address} sent empty", sent.content.decode()
        for link in page.links:
            target = urlsplit(urljoin(address, link))
            place = target.path + (f"?{target.query}" if target.query else "")
            if target.netloc or place in seen or any(part in place for part in LEAVES):
                continue
            seen.add(place)
            waiting.append(place)


def test_no_page_of_a_spanish_plant_speaks_english(busy: dict[str, Person]) -> None:
    """Operator, supervisor, qualified individual, owner and administrator walk the whole book and send forms empty."""
    from records.people import actions as people_actions

    someone = people_actions.INSTALLER
    admin = people_actions.add_person(someone, "inma", "Inma Roca", "IR", "inma@valle.example", "es", ["administrator"])
    tablet, token = enrol_tablet(actor_of(admin, "administrator"), "Tableta 1", "Sala")
    leaks: dict[str, str] = {}
    pages = 0
    roles = {"nuria": "operator", "pablo": "supervisor", "marina": "qualified individual", "elena": "owner"}
    people = [(busy[name], role) for name, role in roles.items()] + [(admin, "administrator")]
    for person, role in people:
        for address, text in pages_of(signed_in(person, token, tablet, role)):
            pages += 1
            for piece in english_in(text):
                leaks.setdefault(piece, f"{role}: {address}")
    assert pages > 120
    assert leaks == {}
