"""A roll whose count differs by more than the plan's bound is a deviation: of quality, or of safety."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import Settings
from plant.people.models import Person
from records.deviations.holds import RELEASE, propose_disposition, sign_disposition
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.actions import amend_movement
from records.labels.actions import count_packaging, void
from records.labels.data import CountedData
from records.labels.models import PackagingCounted, PackagingOpened
from records.labels.uneven import share
from records.ledger.actions import Actor
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall import origins
from records.recall.scope import scope
from records.reports.filled import filling
from tests.conftest import Plant
from tests.records.labels.made import at, opened, packed, packing, plan_of_filling, ready_plant
from tests.records.labels.test_amending import counting, why
from tests.records.labels.test_pages import send

pytestmark = pytest.mark.django_db


def ready(plant: Plant, bound: str = "1") -> Actor:
    """The filling plan with a bound of that percent."""
    ready_plant(plant, settings=Settings(label_difference=bound))
    return plant.actor("ines")


def of_count(row: PackagingCounted) -> list[Deviation]:
    """What a count opened or joined."""
    numbers = DeviationCause.objects.filter(cause_kind=PackagingCounted.KIND, cause_number=row.number)
    return list(Deviation.objects.filter(number__in=numbers.values("deviation")).order_by("number"))


def roll_and_run(by: Actor, **changes: object) -> PackagingOpened:
    """Roll R-7 for whole milk, 1,000 issued, and whole milk packed while it is on the line."""
    row = opened(by, at=at(46), **changes)
    packed(by, minutes=47, code="WM 1")
    return row


def off_at(minutes: int, row: PackagingOpened, returned: str = "70", **changes: Any) -> CountedData:
    """A count of it so many minutes after NOW; 20 missing."""
    return replace(counting(row, returned=returned, **changes), at=at(minutes))


@pytest.mark.parametrize(
    ("returned", "sentence"),
    [  # 900 used and 10 damaged of 1,000
        ("90", ""), ("80", ""), ("100", ""), ("79", "11 of 1000 are missing, 1.1 %; the plan allows 1 %"),
        ("101", "11 more than the 1000 issued were counted, 1.1 %; the plan allows 1 %"),
    ],
)  # fmt: skip
def test_beyond_the_bound_is_a_deviation_of_quality(plant: Plant, returned: str, sentence: str) -> None:
    """Just below, at and just above, both ways; it holds nothing, and stands on the day's sheet."""
    ines = ready(plant)
    row = count_packaging(ines, counting(roll_and_run(ines), returned=returned))
    found = of_count(row)
    assert bool(found) is bool(sentence) and not Hold.objects.exists()
    if found:
        one = found[0]
        assert sentence in one.sentence and "Filler: label roll R-7" in one.sentence
        assert (one.weight, one.cause, one.subject, one.control_point) == ("quality", "not met", "R-7", "label")
        (told,) = [each for each in filling(at(0), at(90))["entries"] if each["entry"] == row.number]
        assert told["deviation"] == one.number


def test_a_plan_without_a_bound_opens_nothing(plant: Plant) -> None:
    """A difference is a line on the sheet, as before there was a bound."""
    ines = ready(plant, "")
    row = count_packaging(ines, counting(roll_and_run(ines), returned="0"))
    assert row.difference == 90 and not of_count(row)


def test_another_declaration_on_the_line_is_safety_and_holds_what_ran(plant: Plant) -> None:
    """The whole-milk roll stayed on while hazelnut milk ran: what is missing may be on its packs, and they are held."""
    ines = ready(plant)
    roll = roll_and_run(ines)
    nuts = packed(ines, "vat", "nut-milk", minutes=54, code="NM 1")
    before = set(Hold.objects.values_list("number", flat=True))
    row = count_packaging(ines, counting(roll, returned="70"))
    (one,) = of_count(row)
    assert one.weight == "safety" and "20 of 1000 are missing" in one.sentence
    assert "declares other allergens than what ran with it: Hazelnut milk" in one.sentence
    (hold,) = Hold.objects.filter(deviation=one.number)
    assert hold.number not in before and hold.lot == nuts.target_lot and hold.since_at == nuts.started_at
    assert Lot.objects.get(id=hold.lot).code == "NM 1"


def test_what_was_packed_and_written_after_the_count_is_asked_again(plant: Plant) -> None:
    """Hazelnut milk of the roll's time, entered late: quality becomes safety, its packs are held; then more of it."""
    ines = ready(plant)
    row = count_packaging(ines, counting(roll_and_run(ines), returned="70"))
    (first,) = of_count(row)
    assert first.weight == "quality" and not Hold.objects.exclude(deviation=None).exists()
    packed(ines, minutes=50, code="WM 2")
    assert of_count(row) == [first]
    nuts = packed(ines, "vat", "nut-milk", minutes=54, code="NM 1")
    assert of_count(row)[:1] == [first]
    (second,) = of_count(row)[1:]
    assert second.weight == "safety" and "20 of 1000 are missing" in second.sentence
    assert "declares other allergens than what ran with it: Hazelnut milk" in second.sentence
    (hold,) = Hold.objects.filter(deviation=second.number)
    assert (hold.lot, hold.since_at) == (nuts.target_lot, nuts.started_at)
    again = packed(ines, "vat", "nut-milk", minutes=57, lasting=1, code="NM 2")
    lots = [one.lot for one in Hold.objects.filter(deviation=second.number).order_by("number")]
    assert of_count(row) == [first, second] and lots == [nuts.target_lot, again.target_lot]


def test_what_was_packed_after_the_roll_was_off_asks_nothing(plant: Plant) -> None:
    """Counted at 50 minutes: what ran from 54 on had none of it, recorded whenever."""
    ines = ready(plant)
    row = count_packaging(ines, off_at(52, roll_and_run(ines)))
    packed(ines, "vat", "nut-milk", minutes=54, code="NM 1")
    (one,) = of_count(row)
    assert one.weight == "quality"


def test_a_movement_amended_into_the_rolls_time_is_asked_of_it(plant: Plant) -> None:
    """Begun at 54 minutes, not at 57: then the roll was on. What two people released is not held a second time."""
    ines = ready(plant)
    nuts = packed(ines, "vat", "nut-milk", minutes=57, lasting=1, code="NM 1")
    row = count_packaging(ines, off_at(55, roll_and_run(ines)))
    assert [one.weight for one in of_count(row)] == ["quality"]
    data = packing("vat", "nut-milk", started_at=at(54), ended_at=at(58), code="NM 1")
    late = amend_movement(ines, nuts.number, data, "the clock was read wrong")
    second = of_count(row)[1]
    (hold,) = Hold.objects.filter(deviation=second.number)
    assert second.weight == "safety" and hold.lot == late.target_lot
    said = propose_disposition(plant.actor("wren", "supervisor"), hold, RELEASE, "every pack was looked at")
    sign_disposition(plant.actor("odile", "qualified individual"), said)
    packed(ines, minutes=53, lasting=1, code="WM 2")
    assert Hold.objects.filter(deviation=second.number).count() == 1 and len(of_count(row)) == 2


def test_an_amended_count_of_the_same_difference_looks_at_what_ran_too(plant: Plant) -> None:
    """Off the line later than was said: hazelnut milk ran by then. The same again, twice, opens nothing."""
    ines = ready(plant)
    roll = roll_and_run(ines)
    packed(ines, "vat", "nut-milk", minutes=54, code="NM 1")
    row = count_packaging(ines, off_at(52, roll))
    assert [one.weight for one in of_count(row)] == ["quality"]
    later = count_packaging(ines, off_at(56, roll, **why(row.number)))
    assert [one.weight for one in of_count(later) if one.subject == "R-7"] == ["safety"]
    for used, returned in (("890", "80"), ("880", "90")):
        later = count_packaging(ines, off_at(56, roll, used=used, returned=returned, **why(later.number)))
        assert not of_count(later)
    assert Deviation.objects.filter(subject="R-7").count() == 2


def test_the_same_allergens_in_another_product_stay_quality(plant: Plant) -> None:
    """Milk with oats declares milk as whole milk does."""
    ines = ready(plant)
    roll = roll_and_run(ines)
    packed(ines, minutes=54, product="oat-milk", code="OM 1")
    (one,) = of_count(count_packaging(ines, counting(roll, returned="70")))
    assert one.weight == "quality"


def test_what_nobody_counted_out_is_not_proven(plant: Plant) -> None:
    """Where the issue is not known the bound proves nothing; silence is no pass."""
    ines = ready(plant)
    (one,) = of_count(count_packaging(ines, counting(roll_and_run(ines, issued=""))))
    assert (one.cause, one.weight) == ("not proven", "quality") and "nobody counted what was issued" in one.sentence


def test_an_amended_count_opens_once(plant: Plant) -> None:
    """Into the bound: the deviation stays open; out of it: opened; the same difference again: nothing new."""
    ines = ready(plant)
    good = count_packaging(ines, counting(roll_and_run(ines)))
    bad = count_packaging(ines, counting(PackagingOpened.objects.get(), returned="60", **why(good.number)))
    (one,) = of_count(bad)
    same = count_packaging(
        ines, counting(PackagingOpened.objects.get(), used="890", returned="70", **why(bad.number))
    )
    assert same.difference == bad.difference and not of_count(same)
    fine = count_packaging(ines, counting(PackagingOpened.objects.get(), **why(same.number)))
    assert not of_count(fine) and Deviation.objects.get() == one
    gone = void(ines, fine.number, counting(PackagingOpened.objects.get()).form_id, "not ours")
    assert isinstance(gone, PackagingCounted) and not of_count(gone)


def test_the_same_form_again_opens_nothing_more(plant: Plant) -> None:
    """A repeat answers as the first time."""
    ines = ready(plant)
    data = counting(roll_and_run(ines), returned="60")
    assert count_packaging(ines, data) == count_packaging(ines, data)
    assert Deviation.objects.count() == DeviationCause.objects.count() == 1


def test_a_scope_begins_from_its_deviation(plant: Plant) -> None:
    """The packs that had the roll, as its count leads to them."""
    ines = ready(plant)
    (one,) = of_count(count_packaging(ines, counting(roll_and_run(ines), returned="60")))
    in_force = plan_in_force(at(90))
    assert in_force is not None
    begun = origins.begin(origins.Asked(entry=one.number), in_force, at(90))
    packs = scope(begun.start, in_force, at(90)).packs
    assert begun.words == one.sentence and [each.lot for each in packs] == [Lot.objects.get(code="WM 1").id]


def test_the_page_says_what_followed(plant: Plant, client_for: Callable[[Person], Client]) -> None:
    """After the count: the deviation in words; on the entry too."""
    ines = ready(plant)
    roll = roll_and_run(ines)
    client = client_for(plant.people.ines)
    address = reverse("records:packaging-count", args=[roll.number])
    page = send(client, address, used="900", returned="60", damaged="10", because="")
    assert "30 of 1000 are missing, 3 %" in page
    entry = client.get(reverse("records:filling-entry", args=[PackagingCounted.objects.get().number]))
    number = Deviation.objects.get().number
    assert f"/deviations/{number}/" in entry.content.decode()
    assert "· quality" in client_for(plant.people.wren).get(f"/deviations/{number}/").content.decode()


@pytest.mark.parametrize("bound", ["0", "-1", "101", "a", "1,5"])
def test_a_bound_that_is_none_is_refused(bound: str) -> None:
    """Above 0 to 100 percent, or empty."""
    found = problems(plan_of_filling(settings=Settings(label_difference=bound)))
    assert [one.path for one in found if one.bars_approval and "settings" in one.path] == ["settings.label_difference"]
    for good in ("", "0.5", "100"):
        assert not [
            one for one in problems(plan_of_filling(settings=Settings(label_difference=good)))
            if "settings" in one.path
        ]  # fmt: skip


def test_the_share_is_exact() -> None:
    """By definition: 11 of 1,000 are 1.1 %; 1 of 3 is no rounded number."""
    assert share(-11, 1000) == Fraction(11, 10) and share(1, 3) == Fraction(100, 3)
