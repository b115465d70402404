"""Every main page of each role through axe-core (WCAG 2.2 A and AA), at three widths, and the size of what is touched.

Sources: W3C, Web Content Accessibility Guidelines 2.2, as axe-core's rules tagged below check them; it finds only what
a program can. The 48 px of a touch target is a rule of our own look, stricter than its 2.5.8 (24 px).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from plant.people.models import Role
from records.checks import queries as checks
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.deviations.models import Deviation, Hold
from records.flow.models import Movement
from records.people.rights import RIGHTS
from tests.browser.driving import Screen, join_tablet, open_with_password, open_with_pin
from tests.browser.quillbrook import DAY, Quillbrook
from tests.pages.routes import routes

pytestmark = [pytest.mark.once, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
WIDTHS = (390, 800, 1024)
# What is touched with a wet glove; a link within a sentence is excepted (as in WCAG 2.5.8), and so is the skip link.
TOUCHED = """() => [...document.querySelectorAll(
    'main button, main input, main select, main textarea, main summary, main a, .nav a, .nav button')]
  .filter(one => one.type !== 'hidden' && one.offsetParent !== null && getComputedStyle(one).display !== 'inline')
  .map(one => one.closest('label.choice') || one)
  .map(one => [one.getBoundingClientRect(), one])
  .filter(([box]) => box.width > 0 && (box.height < 47.5 || box.width < 47.5))
  .map(([box, one]) => `${one.outerHTML.slice(0, 90)} ${Math.round(box.width)}x${Math.round(box.height)}`)"""
WIDER = """() => document.documentElement.scrollWidth <= window.innerWidth ? [] :
  [...document.querySelectorAll('main *, nav *, header *')]
    .filter(one => one.getBoundingClientRect().right > window.innerWidth + 1)
    .filter(one => { for (let up = one.parentElement; up; up = up.parentElement)
      { if (getComputedStyle(up).overflowX !== 'visible' && up !== document.body) { return false; } } return true; })
    .slice(0, 4).map(one => one.outerHTML.slice(0, 120))"""
WHO = {
    Role.SUPERVISOR: "wren",
    Role.QUALIFIED: "odile",
    Role.OWNER: "hanne",
    Role.MAINTENANCE: "piet",
    Role.INSPECTOR: "guest",
    Role.ADMINISTRATOR: "bram",
}
# Answers that are files or begin something else; the round by its key is opened by the round itself.
NO_PAGES = {
    "records:day-csv", "records:blank-forms-pdf", "records:day-so-far-pdf", "records:day-json", "records:sheet-pdf",
    "records:reading-photo", "records:letter", "plant:qr", "records:sign-out", "records:lock",
}  # fmt: skip


@pytest.fixture
def after_noon(noon: Quillbrook) -> Quillbrook:
    """The silo read too warm: a deviation is open and its milk on hold."""
    check = next(one for one in checks.round_at(noon.hand()) if one.due.subject == "silo-a")
    record_reading(
        noon.crew.actor("ines"),
        ReadingData(
            form_id=uuid.uuid4(), subject="silo-a", monitoring_key=check.due.key, due_at=check.due.due_at,
            typed="46.4", agitator_ran=True, bulb_covered=True,
        ),
    )  # fmt: skip
    return noon


def pages(role: Role, plant: Quillbrook) -> Iterator[str]:
    """The address of each page that the role may open."""
    deviation = Deviation.objects.get(subject="silo-a")
    known: dict[str, Any] = {
        "code": "silo-a", "day": DAY.isoformat(), "plant_day": DAY.isoformat(), "shift": "morning", "side": "leaving",
        "person_id": plant.crew.people["ines"].id, "kind": "vessel", "table": "vessel", "version": 1,
    }  # fmt: skip
    numbers = {
        "records:deviation": deviation.number,
        "records:deviation-close": deviation.number,
        "records:hold": Hold.objects.earliest("number").number,
        "records:disposition-new": Hold.objects.earliest("number").number,
        "records:movement": Movement.objects.latest("number").number,
        "records:reading": Reading.objects.get(typed="46.4").number,
        "records:reading-answer": Reading.objects.get(typed="46.4").number,
        "records:reading-note": Reading.objects.get(typed="46.4").number,
        "records:lot": Hold.objects.earliest("number").lot,
    }
    for route in routes():
        if route.name in NO_PAGES or role.value not in RIGHTS.get(route.name, frozenset()):
            continue
        if route.name in numbers:
            yield route.address({name: numbers[route.name] for name, _kind in route.parts})
        elif all(name in known for name, _kind in route.parts):
            yield route.address(known)


def faults(screen: Screen) -> list[str]:
    """What axe finds, one line for each rule and element."""
    screen.page.evaluate(AXE)
    found = screen.page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS)
    return [
        f"{one['id']}: {node['html'][:150]} ({node['failureSummary'][:200]})"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def look(screen: Screen, path: str) -> list[str]:
    """Everything wrong with one page; nothing for an address that leads to another page or is refused."""
    answer = screen.page.goto(f"{screen.address}{path}")
    assert answer is not None and answer.status < 500, path
    if answer.status != 200 or not answer.headers.get("content-type", "").startswith("text/html"):
        return []
    wrong = [f"{path}: {one}" for one in faults(screen)]
    for width in WIDTHS:
        screen.page.set_viewport_size({"width": width, "height": 768})
        wrong += [f"{path}: wider than {width} px: {one}" for one in screen.page.evaluate(WIDER)]
    return wrong


def test_pages_of_the_tablet(after_noon: Quillbrook, live_server: Any, new_screen: Callable[..., Screen]) -> None:
    """The operator's pages, with their touch targets."""
    screen = new_screen(live_server.url)
    join_tablet(screen, after_noon.crew.token)
    wrong = look(screen, "/sign-in/")
    open_with_pin(screen, "Ines Alder", after_noon.secret("ines"))
    for path in pages(Role.OPERATOR, after_noon):
        wrong += look(screen, path)
        wrong += [f"{path}: too small to touch: {one}" for one in screen.page.evaluate(TOUCHED)]
    assert wrong == [], "\n".join(wrong)


@pytest.mark.parametrize("group", [tuple(WHO)[:2], tuple(WHO)[2:]], ids=["reviewers", "others"])
def test_pages_of_the_desk(
    group: tuple[Role, ...], after_noon: Quillbrook, live_server: Any, new_screen: Callable[..., Screen]
) -> None:
    """Everybody else's pages; each address once, by the first role that may open it."""
    wrong, seen = [], set()
    for role in group:
        screen = new_screen(live_server.url)
        open_with_password(screen, WHO[role], after_noon.secret(WHO[role]))
        for path in pages(role, after_noon):
            if path not in seen:
                seen.add(path)
                wrong += look(screen, path)
    assert wrong == [], "\n".join(wrong)


def test_it_finds_a_planted_fault(morning: Any, live_server: Any, new_screen: Callable[..., Screen]) -> None:
    """A field without a label, pale words, a page too wide and a small button are each found."""
    screen = new_screen(live_server.url)
    screen.open("/sign-in/")
    assert faults(screen) == [] and screen.page.evaluate(WIDER) == []
    screen.page.evaluate(
        """() => { const main = document.querySelector('main'), add = (tag, style) => {
            const one = document.createElement(tag); Object.assign(one.style, style); main.append(one); return one; };
          add('input', {}); add('p', {color: '#ddd'}).textContent = 'pale';
          add('button', {width: '20px', height: '20px'}).textContent = 'x';
          add('div', {width: '3000px', height: '9px'}); }"""
    )
    found = " ".join(faults(screen))
    assert "label" in found and "color-contrast" in found
    assert screen.page.evaluate(WIDER) and screen.page.evaluate(TOUCHED)
