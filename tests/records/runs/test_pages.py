"""The pages of runs: a run from its start to its wash by what a person types and taps; nonsense beside its field."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.deviations.errors import Refused
from records.flow.actions import EndData, end_movement
from records.ledger.models import Entry
from records.runs.actions import product_out
from records.runs.models import RunEvent
from tests.conftest import NOW, Plant
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import MINUTE, answered, planned, running
from tests.records.runs.made import out as made_out

pytestmark = pytest.mark.django_db
START = {"set_up": "milk", "product": "whole-milk", "chart_number": "61", "words": ""}
INTO = {"product": "whole-milk", "source": "silo-a", "target": "finished-1", "words": "drain"}
MUCH = {"quantity": "300", "unit": "gal", "measured_by": "level", "uncertainty": ""}


@pytest.fixture
def ines(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's browser; the plan of runs in force, milk in Silo A."""
    planned(plant)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    return client_for(plant.people.ines)


def send(client: Client, address: str, minutes: int, **said: Any) -> HttpResponse:
    """A form with an id of its own, its time so many minutes after NOW, on the plant's clocks."""
    local = (NOW + minutes * MINUTE).astimezone(ZoneInfo("America/Chicago")).strftime("%Y-%m-%dT%H:%M")
    body = {"form_id": str(uuid.uuid4()), "happened_at": local, **said}
    answer: HttpResponse = client.post(address, body, follow=True)  # type: ignore[assignment]
    return answer


def text(answer: HttpResponse) -> str:
    """Of a page that opened."""
    return answer.content.decode()


def test_a_run_by_its_pages(plant: Plant, ines: Client) -> None:
    """Begun, asked, refused, answered, product, diversion, water, end: each step leads back to the run's page."""
    assert "Begin a start" in text(ines.get(reverse("records:runs")))
    page = text(send(ines, reverse("records:run-new") + "?press=press-1", 5, **START))
    run = RunEvent.objects.get().number
    assert "This stands between the press and product" in page and page.count("Answer it") == 3
    into = reverse("records:run-product", args=[run])
    assert "This stands against product now" in text(ines.get(into))
    refused = send(ines, into, 5, **INTO, begins_now="1")
    assert "Seals whole: nothing recorded" in text(refused) and RunEvent.objects.count() == 1
    answered(plant.actor("ines"), "press-seals")
    answered(plant.actor("ines"), "press-divert")
    answered(plant.actor("ines"), "cut-in", "167")
    assert "Nothing recorded stands against it" in text(ines.get(reverse("records:run", args=[run])))
    page = text(send(ines, into, 5, **INTO, begins_now="1"))
    assert "in forward flow, on product" in page and "Cut-in" in page
    plant.at(NOW + 40 * MINUTE)
    say = reverse("records:run-event", args=[run, "diverted"])
    refused = send(ines, say, 30, words="")
    assert "Write a few words here." in text(refused) and RunEvent.objects.count() == 2
    assert "diverted" in text(send(ines, say, 30, words="steam fell"))
    send(ines, reverse("records:run-event", args=[run, "forward-again"]), 32, words="")
    out = reverse("records:run-out", args=[run])
    assert "Enter how much it was" in text(send(ines, out, 38, words="drain", **{**MUCH, "quantity": ""}))
    assert "in forward flow, on water" in text(send(ines, out, 38, words="drain", **MUCH))
    page = text(send(ines, reverse("records:run-event", args=[run, "ended"]), 39, words="Whole milk 300 gal"))
    assert "Whole milk 300 gal" in page and ">ended<" in page
    assert "300" in text(ines.get(reverse("records:runs"))) or "Whole milk" in text(ines.get(reverse("records:runs")))


def test_what_makes_no_sense_stands_beside_its_field_and_is_kept(plant: Plant, ines: Client) -> None:
    """The time that is still to come, no set-up, no product, the same vessel twice."""
    new = reverse("records:run-new") + "?press=press-1"
    before = Entry.objects.count()
    page = text(send(ines, new, 500, set_up="", product="", chart_number="61<b>", words=""))
    assert "still to come" in page and page.count("Choose one.") == 4 and "61&lt;b&gt;" in page
    assert Entry.objects.count() == before
    send(ines, new, 5, **START)
    run = RunEvent.objects.get().number
    page = text(send(ines, reverse("records:run-product", args=[run]), 5, **{**INTO, "target": "silo-a"}))
    assert "cannot go into the vessel that it comes from" in page
    for address in ("/runs/1/", f"/runs/{2**70}/", f"/runs/{run}/say/nothing/", "/runs/events/999999/amend/"):
        assert ines.get(address).status_code == 404


def test_an_event_is_amended_on_its_page(plant: Plant, ines: Client, client_for: Callable[..., Client]) -> None:
    """Struck through, with the reason; another operator is told who may."""
    plant.at(NOW + 30 * MINUTE)
    run = running(plant.actor("ines")).number
    send(ines, reverse("records:run-event", args=[run, "unusual"]), 30, words="A smell of fuel")
    row = RunEvent.objects.get(what="unusual occurrence")
    amend = reverse("records:run-amend", args=[row.number])
    page = text(send(ines, amend, 30, words="A smell of smoke", reason="I wrote the wrong word"))
    assert "A smell of smoke" in page and 'class="struck"' in page and "I wrote the wrong word" in page
    other = client_for(plant.people.tomas)
    latest = RunEvent.objects.order_by("-number").first()
    assert latest is not None
    refused = other.get(reverse("records:run-amend", args=[latest.number]))
    assert "Only Ines Alder or a supervisor" in text(refused)


def test_a_run_costs_few_queries(plant: Plant, ines: Client, django_assert_max_num_queries: Any) -> None:
    """However many runs there were."""
    plant.at(NOW + 30 * MINUTE)
    run = running(plant.actor("ines")).number
    ines.get(reverse("records:run", args=[run]))
    with django_assert_max_num_queries(60):
        ines.get(reverse("records:run", args=[run]))


def test_a_check_answered_from_a_run_leads_back_to_it(ines: Client) -> None:
    """In limits at once, out of limits after what was done; an address elsewhere leads nowhere but to the Round."""
    send(ines, reverse("records:run-new") + "?press=press-1", 5, **START)
    run = reverse("records:run", args=[RunEvent.objects.get().number])
    asked = re.findall(r'href="(/round/check/[^"]*next=[^"]*)"', text(ines.get(run)))
    assert len(asked) == 3
    good, bad, elsewhere = (one.replace("&amp;", "&") for one in asked)
    answer = {"form_id": str(uuid.uuid4()), "typed": "yes"}
    assert "could_not=1&amp;next=" in text(ines.get(good))
    assert ines.post(good, answer).headers["Location"] == run
    out = ines.post(bad, {**answer, "form_id": str(uuid.uuid4()), "typed": "no"}).headers["Location"]
    assert "/answer/" in out and out.endswith(f"next={quote(run, safe='')}")
    said = {"text": "Told the supervisor.", "form_id": str(uuid.uuid4())}
    assert ines.post(out, said).headers["Location"] == run
    away = re.sub("next=.*", "next=//example.org/", elsewhere)
    there = ines.post(away, {"form_id": str(uuid.uuid4()), "typed": "167", "unit": "°F"}).headers["Location"]
    assert there.startswith(reverse("records:round"))


def test_product_ended_on_the_floor_is_asked_about(plant: Plant, ines: Client) -> None:
    """The run says so and asks water or another product; its amount is asked once, and none typed is dropped."""
    by = plant.actor("ines")
    run = running(by).number
    plant.at(NOW + 40 * MINUTE)
    moved_by_it = RunEvent.objects.get(run=run, movement__isnull=False).movement or 0
    end_movement(by, moved_by_it, EndData(NOW + 30 * MINUTE, "300", "gal", "", "level", False))
    here = reverse("records:run", args=[run])
    for page in (here, reverse("records:runs")):
        assert "300 gal: water, or another product?" in text(ines.get(page))
    out = reverse("records:run-out", args=[run])
    form = text(ines.get(out))
    assert 'name="quantity"' not in form and "as its movement says" in form and "T10:00" in form
    with pytest.raises(Refused, match="300 gal"):
        product_out(by, made_out(run, quantity_typed="280"))
    page = text(send(ines, out, 30, words="drain"))
    assert "in forward flow, on water" in page and "another product?" not in page
