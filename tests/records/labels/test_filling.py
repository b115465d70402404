"""Lines cleared, packaging opened and counted, allergens: what is refused beforehand, and what follows afterwards."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant import clock
from plant.people.models import Person
from records.deviations.models import Deviation, Hold
from records.flow.actions import MovementData, record_movement
from records.flow.common import plan_at
from records.flow.errors import DifferentContent, Refused, Several
from records.labels import actions
from records.labels.data import CountedData
from records.labels.models import STILL, LineClearance, PackagingCounted, PackagingOpened
from records.labels.queries import last_clearance, on_the_line, packs_with_roll
from records.labels.sequence import verification_owed
from tests.conftest import Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import seen
from tests.records.labels.made import (
    at,
    clearing,
    looked,
    made_clear,
    opened,
    opening,
    packed,
    packing,
    ready_plant,
)

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]


@pytest.fixture
def filling(plant: Plant) -> Plant:
    """An hour after NOW."""
    return ready_plant(plant)


def why(plant: Plant, *args: str) -> str:
    """What refuses packing that would begin now."""
    with pytest.raises(Several) as refused:
        record_movement(plant.actor("ines"), packing(*args))
    return " ".join(refused.value.sentences)


def test_a_change_of_product_asks_for_a_clearance_and_a_second_person(filling: Plant) -> None:
    """Refused without either, with what is still there, by the same person; then it begins; the same product again."""
    ines, tomas = filling.actor("ines"), filling.actor("tomas")
    assert why(filling) == "Filler: no clearance of the line since what ran before is recorded"
    answers = {**clearing().answers, "lids": STILL}
    left = actions.clear_line(ines, clearing(answers=answers))
    assert not left.clear and "something of the last product is still there" in why(filling)
    cleared = actions.clear_line(ines, clearing())
    assert f"clearance {cleared.number} has no second person's check" in why(filling)
    with pytest.raises(Refused, match="another one than who cleared"):
        actions.check_clearance(ines, looked(cleared))
    with pytest.raises(Refused, match="what was found"):
        actions.check_clearance(tomas, looked(cleared, agrees=False))
    actions.check_clearance(tomas, looked(cleared, agrees=False, note="a lid under the belt"))
    assert "did not find it clear" in why(filling)
    filling.at(at(61))
    actions.check_clearance(tomas, looked(cleared))
    record_movement(ines, packing())
    filling.at(at(70))
    record_movement(ines, packing(code="whole-milk 2"))
    assert not Deviation.objects.exists()
    assert "no clearance of the line since Whole milk is recorded" in why(filling, "vat", "nut-milk")
    filling.at(at(60 + 9 * 60))
    assert "no clearance" in why(filling, "vat", "nut-milk")


def test_packing_that_happened_without_a_clearance_is_kept_and_held(filling: Plant) -> None:
    """A deviation at the control of labels, the packs on hold; a plan that asks for no clearance asks for none."""
    row = packed(filling.actor("ines"), minutes=50)
    deviation = Deviation.objects.get()
    assert (deviation.control_point, deviation.subject) == ("label", "filler")
    assert Hold.objects.get().lot == row.target_lot


def test_an_older_clearance_than_the_plan_allows_does_not_count(filling: Plant) -> None:
    """Eight hours here."""
    made_clear(filling)
    filling.at(at(60 + 8 * 60 + 1))
    assert "longer ago than the 8 h of the plan" in why(filling)


def test_an_allergen_on_the_line_asks_for_a_wash_and_its_verification(filling: Plant) -> None:
    """Hazelnut milk, then whole milk: not before the wash, nor before the plan's check of the changeover is good."""
    ines = filling.actor("ines")
    packed(ines, "vat", "nut-milk", minutes=50)
    made_clear(filling)
    assert "Filler: Hazelnut milk ran since the last wash: tree nuts" in why(filling)
    filling.at(at(90))
    washed(ines, "filler", at(70))
    made_clear(filling)
    said = "Hazelnut milk ran before the wash (tree nuts); not shown good since: Allergen contact seen good"
    assert said in why(filling)
    seen(ines, "contact-seen", "filler", "no")
    assert said in why(filling)
    packed(ines, minutes=89, lasting=0)  # it happened all the same: held; another wash proves nothing either
    assert Hold.objects.filter(reason__contains="not shown good since").exists()
    filling.at(at(120))
    washed(ines, "filler", at(100))
    made_clear(filling)
    assert said in why(filling)
    seen(ines, "contact-seen", "filler")
    record_movement(ines, packing(code="whole-milk 3"))
    filling.at(at(150))
    seen(ines, "contact-seen", "filler", "no")
    assert said in why(filling)  # the latest decides


def test_filling_names_the_verification_as_soon_as_the_wash_is_owed(filling: Plant, client_for: Browser) -> None:
    """Owed with the checks that follow it; washed, what is not shown good; shown good, nothing."""
    ines, browser = filling.actor("ines"), client_for(filling.people.ines)
    packed(ines, "vat", "nut-milk", minutes=50)
    page = browser.get(reverse("records:filling")).content.decode()
    then = page.index("to be shown good before such a product")
    assert page.index("Hazelnut milk ran since the last wash: tree nuts") < then
    assert "Allergen contact seen good" in page[then:]
    filling.at(at(90))
    washed(ines, "filler", at(70))
    page = browser.get(reverse("records:filling")).content.decode()
    assert "Hazelnut milk ran before the wash (tree nuts); not shown good since: Allergen contact seen good" in page
    assert "ran since the last wash" not in page
    seen(ines, "contact-seen", "filler")
    assert "not shown good since" not in browser.get(reverse("records:filling")).content.decode()


def test_the_verification_of_all_products_costs_as_much_as_of_one(filling: Plant) -> None:
    """Two allergens of two days, in plans of four and of forty products: the same queries, and each is named once."""
    ines = filling.actor("ines")
    packed(ines, "vat", "nut-milk", minutes=50)
    filling.at(at(90))
    washed(ines, "filler", at(70))
    plan = plan_at(clock.now())
    costs = []
    for copies in (0, 36):
        more = tuple(replace(plan.plan.products[-2], code=f"milk-{one}") for one in range(copies))
        wide = replace(plan, plan=replace(plan.plan, products=(*plan.plan.products, *more)))
        with CaptureQueriesContext(connection) as captured:
            assert len(verification_owed("filler", clock.now(), wide)) == 1
        costs.append(len(captured))
    assert costs[0] == costs[1] <= 5


def test_the_other_way_round_asks_for_no_wash(filling: Plant) -> None:
    """Fewest allergens first: whole milk brings nothing that hazelnut milk does not declare."""
    packed(filling.actor("ines"), minutes=50)
    made_clear(filling, "nut-milk")
    record_movement(filling.actor("ines"), packing("vat", "nut-milk"))


def test_rework_brings_its_allergen_into_the_packs(filling: Plant) -> None:
    """Hazelnut milk went into the whole milk: what is packed from it does not declare tree nuts. It happened: held."""
    ines = filling.actor("ines")
    made_clear(filling)
    record_movement(ines, MovementData(uuid.uuid4(), "vat", "finished-1", "whole-milk", at(50), ended_at=at(55)))
    filling.at(at(61))
    sentence = "Whole milk does not declare tree nuts, which came with: Hazelnut milk"
    assert sentence in why(filling)
    row = packed(ines, minutes=61, lasting=0)
    assert Hold.objects.get(lot=row.target_lot).reason == sentence


def test_a_roll_for_another_product_is_caught_or_holds_what_had_it(filling: Plant) -> None:
    """Caught: kept, no deviation, not on the line. Used: a deviation, and the code is held from its first pack."""
    ines = filling.actor("ines")
    made_clear(filling)
    caught = opened(ines, printed="nut-milk")
    assert (caught.matches, caught.used) == (False, False) and not Deviation.objects.exists()
    assert on_the_line("filler", at(60)) == [] and packs_with_roll("R-7") == []
    running = record_movement(ines, packing())
    filling.at(at(75))
    used = opened(ines, kind="lid", roll_code="L-2", printed="nut-milk", used=True)
    assert Deviation.objects.get().control_point == "label"
    assert (Hold.objects.get().lot, Hold.objects.get().since_at) == (running.target_lot, running.started_at)
    assert [one.number for one in on_the_line("filler", at(75))] == [used.number]
    with pytest.raises(Refused, match="right one"):
        opened(ines, used=True)


def test_a_roll_left_on_the_line_refuses_the_next_product(filling: Plant) -> None:
    """Opened for hazelnut milk and never counted off."""
    ines = filling.actor("ines")
    roll = opened(ines, product="nut-milk", printed="nut-milk", kind="tub", roll_code="T-1")
    made_clear(filling)
    assert "Filler: tub sleeve T-1 on the line is printed for Hazelnut milk, not Whole milk" in why(filling)
    actions.count_packaging(ines, CountedData(uuid.uuid4(), roll.number, at(60), "0", "1000", "0"))
    record_movement(ines, packing())


def test_a_count_names_its_difference_and_nonsense_is_refused(filling: Plant) -> None:
    """Issued − used − returned − damaged; counted once; letters, minus signs and huge numbers beside their field."""
    ines = filling.actor("ines")
    roll = opened(ines)
    data = CountedData(uuid.uuid4(), roll.number, at(60), "950", "40", "7")
    for field, text in (("used", "many"), ("returned", "-4"), ("damaged", "1" * 30), ("used", "٩"), ("used", "")):
        with pytest.raises(Refused) as refused:
            actions.count_packaging(ines, replace(data, **{field: text}))
        assert refused.value.field == field
    assert actions.count_packaging(ines, data).difference == 3
    assert actions.count_packaging(ines, data).number == PackagingCounted.objects.get().number
    with pytest.raises(Refused, match="counted already"):
        actions.count_packaging(ines, replace(data, form_id=uuid.uuid4()))
    assert actions.difference(None, 1, 1, 1) is None and actions.difference(5, 4, 2, 0) == -1


def test_the_same_form_twice_and_an_entry_that_did_not_happen(filling: Plant) -> None:
    """One row for one form; other content is refused; struck through by a successor, once, by who may."""
    ines = filling.actor("ines")
    data = opening()
    row = actions.open_packaging(ines, data)
    assert actions.open_packaging(ines, data).number == row.number == PackagingOpened.objects.get().number
    with pytest.raises(DifferentContent):
        actions.open_packaging(ines, replace(data, roll_code="R-8"))
    with pytest.raises(Refused, match="Only Ines"):
        actions.void(filling.actor("tomas"), row.number, uuid.uuid4(), "not mine")
    form = uuid.uuid4()
    gone = actions.void(ines, row.number, form, "scanned at the wrong line")
    assert gone.void and actions.void(ines, row.number, form, "scanned at the wrong line").number == gone.number
    with pytest.raises(Refused, match="amended already"):
        actions.void(ines, row.number, uuid.uuid4(), "again")
    assert on_the_line("filler", at(60)) == []


def test_a_clearance_says_what_became_of_each_thing(filling: Plant) -> None:
    """Nothing left out, what was taken off is counted, no count of what is not; a time to come, an unknown line."""
    ines = filling.actor("ines")
    for changes, field in (
        ({"answers": {}}, "labels"), ({"counts": {}}, "labels_count"), ({"counts": {"lids": "3", "labels": "1"}},
        "lids_count"), ({"at": at(90)}, "at"), ({"place": "press-1"}, "place"), ({"product": "tea"}, "product"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            actions.clear_line(ines, clearing(**changes))
        assert refused.value.field == field
    assert not LineClearance.objects.exists() and last_clearance("filler", "whole-milk", at(60)) is None


def test_packs_that_had_a_roll(filling: Plant) -> None:
    """What was filled from its opening to its count, wherever the line's product began; nothing before or after."""
    ines = filling.actor("ines")
    packed(ines, minutes=40, code="BEFORE")
    packed(ines, minutes=50, lasting=4, code="AMONG")
    roll = opened(ines, at=at(48))
    filling.at(at(80))
    actions.count_packaging(ines, CountedData(uuid.uuid4(), roll.number, at(60), "900", "100", "0"))
    packed(ines, minutes=65, code="AFTER")
    assert [(one.lot.code, one.opened.number) for one in packs_with_roll("R-7")] == [("AMONG", roll.number)]
