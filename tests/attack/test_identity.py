"""Who somebody says they are: guesses side by side, roles taken by oneself, sessions and pages after the lock."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from plant.people.models import Person, Role
from records.ledger.actions import WATCH, act
from records.ledger.models import Entry
from records.people import actions, sessions
from records.people.components import check_password, check_pin
from records.people.lockouts import write_failure
from records.people.models import FailedAttempt
from records.people.refused import Refused
from records.people.rights import PUBLIC, RIGHTS
from tests.conftest import Plant, signed_in
from tests.factories import PASSWORD, PIN
from tests.pages.routes import Route, routes
from tests.pages.test_rights import WHO, known

pytestmark = pytest.mark.once

ROUTES = [one for one in routes() if RIGHTS[one.name] != PUBLIC]
each_route = pytest.mark.parametrize("route", ROUTES, ids=[one.name for one in ROUTES])


@pytest.mark.django_db(transaction=True)
def test_right_guess_beside_the_fifth_wrong_one_is_not_heard(plant: Plant) -> None:
    """While the fifth wrong PIN is being written, the right one waits for it, and then fails."""
    for _ in range(4):
        check_pin(plant.people.ines, "999111", plant.tablet)
    heard: list[bool] = []

    def guess() -> None:
        try:
            heard.append(check_pin(plant.people.ines, PIN, plant.tablet))
        finally:
            connection.close()

    beside = threading.Thread(target=guess)
    with act(WATCH):
        beside.start()
        write_failure(plant.people.ines, plant.tablet, "PIN")
        beside.join(timeout=1)
        assert heard == []
    beside.join(timeout=20)
    assert heard == [False]


@pytest.mark.django_db(transaction=True)
def test_six_wrong_pins_side_by_side_are_five_tries(plant: Plant) -> None:
    """Six threads guess at once: five are written, the fifth locks, the right PIN fails from then on."""
    together = threading.Barrier(6)

    def guess(pin: str) -> None:
        try:
            together.wait(timeout=10)
            check_pin(plant.people.ines, pin, plant.tablet)
        finally:
            connection.close()

    threads = [threading.Thread(target=guess, args=(f"99911{number}",)) for number in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(timeout=30)
    assert sorted(FailedAttempt.objects.values_list("locked", flat=True)) == [False] * 4 + [True]
    assert not check_pin(plant.people.ines, PIN, plant.tablet)


def test_person_locked_by_pins_is_locked_for_the_password_on_that_tablet(plant: Plant) -> None:
    """The other component is no way around the lock, nor is the other sign-in page."""
    for _ in range(5):
        check_pin(plant.people.ines, "999111", plant.tablet)
    assert not check_password(plant.people.ines, PASSWORD, plant.tablet)
    tablet = Client()
    tablet.cookies[sessions.TABLET_COOKIE] = plant.token
    tablet.post("/sign-in/?with=password", {"with": "password", "sign_in": "ines", "password": PASSWORD})
    assert "person" not in tablet.session


def test_nobody_gives_themselves_a_role(plant: Plant) -> None:
    """An administrator has no power over records, and takes none."""
    with pytest.raises(Refused) as refused:
        actions.grant_role(plant.actor("admin"), plant.people.admin, Role.SUPERVISOR, "I need it")
    assert refused.value.field == "role"
    assert plant.people.admin.roles_at(plant.clock()) == {"administrator"}


def test_role_sent_along_with_a_form_gives_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Fields that a page does not have are read by nobody: the record carries the role of the session."""
    from records.flow.models import LevelSeen

    level = {"form_id": str(uuid.uuid4()), "quantity": "1200", "unit": "gal", "seen_at": "2026-03-03T09:31"}
    more = {"role": "supervisor", "by_role": "owner", "roles": "owner", "person": str(plant.people.wren.id)}
    client_for(plant.people.ines).post("/vessel/silo-a/level/", level | more)
    row = LevelSeen.objects.get()
    assert (row.by_id, row.by_role) == (plant.people.ines.id, "operator")


def test_session_key_chosen_by_a_stranger_is_not_the_one_signed_in(plant: Plant) -> None:
    """Session fixation: signing in makes a new key, and what the old session held is gone."""
    client = Client()
    session: Any = client.session
    session["planted"] = "by a stranger"
    session.save()
    planted = session.session_key
    client.cookies["sessionid"] = planted
    client.post("/sign-in/", {"sign_in": "wren", "password": PASSWORD})
    assert client.session.session_key != planted and "planted" not in client.session
    assert client.session["person"] == str(plant.people.wren.id)


def test_session_of_someone_who_left_opens_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The page after the account was closed asks to sign in, and a post writes nothing."""
    client = client_for(plant.people.tomas)
    actions.leave(plant.actor("admin"), plant.people.tomas, "moved away")
    count = Entry.objects.count()
    level = {"form_id": str(uuid.uuid4()), "quantity": "1200", "unit": "gal"}
    for answer in (client.get("/floor/"), client.post("/vessel/silo-a/level/", level)):
        assert answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/")
    assert Entry.objects.count() == count


def test_session_of_a_withdrawn_tablet_opens_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Withdrawing a tablet ends the sessions on it."""
    client = client_for(plant.people.ines)
    actions.withdraw_tablet(plant.actor("admin"), plant.tablet)
    assert client.get("/round/").headers["Location"].startswith("/sign-in/")


def test_session_cookie_without_the_tablets_opens_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """A copied session cookie is worth nothing in another browser."""
    thief = Client()
    thief.cookies["sessionid"] = client_for(plant.people.ines).cookies["sessionid"].value
    assert thief.get("/round/").headers["Location"].startswith("/sign-in/")


@each_route
def test_locked_page_answers_with_the_lock_alone(route: Route, plant: Plant) -> None:
    """Every page, file and form of a locked session, read or sent: the lock's page, nothing of the book, no entry."""
    role = next(one for one in WHO if one in RIGHTS[route.name])
    person: Person = getattr(plant.people, WHO[role])
    client = signed_in(person, plant, awake=False)
    plant.clock.on(minutes=6)
    address = route.address(known(plant))
    count = Entry.objects.count()
    for ask in (client.get, client.post):
        answer: Any = ask(address)
        if answer.status_code == 302:  # locking again is all that a locked page does
            assert route.name == "records:lock" and ask == client.post
            continue
        page = answer.content.decode()
        assert answer.status_code == 200 and "<h1>Locked</h1>" in page and "Silo A" not in page
    assert Entry.objects.count() == count


def test_lock_tapped_on_a_locked_page_takes_one_pin(plant: Plant) -> None:
    """The tap is not carried through the PIN page, where it would lock again at once."""
    client = signed_in(plant.people.ines, plant, awake=False)
    plant.clock.on(minutes=6)
    page = client.post("/lock/", follow=True)
    assert "not written yet" not in page.content.decode()
    address = page.redirect_chain[-1][0] if page.redirect_chain else "/lock/"
    who = {"unlock_who": str(plant.people.ines.id), "unlock_secret": PIN, "carried": ""}
    client.post(address, who)
    assert "<h1>Locked</h1>" not in client.get("/round/").content.decode()


@each_route
def test_post_without_a_form_token_is_refused(route: Route, plant: Plant) -> None:
    """Another site cannot send a form for whoever is signed in; the refusal is a page."""
    role = next(one for one in WHO if one in RIGHTS[route.name])
    client = signed_in(getattr(plant.people, WHO[role]), plant, enforce_csrf=True)
    answer = client.post(route.address(known(plant)), {"x": "y"})
    assert answer.status_code == 403 and "too old to send" in answer.content.decode()
