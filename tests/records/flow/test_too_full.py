"""A vessel filled beyond what it holds is asked about on the pages, and kept with its deviation whoever insists."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plant import clock
from plant.people.models import Person
from records.deviations.models import Deviation, DeviationCause
from records.flow.actions import EndData, amend_movement, end_movement
from records.flow.common import plan_at
from records.flow.history import load
from records.flow.models import Movement, MovementEnd
from records.ledger.actions import Actor
from records.receiving.models import LoadEvent
from tests.conftest import NOW, Plant
from tests.factories import PIN
from tests.records.flow.made import HOUR, made_ready, moved, movement, ran
from tests.records.flow.test_flow_pages import local, movement_form
from tests.records.receiving.made import MINUTE, arrived, screened

Browser = Callable[[Person], Client]
pytestmark = pytest.mark.django_db
NEW = "/movement/new/"
FULL = "Silo A would hold 3500 gal by the book; it can hold 3000 gal"


def about_silo() -> list[str]:
    """The sentences by which deviations say that Silo A holds too much."""
    found = Deviation.objects.filter(subject="silo-a", cause="book").values("number")
    causes = DeviationCause.objects.filter(deviation__in=found).order_by("number")
    return [one for one in causes.values_list("sentence", flat=True) if "the book says" in one]


def test_a_full_silo_filled_again_is_asked_and_kept_as_the_person_says(plant: Plant, client_for: Browser) -> None:
    """2,500 gal and 1,000 more: asked with the book's sum; ticked, kept as typed, with its deviation."""
    moved(plant.actor("tomas"), started_at=NOW - 2 * HOUR, quantity_typed="2500")
    browser = client_for(plant.people.ines)
    form = movement_form(quantity="1000", unit="gal")
    asked = browser.post(NEW, form)
    assert asked.status_code == 422 and Movement.objects.count() == 1
    text = asked.content.decode()
    assert FULL in text and 'value="1000"' in text and 'name="as_typed"' in text
    assert browser.post(NEW, form | {"quantity": "400"}).status_code == 302  # corrected: asked no more
    assert not about_silo()
    more = movement_form(quantity="600", unit="gal")
    assert browser.post(NEW, more).status_code == 422
    assert browser.post(NEW, more | {"as_typed": "on"}).status_code == 302
    assert about_silo() == ["Silo A: the book says 3500 gal, it holds 3000 gal"]


def test_the_end_of_a_filling_is_asked_too(plant: Plant, client_for: Browser) -> None:
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 2 * HOUR, quantity_typed="2500")
    row = moved(ines, ended_at=None, quantity_typed="", unit="")
    browser = client_for(plant.people.ines)
    sent = {
        "form_id": str(uuid.uuid4()), "ended_at": local(NOW), "quantity": "1000", "unit": "gal", "measured_by": "meter",
    }  # fmt: skip
    asked = browser.post(f"/movement/{row.number}/end/", sent)
    assert asked.status_code == 422 and FULL in asked.content.decode() and not MovementEnd.objects.exists()
    assert browser.post(f"/movement/{row.number}/end/", sent | {"as_typed": "on"}).status_code == 302
    assert about_silo()


def test_a_load_is_asked_before_it_is_unloaded_and_at_its_end(plant: Plant, client_for: Browser) -> None:
    """8,600 lb are 1,000 gal: with 2,500 in the silo too many, by the ticket."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR, quantity_typed="2500")
    number = arrived(ines, pounds="8600", farms=[("Nettle Farm", "8600")])
    screened(ines, number)
    browser = client_for(plant.people.ines)
    begin = {"form_id": str(uuid.uuid4()), "target": "silo-a", "happened_at": local(NOW), "begins": "1"}
    asked = browser.post(reverse("records:load-unload", args=[number]), begin)
    assert asked.status_code == 422 and "it can hold 3000 gal" in asked.content.decode()
    assert not LoadEvent.objects.filter(what="unloading begun").exists()
    assert browser.post(reverse("records:load-unload", args=[number]), begin | {"as_typed": "on"}).status_code == 302
    plant.at(clock.now() + 5 * MINUTE)
    end = {"form_id": str(uuid.uuid4()), "happened_at": local(clock.now()), "quantity": "", "unit": "lb", "words": ""}
    assert browser.post(reverse("records:load-unloaded", args=[number]), end).status_code == 422
    fitting = end | {"quantity": "400", "unit": "gal"}
    assert browser.post(reverse("records:load-unloaded", args=[number]), fitting).status_code == 302
    assert not about_silo()


def test_an_amendment_that_overfills_is_asked(plant: Plant, client_for: Browser) -> None:
    tomas = plant.actor("ines")
    moved(tomas, started_at=NOW - 2 * HOUR, quantity_typed="2500")
    row = moved(tomas, quantity_typed="100")
    browser = client_for(plant.people.ines)
    form = movement_form(
        quantity="1000", unit="gal", amend_reason="slip", signer=str(plant.people.ines.pk), signer_secret=PIN,
        started_at=local(row.started_at), ended_at=local(row.ended_at or NOW),
    )  # fmt: skip
    address = reverse("records:movement-amend", args=[row.number])
    asked = browser.post(address, form)
    assert asked.status_code == 422 and FULL in asked.content.decode()
    assert browser.post(address, form | {"as_typed": "on"}).status_code == 302
    assert about_silo()


def test_a_filling_that_comes_late_is_found_at_the_hour_it_overfills(plant: Plant) -> None:
    """Full since ten; 2,000 of eight o'clock come late: fewer than it holds at eight, too many at ten."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 2 * HOUR, quantity_typed="2500")
    moved(ines, started_at=NOW - 4 * HOUR, quantity_typed="2000")
    assert about_silo() == ["Silo A: the book says 4500 gal, it holds 3000 gal"]


def test_a_draw_that_did_not_happen_leaves_too_much(plant: Plant) -> None:
    """2,500 in, 1,000 out, 1,000 in; the draw did not happen: 3,500."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 4 * HOUR, quantity_typed="2500")
    drawn = ran(ines, started_at=NOW - 3 * HOUR, ended_at=NOW - 2 * HOUR, quantity_typed="700")
    moved(ines, started_at=NOW - HOUR, quantity_typed="1000")
    assert not about_silo()
    again = movement(
        source="silo-a", source_name="", target="finished-1", via="press-1", product="whole-milk",
        started_at=drawn.started_at, ended_at=drawn.ended_at, quantity_typed="700",
    )  # fmt: skip
    amend_movement(ines, drawn.number, again, "it was another press", void=True)
    assert about_silo() == ["Silo A: the book says 3500 gal, it holds 3000 gal"]


def test_drawing_from_an_overfull_vessel_says_it_no_second_time(plant: Plant) -> None:
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 4 * HOUR, quantity_typed="2500")
    moved(ines, started_at=NOW - 3 * HOUR, quantity_typed="2500")
    row = ran(ines, started_at=NOW - HOUR, ended_at=NOW, quantity_typed="100")
    assert about_silo() and not Deviation.objects.filter(subject="silo-a", number__gt=row.number, cause="book").exists()


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["fill", "draw", "fill and end", "amend", "void"]),
        st.integers(0, 47),  # begins so many quarters of an hour before NOW
        st.integers(1, 8),  # and lasts so many
        st.integers(1, 30).map(lambda one: one * 100),  # gal
    ),
    min_size=1, max_size=5,
)  # fmt: skip


def acted(by: Actor, kind: str, quarters: int, long: int, gallons: int, rows: list[Movement]) -> None:
    """One step, in whatever order of time; what makes no sense of it is left out."""
    start = NOW - timedelta(minutes=15 * quarters + 15)
    end = min(start + timedelta(minutes=15 * long), NOW)
    if kind in ("amend", "void"):
        if not rows:
            return
        old = rows.pop(gallons % len(rows))
        place = {"source": old.source, "source_name": old.source_name, "target": old.target, "via": old.via}
        again = movement(
            **place, product=old.product, started_at=old.started_at, ended_at=old.ended_at, quantity_typed=str(gallons),
        )  # fmt: skip
        new = amend_movement(by, old.number, again, "wrong", void=kind == "void")
        if kind == "amend":
            rows.append(new)
    elif kind == "fill and end":
        row = moved(by, started_at=start, ended_at=None, quantity_typed="", unit="")
        end_movement(by, row.number, EndData(end, str(gallons), "gal", "", "meter"))
    elif kind == "draw":
        rows.append(ran(by, started_at=start, ended_at=end, quantity_typed=str(gallons)))
    else:
        rows.append(moved(by, started_at=start, ended_at=end, quantity_typed=str(gallons)))


@pytest.mark.slow
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_the_book_never_shows_more_than_fits_without_a_deviation(plant: Plant, steps: list[tuple]) -> None:  # type: ignore[type-arg]
    """Random fills, draws, ends, amendments and voids, in any order of time: past the plan's five percent there is one.

    What is past it is told from the book at each five minutes, by other means than the search for its greatest.
    """
    capacity = Fraction(3000)
    with transaction.atomic():
        mark = transaction.savepoint()
        by, rows = plant.actor("ines"), []  # type: ignore[var-annotated]
        for step in steps:
            acted(by, *step, rows)
        told = load(plan_at(NOW).plan, NOW - 14 * HOUR, NOW, ["silo-a"]).book.vessels.get("silo-a")
        if told is None:
            return
        seen = [told.quantity_at(NOW - timedelta(minutes=5 * one)) for one in range(13 * 12)]
        most = max((one for one in seen if one is not None), default=Fraction(0))
        if most > capacity * Fraction(Decimal("1.05")):
            assert about_silo(), (steps, most)
        transaction.savepoint_rollback(mark)
