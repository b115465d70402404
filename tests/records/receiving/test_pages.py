"""The pages of receiving: a load carried through them, what they say and refuse, the month and its table."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import Settings
from plant.people.models import Person
from records.deviations.models import Hold
from records.flow.models import Movement
from records.receiving.models import LoadEvent, LoadPhoto
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready
from tests.records.flow.test_flow_pages import local
from tests.records.receiving.made import MINUTE, arrived, screened

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def silo(plant: Plant) -> Plant:
    """Silo A washed and sanitized."""
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    return plant


def arrival(**changes: str) -> dict[str, str]:
    """The form of a load."""
    values = {
        "form_id": str(uuid.uuid4()), "means": "tanker", "tanker": "T-12", "place": "silo-a", "product": "raw-milk",
        "ticket": "4471", "pounds": "12900", "farm_1": "Nettle Farm", "farm_pounds_1": "8000",
        "farm_2": "Oxbow Farm", "farm_pounds_2": "4900", "seals": "881", "seals_whole": "yes",
        "washed_at": local(clock.now() - timedelta(hours=20)), "wash_place": "Quillbrook", "wash_by": "a driver",
        "agitated": "5", "looks": "good", "sample": "S-1", "sampler": "Tomas Reed", "sampler_license": "BT-7",
        "happened_at": local(clock.now()), "words": "",
    }  # fmt: skip
    return values | changes


def screen(**changes: str) -> dict[str, str]:
    """The form of a screen."""
    values = {
        "form_id": str(uuid.uuid4()), "stage": "initial", "result": "not found", "kit": "strip kit", "kit_lot": "K-3",
        "kit_expires": "2026-12-31", "negative_control": "yes", "positive_control": "yes", "analyst": "Ines Alder",
        "certificate": "", "sample": "S-1", "happened_at": local(clock.now()), "words": "",
    }  # fmt: skip
    return values | changes


def test_a_load_is_carried_through_its_pages(silo: Plant, client_for: Browser) -> None:
    """Refused before the result, unloaded after it, ended with the ticket's pounds; amended; listed; in the table."""
    ines = client_for(silo.people.ines)
    assert ines.post(reverse("records:load-new"), arrival()).status_code == 302
    load = LoadEvent.objects.get().number
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    assert "about 1500 gal at 8.6 lb/gal" in page and "no result yet" in page and "Oxbow Farm" in page
    begins = {"form_id": str(uuid.uuid4()), "target": "silo-a", "happened_at": local(clock.now()), "words": ""}
    refused = ines.post(reverse("records:load-unload", args=[load]), begins | {"begins_now": "1"})
    assert refused.status_code == 422 and "The plan wants it before unloading" in refused.content.decode()
    assert ines.post(reverse("records:load-screen", args=[load]), screen()).status_code == 302
    assert ines.post(reverse("records:load-unload", args=[load]), begins | {"begins_now": "1"}).status_code == 302
    silo.at(NOW + 40 * MINUTE)
    ends = {"form_id": str(uuid.uuid4()), "happened_at": local(clock.now()), "quantity": "", "unit": "gal", "words": ""}
    assert ines.post(reverse("records:load-unloaded", args=[load]), ends).status_code == 302
    assert Movement.objects.get().source_name == "Nettle Farm, Oxbow Farm" and not Hold.objects.exists()
    again = arrival(ticket="4417", reason="two digits changed places", happened_at=local(NOW + 5 * MINUTE))
    assert ines.post(reverse("records:load-amend", args=[load]), again).status_code == 302
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    assert "ticket 4417" in page and "two digits changed places" in page and 'class="struck"' in page
    assert "not found" in ines.get(reverse("records:receiving")).content.decode()
    table = ines.get(reverse("records:receiving-month") + "?as=csv").content.decode()
    assert f'{load},2026-03-03T09:35-06:00,T-12,4417,"Nettle Farm, Oxbow Farm",12900,not found,1,1,' in table


def test_what_is_wrong_stands_beside_its_field_and_is_kept(silo: Plant, client_for: Browser) -> None:
    ines = client_for(silo.people.ines)
    page = ines.post(reverse("records:load-new"), arrival(pounds="twelve", farm_2="Nettle Farm"))
    text = page.content.decode()
    assert page.status_code == 422 and 'value="twelve"' in text and not LoadEvent.objects.exists()
    page = ines.post(reverse("records:load-new"), arrival(farm_2="Nettle Farm"))
    assert page.status_code == 422 and "One farm stands twice" in page.content.decode()


def test_a_positive_names_what_is_missing_and_says_what_it_is_not(silo: Plant, client_for: Browser) -> None:
    load = arrived(silo.actor("ines"))
    screened(silo.actor("ines"), load, "found")
    ines = client_for(silo.people.ines)
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    assert "A positive: nothing of this load is processed" in page and "the regulator told" in page
    told = {
        "form_id": str(uuid.uuid4()), "happened_at": local(clock.now()), "whom": "the inspector", "words": "A letter.",
    }  # fmt: skip
    assert ines.post(reverse("records:load-say", args=[load, "regulator"]), told).status_code == 302
    assert "the inspector" in ines.get(reverse("records:load", args=[load])).content.decode()
    assert ines.get(reverse("records:load-say", args=[load, "nothing"])).status_code == 404


def test_a_month_names_the_load_without_a_result_and_no_cell_is_a_formula(silo: Plant, client_for: Browser) -> None:
    ines = silo.actor("ines")
    arrived(ines, tanker="=1+1")
    screened(ines, arrived(ines, ticket="4472", tanker="T-13"))
    browser = client_for(silo.people.wren)
    text = browser.get(reverse("records:receiving-month") + "?month=2026-03").content.decode()
    assert "One load has no result that counts." in text and "25800 lb" in text
    table = browser.get(reverse("records:receiving-month") + "?month=2026-03&as=csv").content.decode()
    assert "'=1+1" in table and "no result yet" in table
    assert browser.get(reverse("records:receiving-month") + "?month=2093-77").status_code == 200


def test_the_wash_tags_photo_is_kept_as_it_came_and_its_days_are_said(silo: Plant, client_for: Browser) -> None:
    """The tag is kept 15 days at least: 7 Pa. 59.212(a)(2), text consulted (R31)."""
    load = arrived(silo.actor("ines"))
    ines = client_for(silo.people.ines)
    address = reverse("records:load-tag-new", args=[load])
    no_photo = {"form_id": str(uuid.uuid4()), "words": "", "photo": SimpleUploadedFile("a.txt", b"x")}
    refused = ines.post(address, no_photo)
    assert refused.status_code == 422 and "no photo that can be kept" in refused.content.decode()
    assert ines.post(address, {"form_id": str(uuid.uuid4()), "words": ""}).status_code == 422
    picture = b"\xff\xd8\xff\xe0 a tag"
    sent = {"form_id": str(uuid.uuid4()), "words": "front", "photo": SimpleUploadedFile("tag.jpg", picture)}
    assert ines.post(address, sent).status_code == 302
    page = ines.get(reverse("records:load", args=[load])).content.decode()
    photo = LoadPhoto.objects.get()
    assert "15 days at least" in page and "Photo of the tag, by" in page and "front" in page
    got = ines.get(reverse("records:load-tag", args=[load, photo.number]))
    assert got.content == picture and got["X-Content-Type-Options"] == "nosniff"
    assert ines.get(reverse("records:load-tag", args=[load, photo.number + 1])).status_code == 404


@pytest.mark.parametrize(
    ("pending", "says", "not_said"),
    [(False, "before unloading, stricter than the law", "before processing, as the law asks"),
     (True, "before processing, as the law asks", "before unloading, stricter than the law")],
)  # fmt: skip
def test_the_plan_page_says_when_it_wants_the_result(
    plant: Plant, client_for: Browser, pending: bool, says: str, not_said: str
) -> None:
    """Before unloading unless the plan says otherwise; the law: before processing (Ala. 420-3-16 App. N, R34)."""
    assert Settings().unloads_on_pending is False
    if pending:  # the plan of the tests says nothing of it
        in_force(plant, small_plan(settings=Settings(unloads_on_pending=True)))
    page = client_for(plant.people.wren).get(reverse("plant:plan")).content.decode()
    assert says in page and not_said not in page


def test_a_load_of_six_farms_is_typed_line_by_line_without_a_script(silo: Plant, client_for: Browser) -> None:
    """Another farm keeps what was typed, right or wrong, and records nothing; the amend form has all six again."""
    ines = client_for(silo.people.ines)
    typed = arrival(pounds="twelve", farm_3="Third", farm_4="Fourth")
    for at in (5, 6):
        grown = ines.post(reverse("records:load-new"), typed | {"another_farm": "1"})
        page = grown.content.decode()
        assert grown.status_code == 200 and f'name="farm_{at}"' in page and f'name="farm_{at + 1}"' not in page
        assert 'value="twelve"' in page and 'value="Fourth"' in page and "aria-invalid" not in page
        typed |= {f"farm_{at}": f"Farm no. {at}", f"farm_pounds_{at}": "100"}
    assert not LoadEvent.objects.exists()
    refused = ines.post(reverse("records:load-new"), typed)  # twelve is no number
    assert refused.status_code == 422 and "aria-invalid" in refused.content.decode()
    assert ines.post(reverse("records:load-new"), typed | {"pounds": "12900"}).status_code == 302
    load = LoadEvent.objects.get()
    assert [one["farm"] for one in load.farms][2:] == ["Third", "Fourth", "Farm no. 5", "Farm no. 6"]
    amend = ines.get(reverse("records:load-amend", args=[load.number])).content.decode()
    assert 'value="Farm no. 6"' in amend and 'name="farm_7"' not in amend
