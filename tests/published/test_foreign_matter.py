"""Foreign matter against the published guide: FDA Compliance Policy Guide Sec. 555.425."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from plant.process.errors import OutsideRange
from plant.process.foreign_matter import missing_parts, span_of
from records.deviations.models import Deviation, Hold
from records.foreign_matter.models import StrainerLook
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, ran
from tests.records.freezer_runs.test_pages import text

pytestmark = pytest.mark.once


# CPG Sec. 555.425, foods, adulteration involving hard or sharp foreign objects: 7 mm to 25 mm in length (from memory).
@pytest.mark.parametrize(
    ("length", "span"),
    [("0.1", "below"), ("6.99", "below"), ("7", "within"), ("7.0", "within"), ("25", "within"), ("25.01", "above")],
)
def test_lengths_of_the_guide(length, span):
    """Both ends belong to the guide's lengths."""
    assert span_of(Decimal(length)) == span


def test_no_length_at_all_and_none_so_long():
    """Nonsense is refused, not put below."""
    for length in ("0", "-3", "10001"):
        with pytest.raises(OutsideRange):
            span_of(Decimal(length))


def test_a_surplus_of_one_part_makes_up_for_no_other():
    """By definition; a part that was not counted is missing altogether."""
    assert missing_parts({"blade": 6, "screw": 4, "seal": 1}, {"blade": 6, "screw": 5}) == {"seal": 1}


# The same guide, asked of the page. It is for hard or sharp objects; below 7 mm it still asks about infants, surgery
# patients and the elderly, above 25 mm it leaves it to judgment (from memory). No length lets product go.
@pytest.mark.django_db
@pytest.mark.parametrize("hard", ["yes", "no"])
@pytest.mark.parametrize(
    ("length", "said"),
    [
        ("6.9", "Shorter than 7 mm"), ("7", "Within 7 to 25 mm"), ("25", "Within 7 to 25 mm"),
        ("25.1", "Longer than 25 mm"),
    ],
)  # fmt: skip
def test_the_page_tells_the_guides_lengths_and_every_find_holds_what_ran(
    plant: Plant, client_for: Callable[..., Client], length: str, said: str, hard: str
) -> None:
    """Told by its length, hard or not; a deviation, and the run before it on hold, at each of them."""
    by = plant.actor("ines")
    made_ready(by, NOW - 6 * HOUR)
    moved(by, started_at=NOW - 5 * HOUR)
    run = ran(by, started_at=NOW - 2 * HOUR, ended_at=NOW - 2 * HOUR + timedelta(minutes=20), quantity_typed="50")
    in_force = plan_in_force(NOW)
    assert in_force is not None
    sent = {
        "form_id": str(uuid.uuid4()), "at": f"{in_force.calendar.local(NOW):%Y-%m-%dT%H:%M}", "length": length,
        "found": "something caught", "after": "run", "hard": hard, "note": "",
    }  # fmt: skip
    address = reverse("records:foreign-matter-new", args=["strainer", "press-1"])
    page = text(client_for(plant.people.ines).post(address, sent, follow=True))
    assert said in page and "not a permission" in page
    assert ("The guide is about hard or sharp objects." in page) is (hard == "no")
    row = StrainerLook.objects.get()
    assert not row.good and row.length_mm == Decimal(length)
    deviation = Deviation.objects.get()
    held = Hold.objects.get()
    assert (held.deviation, held.lot) == (deviation.number, run.target_lot)
