"""What is missing to decide about held product: the list ticks itself, and a full one lifts nothing."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from records.deviations import holds, queries
from records.deviations.models import Deviation, Disposition, Hold
from records.review.deciding import items
from tests.conftest import Plant
from tests.records.deviations.made import answered, disposed, read, the_hold, warm

pytestmark = pytest.mark.django_db
AGAIN = "two readings in a row in limits again"


def open_items(hold: Hold) -> list[str]:
    """What is missing now."""
    said = list(Disposition.objects.filter(hold=hold.number).order_by("number"))
    return [one.what for one in items(hold, said) if not one.done]


def test_the_list_ticks_itself_and_lifts_nothing(plant: Plant) -> None:
    deviation = warm(plant)
    hold = the_hold(deviation)
    parts = list(queries.parts_wanted(deviation).values())
    last = ["a disposition proposed, with its reason", "the second signature, another person's"]
    assert open_items(hold) == [AGAIN, *parts, *last]
    answered(plant, deviation)
    assert open_items(hold) == [AGAIN, *last]
    plant.clock.on(minutes=20)
    read(plant, "40.0")
    assert AGAIN in open_items(hold)
    plant.clock.on(minutes=20)
    read(plant, "39.8")
    assert open_items(hold) == last
    assert queries.open_holds_of(hold.lot).count() == 1
    disposed(plant, hold)
    assert open_items(hold) == [] and not queries.open_holds_of(hold.lot).exists()


def test_one_reading_between_two_bad_ones_is_no_end(plant: Plant) -> None:
    deviation = warm(plant)
    for typed in ("40.0", "47.0", "40.0"):
        plant.clock.on(minutes=20)
        read(plant, typed)
    assert Deviation.objects.count() == 1
    assert AGAIN in open_items(the_hold(deviation))


def test_another_hold_on_the_same_product_is_named(plant: Plant, client_for: Callable[..., Client]) -> None:
    hold = the_hold(warm(plant))
    holds.hold_by_hand(
        plant.actor("wren"), lot=hold.lot, lot_label=hold.lot_label, vessel=hold.vessel, since_at=hold.since_at,
        reason="smells of onions",
    )  # fmt: skip
    assert "other holds lifted" in open_items(hold)
    text = client_for(plant.people.wren).get(f"/holds/{hold.number}/").content.decode()
    assert "What is missing to decide" in text and "A full list is no permission" in text
