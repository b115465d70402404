"""Pages of people and tablets: each act works, refuses, shows its errors, and writes once."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from plant.people.models import Person, Tablet
from records.ledger.models import Entry
from records.people import sessions
from records.people.actions import leave, reset_pin, use_link
from records.people.components import check_pin
from records.people.models import AccountAct, FailedAttempt, Notice
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN

AS_ADMIN = {"signer": "admin", "signer_secret": PASSWORD}
AS_WREN = {"signer": "wren", "signer_secret": PASSWORD}
NEW = {"sign_in": "nilo", "name": "Nilo Marr", "initials": "NM", "language": "es", "roles": ["operator"]}


@pytest.fixture
def admin(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """The administrator's browser."""
    return client_for(plant.people.admin)


@pytest.fixture
def wren(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """The supervisor's browser."""
    return client_for(plant.people.wren)


def link_in(text: str) -> str:
    """The path of the link in a page or mail."""
    found = re.search(r"http://testserver(/(?:link|tablet)/[^/\s\"]+/)", text)
    assert found
    return found[1]


def test_added_person_sets_a_pin_and_waits_for_confirmation(plant: Plant, admin: Client) -> None:
    """Without an address the page shows the link; the person chooses; nobody else saw the PIN."""
    link = link_in(admin.post("/people/add/", {**NEW, **AS_ADMIN}).content.decode())
    answer = Client().post(link, {"secret": "739154", "again": "739154"})
    nilo = Person.objects.get(sign_in="nilo")
    assert answer.status_code == 302 and check_pin(nilo, "739154", plant.tablet) and nilo.must_be_confirmed


def test_link_goes_by_mail_to_the_person_alone(admin: Client) -> None:
    """With an address the page does not show it."""
    answer = admin.post("/people/add/", {**NEW, "email": "nilo@quillbrook.example", **AS_ADMIN}, follow=True)
    assert "/link/" not in answer.content.decode()
    notice = Notice.objects.get()
    assert notice.to == "nilo@quillbrook.example" and link_in(notice.body)


@pytest.mark.parametrize(
    "wrong",
    [
        {"sign_in": "ines"},
        {"initials": "IA"},
        {"name": "x" * 1_000_000},
        {"name": "\0"},
        {"roles": []},
        {"roles": ["king"]},
        {"roles": ["inspector"]},
        {"roles": ["inspector"], "expires_on": "2020-01-01"},
        {"expires_on": "9999-12-31"},
        {"email": "nothing"},
        {"signer_secret": "wrong"},
        {"signer": "wren"},
    ],
)
def test_bad_person_comes_back_with_errors(plant: Plant, admin: Client, wrong: dict[str, Any]) -> None:
    """What was typed stays, a sentence stands by the field, nobody is added."""
    answer = admin.post("/people/add/", {**NEW, **AS_ADMIN, **wrong})
    assert answer.status_code == 200 and b"data-errors" in answer.content
    assert not Person.objects.filter(sign_in="nilo").exists()


def test_typed_values_stay_but_no_password(admin: Client) -> None:
    """The form comes back filled in, except for the secret."""
    page = admin.post("/people/add/", {**NEW, **AS_ADMIN, "initials": ""}).content.decode()
    assert 'value="Nilo Marr"' in page and PASSWORD not in page


def test_script_in_a_name_is_only_text(admin: Client) -> None:
    """It is shown as written and never run."""
    admin.post("/people/add/", {**NEW, "name": "<script>alert(1)</script>", **AS_ADMIN})
    page = admin.get("/people/").content.decode()
    assert "&lt;script&gt;" in page and "<script>alert" not in page


def test_adding_twice_adds_once(admin: Client) -> None:
    """A double tap finds the name taken."""
    admin.post("/people/add/", {**NEW, **AS_ADMIN})
    admin.post("/people/add/", {**NEW, **AS_ADMIN})
    assert AccountAct.objects.filter(what="added", person_name="Nilo Marr").count() == 1


def test_role_is_granted_and_ended(plant: Plant, admin: Client) -> None:
    """Signed, with the reason."""
    ines = plant.people.ines
    sent = {"role": "maintenance", "reason": "learns it", **AS_ADMIN}
    assert admin.post(f"/people/{ines.id}/grant/", sent).status_code == 302
    plant.clock.on(minutes=1)
    assert "maintenance" in Person.objects.get(id=ines.id).roles_at(plant.clock())
    admin.post(f"/people/{ines.id}/end-role/", {**sent, "reason": "learned it"})
    assert "maintenance" not in Person.objects.get(id=ines.id).roles_at(plant.clock())
    assert [one.reason for one in AccountAct.objects.filter(role="maintenance", person_id=ines.id)] == [
        "learns it",
        "learned it",
    ]


def test_role_that_is_held_is_no_choice(plant: Plant, admin: Client) -> None:
    """A foreign value is refused beside the field."""
    sent = {"role": "operator", "reason": "again", **AS_ADMIN}
    answer = admin.post(f"/people/{plant.people.ines.id}/grant/", sent)
    assert answer.status_code == 200 and b"data-errors" in answer.content


@pytest.mark.parametrize("act", ["grant", "end-role", "leave"])
def test_supervisor_has_no_power_over_roles(plant: Plant, wren: Client, act: str) -> None:
    """The administrator's acts are the administrator's."""
    answer = wren.post(f"/people/{plant.people.ines.id}/{act}/", {"role": "maintenance", "reason": "x", **AS_WREN})
    assert answer.status_code == 403


@pytest.mark.parametrize("act", ["confirm", "unlock"])
def test_administrator_vouches_for_nobody(plant: Plant, admin: Client, act: str) -> None:
    """A supervisor's acts are the supervisor's."""
    assert admin.post(f"/people/{plant.people.ines.id}/{act}/", AS_ADMIN).status_code == 403


def test_reset_through_the_page(plant: Plant, wren: Client) -> None:
    """The PIN is gone, the link is mailed to the person, the notices to both."""
    answer = wren.post(f"/people/{plant.people.ines.id}/reset/PIN/", {"reason": "forgotten", **AS_WREN})
    assert answer.status_code == 302 and Person.objects.get(sign_in="ines").pin_hash == ""
    with_link = [one for one in Notice.objects.all() if "/link/" in one.body]
    assert [one.to for one in with_link] == ["ines@quillbrook.example"]


def test_nobody_resets_their_own(plant: Plant, wren: Client) -> None:
    """Somebody else does, so that a reset is always seen by two."""
    answer = wren.post(f"/people/{plant.people.wren.id}/reset/password/", {"reason": "forgotten", **AS_WREN})
    assert answer.status_code == 200 and b"data-errors" in answer.content


@pytest.mark.parametrize(
    "secret", [("111111", "111111"), ("739154", "739155"), ("", ""), ("\0" * 6, "\0" * 6), ("7" * 500, "7" * 500)]
)
def test_bad_new_pin_comes_back_with_errors(plant: Plant, secret: tuple[str, str]) -> None:
    """The link still works afterwards."""
    token = reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    answer = Client().post(f"/link/{token}/", {"secret": secret[0], "again": secret[1]})
    assert answer.status_code == 200 and b"data-errors" in answer.content
    assert Person.objects.get(sign_in="ines").pin_hash == ""


def test_used_link_says_so(plant: Plant) -> None:
    """A page with a sentence, not an error."""
    token = reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    use_link(token, "739154")
    answer = Client().get(f"/link/{token}/")
    assert answer.status_code == 410 and "used already" in answer.content.decode()


def test_confirming_through_the_page_lets_the_person_sign(plant: Plant, wren: Client) -> None:
    """A supervisor says how they know; then signatures are open again."""
    use_link(reset_pin(plant.actor("admin"), plant.people.ines, "forgotten"), "739154")
    sent = {"seen": "worked with her for years", **AS_WREN}
    assert wren.post(f"/people/{plant.people.ines.id}/confirm/", sent).status_code == 302
    assert not Person.objects.get(sign_in="ines").must_be_confirmed


def test_unconfirmed_person_signs_nothing(plant: Plant, wren: Client, client_for: Callable[..., Client]) -> None:
    """After a reset a person's signature waits until a supervisor has confirmed who it is (21 CFR 11.100(b))."""
    Person.objects.filter(sign_in="wren").update(must_be_confirmed=True)
    answer = wren.post(f"/people/{plant.people.ines.id}/reset/PIN/", {"reason": "forgotten", **AS_WREN})
    assert "must first confirm who you are" in answer.content.decode()
    assert not AccountAct.objects.filter(what="PIN reset").exists()


def test_unlocking_through_the_page(plant: Plant, wren: Client) -> None:
    """The person page names the tablet, and the signed act frees it."""
    for _ in range(5):
        check_pin(plant.people.ines, "999111", plant.tablet)
    page = wren.get(f"/people/{plant.people.ines.id}/").content.decode()
    address = f"/people/{plant.people.ines.id}/unlock/{plant.tablet.id}/"
    assert "Locked on Tablet 1" in page and address in page
    assert wren.post(address, {"reason": "wet gloves", **AS_WREN}).status_code == 302
    assert check_pin(plant.people.ines, PIN, plant.tablet)


def test_leaving_through_the_page(plant: Plant, admin: Client) -> None:
    """The person is out and stays in the list."""
    assert admin.post(f"/people/{plant.people.ines.id}/leave/", {"reason": "moved", **AS_ADMIN}).status_code == 302
    assert not Person.objects.get(sign_in="ines").is_active
    assert "Ines Alder" in admin.get("/people/").content.decode()


def test_person_who_left_gets_no_role(plant: Plant, admin: Client) -> None:
    """Said in a sentence."""
    leave(plant.actor("admin"), plant.people.ines, "moved")
    sent = {"role": "maintenance", "reason": "x", **AS_ADMIN}
    assert "has left" in admin.post(f"/people/{plant.people.ines.id}/grant/", sent).content.decode()


def test_tablet_is_enrolled_and_its_link_makes_a_browser_the_tablet(plant: Plant, admin: Client) -> None:
    """The link is shown once; on the device it asks before it sets anything."""
    link = link_in(
        admin.post("/tablets/enrol/", {"name": "Tablet 2", "place": "Cold room", **AS_ADMIN}).content.decode()
    )
    device = Client()
    device.get(link)
    assert sessions.TABLET_COOKIE not in device.cookies
    assert device.post(link).status_code == 302
    assert "Ines Alder" in device.get("/sign-in/").content.decode()
    assert link not in admin.get("/tablets/").content.decode()


@pytest.mark.parametrize("name", ["Tablet 1", "", "x" * 61, "\0"])
def test_bad_tablet_comes_back_with_errors(admin: Client, name: str) -> None:
    """A name taken, none, too long, unreadable."""
    answer = admin.post("/tablets/enrol/", {"name": name, **AS_ADMIN})
    assert answer.status_code == 200 and b"data-errors" in answer.content and Tablet.objects.count() == 1


def test_tablet_is_withdrawn(plant: Plant, admin: Client) -> None:
    """Signed; its link then opens nothing."""
    assert admin.post(f"/tablets/{plant.tablet.id}/withdraw/", AS_ADMIN).status_code == 302
    assert Client().get(f"/tablet/{plant.token}/").status_code == 410


def test_wrong_signatures_are_counted_and_lock(plant: Plant, admin: Client) -> None:
    """A signature is not a way around the lock."""
    for _ in range(6):
        admin.post(f"/tablets/{plant.tablet.id}/withdraw/", {"signer": "admin", "signer_secret": "wrong"})
    assert FailedAttempt.objects.count() == 5
    answer = admin.post(f"/tablets/{plant.tablet.id}/withdraw/", AS_ADMIN)
    assert "Too many wrong tries" in answer.content.decode()
    assert Tablet.objects.get().withdrawn_at is None


def test_reading_pages_writes_nothing(plant: Plant, admin: Client) -> None:
    """GET changes nothing."""
    count = Entry.objects.count()
    ines = plant.people.ines.id
    for address in ("/people/", f"/people/{ines}/", "/people/add/", f"/people/{ines}/reset/PIN/", "/tablets/enrol/"):
        assert admin.get(address).status_code == 200
    assert Entry.objects.count() == count
