"""The idle lock: what is sent while it is locked waits for the PIN, and is then sent on."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from plant.people.models import Person
from records.people.models import AccountAct, FailedAttempt
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN

LEVEL = "/vessel/silo-a/level/"


@pytest.fixture
def supervisor(plant: Plant, client_for) -> Client:
    """Wren's browser, its idle lock on, six minutes after she was last seen."""
    client = client_for(plant.people.wren, awake=False)
    client.get("/people/")
    plant.clock.on(minutes=6)
    return client


def carried_in(page: bytes) -> str:
    """The hidden value that holds what was sent."""
    found = re.search(r'name="carried" value="([^"]*)"', page.decode())
    assert found
    return found[1]


def seen_form(plant: Plant) -> tuple[str, dict[str, str]]:
    """A form of the supervisor's that writes: confirming a person whose PIN was reset."""
    from records.people.actions import reset_pin, set_pin

    reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    set_pin(Person.objects.get(sign_in="ines"), PIN)
    address = f"/people/{plant.people.ines.id}/confirm/"
    return address, {"seen": "known by sight", "signer": "wren", "signer_secret": PASSWORD}


def test_page_locks_after_five_minutes(supervisor: Client) -> None:
    """A page asked for after the idle minutes asks for the password first."""
    page = supervisor.get("/people/").content.decode()
    assert "<h1>Locked</h1>" in page and "Ines Alder" not in page


def test_four_minutes_lock_nothing(plant: Plant, client_for) -> None:
    """Until then the page opens, and being seen starts the minutes again."""
    client = client_for(plant.people.wren, awake=False)
    for _ in range(3):
        plant.clock.on(minutes=4)
        assert b"<h1>People</h1>" in client.get("/people/").content


@pytest.mark.parametrize(("back", "locked"), [({"seconds": 50}, False), ({"minutes": 2}, True), ({"hours": 3}, True)])
def test_a_clock_set_back_locks_because_nobody_knows_for_how_long(
    plant: Plant, client_for, back: dict[str, int], locked: bool
) -> None:
    """Set right by less than a minute it locks nobody; then the minutes run from the new time."""
    client = client_for(plant.people.wren, awake=False)
    client.get("/people/")
    plant.clock.on(**{unit: -count for unit, count in back.items()})
    page = client.get("/people/").content.decode()
    assert ("<h1>Locked</h1>" in page) is locked
    if locked:
        assert b"<h1>People</h1>" in client.post("/people/", {"unlock_secret": PASSWORD}, follow=True).content
    plant.clock.on(minutes=4)
    assert b"<h1>People</h1>" in client.get("/people/").content
    plant.clock.on(minutes=6)
    assert b"<h1>Locked</h1>" in client.get("/people/").content


def test_what_was_sent_while_locked_outlives_a_clock_set_back(plant: Plant, supervisor: Client) -> None:
    """Sent, then the clock goes back ten minutes, then the password: it is there."""
    address, sent = seen_form(plant)
    page = supervisor.post(address, sent)
    plant.clock.on(minutes=-10)
    answer = supervisor.post(address, {"unlock_secret": PASSWORD, "carried": carried_in(page.content)})
    assert "known by sight" in answer.content.decode()  # the form comes back and asks for the signature alone


def test_right_password_opens_the_page_asked_for(supervisor: Client) -> None:
    """The lock opens to the very address."""
    answer = supervisor.post("/people/?x=1", {"unlock_secret": PASSWORD})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/people/?x=1")
    assert b"<h1>People</h1>" in supervisor.get("/people/").content


def test_wrong_password_stays_locked_and_is_kept(supervisor: Client) -> None:
    """A wrong one is a record; the page stays locked."""
    assert b"not the right password" in supervisor.post("/people/", {"unlock_secret": "wrong"}).content
    assert b"<h1>Locked</h1>" in supervisor.get("/people/").content
    assert FailedAttempt.objects.count() == 1


def test_value_sent_while_locked_is_sent_on_after_the_right_password(plant: Plant, supervisor: Client) -> None:
    """What was sent is not written at first; after the password it is, once, as if it had not been locked."""
    address, sent = seen_form(plant)
    page = supervisor.post(address, sent).content
    assert not AccountAct.objects.filter(what="confirmed").exists()
    answer = supervisor.post(address, {"unlock_secret": PASSWORD, "carried": carried_in(page)})
    # The password of the signature is not carried, so the form comes back with what was typed and asks for it.
    assert "known by sight" in answer.content.decode()
    answer = supervisor.post(address, sent)
    assert answer.status_code == 302 and AccountAct.objects.filter(what="confirmed").count() == 1


def test_wrong_password_keeps_what_was_sent(plant: Plant, supervisor: Client) -> None:
    """A slip at the lock loses nothing."""
    address, sent = seen_form(plant)
    page = supervisor.post(address, sent).content
    again = supervisor.post(address, {"unlock_secret": "wrong", "carried": carried_in(page)}).content
    assert carried_in(again) == carried_in(page)


def test_no_pin_or_password_is_carried(plant: Plant, supervisor: Client) -> None:
    """The hidden value is readable by whoever stands there: no secret is in it."""
    from django.core import signing

    address, sent = seen_form(plant)
    said = signing.loads(carried_in(supervisor.post(address, sent).content), salt="sent while locked")
    assert PASSWORD not in str(said) and "known by sight" in str(said)


def test_carried_value_goes_to_its_own_address_only(plant: Plant, supervisor: Client) -> None:
    """A value carried from one form is not taken by another."""
    address, sent = seen_form(plant)
    carried = carried_in(supervisor.post(address, sent).content)
    other = f"/people/{plant.people.tomas.id}/confirm/"
    answer = supervisor.post(other, {"unlock_secret": PASSWORD, "carried": carried}, follow=True)
    assert "known by sight" not in answer.content.decode()
    assert "nothing was written" in answer.content.decode()


@pytest.mark.parametrize("carried", ["x", "\0", "a:b:c", "x" * 1_000_000])
def test_forged_carried_value_is_dropped(supervisor: Client, carried: str) -> None:
    """What we did not sign is not sent on."""
    answer = supervisor.post("/people/", {"unlock_secret": PASSWORD, "carried": carried}, follow=True)
    assert answer.status_code == 200


def test_old_carried_value_is_dropped(plant: Plant, supervisor: Client) -> None:
    """After half an hour the person enters it again."""
    address, sent = seen_form(plant)
    carried = carried_in(supervisor.post(address, sent).content)
    plant.clock.on(minutes=31)
    answer = supervisor.post(address, {"unlock_secret": PASSWORD, "carried": carried}, follow=True)
    assert "too old: nothing was written" in answer.content.decode()


def operator_locked(plant: Plant, client_for) -> Client:
    """Ines's tablet, locked."""
    client = client_for(plant.people.ines, awake=False)
    plant.clock.on(minutes=6)
    return client


def test_somebody_else_at_the_locked_tablet_is_asked(plant: Plant, client_for) -> None:
    """Another person's right PIN does not send on what was not theirs; the page asks."""
    client = operator_locked(plant, client_for)
    carried = carried_in(client.post(LEVEL, {"typed": "38.4"}).content)
    tomas = str(plant.people.tomas.id)
    page = client.post(LEVEL, {"unlock_who": tomas, "unlock_secret": PIN, "carried": carried}).content.decode()
    assert "Ines Alder typed this" in page and "38.4" in page
    assert client.session["person"] == tomas


def test_somebody_else_may_take_it_over(plant: Plant, client_for) -> None:
    """Saying that it is theirs sends it on as theirs: here the form answers that its level is missing."""
    client = operator_locked(plant, client_for)
    carried = carried_in(client.post(LEVEL, {"typed": "38.4"}).content)
    who = {"unlock_who": str(plant.people.tomas.id), "unlock_secret": PIN}
    carried = carried_in(client.post(LEVEL, {**who, "carried": carried}).content)
    assert client.post(LEVEL, {"take_over": "1", "carried": carried}).status_code == 422


def test_same_operators_pin_sends_on(plant: Plant, client_for) -> None:
    """The right PIN of the same person sends the value on."""
    client = operator_locked(plant, client_for)
    carried = carried_in(client.post(LEVEL, {"typed": "38.4"}).content)
    who = {"unlock_who": str(plant.people.ines.id), "unlock_secret": PIN}
    answer = client.post(LEVEL, {**who, "carried": carried})
    assert answer.status_code == 422  # the form itself was asked, and misses its level


def test_five_wrong_pins_at_the_lock_lock_the_person(plant: Plant, client_for) -> None:
    """The lock page counts as the sign-in page does."""
    client = operator_locked(plant, client_for)
    who = {"unlock_who": str(plant.people.ines.id), "carried": ""}
    for _ in range(5):
        client.post("/", {**who, "unlock_secret": "999111"})
    assert "until a supervisor unlocks" in client.post("/", {**who, "unlock_secret": PIN}).content.decode()


def test_locking_by_hand_locks_at_once(plant: Plant, client_for) -> None:
    """The Lock button does not wait for the minutes."""
    client = client_for(plant.people.wren)
    client.post("/lock/")
    assert b"<h1>Locked</h1>" in client.get("/people/").content


def test_locked_page_keeps_its_form_token_check(plant: Plant, client_for) -> None:
    """A page of another site cannot send through the lock."""
    client = client_for(plant.people.wren, awake=False, enforce_csrf=True)
    plant.clock.on(minutes=6)
    assert client.post("/people/", {"unlock_secret": PASSWORD}).status_code == 403
