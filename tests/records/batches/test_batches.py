"""Batches: a sheet computed, weighed in line by line, confirmed, tested; what bars it and what follows."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.batches import state
from records.batches.actions import add, record_test, separated
from records.batches.added import add_flavor, add_vitamin
from records.batches.data import BlendTestData, FlavorData, LineData, SeparationData, StreamData, VitaminData
from records.batches.models import BatchAddition, FlavorAdded, VitaminAdded
from records.batches.second import confirm
from records.deviations.models import Deviation, Hold
from records.flow.errors import Refused, Several
from records.flow.models import Movement
from records.flow.moving import what_bars
from records.flow.queries import contents_at
from records.ingredients.models import StockEvent
from tests.conftest import Plant
from tests.records.batches.made import MINUTE, addition, ready_plant, sheet, sugar
from tests.records.flow.made import moved, movement, record_movement, washed

pytestmark = pytest.mark.django_db


def test_a_sheet_is_computed_and_weighed_in(plant: Plant) -> None:
    """Targets by the balance; each addition is a movement and a use of its lot; what is off says what the blend is."""
    row = sugar(ready_plant(plant))
    by = plant.actor("ines")
    made = sheet(by)
    # cream c, milk m: 40 c + 3.5 m = 1000; c + m = 85; so c = (1000 - 297.5) / 36.5
    assert [one["target"] for one in made.lines] == ["19.2466", "65.7534", "15"]
    data = addition(made.number, 2, "17", tare="1.5", received=row.number)
    saved = add(by, data)
    assert add(by, data).number == saved.number
    assert (saved.net, saved.off) == (Decimal("15.5"), Decimal("3.3333"))
    assert float(saved.blend["sugar"]) == pytest.approx(100 * 15.5 / 100.5, abs=1e-3)
    moved_in = Movement.objects.get(number=saved.movement)
    assert (moved_in.target, moved_in.quantity, moved_in.unit, moved_in.source_name) == (
        "blend-vat", Decimal("15.5"), "kg", "sugar S-1",
    )  # fmt: skip
    assert StockEvent.objects.get(number=saved.stock).amount == Decimal("15.5")
    batch = state.batch_of(made.number)
    assert batch is not None and any("put it right" in one for one in state.missing(batch))
    again = add(
        by,
        addition(
            made.number, 2, "16.5", tare="1.5", received=row.number, amends=saved.number, amend_reason="misread"
        ),
    )  # fmt: skip
    assert again.net == 15 and Movement.objects.get(number=again.movement).amends == saved.movement
    assert StockEvent.objects.get(number=again.stock).amends == saved.stock
    batch = state.batch_of(made.number)
    assert batch is not None and not batch.lines[2].beyond and not Deviation.objects.exists()


def test_tests_are_asked_for_and_nonsense_stands_beside_its_field(plant: Plant) -> None:
    """A stream from a vessel needs its tested fat and solids and the sample; what cannot be blended says why."""
    ready_plant(plant)
    by = plant.actor("ines")
    with pytest.raises(Refused, match="not the nominal") as refused:
        sheet(by, lines=(LineData(name="milk", source="silo-a", snf="8.7", test="4"),))
    assert refused.value.field == "fat_0"
    with pytest.raises(Refused, match="sample") as refused:
        sheet(by, lines=(LineData(name="milk", source="silo-a", fat="3.5", snf="8.7"),))
    assert refused.value.field == "test_0"
    with pytest.raises(Refused, match="fat"):
        sheet(by, sugar="", lines=(LineData(name="milk", fat="3.5", snf="8.7"),))
    made = sheet(by)
    with pytest.raises(Refused) as refused:
        add(by, addition(made.number, 2, "1", tare="2"))
    assert refused.value.field == "tare"


def test_an_allergen_asks_a_second_person_or_a_scan_and_an_undeclared_one_is_held(plant: Plant) -> None:
    """Undeclared: refused beforehand, kept with deviation and hold; nobody confirms their own addition."""
    row = sugar(ready_plant(plant), allergens=("hazelnut",))
    by = plant.actor("ines")
    made = sheet(by)
    with pytest.raises(Several, match="hazelnut, which Ice cream mix does not declare"):
        add(by, addition(made.number, 2, "15", received=row.number, begins_now=True))
    assert not BatchAddition.objects.exists() and not Movement.objects.filter(target="blend-vat").exists()
    with pytest.raises(Refused) as refused:
        add(by, addition(made.number, 2, "15", received=row.number, scanned="S-2"))
    assert refused.value.field == "scanned"
    saved = add(by, addition(made.number, 2, "15", received=row.number))
    assert Hold.objects.get().lot == Movement.objects.get(number=saved.movement).target_lot
    with pytest.raises(Refused, match="Somebody else"):
        confirm(by, saved.number, uuid.uuid4())
    tomas = plant.actor("tomas")
    assert confirm(tomas, saved.number, uuid.uuid4()).number == confirm(tomas, saved.number, uuid.uuid4()).number
    batch = state.batch_of(made.number)
    assert batch is not None and not batch.lines[2].unconfirmed


def blend(plant: Plant) -> None:
    """Two fills in the blend vat, the last ended 20 minutes ago."""
    now = clock.now()
    by = plant.actor("ines")
    for minutes in (40, 30):
        moved(
            by, target="blend-vat", product="raw-milk", quantity_typed="100",
            started_at=now - minutes * MINUTE, ended_at=now - (minutes - 10) * MINUTE,
        )  # fmt: skip


def sampled(minutes: int, **changes: Any) -> BlendTestData:
    """A sample of the blend vat so many minutes ago."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "at": clock.now() - minutes * MINUTE, "place": "blend-vat", "sample": "B-1",
        "fat": "12", "solids": "38", "method": "infrared",
    }  # fmt: skip
    return BlendTestData(**(values | changes))


def test_an_untested_blend_is_kept_from_the_press(plant: Plant) -> None:
    """Refused beforehand until a test that is later than the last fill; run all the same it is held."""
    ready_plant(plant)
    blend(plant)
    by = plant.actor("ines")
    washed(plant.actor("tomas"), "press-1", clock.now() - 15 * MINUTE)
    to_press = {"source": "blend-vat", "source_name": "", "target": "finished-1", "via": "press-1", "product": "mix"}
    record_test(by, sampled(35))
    with pytest.raises(Several, match="no fat and solids test of the blend"):
        record_movement(by, movement(**to_press, start_now=True, started_at=clock.now()))
    ran = moved(by, **to_press, started_at=clock.now() - 5 * MINUTE, ended_at=clock.now() - MINUTE)
    assert "no fat and solids test" in Deviation.objects.get(control_point="blend test").sentence
    assert Hold.objects.filter(lot=ran.target_lot).exists()
    wrong = record_test(by, sampled(3))
    record_test(by, sampled(3, fat="11.8", amends=wrong.number, amend_reason="typed wrong"))
    barred = what_bars(movement(**to_press, started_at=clock.now(), ended_at=clock.now()))
    assert not [one for one in barred if "fat and solids" in one]
    with pytest.raises(Refused) as nonsense:
        record_test(by, sampled(1, fat="40"))
    assert nonsense.value.field == "fat"


def test_a_separation_shows_its_difference(plant: Plant) -> None:
    """1000 kg at 3.8 % into 40 % cream and 0.05 % skim is 93.87 kg of cream; 94.5 were weighed, within their doubt."""
    ready_plant(plant)
    row = separated(
        plant.actor("ines"),
        SeparationData(
            form_id=uuid.uuid4(), at=clock.now(), place="press-1", milk=StreamData(mass="1000", fat="3.8", mass_u="5"),
            cream=StreamData(mass="94.5", fat="40", mass_u="0.5"), skim=StreamData(mass="903", fat="0.05"),
        ),
    )  # fmt: skip
    assert row.computed["cream"] == "93.8673" and row.computed["skim"] == "906.1327"
    assert float(row.computed["cream_off"]) == pytest.approx(0.6327)
    # one standard deviation: 0.5 of the cream weighed and 5 x 0.093867 of the milk
    assert float(row.computed["cream_off_u"]) == pytest.approx((0.5**2 + (5 * 0.0938673) ** 2) ** 0.5, abs=1e-4)


@pytest.mark.parametrize(
    ("amount", "iu", "said"), [("40", 2000, ""), ("39.9", 1995, "at least 2000"), ("61", 3050, "at most 3000")]
)
def test_vitamins_over_and_under_are_deviations(plant: Plant, amount: str, iu: int, said: str) -> None:
    """200,000 IU/mL in 1000 gal: 40 mL are 2000 IU a quart; less and half as much again are not in order."""
    row = sugar(ready_plant(plant), item="vitamin A concentrate", unit="mL", quantity="500")
    saved = add_vitamin(
        plant.actor("ines"),
        VitaminData(
            form_id=uuid.uuid4(), at=clock.now(), vitamin="A", place="blend-vat", product="whole-milk",
            received=row.number, strength="200000", amount=amount, milk="1000", milk_unit="gal",
        ),
    )  # fmt: skip
    assert saved.iu_per_quart == iu and VitaminAdded.objects.count() == 1
    found = " ".join(Deviation.objects.values_list("sentence", flat=True))
    assert (said in found and "131.110(b)" in found) if said else not found


def test_a_flavor_says_why_it_may_go_in_unheated(plant: Plant) -> None:
    """Without a reason refused beforehand, kept with deviation and hold; with one it is a movement like any other."""
    row = sugar(ready_plant(plant))
    by = plant.actor("ines")
    values: dict[str, Any] = {
        "at": clock.now(), "place": "flavor-vat", "product": "mix", "received": row.number, "amount": "3", "unit": "kg"
    }
    with pytest.raises(Several, match="no reason is given"):
        add_flavor(by, FlavorData(form_id=uuid.uuid4(), begins_now=True, **values))
    assert not FlavorAdded.objects.exists()
    reason = {"why": "dry or low moisture", "why_words": "certificate S-1, water activity 0.4"}
    add_flavor(by, FlavorData(form_id=uuid.uuid4(), **reason, **values))
    assert not Deviation.objects.exists() and contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].holds
    with pytest.raises(Refused) as refused:
        add_flavor(by, FlavorData(form_id=uuid.uuid4(), why="acid", **values))
    assert refused.value.field == "why_words"
    add_flavor(by, FlavorData(form_id=uuid.uuid4(), **values))
    assert "no reason is given" in Deviation.objects.get().sentence and Hold.objects.count() == 1


def test_the_pages(plant: Plant, client_for: Callable[..., Client], django_assert_max_num_queries: Any) -> None:
    """A line weighed in by its page, confirmed by another, tested, amended; each page opens in few queries."""
    row = sugar(ready_plant(plant), allergens=("milk",))
    made = sheet(plant.actor("ines"))
    ines, tomas = client_for(plant.people.ines), client_for(plant.people.tomas)
    address = reverse("records:batch-add", args=[made.number, 2])
    body = {"form_id": str(uuid.uuid4()), "at": "11:29", "received": str(row.number), "scanned": "", "gross": "15",
            "tare": "0", "scale": "batch scale", "note": ""}  # fmt: skip
    page = ines.post(address, {**body, "gross": "fifteen"}).content.decode()
    assert 'value="fifteen"' in page and "15 kg of sugar" in page
    page = ines.post(address, body, follow=True).content.decode()
    assert "a second person has to confirm it" in page
    saved = BatchAddition.objects.get()
    page = tomas.post(reverse("records:batch-confirm", args=[saved.number]), follow=True).content.decode()
    assert "The addition is confirmed" in page and "a second person has not" not in page
    test = {"form_id": str(uuid.uuid4()), "at": "11:29", "place": "blend-vat", "sheet": str(made.number),
            "sample": "B-1", "fat": "10.1", "solids": "37", "method": "infrared", "note": ""}  # fmt: skip
    page = ines.post(reverse("records:blend-test"), test, follow=True).content.decode()
    assert "10.1" in page and "no fat and solids test" not in page
    amend = reverse("records:batch-amend", args=[saved.number])
    more = {**body, "form_id": str(uuid.uuid4()), "gross": "14.9", "reason": "tare forgotten"}
    assert "tare forgotten" in ines.post(amend, more, follow=True).content.decode()
    assert 'value="118"' in ines.get(reverse("records:batch-amend", args=[made.number])).content.decode()
    with django_assert_max_num_queries(60):
        assert "14.9 kg" in ines.get(reverse("records:batch", args=[made.number])).content.decode()
    for name in ("batches", "batch-new", "separation", "vitamin", "flavor"):
        assert ines.get(reverse(f"records:{name}")).status_code == 200
