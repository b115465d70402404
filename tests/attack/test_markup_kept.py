"""Markup, formulas and turned-round text that somebody typed: kept as typed, and run by nothing that shows it.

Every name in the plan, of a person, and every text of a day holds the probe; every page is then read by a parser.
"""

from __future__ import annotations

import csv
import io
import re
import subprocess
import uuid
from dataclasses import fields, is_dataclass, replace
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.db.models import Model
from django.test import Client

from plant import clock
from plant.hazard_plan.content import EscalationDef, Plan, ReviewerDef, TracedDef
from plant.hazard_plan.written import store
from plant.people.models import Person
from records.checks.actions import amend_reading, record_reading, write_note
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.deviations import actions as deviations
from records.deviations import holds, queries
from records.deviations.models import Correction, Deviation, Disposition, Hold, Outage
from records.flow.models import Movement
from records.lots.models import Lot
from records.people.actions import add_person
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.people.plans import plan_in_force
from records.people.rights import RIGHTS
from records.people.tablets import enrol_tablet
from records.review import actions as review
from records.review.models import SheetState
from tests.conftest import INSTALLED, NOW, People, Plant, SetClock, actor_of, signed_in
from tests.factories import PASSWORD, PIN, small_plan
from tests.pages.routes import Route, routes
from tests.pages.test_rights import WHO
from tests.records.flow.made import made_ready, moved, ran, seen

PROBE = """=1+1<x-probe>'" x-probe="1" {{ 7*7 }}<svg onload=alert(1)>\u202e&amp;"""
SHORT = """"<x-probe x-probe="">"""
# Plain text of the plan; codes, kinds, dates and numbers have no room for markup.
TEXTS = {
    "title", "name", "what", "what_es", "how", "corrective_action", "description", "justification", "control", "area",
    "why", "clause", "ordinance", "product_class_words", "authority",
}  # fmt: skip


def probed(value: Any, name: str = "") -> Any:
    """The plan with the probe after each of its free texts."""
    if isinstance(value, (EscalationDef, ReviewerDef)):
        return value  # keys alone
    if isinstance(value, TracedDef):
        return replace(value, name=f"{value.name} {SHORT}")  # what it records is one of a list of words
    if is_dataclass(value) and not isinstance(value, type):
        changed: Any = replace(value, **{one.name: probed(getattr(value, one.name), one.name) for one in fields(value)})
        return changed
    if isinstance(value, tuple):
        return tuple(probed(one) for one in value)
    if isinstance(value, str) and name in TEXTS and value:
        return f"{value} {SHORT}"
    return value


class Found(HTMLParser):
    """What a browser would take for markup of the probe, script without a file, or script in an attribute."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.bad: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _value in attrs]
        if "x-probe" in (tag, *names) or any(name.startswith("on") for name in names):
            self.bad.append(f"<{tag} {names}>")
        if tag == "script" and "src" not in names:
            self.bad.append("<script>")
        links = [value or "" for name, value in attrs if name in ("href", "src", "action", "formaction")]
        if any(one.lower().startswith("javascript:") for one in links):
            self.bad.append(f"<{tag} javascript:>")


@pytest.fixture
def probed_day(installed: People, set_clock: SetClock) -> Plant:
    """The small plant under a plan full of probes, a day of it lived with probes, a person named so."""
    set_clock.at(INSTALLED + timedelta(hours=1))
    tablet, token = enrol_tablet(installed.actor("admin"), f"T {SHORT}", SHORT)
    plan: Plan = probed(small_plan())
    version = store(plan, installed.odile, clock.now())
    sign_plan(installed.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(installed.actor("hanne"), version, OWNER_SIGNS)
    who = add_person(
        installed.actor("admin"), "probe", f"Ada {SHORT}", '"<b>', roles=["operator"], password=PASSWORD, pin=PIN
    )
    set_clock.at(NOW)
    plant = Plant(set_clock, installed, tablet, token)
    live(plant, who)
    return plant


def live(plant: Plant, who: Person) -> None:
    """One of everything, each text the probe."""
    ada, wren, odile = actor_of(who, "operator", "Tablet 1"), plant.actor("wren"), plant.actor("odile")
    began = NOW - timedelta(hours=3, minutes=30)
    made_ready(ada, began - timedelta(minutes=30), "silo-a")
    moved(ada, started_at=began, quantity_typed="2000", source_name=PROBE, note=PROBE)
    made_ready(ada, began + timedelta(minutes=90), "press-1", "finished-1")
    ran(ada, started_at=began + timedelta(minutes=120), note=PROBE)
    seen(ada, "silo-a", "1700", note=PROBE)
    warm = record_reading(ada, reading("46.4", note=PROBE, late_reason=PROBE, paper_form='"<x-probe>'))
    write_note(ada, warm.reading, PROBE, uuid.uuid4())
    amend_reading(ada, warm.reading.number, reading("46.6", note=PROBE), PROBE, day_closed=False)
    record_reading(ada, ReadingData(uuid.uuid4(), "silo-a", note=PROBE, what="note"))
    record_reading(ada, reading("", not_taken=PROBE))
    in_force = plan_in_force(clock.now())
    for _twice in range(2):
        deviations.record_correction(
            ada, in_force, subject_kind="reading", subject_number=1 + _twice, control_point="pests", subject="traps",
            text=PROBE, form_id=uuid.uuid4(),
        )  # fmt: skip
    for found in Deviation.objects.all():
        for part in queries.parts_wanted(found):
            deviations.write_part(ada, found, part, PROBE, uuid.uuid4())
    hold = Hold.objects.first()
    assert hold is not None
    holds.sign_disposition(odile, holds.propose_disposition(wren, hold, "destroy", PROBE))
    outage, _deviation = deviations.open_outage(ada, in_force, "power", NOW - timedelta(minutes=20), [], PROBE)
    deviations.end_outage(ada, outage, NOW - timedelta(minutes=10), [])
    day = in_force.calendar.plant_day(NOW) if in_force else NOW.date()
    review.name_in_charge(wren, day, "early", who)
    review.name_in_charge(wren, day, "late", who)
    review.hand_over(ada, day, "early", "leaving", PROBE, uuid.uuid4())


def reading(typed: str, **changes: Any) -> ReadingData:
    """Of the silo."""
    values: dict[str, Any] = {"agitator_ran": True, "bulb_covered": True, **changes}
    return ReadingData(uuid.uuid4(), "silo-a", "silo-shift", typed=typed, **values)


def numbers() -> dict[str, list[Any]]:
    """What stands in the book, by the first word of the route that shows it."""

    def of(table: type[Model]) -> list[Any]:
        return list(table._base_manager.values_list("number", flat=True))

    return {
        "movement": of(Movement), "reading": of(Reading), "free": of(Reading), "round": of(Reading),
        "deviation": of(Deviation), "hold": of(Hold), "disposition": of(Hold), "correction": of(Correction),
        "outage": of(Outage), "sheet": of(SheetState), "letter": of(Disposition), "plan": [1],
    }  # fmt: skip


def addresses(route: Route, plant: Plant) -> list[str]:
    """Addresses of a route for what stands in the book."""
    known: dict[str, Any] = {
        "person_id": Person.objects.get(sign_in="probe").id, "tablet_id": plant.tablet.id, "code": "silo-a",
        "vessel": "silo-a", "table": "vessel", "kind": "PIN", "day": "2026-03-03", "plant_day": "2026-03-03",
        "monitoring": "silo-shift", "key": "silo-shift", "subject": "silo-a", "shift": "early", "side": "leaving",
        "place": "operator", "part": "problem", "lot": Lot.objects.first().id,  # type: ignore[union-attr]
        "lot_id": Lot.objects.first().id,  # type: ignore[union-attr]
    }  # fmt: skip
    if ("number", "IntConverter") not in route.parts:
        return [route.address(known)]
    first = re.split(r"[:-]", route.name)[1]
    return [route.address({**known, "number": one}) for one in numbers().get(first, [1])]


def test_markup_that_was_typed_runs_on_no_page(probed_day: Plant) -> None:
    """Each page of each route as the first role that may read it, and the days' pages after closing and signing."""
    bad, shown, seen_pages = [], 0, 0
    clients: dict[str, Client] = {}
    for route in routes():
        role = next((one for one in WHO if one in RIGHTS[route.name]), None)
        name = WHO[role] if role else "ines"
        client = clients.setdefault(name, signed_in(getattr(probed_day.people, name), probed_day))
        for address in addresses(route, probed_day):
            answer = client.get(address)
            if answer.status_code != 200 or not answer.headers["Content-Type"].startswith(("text/html", "image/svg")):
                continue
            page = answer.content.decode()
            seen_pages += 1
            shown += "x-probe" in page
            bad += [f"{route.name} {address}: {one}" for one in Found(page).bad]
    assert bad == []
    assert seen_pages > 60 and shown > 20


def test_formula_that_was_typed_stays_text_in_the_table(probed_day: Plant) -> None:
    """No cell of the CSV begins as a formula; the note is there in full."""
    client = signed_in(probed_day.people.wren, probed_day)
    text = client.get("/days/2026-03-03/readings.csv").content.decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert [cell for cell in cells if re.match(r"[=+\-@\t\r|]", cell) and not re.fullmatch(r"[+-]?[\d.,]+", cell)] == []
    assert any(PROBE in cell for cell in cells)


def test_sheet_prints_what_was_typed_as_text(probed_day: Plant, tmp_path: Path) -> None:
    """The PDF of today holds the probe as words on the page, in this order of letters."""
    pdf = signed_in(probed_day.people.wren, probed_day).get("/today/sheet.pdf")
    assert pdf.status_code == 200 and pdf.content.startswith(b"%PDF")
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf.content)
    printed = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout
    words = re.sub(r"\s+", "", printed)
    assert "<x-probe>" in words and "{{7*7}}" in words
    assert b"/JavaScript" not in pdf.content and b"/Launch" not in pdf.content
