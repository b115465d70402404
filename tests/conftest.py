"""The invented plant for every test: installed, staffed and its plan approved through the real acts.

`plant`: all of it, at NOW (`plant.at` moves the clock). `people`: its people by first name. `client_for(person)`: a
browser with that person signed in (operators on the enrolled tablet). `clock_at(moment)`: what time it is from now on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import rsa
from django.db import connections
from django.test import Client, TransactionTestCase
from pytest_django import Settings

from plant import clock
from plant.people.models import Person, Tablet
from records.ledger import triggers
from records.ledger.actions import Actor
from tests.factories import PASSWORD, PIN, small_plan
from tests.kept import Room, acted_once, acting_in

pytest_plugins = ["tests.selection"]

# A Tuesday, 09:30 in Chicago (UTC-6): the early shift is at work.
NOW = datetime(2026, 3, 3, 15, 30, tzinfo=UTC)
INSTALLED = NOW - timedelta(days=30)


class SetClock:
    """A clock that stands still until it is set or moved on."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def __repr__(self) -> str:
        return "the clock of the test"

    def at(self, moment: datetime) -> None:
        """Set it."""
        self.moment = moment

    def on(self, **duration: float) -> datetime:
        """Move it on: on(minutes=15)."""
        self.moment += timedelta(**duration)
        return self.moment


@dataclass
class People:
    """Quillbrook's people. Everybody's PIN is PIN, everybody's password PASSWORD."""

    ines: Person  # operator
    tomas: Person  # operator
    wren: Person  # supervisor
    odile: Person  # qualified individual
    hanne: Person  # owner
    piet: Person  # maintenance
    guest: Person  # an inspector's guest account
    admin: Person  # administrator

    def actor(self, first_name: str, role: str = "") -> Actor:
        """Who acts, as pages would say it: `people.actor("ines")`."""
        person: Person = getattr(self, first_name)
        return actor_of(person, role or next(iter(sorted(person.roles_at(clock.now())))))


def actor_of(person: Person, role: str, tablet: str = "") -> Actor:
    """An actor in one of the person's roles."""
    return Actor(person.id, person.name, person.initials, role, tablet)


@dataclass
class Plant:
    """Quillbrook at a moment of the test's choosing."""

    clock: SetClock
    people: People
    tablet: Tablet
    token: str

    def at(self, moment: datetime) -> None:
        """Set the clock."""
        self.clock.at(moment)

    def actor(self, first_name: str, role: str = "") -> Actor:
        """As People.actor, with the tablet's name for operators."""
        by = self.people.actor(first_name, role)
        return actor_of(getattr(self.people, first_name), by.role, self.tablet.name if by.role == "operator" else "")


# --- the databases


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """SQLite in a file: threads and processes of one test must meet in one database, as they do in a plant."""
    from django.conf import settings

    default = settings.DATABASES["default"]
    if default["ENGINE"] == "django.db.backends.sqlite3":
        default.setdefault("TEST", {})["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


_flush = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _flush_with_triggers_away(case: TransactionTestCase) -> None:
    """Emptying the tables after a transactional test is what the triggers refuse; only tests may put them aside."""
    connection = connections["default"]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = replica")
        else:
            for name in triggers.present(connection):
                cursor.execute(f'DROP TRIGGER "{name}"')
    try:
        _flush(case)
    finally:
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET session_replication_role = origin")
        triggers.install(connection)


TransactionTestCase._fixture_teardown = _flush_with_triggers_away  # type: ignore[attr-defined]


# --- what every test stands on


@pytest.fixture(autouse=True)
def _no_real_plant(settings: Settings, tmp_path: Path) -> Iterator[None]:
    """Keys, files and mail of a test stay in its own folder; hashing is quick; nothing is remembered from before."""
    from records.people import installation

    settings.KEYS_DIR = tmp_path / "keys"
    settings.FILES_DIR = settings.MEDIA_ROOT = tmp_path / "files"
    settings.EMAIL_URL = "memory:"
    settings.PASSWORD_HASHERS = ["tests.hashing.QuickArgon2"]
    installation.forget()
    yield
    installation.forget()


class KeyDrawer:
    """RSA keys made once a session and handed out again to each test: making one takes a tenth of a second."""

    def __init__(self, make: Callable[[int], rsa.RSAPrivateKey]) -> None:
        self._make = make
        self._made: dict[int, list[rsa.RSAPrivateKey]] = {}
        self._taken: dict[int, int] = {}

    def open(self, taken: dict[int, int] | None = None) -> None:
        """A new test: begin again, after those taken already. Within one test no key is handed out twice."""
        self._taken = dict(taken or {})

    def taken(self) -> dict[int, int]:
        """How many of each size are out."""
        return dict(self._taken)

    def __call__(self, bits: int) -> rsa.RSAPrivateKey:
        made, at = self._made.setdefault(bits, []), self._taken.get(bits, 0)
        if at == len(made):
            made.append(self._make(bits))
        self._taken[bits] = at + 1
        return made[at]


@pytest.fixture(scope="session")
def _key_drawer() -> KeyDrawer:
    from plant.signing import certificates

    return KeyDrawer(certificates.new_key)


@pytest.fixture(scope="session")
def _loaded_keys() -> dict[tuple[bytes, bytes | None], rsa.RSAPrivateKey]:
    return {}


@pytest.fixture
def quick_keys(
    _key_drawer: KeyDrawer,
    _loaded_keys: dict[tuple[bytes, bytes | None], rsa.RSAPrivateKey],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Real RSA keys, but from the session's drawer; a key file read before is not checked for primes again."""
    from plant.signing import certificates
    from plant.signing.authority import Authority
    from plant.signing.key_files import read_private

    read = Authority._key

    def read_once(keys: Authority, path: Path) -> rsa.RSAPrivateKey:
        known = (read_private(path), keys._passphrase)
        if known not in _loaded_keys:
            _loaded_keys[known] = read(keys, path)
        return _loaded_keys[known]

    _key_drawer.open()
    monkeypatch.setattr(certificates, "new_key", _key_drawer)
    monkeypatch.setattr(Authority, "_key", read_once)


@pytest.fixture
def set_clock() -> Iterator[SetClock]:
    """The clock of this test, standing at NOW."""
    source = SetClock(NOW)
    with clock.replaced(source):
        yield source


@pytest.fixture
def clock_at(set_clock: SetClock) -> Callable[[datetime], None]:
    """`clock_at(moment)`: it is that moment from now on."""
    return set_clock.at


# --- the plant


@pytest.fixture
def room(db: None, quick_keys: None, set_clock: SetClock, _key_drawer: KeyDrawer) -> Iterator[Room]:
    """Where acts that are acted out once a run are put back: see tests/kept.py."""
    found = Room(set_clock, set_clock.at, _key_drawer.taken, _key_drawer.open)
    with acting_in(found):
        yield found


@pytest.fixture
def installed(room: Room, set_clock: SetClock) -> People:
    """Quillbrook's ledger begun and its people added, thirty days ago; no plan yet. It is NOW afterwards."""
    set_clock.at(INSTALLED)
    _install()
    set_clock.at(NOW)
    return _people()


@acted_once
def _install() -> None:
    from records.people import actions

    actions.begin_installation("Quillbrook Creamery", invented=True)

    def add(sign_in: str, name: str, initials: str, role: str, expires_at: datetime | None = None) -> None:
        address = f"{sign_in}@quillbrook.example"
        actions.add_person(actions.INSTALLER, sign_in, name, initials, address, "en", [role], PASSWORD, PIN, expires_at)

    add("ines", "Ines Alder", "IA", "operator")
    add("tomas", "Tomas Reed", "TR", "operator")
    add("wren", "Wren Castell", "WC", "supervisor")
    add("odile", "Odile Marsh", "OM", "qualified individual")
    add("hanne", "Hanne Quill", "HQ", "owner")
    add("piet", "Piet Lomax", "PL", "maintenance")
    add("guest", "Inspector's guest", "IG", "inspector", NOW + timedelta(days=30))
    add("admin", "Bram Quill", "BQ", "administrator")


def _people() -> People:
    return People(**{person.sign_in: person for person in Person.objects.prefetch_related("held_roles")})


@pytest.fixture
def plant(room: Room, set_clock: SetClock) -> Plant:
    """Quillbrook with an enrolled tablet and its small plan in force since thirty days before NOW."""
    set_clock.at(INSTALLED)
    token = _at_work(set_clock)
    set_clock.at(NOW)
    return Plant(set_clock, _people(), Tablet.objects.get(), token)


@acted_once
def _at_work(set_clock: SetClock) -> str:
    _install()
    set_clock.on(hours=1)
    return _enrol_and_approve()


def _enrol_and_approve() -> str:
    from plant.hazard_plan.written import store
    from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
    from records.people.tablets import enrol_tablet

    people = _people()
    _tablet, token = enrol_tablet(people.actor("admin"), "Tablet 1", "Press room")
    version = store(small_plan(), people.odile, clock.now())
    sign_plan(people.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(people.actor("hanne"), version, OWNER_SIGNS)
    return token


@pytest.fixture
def people(plant: Plant) -> People:
    """Quillbrook's people, its plan in force."""
    return plant.people


@pytest.fixture
def client_for(plant: Plant) -> Callable[..., Client]:
    """`client_for(people.ines)`: a browser with the person signed in; no idle lock, as if they tapped on and on.

    `awake=False` leaves the lock on. `enforce_csrf=True` checks tokens as a browser would meet them.
    """
    return lambda person, **options: signed_in(person, plant, **options)


@pytest.fixture(autouse=True)
def _tapping(monkeypatch: pytest.MonkeyPatch) -> None:
    """A session seen in 2100 is of somebody who taps on and on, wherever a test moves its clock."""
    from records.people import sessions

    tapping = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
    is_idle, touch = sessions.is_idle, sessions.touch

    def is_tapping(session: Any) -> bool:
        return bool(session.get(sessions.SEEN) == tapping)

    monkeypatch.setattr(sessions, "is_idle", lambda one, now: not is_tapping(one) and is_idle(one, now))
    monkeypatch.setattr(sessions, "touch", lambda one, now: None if is_tapping(one) else touch(one, now))


def signed_in(person: Person, plant: Plant, *, awake: bool = True, enforce_csrf: bool = False) -> Client:
    """See `client_for`."""
    from records.people import sessions

    client = Client(enforce_csrf_checks=enforce_csrf)
    operator = "operator" in person.roles_at(clock.now())
    if operator:
        client.cookies[sessions.TABLET_COOKIE] = plant.token
    session: Any = client.session
    sessions.begin(session, person, plant.tablet if operator else None, "PIN" if operator else "password")
    if awake:
        session[sessions.SEEN] = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
    session.save()
    return client
