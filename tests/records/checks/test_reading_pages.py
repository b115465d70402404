"""Readings to look at, readings that nobody asked for, notes, and what is due."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from records.checks.actions import sign_round
from records.checks.models import Reading, ReadingNote
from records.deviations.models import Deviation
from tests.conftest import NOW, Plant
from tests.records.checks.made import FILLED, fill_silo, read
from tests.records.checks.test_round_page import text

ClientFor = Callable[..., Client]
FREE = "/readings/new/"


@pytest.fixture
def ines(plant: Plant, client_for: ClientFor) -> Client:
    """Ines on the tablet, milk in the silo."""
    fill_silo(plant)
    return client_for(plant.people.ines)


def free(subject: str = "silo-a", **changes: Any) -> dict[str, Any]:
    """A reading that nobody asked for."""
    return {"form_id": str(uuid.uuid4()), "subject": subject, "typed": "39.5", "unit": "°F", **changes}


def test_a_reading_shows_verdict_reason_clause_and_version(plant: Plant, ines: Client) -> None:
    """All that produced the verdict stands on the page, with the ledger entry and how to prove it."""
    reading = read(plant, "46.4").reading
    page = text(ines.get(reverse("records:reading", args=[reading.number])))
    for words in (
        "out of limits", "1.4 °F above the limit of 45 °F", "cold: 45 °F or below",
        "plant rule, invented for the tests",
        "T-04", "As read 46.4 °F", f"ledger entry {reading.number}", f"proof {reading.number} --out", "Deviation",
    ):  # fmt: skip
        assert words in page


def test_an_unknown_reading_is_a_plain_page(ines: Client) -> None:
    """Not found, whatever the number."""
    for number in (999999, 10**30):
        assert ines.get(f"/readings/{number}/").status_code == 404


def test_readings_by_place_and_day(plant: Plant, ines: Client) -> None:
    """The list filters by vessel and plant day; nonsense filters nothing."""
    read(plant, "38.4")
    assert "38.4 °F" in text(ines.get("/readings/?place=silo-a&day=2026-03-03"))
    assert "38.4 °F" not in text(ines.get("/readings/?place=finished-1"))
    assert "38.4 °F" not in text(ines.get("/readings/?day=2026-03-02"))
    assert "38.4 °F" in text(ines.get("/readings/?day=99999-99-99&place='"))


def test_any_reading_on_any_vessel_at_any_time(plant: Plant, ines: Client) -> None:
    """Kept, judged by nobody, answering no check."""
    answer = ines.post(FREE, free())
    reading = Reading.objects.get()
    assert answer.url == reverse("records:free-kept", args=[reading.number])
    assert (reading.monitoring_key, reading.due_at, reading.unit) == ("", None, "°F")
    assert "what is in it?" not in text(ines.get(answer.url))


def test_a_reading_on_a_vessel_that_the_book_calls_empty_asks_what_is_in_it(plant: Plant, ines: Client) -> None:
    """The thermometer is right and the book is wrong."""
    answer = ines.post(FREE, free("finished-1"))
    page = ines.get(answer.url)
    assert "The book says empty: what is in it?" in text(page)
    assert reverse("records:level", args=["finished-1"]) in page.content.decode()
    assert Reading.objects.get().subject == "finished-1"


def test_a_note_alone_is_kept(plant: Plant, ines: Client) -> None:
    """Words without a number."""
    ines.post(FREE, free(typed="", note="The gasket drips"))
    assert Reading.objects.get().note == "The gasket drips"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"subject": ""}, "Choose one."),
        ({"subject": "elsewhere"}, "not on the list"),
        ({"typed": "", "note": ""}, "An answer is needed here."),
        ({"typed": "3500"}, "3500 °F is outside"),
        ({"typed": "-80"}, "-80 °F is outside"),
        ({"typed": "warm"}, "digits only"),
        ({"unit": "furlong"}, "not on the list"),
        ({"instrument": "T-04", "unit": "psi"}, "does not measure in psi"),
    ],
)
def test_a_free_reading_that_is_nonsense_is_refused(ines: Client, changes: dict[str, str], sentence: str) -> None:
    """A sentence beside its field; nothing written."""
    answer = ines.post(FREE, free(**changes))
    assert answer.status_code == 422 and sentence in text(answer)
    assert not Reading.objects.exists()


def test_a_note_on_a_reading_leaves_it_untouched(plant: Plant, ines: Client) -> None:
    """A record of its own, once for each form."""
    reading = read(plant, "38").reading
    where, said = (
        reverse("records:reading-note", args=[reading.number]),
        {"form_id": str(uuid.uuid4()), "text": "Door open"},
    )
    assert ines.post(where, said).status_code == ines.post(where, said).status_code == 302
    assert ReadingNote.objects.get().text == "Door open"
    refused = ines.post(where, {**said, "text": "Something else"})
    assert refused.status_code == 422 and ReadingNote.objects.count() == 1


def test_what_is_due_by_shift_with_states(plant: Plant, client_for: ClientFor) -> None:
    """A supervisor sees each check of the day, its state and its answer."""
    fill_silo(plant)
    read(plant, "38", due_at=FILLED)
    page = text(client_for(plant.people.wren).get("/due/"))
    for words in ("Early shift", "Late shift", "done late", "38 °F", "not yet", "late"):
        assert words in page


def test_a_missed_check_can_be_answered_from_the_list(plant: Plant, client_for: ClientFor) -> None:
    """The list links to the form of a late reading."""
    fill_silo(plant)
    plant.at(NOW + timedelta(hours=4))
    assert "enter a late reading" in text(client_for(plant.people.wren).get("/due/"))


def test_a_day_of_the_list_is_read_leniently(plant: Plant, client_for: ClientFor) -> None:
    """Nonsense shows today."""
    wren = client_for(plant.people.wren)
    for day in ("", "2026-02-31", "0001-01-01", "x", "2026-03-02"):
        assert wren.get(f"/due/?day={day}").status_code == 200


def test_signing_covers_only_ones_own(plant: Plant, ines: Client) -> None:
    """Tomas's reading is not under Ines's signature."""
    mine, _his = read(plant, "38").reading, read(plant, "39", who="tomas").reading
    signed = sign_round(plant.actor("ines"), "early", NOW.date(), NOW - timedelta(hours=1))
    assert signed.readings == [mine.number]
    assert not Deviation.objects.filter(cause="not met").exists()


def test_an_inspector_reads_and_is_offered_no_act(plant: Plant, client_for: ClientFor) -> None:
    """No link leads to a page that refuses them."""
    fill_silo(plant)
    number = read(plant, "46.4").reading.number
    guest = client_for(plant.people.guest)
    for where in ("/due/", reverse("records:reading", args=[number]), "/readings/"):
        page = guest.get(where).content.decode()
        assert "/round/check/" not in page and "/note/" not in page and "/amend/" not in page
