"""The pages of freezer runs: a run from its beginning to its end by what a person types; nonsense beside its field."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.freezer_runs.actions import draw_ends, say
from records.freezer_runs.models import CUP, FreezerEvent
from records.ledger.models import Entry
from records.run_rows.models import ENDED
from tests.conftest import NOW, Plant
from tests.records.freezer_runs.made import CUP_OF, HOUR, MINUTE, drawing, drawn, ready_plant, said, seen

pytestmark = pytest.mark.django_db
MUCH = {"quantity": "40", "unit": "gal", "measured_by": "level", "uncertainty": ""}
INTO = {"product": "hazelnut", "source": "flavor-vat", "target": "hardening", "words": ""}


@pytest.fixture
def ines(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's browser in the plant that is ready to freeze."""
    ready_plant(plant)
    return client_for(plant.people.ines)


def send(client: Client, address: str, minutes: int, **typed: Any) -> HttpResponse:
    """A form with an id of its own, its time so many minutes after NOW, on the plant's clocks."""
    body = {"form_id": str(uuid.uuid4()), "happened_at": local(minutes), "words": "", **typed}
    answer: HttpResponse = client.post(address, body, follow=True)  # type: ignore[assignment]
    return answer


def local(minutes: int) -> str:
    """So many minutes after NOW as a form has it."""
    return (NOW + minutes * MINUTE).astimezone(ZoneInfo("America/Chicago")).strftime("%Y-%m-%dT%H:%M")


def text(answer: Any) -> str:
    """Of a page that opened."""
    return str(answer.content.decode())


def test_a_run_by_its_pages(plant: Plant, ines: Client) -> None:
    """Begun, asked, refused, purged, drawn, first tubs, draw, cup, feeder, hardening, draw ended, end."""
    assert reverse("records:freezer-runs") in text(ines.get(reverse("records:runs")))
    page = text(send(ines, reverse("records:freezer-run-new") + "?freezer=freezer", 60, product="hazelnut"))
    run = FreezerEvent.objects.get().number
    assert "This stands between the freezer and the draw" in page and "Barrel purged: nothing recorded" in page
    begin = reverse("records:freezer-run-draw", args=[run])
    assert "Barrel purged" in text(send(ines, begin, 60, **INTO, begins_now="1"))
    assert FreezerEvent.objects.count() == 1

    def event(slug: str, minutes: int, **typed: Any) -> str:
        return text(send(ines, reverse("records:freezer-run-event", args=[run, slug]), minutes, **typed))

    seen(plant.actor("ines"), "freezer-seen", "freezer")
    page = event("purged", 60, amount="2", unit="gal", became="drain", use_within_h="")
    assert "Nothing recorded stands against it" in page
    assert "Missing so far" in text(send(ines, begin, 60, **INTO, begins_now="1"))
    plant.at(NOW + 2 * HOUR)
    page = event("first-tubs", 65, about="lid", tubs="5", became="destroyed", use_within_h="")
    assert "5 tubs set aside before" in page and "first tubs: lid right" not in page
    assert "at most 24 °F" in text(ines.get(reverse("records:freezer-run-event", args=[run, "temperature"])))
    assert "out of limits" in event("temperature", 66, amount="25")
    page = text(ines.get(reverse("records:freezer-run-event", args=[run, "cup"])))
    assert "4.5 lb at least (21 CFR 135.110(a)(2))" in page and "js/overrun.js" in page
    page = event("cup", 67, cup_product="84", **CUP_OF)
    assert "4.491 lb/gal" in page and "Deviation" in page
    page = event("feeder", 68, ingredient="Hazelnuts", lot_code="HZ-7", allergens="tree nuts", amount="5", unit="lb")
    assert "Hazelnuts, lot HZ-7" in page
    assert "21 min after the draw" in event("hardening", 90, tubs="20", drawn_at=local(69))
    drawn_page = reverse("records:freezer-run-drawn", args=[run])
    assert "Enter how many tubs" in text(send(ines, drawn_page, 100, tubs="", **MUCH))
    assert "between products" in text(send(ines, drawn_page, 100, tubs="290", **MUCH))
    page = event("ended", 101)
    assert ">ended<" in page and "290 tubs made" in page
    assert "Salted hazelnut ice cream" in text(ines.get(reverse("records:freezer-runs")))


def test_what_makes_no_sense_stands_beside_its_field_and_is_kept(plant: Plant, ines: Client) -> None:
    """What is still to come, letters for numbers, allergens that nobody ticked, unknown addresses."""
    run = drawing(plant.actor("ines"))
    before = Entry.objects.count()
    cup = reverse("records:freezer-run-event", args=[run, "cup"])
    page = text(send(ines, cup, 500, cup_product="8x<b>", cup_mix="", cup_empty="30", mass_unit="stone", mix_lb_gal=""))
    assert "still to come" in page and "8x&lt;b&gt;" in page and "Enter a number." in page
    page = text(send(ines, cup, 60, cup_product="12", **CUP_OF))
    assert "cannot weigh less than the empty one" in page and 'value="12"' in page
    feeder = reverse("records:freezer-run-event", args=[run, "feeder"])
    page = text(send(ines, feeder, 60, ingredient="Nuts", lot_code="", amount="", unit="lb"))
    assert "Tick each allergen" in page and "Write a few words here." in page
    for typed in ("-3", "2.5", "١٢", "99999999999"):
        page = text(send(ines, reverse("records:freezer-run-event", args=[run, "first-tubs"]), 60, about="lid",
                         tubs=typed, became="", use_within_h=""))  # fmt: skip
        assert "Enter a whole number" in page or "at most 10" in page
    assert Entry.objects.count() == before
    for address in (f"/freezer-runs/{2**70}/", "/freezer-runs/1/", f"/freezer-runs/{run}/say/nothing/",
                    "/freezer-runs/events/999999/amend/"):  # fmt: skip
        assert ines.get(address).status_code == 404


def test_a_row_is_amended_on_its_page(plant: Plant, ines: Client, client_for: Callable[..., Client]) -> None:
    """Struck through with the reason; another operator is told who may; what was typed before stands in the form."""
    run = drawing(plant.actor("ines"))
    row = say(plant.actor("ines"), said(run, CUP, cup_product="84", **CUP_OF))
    address = reverse("records:freezer-run-amend", args=[row.number])
    assert 'value="84"' in text(ines.get(address))
    page = text(send(ines, address, 60, cup_product="88", reason="wrong cup", **CUP_OF))
    assert 'class="struck"' in page and "wrong cup" in page and "4.824 lb/gal" in page
    latest = FreezerEvent.objects.order_by("-number")[0]
    other = client_for(plant.people.tomas)
    assert "Only Ines Alder" in text(other.get(reverse("records:freezer-run-amend", args=[latest.number])))


def test_the_weeks_before_stand_beside_and_pages_cost_few_queries(
    plant: Plant, ines: Client, django_assert_max_num_queries: Any
) -> None:
    """The cup of the last run of the same product; the same number of queries however many rows."""
    by = plant.actor("ines")
    run = drawing(by)
    say(by, said(run, CUP, cup_product="88", **CUP_OF))
    plant.at(NOW + 2 * HOUR)
    draw_ends(by, drawn(run))
    say(by, said(run, ENDED))
    plant.at(NOW + 7 * 24 * HOUR)
    send(ines, reverse("records:freezer-run-new") + "?freezer=freezer", 7 * 24 * 60, product="hazelnut")
    second = FreezerEvent.objects.order_by("-number")[0].number
    page = text(ines.get(reverse("records:freezer-run-event", args=[second, "cup"])))
    assert "The same product in the two weeks before" in page and "overrun 89.66 %" in page
    for address in (reverse("records:freezer-runs"), reverse("records:freezer-run", args=[run])):
        ines.get(address)
        with django_assert_max_num_queries(60):
            assert ines.get(address).status_code == 200


@pytest.mark.parametrize(("person", "reads", "makes"), [("piet", 200, 403), ("wren", 200, 200)])
def test_who_may(plant: Plant, client_for: Callable[..., Client], person: str, reads: int, makes: int) -> None:
    """Maintenance reads runs; who logs product makes them."""
    ready_plant(plant)
    run = drawing(plant.actor("ines"))
    client = client_for(getattr(plant.people, person))
    assert client.get(reverse("records:freezer-run", args=[run])).status_code == reads
    assert client.get(reverse("records:freezer-run-event", args=[run, "cup"])).status_code == makes
