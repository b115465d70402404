"""Generated bodies at every form of the round: never a crash, never a record from nonsense, one record a form.

THOROUGH=1 throws 2,000 at each instead of 100.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.checks.models import Reading, ReadingNote, RoundSigned
from records.deviations.models import Correction, CorrectiveAction
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.factories import PIN
from tests.generated import BODIES
from tests.records.checks.made import fill_silo, read
from tests.records.checks.test_round_page import key_of

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

ClientFor = Callable[..., Client]
many = settings(
    max_examples=BODIES,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

# What people and strangers send: right, nearly right, and anything at all.
ANYTHING = st.text(max_size=60) | st.sampled_from(
    ["", " ", "\x00", "38.4", "38,4", "3..8", "-80", "3500", "1e9", "٣٨", "−3", "yes", "no", "ok", "°F", "°C", "lb",
     "T-04", "<script>alert(1)</script>", "'; drop table reading; --", "x" * 5000, "99999999999999999999",
     "2026-03-03T09:00", "0001-01-01T00:00", "9999-12-31T23:59", "09:00", "\ud7ff", "‮", "NaN", "Infinity"]
)  # fmt: skip
IDS = st.sampled_from([str(uuid.UUID(int=one)) for one in range(1, 6)]) | st.uuids().map(str) | ANYTHING
NUMBERS = st.decimals(Decimal("-100"), Decimal("300"), places=1).map(str)


def bodies(**known: st.SearchStrategy[str]) -> st.SearchStrategy[dict[str, str]]:
    """Bodies of the named fields: each right, anything, or not sent; and fields that no form has."""
    fields = {"form_id": IDS, "device_offset_ms": ANYTHING, **{name: one | ANYTHING for name, one in known.items()}}
    strange = st.dictionaries(st.sampled_from(["amends", "number", "by_id", "due_at", "subject_name"]), ANYTHING)
    mine = st.fixed_dictionaries({}, optional=fields)
    return st.builds(lambda sent, more: more | sent, mine, strange)


YES_NO = st.sampled_from(["yes", "no"])
BESIDE = {"observed_at": ANYTHING, "late_reason": ANYTHING, "paper_form": ANYTHING, "note": ANYTHING,
          "instrument": ANYTHING}  # fmt: skip
NUMBER = bodies(typed=NUMBERS, unit=st.just("°F"), agitator_ran=YES_NO, bulb_covered=YES_NO, **BESIDE)
PAIR = bodies(typed=NUMBERS, typed_second=NUMBERS, unit=st.just("°F"), **BESIDE)
ANSWER = bodies(typed=YES_NO, **BESIDE)
PLACES = bodies(all_rest=st.just("ok"), **{f"place_{one}": st.sampled_from(["ok", "not ok"]) for one in range(20)})
NOT_TAKEN = bodies(why=st.sampled_from(["instrument", "place", "other"]), words=ANYTHING)
WORDS = bodies(text=ANYTHING)
FREE = bodies(subject=st.sampled_from(["silo-a", "finished-1"]), typed=NUMBERS, unit=st.just("°F"), **BESIDE)


@pytest.fixture
def ines(plant: Plant, client_for: ClientFor) -> Client:
    """Ines on the tablet, milk in the silo. A crash answers 500 instead of failing the test's own way."""
    fill_silo(plant)
    client = client_for(plant.people.ines)
    client.raise_request_exception = False
    return client


def thrown(client: Client, where: str, body: dict[str, str]) -> None:
    """Send a body twice; check what it left behind; take it back."""
    before = _counts()
    with transaction.atomic():
        answer = client.post(where, body)
        once = _counts()
        again = client.post(where, body)
        after = _counts()
        _readings_are_sound()
        transaction.set_rollback(True)
    assert answer.status_code in (302, 400, 403, 404, 422), (answer.status_code, body)
    assert again.status_code in (302, 400, 403, 404, 422), (again.status_code, body)
    if answer.status_code != 302:
        assert once == before, body  # a refusal writes nothing
    assert sum(once.values()) - sum(before.values()) <= 1, body
    assert after == once, body  # the same form again writes nothing


def _counts() -> dict[str, int]:
    kinds = (Reading, ReadingNote, CorrectiveAction, Correction, RoundSigned)
    return {one.__name__: one.objects.count() for one in kinds}  # type: ignore[attr-defined]


def _readings_are_sound() -> None:
    """A number that is kept is one that its instrument can show, never of the future; every answer is an answer."""
    for one in Reading.objects.all():
        assert one.observed_at <= NOW.replace(minute=32)
        assert one.not_taken or one.typed or one.places or one.note
        if one.instrument == "T-04" and one.value is not None and one.unit == "°F":
            assert Decimal(0) <= one.value <= Decimal(212)
        assert Entry.objects.filter(number=one.number, record=one.id).exists()


def form_of(monitoring: str, subject: str) -> str:
    """Where a check's form is."""
    return reverse("records:round-check", args=[key_of(monitoring, subject)])


@many
@given(body=NUMBER)
def test_a_temperature(ines: Client, body: dict[str, str]) -> None:
    """The round's one big field."""
    thrown(ines, form_of("silo-shift", "silo-a"), body)


@many
@given(body=PAIR)
def test_a_pair(ines: Client, body: dict[str, str]) -> None:
    """Indicating and recording thermometer."""
    thrown(ines, form_of("press-thermometers", "press-1"), body)


@many
@given(body=ANSWER)
def test_yes_or_no(ines: Client, body: dict[str, str]) -> None:
    """The seals of the press."""
    thrown(ines, form_of("press-seals", "press-1"), body)


@many
@given(body=PLACES)
def test_a_list_of_places(ines: Client, body: dict[str, str]) -> None:
    """The traps, as an unplanned form for a day on which they are not due."""
    where = reverse("records:round-check", args=["traps|traps||2026-03-02T15:00:00.000000Z"])
    thrown(ines, where, body)


@many
@given(body=NOT_TAKEN)
def test_not_taken(ines: Client, body: dict[str, str]) -> None:
    """'I could not take it'."""
    thrown(ines, form_of("silo-shift", "silo-a") + "?could_not=1", body)


@many
@given(body=FREE)
def test_a_free_reading(ines: Client, body: dict[str, str]) -> None:
    """Any reading or note."""
    thrown(ines, reverse("records:free-reading"), body)


@many
@given(body=WORDS)
def test_what_was_done(plant: Plant, ines: Client, body: dict[str, str]) -> None:
    """The corrective action after a reading out of limits."""
    number = _the_reading(plant, "46.4")
    thrown(ines, reverse("records:reading-answer", args=[number]), body)


@many
@given(body=WORDS)
def test_a_note_on_a_reading(plant: Plant, ines: Client, body: dict[str, str]) -> None:
    """A note at any time."""
    number = _the_reading(plant, "38")
    thrown(ines, reverse("records:reading-note", args=[number]), body)


@many
@given(body=bodies(signer=ANYTHING, signer_secret=st.just("000000")))
def test_a_signature(plant: Plant, ines: Client, body: dict[str, Any]) -> None:
    """The PIN under the round: none of these is it."""
    _the_reading(plant, "38")
    if body.get("signer_secret") != PIN:
        thrown(ines, reverse("records:round-sign"), body)


@many
@given(key=st.text(max_size=80) | st.builds("|".join, st.lists(ANYTHING, min_size=4, max_size=4)), body=NUMBER)
def test_a_foreign_check(ines: Client, key: str, body: dict[str, str]) -> None:
    """Keys that nobody made: a plain page, nothing written."""
    if not key or "\n" in key:
        return
    before = _counts()
    where = reverse("records:round-check", args=[key])
    assert ines.post(where, body).status_code in (404, 400) and ines.get(where).status_code in (404, 400, 301)
    assert _counts() == before


def _the_reading(plant: Plant, typed: str) -> int:
    found = Reading.objects.filter(typed=typed).first()
    return found.number if found else read(plant, typed).reading.number
