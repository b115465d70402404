"""`manage.py begin`: a real plant's first entry and first person."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from plant.people.models import Person
from records.ledger.models import Entry, Installation
from records.people.components import check_password
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db


def begin(monkeypatch: pytest.MonkeyPatch, password: str = PASSWORD, **changes: Any) -> str:
    """Run it with the password on standard input; gives what it prints."""
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    given = {"plant": "Second Creamery", "sign_in": "hanne", "name": "Hanne Quill", "initials": "HQ", **changes}
    out = io.StringIO()
    call_command("begin", stdout=out, **given)
    return out.getvalue()


def test_begins_a_real_plant_with_one_person(quick_keys: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not an invented plant; the person is administrator and owner, needs no confirmation, and can sign in."""
    assert "has begun" in begin(monkeypatch)
    person = Person.objects.get()
    assert not Installation.objects.get().invented and not person.must_be_confirmed
    assert set(person.held_roles.values_list("role", flat=True)) == {"administrator", "owner"}
    assert check_password(person, PASSWORD)


def test_second_time_is_refused(quick_keys: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A ledger begins once."""
    begin(monkeypatch)
    count = Entry.objects.count()
    with pytest.raises(CommandError, match="begun already"):
        begin(monkeypatch, sign_in="other", initials="OO")
    assert Entry.objects.count() == count


@pytest.mark.parametrize(
    "changes", [{"password": "short"}, {"password": ""}, {"initials": "TOO LONG"}, {"plant": " "}, {"email": "x"}]
)
def test_refused_person_leaves_an_empty_ledger(
    quick_keys: None, monkeypatch: pytest.MonkeyPatch, changes: dict[str, str]
) -> None:
    """Nothing half-begun; the next try works."""
    with pytest.raises(CommandError, match="Nothing was written"):
        begin(monkeypatch, **changes)
    assert not Entry.objects.exists()
    assert "has begun" in begin(monkeypatch)
