"""The people of the invented plant, how they sign in, and the day its daybook begins: installation, tablet, plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from plant import clock
from plant.hazard_plan.content import InstrumentDef, Plan
from plant.hazard_plan.written import read, store
from plant.people.models import Person
from records.ledger.actions import Actor
from records.people import actions
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan

PLANT = "Quillbrook Creamery"
WRITTEN = Path(__file__).resolve().parents[2] / "plant" / "demo" / "quillbrook.toml"
# Who does what nobody of the plant did: says that the time the demo was off was without production.
THE_DEMO = Actor(name="the demo", role="demo")
GUEST_STAYS = timedelta(days=400)
WEEKS_LEFT = timedelta(weeks=8)


@dataclass(frozen=True, slots=True)
class Member:
    """One of the people. Operators have a PIN for the tablet, everybody else a password."""

    sign_in: str
    name: str
    initials: str
    role: str
    pin: str | None = None
    password: str | None = None

    @property
    def secret(self) -> str:
        """What to type, with its kind."""
        return f"PIN {self.pin}" if self.pin else f"password {self.password}"


STAFF = (
    Member("ines", "Ines Alder", "IA", "operator", pin="730418"),
    Member("tomas", "Tomas Reed", "TR", "operator", pin="518264"),
    Member("wren", "Wren Castell", "WC", "supervisor", password="cold milk keeps"),
    Member("odile", "Odile Marsh", "OM", "qualified individual", password="reads every chart"),
    Member("hanne", "Hanne Quill", "HQ", "owner", password="mill lane in spring"),
    Member("piet", "Piet Lomax", "PL", "maintenance", password="seals and gaskets"),
    Member("guest", "Inspector's guest", "IG", "inspector", password="only to look at"),
    Member("bram", "Bram Quill", "BQ", "administrator", password="keeper of tablets"),
)


@dataclass(slots=True)
class Crew:
    """The people as the database knows them, and their one tablet."""

    people: dict[str, Person]
    tablet: str
    token: str = ""

    def actor(self, sign_in: str) -> Actor:
        """Who acts, as the pages would say it."""
        person = self.people[sign_in]
        role = next(one.role for one in STAFF if one.sign_in == sign_in)
        return Actor(person.id, person.name, person.initials, role, self.tablet if role == "operator" else "")


def begin(in_force_from: datetime) -> Crew:
    """Installation, people, tablet and the approved plan, all of it at the clock's present moment."""
    actions.begin_installation(PLANT, invented=True)
    people = {}
    for one in STAFF:
        until = clock.now() + GUEST_STAYS if one.role == "inspector" else None
        people[one.sign_in] = actions.add_person(
            actions.INSTALLER, one.sign_in, one.name, one.initials, f"{one.sign_in}@quillbrook.example", "en",
            [one.role], one.password, one.pin, until,
        )  # fmt: skip
    crew = Crew(people, "Tablet 1")
    _tablet, crew.token = actions.enrol_tablet(crew.actor("bram"), crew.tablet, "Press room")
    plan = calibrated(read(WRITTEN.read_text(encoding="utf-8")), in_force_from.date())
    version = store(plan, people["odile"], clock.now())
    sign_plan(crew.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(crew.actor("hanne"), version, OWNER_SIGNS, in_force_from)
    return crew


def calibrated(plan: Plan, day: date) -> Plan:
    """The plan with each instrument's next calibration at its own day of the year, some weeks after `day` at least.

    The written plan names days of one year; a demo begun in a later one would have nothing that proves anything.
    """
    return replace(plan, instruments=tuple(replace(one, calibration_due=_next(one, day)) for one in plan.instruments))


def _next(one: InstrumentDef, day: date) -> str:
    written = date.fromisoformat(one.calibration_due)
    while written < day + WEEKS_LEFT:
        written = written.replace(year=written.year + 1, day=min(written.day, 28 if written.month == 2 else 31))
    return written.isoformat()
