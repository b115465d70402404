"""The pages of the flow: what they show, who may use them, and what a form that is wrong does."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from plant.people.models import Person
from records.deviations.models import Deviation
from records.flow.actions import set_service
from records.flow.choices import OUTSIDE
from records.flow.models import LevelSeen, Movement, MovementEnd, NoProduction, PlantEvent, ServiceState, Wash
from records.ledger.models import Entry
from tests.conftest import INSTALLED, NOW, Plant
from tests.factories import PASSWORD, PIN
from tests.records.flow.made import HOUR, made_ready, moved, ran

Browser = Callable[[Person], Client]


def local(moment: Any) -> str:
    """A moment as the page's field has it: on Chicago's clocks."""
    return str((moment - timedelta(hours=6)).strftime("%Y-%m-%dT%H:%M"))


def movement_form(**changes: str) -> dict[str, str]:
    """The form of a delivery, filled in: whole milk, for raw milk comes as a load (tests/records/receiving)."""
    return {
        "form_id": str(uuid.uuid4()),
        "source": OUTSIDE,
        "source_name": "Nettle Farm",
        "target": "silo-a",
        "via": "",
        "product": "whole-milk",
        "started_at": local(NOW - HOUR),
        "ended_at": local(NOW - HOUR / 2),
        "quantity": "500",
        "unit": "gal",
        "measured_by": "meter",
        "uncertainty": "",
        "code": "",
        "note": "",
        **changes,
    }


def wash_form(**changes: str) -> dict[str, str]:
    """A wash's form, filled in."""
    return {
        "form_id": str(uuid.uuid4()),
        "started_at": local(NOW - HOUR),
        "ended_at": local(NOW - HOUR / 2),
        "method": "circuit 2",
        "temperature": "165",
        "temperature_unit": "°F",
        "strength": "1.5 %",
        "contact_min": "10",
        "note": "",
        **changes,
    }


def level_form(**changes: str) -> dict[str, str]:
    """A level's form, filled in."""
    values = {"form_id": str(uuid.uuid4()), "quantity": "400", "unit": "gal", "seen_at": local(NOW), "note": ""}
    return {**values, **changes}


def event_form(**changes: str) -> dict[str, str]:
    """An event's form, filled in."""
    values = {"form_id": str(uuid.uuid4()), "event": "visitor", "subject": "", "happened_at": local(NOW)}
    return {**values, "reference": "two people", "note": "", **changes}


def signed(plant: Plant, first_name: str) -> dict[str, str]:
    """The two components of that person."""
    person: Person = getattr(plant.people, first_name)
    if first_name == "ines":
        return {"signer": str(person.id), "signer_secret": PIN}
    return {"signer": person.sign_in, "signer_secret": PASSWORD}


def text(response: Any) -> str:
    """What the page says."""
    return str(response.content.decode())


# --- the Floor and a vessel's page


def test_the_floor_says_what_each_vessel_holds(plant: Plant, client_for: Browser) -> None:
    """In flow order, in words, with quantity of capacity and since when."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    page = text(client_for(plant.people.ines).get("/floor/"))
    assert page.index("Silo A") < page.index("Press 1") < page.index("Finished 1")
    assert "500 of 3000 gal" in page
    assert "holds product since 08:30" in page
    assert "sanitized" in page


def test_the_floor_offers_to_end_what_runs(plant: Plant, client_for: Browser) -> None:
    """One tap from the Floor to the end of a running movement."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    row = ran(ines, ended_at=None)
    assert f"/movement/{row.number}/end/" in text(client_for(plant.people.ines).get("/floor/"))


def test_the_floor_names_deviations_and_holds(plant: Plant, client_for: Browser) -> None:
    """A sentence in words, for everybody."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    moved(ines, source="silo-a", source_name="", target="finished-1")
    page = text(client_for(plant.people.guest).get("/floor/"))
    assert "on hold: Raw product into Finished 1" in page
    assert f"deviation {Deviation.objects.get().number}: Raw product" in page


def test_only_makers_get_the_acts(plant: Plant, client_for: Browser) -> None:
    """An inspector reads; no button asks for what would be refused."""
    page = text(client_for(plant.people.guest).get("/floor/"))
    assert "/movement/new/" not in page
    assert "/service/" not in page


def test_maintenance_may_take_out_of_service(plant: Plant, client_for: Browser) -> None:
    """And does not log washes."""
    page = text(client_for(plant.people.piet).get("/floor/"))
    assert "/vessel/silo-a/service/" in page
    assert "/vessel/silo-a/washed/" not in page


@pytest.mark.parametrize("address", ["/floor/", "/vessel/silo-a/", "/vessel/press-1/", "/vessel/finished-1/"])
@pytest.mark.parametrize("name", ["ines", "wren", "odile", "hanne", "piet", "guest", "admin"])
def test_everybody_reads_the_floor(plant: Plant, client_for: Browser, name: str, address: str) -> None:
    """The pages of vessels are open to every role."""
    response = client_for(getattr(plant.people, name)).get(address)
    assert response.status_code == 200
    assert text(response).count("<h1") == 1


def test_a_vessels_page_tells_its_day(plant: Plant, client_for: Browser) -> None:
    """Movements, washes, levels and events of the plant day stand in one list."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    client = client_for(plant.people.ines)
    client.post("/vessel/silo-a/level/", level_form(quantity="480"))
    page = text(client.get("/vessel/silo-a/"))
    assert "Raw milk, 500 gal, from Nettle Farm into Silo A" in page
    assert "480 gal · loss -20 gal" in page
    assert "circuit 2" in page


def test_a_vessels_page_leads_back_to_its_place_on_the_floor(plant: Plant, client_for: Browser) -> None:
    """The link names the vessel's own place, and the Floor has a place of that name."""
    client = client_for(plant.people.wren)
    assert 'href="/floor/#silo-a"' in text(client.get("/vessel/silo-a/"))
    assert 'id="silo-a"' in text(client.get("/floor/"))


def test_a_vessels_page_of_another_day(plant: Plant, client_for: Browser) -> None:
    """The day before is one tap away; nonsense shows today."""
    moved(plant.actor("ines"), started_at=NOW - timedelta(days=1))
    client = client_for(plant.people.ines)
    assert "Nettle Farm" in text(client.get("/vessel/silo-a/?day=2026-03-02"))
    assert "2026-03-03" in text(client.get("/vessel/silo-a/?day=soon"))


@pytest.mark.parametrize(
    "address",
    ["/vessel/tank-of-another-plant/", "/vessel/nope/washed/", "/vessel/press-1/level/", "/movement/999999/"],
)
def test_what_the_plan_does_not_know_is_not_found(plant: Plant, client_for: Browser, address: str) -> None:
    """A foreign vessel's code, a movement that is none."""
    assert client_for(plant.people.ines).get(address).status_code == 404


@pytest.mark.parametrize("address", ["/floor/", "/vessel/silo-a/", "/movement/new/", "/event/", "/no-production/"])
def test_before_any_plan_the_pages_say_so(plant: Plant, client_for: Browser, address: str) -> None:
    """No vessel is known yet: a plain page, not an error."""
    plant.at(INSTALLED + timedelta(minutes=30))
    response = client_for(plant.people.ines).get(address)
    assert response.status_code == 409
    assert "No hazard plan is in force yet" in text(response)


# --- recording from the pages


def test_a_movement_from_its_page(plant: Plant, client_for: Browser) -> None:
    """It is saved, what followed is said, and the vessel's page comes."""
    response = client_for(plant.people.ines).post("/movement/new/", movement_form(), follow=True)
    row = Movement.objects.get()
    assert (row.source, row.source_name, row.by_name) == ("", "Nettle Farm", "Ines Alder")
    assert (row.started_at, row.ended_at) == (NOW - HOUR, NOW - HOUR / 2)
    assert response.redirect_chain[-1][0] == "/vessel/silo-a/"
    assert "Deviation" in text(response)


def test_the_page_of_a_movement_is_filled_in(plant: Plant, client_for: Browser) -> None:
    """From the silo: product, quantity by the book, the time now."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    form = client_for(plant.people.ines).get("/movement/new/?from=silo-a").context["form"]
    assert form.initial["product"] == "raw-milk"
    assert form.initial["quantity"] == "500"
    assert form.initial["started_at"] == NOW


def test_begins_now_is_refused_while_something_stands_against_it(plant: Plant, client_for: Browser) -> None:
    """The reasons are on the page, what was typed too, and nothing is written."""
    count = Entry.objects.count()
    form = movement_form(begins_now="1", note="typed words")
    response = client_for(plant.people.ines).post("/movement/new/", form)
    assert response.status_code == 422
    assert "Silo A was not washed before this product" in text(response)
    assert "typed words" in text(response)
    assert Entry.objects.count() == count


def test_a_double_tap_saves_once(plant: Plant, client_for: Browser) -> None:
    """Both answers are the vessel's page."""
    client, form = client_for(plant.people.ines), movement_form()
    first, second = client.post("/movement/new/", form), client.post("/movement/new/", form)
    assert (first.status_code, second.status_code) == (302, 302)
    assert Movement.objects.count() == 1


def test_the_back_button_shows_what_was_saved(plant: Plant, client_for: Browser) -> None:
    """Other content under the same form is refused, with the saved entry and the way to amend it."""
    client, form = client_for(plant.people.ines), movement_form()
    client.post("/movement/new/", form)
    response = client.post("/movement/new/", form | {"quantity": "505"})
    assert response.status_code == 422
    assert f"/movement/{Movement.objects.get().number}/" in text(response)


def test_the_end_of_a_movement_from_its_page(plant: Plant, client_for: Browser) -> None:
    """Ended, with its quantity; the vessel that it came from is empty when ticked."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    row = ran(ines, ended_at=None, quantity_typed="")
    form = {
        "form_id": str(uuid.uuid4()),
        "ended_at": local(NOW),
        "quantity": "490",
        "unit": "gal",
        "measured_by": "meter",
        "uncertainty": "",
        "emptied": "on",
        "note": "",
    }
    client = client_for(plant.people.ines)
    assert client.get(f"/movement/{row.number}/end/").status_code == 200
    assert client.post(f"/movement/{row.number}/end/", form).status_code == 302
    assert MovementEnd.objects.get().quantity == 490
    assert LevelSeen.objects.get().vessel == "silo-a"


def test_washed_and_sanitized_are_two_records(plant: Plant, client_for: Browser) -> None:
    """Two forms, two entries."""
    client = client_for(plant.people.ines)
    client.post("/vessel/silo-a/washed/", wash_form())
    client.post("/vessel/silo-a/sanitized/", wash_form(strength="100 mg/L"))
    assert list(Wash.objects.order_by("number").values_list("what", "strength")) == [
        ("washed", "1.5 %"),
        ("sanitized", "100 mg/L"),
    ]


def test_washing_what_the_book_calls_full_asks_whether_it_was_empty(plant: Plant, client_for: Browser) -> None:
    """Refused beside the tick; with the tick it is kept, and the loss is a level of nothing."""
    moved(plant.actor("ines"), started_at=NOW - 3 * HOUR)
    client, form = client_for(plant.people.ines), wash_form()
    response = client.post("/vessel/silo-a/washed/", form)
    assert response.status_code == 422
    assert "Tick that it was empty" in text(response)
    assert not Wash.objects.exists()
    assert client.post("/vessel/silo-a/washed/", form | {"was_empty": "on"}).status_code == 302
    level = LevelSeen.objects.get()
    assert (level.quantity, level.book, level.difference) == (0, 500, -500)


def test_washing_begins_with_one_tap(plant: Plant, client_for: Browser) -> None:
    """The vessel is 'being washed' until the wash is recorded, which knows when it began."""
    client = client_for(plant.people.ines)
    form = {"form_id": str(uuid.uuid4())}
    client.post("/vessel/silo-a/wash-begins/", form)
    client.post("/vessel/silo-a/wash-begins/", form)
    assert PlantEvent.objects.get().event == "wash begun"
    assert "being washed" in text(client.get("/floor/"))
    plant.clock.on(minutes=30)
    assert client.get("/vessel/silo-a/washed/").context["form"].initial["started_at"] == NOW


def test_washing_does_not_begin_in_a_full_vessel(plant: Plant, client_for: Browser) -> None:
    """What left it comes first."""
    moved(plant.actor("ines"))
    response = client_for(plant.people.ines).post(
        "/vessel/silo-a/wash-begins/", {"form_id": str(uuid.uuid4())}, follow=True
    )
    assert "holds product by the book" in text(response)
    assert not PlantEvent.objects.exists()


def test_a_level_seen_from_its_page(plant: Plant, client_for: Browser) -> None:
    """What the book said and the difference are kept with it."""
    moved(plant.actor("ines"))
    client_for(plant.people.ines).post("/vessel/silo-a/level/", level_form())
    level = LevelSeen.objects.get()
    assert (level.quantity_typed, level.book, level.difference) == ("400", 500, -100)


def test_an_event_from_its_page(plant: Plant, client_for: Browser) -> None:
    """Kept, and listed on the page."""
    response = client_for(plant.people.ines).post("/event/", event_form(), follow=True)
    assert PlantEvent.objects.get().reference == "two people"
    assert "two people" in text(response)


def test_out_of_service_from_its_page(plant: Plant, client_for: Browser) -> None:
    """With a reason; a double tap says it once."""
    client = client_for(plant.people.piet)
    form = {"form_id": str(uuid.uuid4()), "reason": "seal of the agitator", "out": "yes"}
    client.post("/vessel/silo-a/service/", form)
    client.post("/vessel/silo-a/service/", form)
    assert ServiceState.objects.get().out
    assert "out of service" in text(client.get("/floor/"))


def test_no_production_is_signed(plant: Plant, client_for: Browser) -> None:
    """Both components, afresh; a wrong PIN writes nothing of the day."""
    client = client_for(plant.people.ines)
    form = {"form_id": str(uuid.uuid4()), "day": "2026-03-03", "shift": "late", "reason": "no milk today"}
    wrong = signed(plant, "ines") | {"signer_secret": "111111"}
    assert client.post("/no-production/", form | wrong).status_code == 422
    assert not NoProduction.objects.exists()
    assert client.post("/no-production/", form | signed(plant, "ines")).status_code == 302
    assert NoProduction.objects.get().shift == "late"


# --- amendments


def test_an_amendment_shows_both(plant: Plant, client_for: Browser) -> None:
    """The old one struck through, the new one with its reason."""
    row = moved(plant.actor("ines"))
    client = client_for(plant.people.ines)
    changed = {"product": "raw-milk", "quantity": "450", "amend_reason": "read the ticket again"}
    form = movement_form(**changed, **signed(plant, "ines"))
    assert client.get(f"/movement/{row.number}/amend/").status_code == 200
    response = client.post(f"/movement/{row.number}/amend/", form, follow=True)
    page = text(response)
    assert Movement.objects.get(amends=row.number).quantity == 450
    assert 'class="struck">Raw milk, 500 gal' in page
    assert "read the ticket again" in page
    vessel = text(client.get("/vessel/silo-a/"))
    assert 'class="struck">Raw milk, 500 gal' in vessel and 'class="amended">Raw milk, 450 gal' in vessel


def test_an_amendment_without_the_pin_changes_nothing(plant: Plant, client_for: Browser) -> None:
    """The second component is asked afresh."""
    row = moved(plant.actor("ines"))
    form = movement_form(quantity="450", amend_reason="slip", signer=signed(plant, "ines")["signer"], signer_secret="1")
    assert client_for(plant.people.ines).post(f"/movement/{row.number}/amend/", form).status_code == 422
    assert Movement.objects.count() == 1


def test_anothers_movement_is_not_amended_by_an_operator(plant: Plant, client_for: Browser) -> None:
    """The page says who may."""
    row = moved(plant.actor("ines"))
    response = client_for(plant.people.tomas).get(f"/movement/{row.number}/amend/", follow=True)
    assert "Only Ines Alder or a supervisor" in text(response)


# --- rights, GET, bad input

MAKING = [
    "/movement/new/",
    "/movement/{number}/end/",
    "/movement/{number}/amend/",
    "/vessel/silo-a/washed/",
    "/vessel/silo-a/sanitized/",
    "/vessel/silo-a/wash-begins/",
    "/vessel/silo-a/level/",
    "/event/",
    "/no-production/",
]


@pytest.mark.parametrize("address", MAKING)
@pytest.mark.parametrize("name", ["piet", "guest", "admin"])
def test_who_logs_nothing_is_refused(plant: Plant, client_for: Browser, name: str, address: str) -> None:
    """Maintenance, inspector and administrator write nothing of the flow."""
    row = moved(plant.actor("ines"))
    count = Entry.objects.count()
    client = client_for(getattr(plant.people, name))
    assert client.post(address.format(number=row.number), movement_form()).status_code == 403
    assert Entry.objects.count() == count


@pytest.mark.parametrize("address", ["/floor/", "/vessel/silo-a/", *MAKING])
def test_reading_a_page_writes_nothing(plant: Plant, client_for: Browser, address: str) -> None:
    """GET changes nothing."""
    row = moved(plant.actor("ines"), ended_at=None)
    count = Entry.objects.count()
    response = client_for(plant.people.ines).get(address.format(number=row.number))
    assert response.status_code in (200, 405)
    assert Entry.objects.count() == count


BAD = [
    "abc",
    "4..2",
    "4,5",
    "-5",
    "1e99",
    "\x00",
    "<script>alert(1)</script>",
    "9" * 40,
    "NaN",
    "١٢",
    "x" * 1_000_000,
    "",
]


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize(
    ("address", "make", "fields"),
    [
        ("/movement/new/", movement_form, ("quantity", "source", "target", "via", "product", "started_at", "unit")),
        ("/vessel/silo-a/washed/", wash_form, ("temperature", "contact_min", "ended_at", "temperature_unit")),
        ("/vessel/silo-a/level/", level_form, ("quantity", "unit", "seen_at")),
        ("/event/", event_form, ("event", "subject", "happened_at")),
    ],
)
def test_nonsense_gets_a_sentence(
    plant: Plant,
    client_for: Browser,
    bad: str,
    address: str,
    make: Callable[..., dict[str, str]],
    fields: tuple[str, ...],
) -> None:
    """Each field in turn: beside the field a sentence, or saved where it may be empty; never an error page."""
    client = client_for(plant.people.ines)
    for field in fields:
        count = Entry.objects.count()
        response = client.post(address, make(**{field: bad}))
        assert response.status_code in ((422,) if bad not in ("", "-5", "9" * 40) else (422, 302)), field
        if response.status_code == 422:
            assert Entry.objects.count() == count
            assert field in response.context["form"].errors
            assert "<script>alert" not in text(response)


@pytest.mark.parametrize("field", ["note", "source_name", "code", "form_id", "measured_by", "uncertainty"])
@pytest.mark.parametrize("bad", ["\x00", "x" * 1_000_000])
def test_long_and_broken_texts_get_a_sentence(plant: Plant, client_for: Browser, field: str, bad: str) -> None:
    """A note of a megabyte, a NUL: refused beside the field, nothing written."""
    count = Entry.objects.count()
    response = client_for(plant.people.ines).post("/movement/new/", movement_form(**{field: bad}))
    assert response.status_code == 422
    assert field in response.context["form"].errors
    assert Entry.objects.count() == count


def test_a_script_in_a_note_is_text(plant: Plant, client_for: Browser) -> None:
    """What is typed is shown as it was typed, never run."""
    client = client_for(plant.people.ines)
    client.post("/movement/new/", movement_form(note="<script>alert(1)</script>"))
    page = text(client.get(f"/movement/{Movement.objects.get().number}/"))
    assert "&lt;script&gt;alert(1)" in page and "<script>alert(1)" not in page


def test_what_was_typed_stands_in_the_form_again(plant: Plant, client_for: Browser) -> None:
    """A wrong field costs no other one."""
    response = client_for(plant.people.ines).post("/movement/new/", movement_form(quantity="4..2", source_name="Oxbow"))
    assert 'value="4..2"' in text(response) and 'value="Oxbow"' in text(response)


def test_a_time_of_the_last_hour_may_be_typed_alone(plant: Plant, client_for: Browser) -> None:
    """'08:15' is today's; one still to come is yesterday's."""
    client_for(plant.people.ines).post("/movement/new/", movement_form(started_at="23:10", ended_at="08:15"))
    row = Movement.objects.get()
    assert (local(row.started_at), local(row.ended_at)) == ("2026-03-02T23:10", "2026-03-03T08:15")


def test_service_of_a_vessel_says_what_stands(plant: Plant, client_for: Browser) -> None:
    """Taking out twice for another reason is answered with a sentence."""
    set_service(plant.actor("piet"), "silo-a", True, "seal")
    form = {"form_id": str(uuid.uuid4()), "reason": "other", "out": "yes"}
    response = client_for(plant.people.wren).post("/vessel/silo-a/service/", form)
    assert response.status_code == 422
    assert "out of service already" in text(response)
