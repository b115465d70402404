"""The allergens that the law names, and how they travel, against the texts."""

from __future__ import annotations

import pytest

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
