"""Both components of a signature, afresh: who, and what only they know."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.forms import BoundField
from django.test import RequestFactory

from plant.people.models import Person, Tablet
from records.ledger.models import Entry
from records.people import forms, sessions
from records.people.components import check_password, check_pin, signature_actor
from records.people.forms import SignatureFields
from records.people.middleware import TabletAndPerson
from records.people.models import FailedAttempt, Notice
from records.people.refused import Refused
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN
from tests.hashing import QuickArgon2


def request_of(plant: Plant, person: Person, shown: str, tablet: Tablet | None) -> Any:
    """A request as the middleware leaves it, with the person signed in by PIN or password."""
    request: Any = RequestFactory().post("/")
    request.session = SessionStore()
    sessions.begin(request.session, person, tablet, shown)
    request.tablet = tablet
    TabletAndPerson.put_person(request, person)
    request.actor = plant.actor(person.sign_in)
    return request


def sign(request: Any, signer: str, secret: str) -> Any:
    """Who signs by this name and secret."""
    form = SignatureFields({"signer": signer, "signer_secret": secret}, request=request)
    assert form.is_valid(), form.errors
    return signature_actor(request, form)


def test_operator_signs_with_name_and_pin(plant: Plant) -> None:
    """On the enrolled tablet; the actor is the operator, with the tablet's name."""
    request = request_of(plant, plant.people.ines, "PIN", plant.tablet)
    by = sign(request, str(plant.people.ines.id), PIN)
    assert (by.name, by.role, by.tablet) == ("Ines Alder", "operator", "Tablet 1")


def test_supervisor_signs_with_sign_in_name_and_password(plant: Plant) -> None:
    """Anywhere."""
    assert sign(request_of(plant, plant.people.wren, "password", None), "wren", PASSWORD).name == "Wren Castell"


def test_nobody_signs_as_another_who_is_not_signed_in(plant: Plant) -> None:
    """Even with the other's own PIN: they sign in first. It is no wrong try of anybody's."""
    request = request_of(plant, plant.people.ines, "PIN", plant.tablet)
    with pytest.raises(Refused, match="sign as yourself"):
        sign(request, str(plant.people.tomas.id), PIN)
    assert not FailedAttempt.objects.exists()


@pytest.mark.parametrize("wrong", ["482914", "0", PASSWORD])
def test_wrong_pin_signs_nothing(plant: Plant, wrong: str) -> None:
    """It is refused beside the field and kept."""
    request = request_of(plant, plant.people.ines, "PIN", plant.tablet)
    with pytest.raises(Refused) as refused:
        sign(request, str(plant.people.ines.id), wrong)
    assert refused.value.field == "signer_secret" and FailedAttempt.objects.count() == 1


def test_pin_does_not_sign_where_a_password_is_asked(plant: Plant) -> None:
    """The components are those of the session."""
    with pytest.raises(Refused):
        sign(request_of(plant, plant.people.wren, "password", None), "wren", PIN)


def test_name_is_never_filled_in_beforehand(plant: Plant) -> None:
    """The form asks who signs."""
    form = SignatureFields(request=request_of(plant, plant.people.ines, "PIN", plant.tablet))
    assert form["signer"].value() is None and "checked" not in str(form["signer"])


def test_few_names_are_rows_to_tap_and_many_a_list(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight operators at most stand as rows, all of them; a ninth makes a list that begins with no name."""
    request = request_of(plant, plant.people.ines, "PIN", plant.tablet)

    def signer(count: int) -> BoundField:
        several = [plant.people.ines, *(Person(name=f"Number {one}") for one in range(count - 1))]
        monkeypatch.setattr(forms, "operators", lambda: several)
        return SignatureFields(request=request)["signer"]

    few, many = str(signer(8)), str(signer(9))
    assert few.count('type="radio"') == 8 and "<select" not in few and "Ines Alder" in few
    assert 'type="radio"' not in many and many.count("<option") == 1 + 9 and '<option value="" selected>' in many
    empty = SignatureFields({"signer": "", "signer_secret": PIN}, request=request)
    assert empty.errors["signer"] == ["Choose your name"]


def test_signing_keeps_the_page_awake(plant: Plant) -> None:
    """Whoever has just shown who they are is here."""
    request = request_of(plant, plant.people.wren, "password", None)
    plant.clock.on(minutes=4)
    sign(request, "wren", PASSWORD)
    assert not sessions.is_idle(request.session, plant.clock.on(minutes=4))


@pytest.mark.parametrize("who", ["ines", "nobody", "without a PIN"])
def test_every_check_does_the_same_work(plant: Plant, monkeypatch: pytest.MonkeyPatch, who: str) -> None:
    """One argon2 for a known name, an unknown one and one without a PIN: time tells nothing."""
    done: list[str] = []

    def counted(name: str) -> None:
        real = getattr(QuickArgon2, name)
        monkeypatch.setattr(QuickArgon2, name, lambda *given: (done.append("argon2"), real(*given))[1])

    counted("encode")
    counted("verify")
    person: Person | None = plant.people.ines if who != "nobody" else None
    if who == "without a PIN" and person is not None:
        person.pin_hash = ""
    check_pin(person, "999111", plant.tablet)
    assert done == ["argon2"]


def test_expired_and_departed_people_fail_with_the_right_secret(plant: Plant) -> None:
    """The secret alone opens nothing."""
    plant.at(plant.people.guest.expires_at)
    assert not check_password(plant.people.guest, PASSWORD)
    plant.people.ines.is_active = False
    assert not check_pin(plant.people.ines, PIN, plant.tablet)


def test_lock_is_told_to_the_supervisor_once(plant: Plant) -> None:
    """Wrong tries that lock are mailed at once."""
    for _ in range(7):
        check_pin(plant.people.ines, "999111", plant.tablet)
    notice = Notice.objects.get()
    assert notice.to == "wren@quillbrook.example" and "Ines Alder" in notice.subject


def test_failed_attempt_is_nobodys_act(plant: Plant) -> None:
    """The record names whose name was used, not that person as the one who acted."""
    check_pin(plant.people.ines, "999111", plant.tablet)
    row = FailedAttempt.objects.get()
    assert row.by_id is None and row.person_id == plant.people.ines.id and row.tablet == "Tablet 1"
    assert "999111" not in Entry.objects.get(number=row.number).content
