"""The allergens that the law names, and how they travel, against the texts."""

from __future__ import annotations

import pytest

from plant.hazard_plan.content import ProductDef
from plant.process.allergens import (
    EU_ANNEX_II,
    US_BY_KIND,
    US_MAJOR,
    Content,
    Left,
    all_of,
    carried,
    named_by_law,
    undeclared,
)
from records.deviations.models import Deviation, Hold
from records.flow.actions import record_movement
from records.flow.errors import Several
from tests.conftest import Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import seen
from tests.records.labels.made import at, made_clear, packed, packing, plan_of_filling, ready_plant

pytestmark = pytest.mark.once
MIX = Content("Ice cream mix", frozenset({"milk"}))
NUTS = Content("Roasted hazelnuts", frozenset({"tree nuts"}))
CRUMBLE = Content("Wheat crumble", frozenset({"wheat"}))


def test_the_nine_of_the_united_states() -> None:
    """21 USC 321(qq)(1) with section 2 of the FASTER Act, Pub. L. 117-11 (sesame); FDA's page names the nine."""
    assert set(US_MAJOR) == {
        "milk", "eggs", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans", "sesame",
    } and len(US_MAJOR) == 9  # fmt: skip
    # 21 USC 343(w)(2): tree nuts by the specific type of nut, fish and Crustacean shellfish by the species.
    assert set(US_BY_KIND) == {"tree nuts", "fish", "crustacean shellfish"}
    assert named_by_law("us") == ("21 USC 321(qq)", US_MAJOR)


def test_the_fourteen_of_the_european_union() -> None:
    """Regulation (EU) No 1169/2011, Annex II, points 1 to 14 (from memory)."""
    assert len(EU_ANNEX_II) == len(set(EU_ANNEX_II)) == 14
    only_eu = {"cereals containing gluten", "celery", "mustard", "sulfur dioxide and sulfites", "lupin", "mollusks"}
    assert only_eu <= set(EU_ANNEX_II) and not only_eu & set(US_MAJOR)
    assert named_by_law("eu")[1] == EU_ANNEX_II


def test_rework_brings_its_allergens_through_every_lot() -> None:
    """Common practice, no source: rework like into like, because what it holds goes on with it; no dose frees it."""
    into = {"mix": [MIX], "nut-tub": [NUTS], "rework": [], "vat": [CRUMBLE], "tub": []}
    out_of = {"nut-tub": ["mix"], "rework": ["nut-tub"], "vat": ["mix", "rework"], "tub": ["vat"]}
    contents = carried("tub", into, out_of)
    assert all_of(contents) == ("milk", "tree nuts", "wheat")
    assert undeclared(["milk", "wheat"], contents) == [Left("tree nuts", ("Roasted hazelnuts",))]
    assert undeclared(["milk", "wheat", "tree nuts"], contents) == []
    assert undeclared(["milk"], carried("mix", into, out_of)) == []


def test_rework_that_goes_round_ends() -> None:
    """A vat whose own rework went back into it: each content once."""
    assert carried("vat", {"vat": [MIX, MIX]}, {"vat": ["rework"], "rework": ["vat"]}) == [MIX]


# 21 USC 321(qq)(1), as FALCPA (2004) wrote it and the FASTER Act (2021) added sesame; written out here, so that a name
# that falls out of our own list falls out of no test. Milk is in everything of a dairy and is left out.
MAJOR_BUT_MILK = (
    "eggs", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans", "sesame",
)  # fmt: skip


def with_milk_and(allergen: str, plant: Plant) -> Plant:
    """Whole milk in Finished 1, and in the vat a milk that declares this allergen too."""
    own = ProductDef("nut-milk", "Flavored milk", "milk", "milk", allergens=("milk", allergen))
    others = [one for one in plan_of_filling().products if one.code != own.code]
    return ready_plant(plant, products=(*others, own))


def refused(plant: Plant, *args: str) -> str:
    """The sentences that refuse packing from now on."""
    with pytest.raises(Several) as found:
        record_movement(plant.actor("ines"), packing(*args))
    return " ".join(found.value.sentences)


@pytest.mark.django_db
@pytest.mark.parametrize("allergen", MAJOR_BUT_MILK)
def test_packing_under_a_label_without_a_major_allergen_is_refused_or_held(plant: Plant, allergen: str) -> None:
    """21 USC 343(w)(1): a food is misbranded whose label does not declare a major allergen that it holds (from memory).

    21 CFR 117.135(c)(2): the finished food is labeled right. Not yet packed: refused; packed: deviation and hold.
    """
    filling = with_milk_and(allergen, plant)
    made_clear(filling)
    said = f"Whole milk does not declare {allergen}, which came with: Flavored milk"
    assert said in refused(filling, "vat", "whole-milk")
    row = packed(filling.actor("ines"), "vat", "whole-milk", minutes=50)
    (held,) = Hold.objects.filter(lot=row.target_lot, reason__contains=said)
    assert Deviation.objects.get(number=held.deviation).control_point == "label"


@pytest.mark.django_db
@pytest.mark.parametrize("allergen", MAJOR_BUT_MILK)
def test_a_line_that_a_major_allergen_ran_through_is_refused_until_washed_and_verified(
    plant: Plant, allergen: str
) -> None:
    """21 CFR 117.135(c)(2)(i), no allergen cross-contact; 117.165(a), what prevents it is verified (from memory)."""
    filling = with_milk_and(allergen, plant)
    ines = filling.actor("ines")
    packed(ines, "vat", "nut-milk", minutes=50)
    made_clear(filling)
    assert f"Flavored milk ran since the last wash: {allergen}" in refused(filling)
    filling.at(at(90))
    washed(ines, "filler", at(70))
    made_clear(filling)
    assert f"Flavored milk ran before the wash ({allergen}); not shown good since" in refused(filling)
    seen(ines, "contact-seen", "filler")
    row = record_movement(ines, packing())
    assert not Hold.objects.filter(lot=row.target_lot).exists()


@pytest.mark.django_db
@pytest.mark.parametrize("allergen", MAJOR_BUT_MILK)
def test_a_declared_major_allergen_asks_for_no_wash(plant: Plant, allergen: str) -> None:
    """The other way round, fewest allergens first (common practice, no source): nothing undeclared comes with it."""
    filling = with_milk_and(allergen, plant)
    packed(filling.actor("ines"), minutes=50)
    made_clear(filling, "nut-milk")
    row = record_movement(filling.actor("ines"), packing("vat", "nut-milk"))
    assert not Hold.objects.filter(lot=row.target_lot).exists()
