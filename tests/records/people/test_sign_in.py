"""Signing in: a name and a PIN on an enrolled tablet, a password elsewhere."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from records.ledger.models import Entry
from records.people import sessions
from records.people.actions import reset_pin, withdraw_tablet
from records.people.models import FailedAttempt
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN

SIGN_IN = "/sign-in/"


@pytest.fixture
def tablet(plant: Plant) -> Client:
    """A browser that is the enrolled tablet, nobody signed in."""
    client = Client()
    client.cookies[sessions.TABLET_COOKIE] = plant.token
    return client


def give_pin(client: Client, plant: Plant, pin: str = PIN, name: str = "ines", **more: str) -> object:
    """Post a PIN for a name."""
    return client.post(SIGN_IN, {"who": str(getattr(plant.people, name).id), "pin": pin, **more})


def signed_in_as(client: Client) -> str | None:
    """The sign-in of whoever the session holds."""
    return client.session.get("person")


def test_tablet_shows_the_operators_names_only(tablet: Client) -> None:
    """Operators tap their name; nobody else's is listed."""
    page = tablet.get(SIGN_IN).content.decode()
    assert "Ines Alder" in page and "Tomas Reed" in page
    assert "Wren Castell" not in page and "Bram Quill" not in page


def test_name_then_pin_opens_the_book(tablet: Client, plant: Plant) -> None:
    """The right PIN of the tapped name signs that person in."""
    assert 'type="password"' in tablet.get(SIGN_IN, {"who": str(plant.people.ines.id)}).content.decode()
    assert give_pin(tablet, plant).status_code == 302
    assert signed_in_as(tablet) == str(plant.people.ines.id)


def test_wrong_pin_opens_nothing_and_is_kept(tablet: Client, plant: Plant) -> None:
    """A wrong PIN is a record of its own and signs nobody in."""
    answer = give_pin(tablet, plant, "999111")
    assert answer.status_code == 200 and "not the right PIN" in answer.content.decode()
    assert signed_in_as(tablet) is None
    row = FailedAttempt.objects.get()
    assert (row.person_id, row.tablet_id, row.component) == (plant.people.ines.id, plant.tablet.id, "PIN")


def test_no_pin_is_ever_shown_again(tablet: Client, plant: Plant) -> None:
    """The page after a wrong PIN does not hold what was typed."""
    assert "999111" not in give_pin(tablet, plant, "999111").content.decode()


def test_fifth_wrong_pin_locks_and_the_right_one_fails_too(tablet: Client, plant: Plant) -> None:
    """Five wrong PINs within ten minutes lock that person on that tablet."""
    for _ in range(5):
        give_pin(tablet, plant, "999111")
    answer = give_pin(tablet, plant)
    assert "locked on this tablet until a supervisor unlocks" in answer.content.decode()
    assert signed_in_as(tablet) is None
    assert [row.locked for row in FailedAttempt.objects.all()] == [False] * 4 + [True]


def test_another_person_is_not_locked_with_them(tablet: Client, plant: Plant) -> None:
    """The lock is one person's on one tablet."""
    for _ in range(5):
        give_pin(tablet, plant, "999111")
    give_pin(tablet, plant, name="tomas")
    assert signed_in_as(tablet) == str(plant.people.tomas.id)


def test_wrong_pins_far_apart_do_not_lock(tablet: Client, plant: Plant) -> None:
    """Only five within ten minutes count."""
    for _ in range(7):
        give_pin(tablet, plant, "999111")
        plant.clock.on(minutes=3)
    give_pin(tablet, plant)
    assert signed_in_as(tablet) == str(plant.people.ines.id)


@pytest.mark.parametrize(
    "pin", ["", "\0\0\0\0\0\0", "4829133", "x" * 1_000_000, "482 913", "４８２９１３", "' OR 1=1 --"]
)
def test_nonsense_for_a_pin_gets_a_sentence(tablet: Client, plant: Plant, pin: str) -> None:
    """Whatever is typed as a PIN, the page comes again with a sentence and nobody is signed in."""
    answer = give_pin(tablet, plant, pin)
    assert answer.status_code == 200 and "data-errors" in answer.content.decode()
    assert signed_in_as(tablet) is None


@pytest.mark.parametrize("who", ["", "nobody", "00000000-0000-0000-0000-000000000000", "\0", "x" * 100_000])
def test_unknown_name_on_the_tablet_goes_back_to_the_names(tablet: Client, who: str) -> None:
    """A name that is none of the list's leads back to the list."""
    assert tablet.post(SIGN_IN, {"who": who, "pin": PIN}).status_code == 302
    assert signed_in_as(tablet) is None


def test_pin_means_nothing_away_from_an_enrolled_tablet(plant: Plant) -> None:
    """Without the tablet's token the page asks for a password, whatever is posted."""
    client = Client()
    give_pin(client, plant)
    assert signed_in_as(client) is None


def test_withdrawn_tablet_opens_nothing(tablet: Client, plant: Plant) -> None:
    """Who was signed in on it is out at once, and it shows no names."""
    give_pin(tablet, plant)
    withdraw_tablet(plant.actor("admin"), plant.tablet)
    assert tablet.get("/").headers["Location"].startswith(SIGN_IN)
    assert "Ines Alder" not in tablet.get(SIGN_IN).content.decode()


def test_session_of_one_tablet_means_nothing_on_another_browser(tablet: Client, plant: Plant) -> None:
    """A copied session without the tablet's token is nobody's."""
    give_pin(tablet, plant)
    thief = Client()
    thief.cookies["sessionid"] = tablet.cookies["sessionid"].value
    assert thief.get("/").headers["Location"].startswith(SIGN_IN)


def test_password_signs_in_everybody_else(plant: Plant) -> None:
    """A supervisor signs in with sign-in name and password anywhere."""
    client = Client()
    answer = client.post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD})
    assert answer.status_code == 302 and signed_in_as(client) == str(plant.people.wren.id)


def test_unknown_name_and_wrong_password_read_the_same(plant: Plant) -> None:
    """A stranger cannot learn which names exist."""
    client = Client()
    known = client.post(SIGN_IN, {"sign_in": "wren", "password": "wrong"}).content.decode()
    unknown = client.post(SIGN_IN, {"sign_in": "nobody", "password": "wrong"}).content.decode()
    sentence = "The name or the password is not right."
    assert sentence in known and sentence in unknown
    assert FailedAttempt.objects.count() == 2


def test_unknown_names_are_counted_but_not_kept(plant: Plant) -> None:
    """What was typed as a name may be a password: it is not written down."""
    Client().post(SIGN_IN, {"sign_in": "my secret password", "password": "wrong"})
    row = FailedAttempt.objects.get()
    assert row.person_id is None and row.person_name == ""
    assert "my secret password" not in Entry.objects.get(number=row.number).content


def test_strangers_cannot_fill_the_ledger(plant: Plant) -> None:
    """After twenty unknown names in ten minutes no more are kept."""
    client = Client()
    for at in range(25):
        client.post(SIGN_IN, {"sign_in": f"nobody{at}", "password": "wrong"})
    assert FailedAttempt.objects.count() == 20


def test_password_lock_away_from_tablets_ends_after_ten_minutes(plant: Plant) -> None:
    """A stranger on the network cannot keep the only supervisor out for good."""
    client = Client()
    for _ in range(5):
        client.post(SIGN_IN, {"sign_in": "wren", "password": "wrong"})
    client.post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD})
    assert signed_in_as(client) is None
    plant.clock.on(minutes=11)
    client.post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD})
    assert signed_in_as(client) == str(plant.people.wren.id)


@pytest.mark.parametrize("value", ["\0wren", "x" * 1_000_000, "<script>", "wren\n"])
def test_nonsense_for_a_name_gets_a_sentence(plant: Plant, value: str) -> None:
    """No name, however odd, breaks the page."""
    answer = Client().post(SIGN_IN, {"sign_in": value, "password": "\0" * 10})
    assert answer.status_code == 200 and "data-errors" in answer.content.decode()


def test_expired_guest_cannot_sign_in(plant: Plant) -> None:
    """An inspector's account ends by itself."""
    plant.at(plant.people.guest.expires_at + timedelta(seconds=1))
    client = Client()
    client.post(SIGN_IN, {"sign_in": "guest", "password": PASSWORD})
    assert signed_in_as(client) is None


def test_expired_guest_is_out_though_signed_in(plant: Plant, client_for) -> None:
    """A session does not outlive the account."""
    client = client_for(plant.people.guest)
    plant.at(plant.people.guest.expires_at)
    assert client.get("/").headers["Location"].startswith(SIGN_IN)


def test_new_pin_ends_sessions_opened_with_the_old_one(tablet: Client, plant: Plant) -> None:
    """A reset signs the person out everywhere."""
    give_pin(tablet, plant)
    reset_pin(plant.actor("wren"), plant.people.ines, "forgotten")
    assert tablet.get("/").headers["Location"].startswith(SIGN_IN)


def test_person_without_a_role_is_let_in_nowhere(plant: Plant, client_for) -> None:
    """Signed in or about to: a sentence, no page."""
    from records.people.actions import end_role

    client = client_for(plant.people.wren)
    end_role(plant.actor("admin"), plant.people.wren, "supervisor", "moves on")
    plant.clock.on(seconds=1)
    assert client.get("/people/").headers["Location"].startswith(SIGN_IN)
    answer = Client().post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD})
    assert "You hold no role at present" in answer.content.decode()


def test_pin_opens_the_operators_role_only(plant: Plant, tablet: Client) -> None:
    """A supervisor who is an operator too needs the password for a supervisor's pages."""
    from records.people.actions import grant_role

    grant_role(plant.actor("admin"), plant.people.wren, "operator", "stands in")
    give_pin(tablet, plant, name="wren")
    assert signed_in_as(tablet) == str(plant.people.wren.id)
    assert tablet.get("/people/").status_code == 403


def test_sign_in_page_sends_on_to_our_own_pages_only(plant: Plant) -> None:
    """`next` leads nowhere else."""
    answer = Client().post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD, "next": "https://elsewhere.example/"})
    assert answer.headers["Location"] == "/"
    answer = Client().post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD, "next": "/people/"})
    assert answer.headers["Location"] == "/people/"


def test_language_of_the_person_is_spoken(plant: Plant) -> None:
    """The session keeps the person's language."""
    from plant.people.models import Person

    Person.objects.filter(sign_in="wren").update(language="es")
    client = Client()
    client.post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD})
    assert 'lang="es"' in client.get("/people/").content.decode()


def test_signing_out_forgets_the_person_and_get_does_not(plant: Plant, client_for) -> None:
    """Only a POST signs out."""
    client = client_for(plant.people.wren)
    assert client.get("/sign-out/").status_code == 405
    assert client.get("/people/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/people/").status_code == 302


def test_sign_in_takes_a_form_token(plant: Plant) -> None:
    """Posts from other sites are refused."""
    client = Client(enforce_csrf_checks=True)
    assert client.post(SIGN_IN, {"sign_in": "wren", "password": PASSWORD}).status_code == 403
