"""The calculator of overrun and of the gallon's limits."""

from __future__ import annotations

from functools import partial

import pytest
from hypothesis import given, settings

from plant.process.errors import CalculationError
from tests.plant.calculators import trying
from tests.plant.calculators.trying import odd_values, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "overrun")


def test_example_is_met_with_its_ceiling():
    """110 g of mix, 56 g of product: 96.4 %, 4.660 lb; 103.4 % would be lawful."""
    found = worked()
    assert found.answer == (
        "Overrun 96.4 %: a gallon weighs 4.660 lb. The largest lawful overrun is 103.4 %."
    )  # fmt: skip
    assert (found.verdict, found.margin) == ("met", "7.0 points of overrun to the ceiling")
    assert result(found, "Overrun of the mix") == "96.43 %"
    assert len(found.tables[0].rows) == 8


def test_table_of_the_cup_is_the_courses():
    """The fixed-cup table of 110 g in 30 g: 140 g at 0 %, 74 g at 150 %."""
    rows = worked().tables[1].rows
    assert rows[0] == ("0", "110.00", "140.0")
    assert rows[-1] == ("150", "44.00", "74.0")


def test_too_much_air_is_not_met():
    """At 110 % the gallon weighs 4.359 lb."""
    found = worked(way="known", overrun="110 %")
    assert found.verdict == "not met"
    assert found.margin == "weight of a gallon misses by 0.141 lb/gal"
    assert len(found.tables) == 1


def test_volumes_with_inclusions():
    """40 L of mix and 28 L of pecans make 110 L: 105 %."""
    found = worked(way="volumes", mix_volume="40 L", product_volume="110 L", inclusion_volume="28 L")
    assert result(found, "Overrun of the mix") == "105.00 %"


def test_inclusions_change_the_package_and_not_the_mix():
    """9 % of 0.748 kg/L: the air in the package is said apart."""
    found = worked(
        way="known", overrun="100 %", mix_density="1.1 kg/L", inclusion_share="9 %", inclusion_density="0.748 kg/L"
    )
    assert result(found, "Density of the finished product") == "563.4 kg/m3"
    assert "package overrun" in result(found, "Air in the package")


def test_bulky_flavors_lower_the_minimums():
    """12 % of fruit counts 16.8: 8.32 and 16.64 %."""
    found = worked(bulky="fruit or nuts; 12")
    assert result(found, "Least fat and least total milk solids") == "8.32 % / 16.64 %"
    plain = worked(bulky="fruit or nuts; 12", allowance="no")
    assert result(plain, "Bulky flavors as they are taken off") == "12.00 %"


def test_without_milk_solids_only_the_gallon_is_judged_and_it_says_so():
    """No silence about what was not looked at."""
    found = worked(msnf="")
    assert len(found.tables[0].rows) == 2
    assert "Only the gallon is judged" in found.cautions[0]


def test_mix_that_no_overrun_saves_is_said():
    """17 % solids: even without air less than 1.6 lb."""
    found = worked(solids="17 %", mix_density="9.0 lb/gal", fat="10 %", msnf="", way="known", overrun="50 %")
    assert "No overrun keeps both limits" in found.answer
    assert found.verdict == "not met"


@settings(max_examples=50, deadline=None)
@given(odd_values("overrun"))
def test_verdict_is_that_of_its_findings(changes):
    """Not met where one of them is not met, and only there."""
    try:
        found = worked(**changes)
    except CalculationError:
        return
    assert (found.verdict == "not met") == any(row[3] == "not met" for row in found.tables[0].rows)


test_wrong_input_gets_a_sentence = refusals(
    "overrun",
    [
        ({"way": "known"}, "something is missing: overrun"),
        ({"way": "volumes"}, "something is missing: volume of mix"),
        ({"empty_cup": ""}, "something is missing: empty cup"),
        ({"gross_product": "150 g"}, "below 0|outside the range 0 to 300"),
        ({"fat": "40 %"}, "outside|cannot be more"),
        ({"fat": "20 %", "solids": "10 %"}, "cannot be more"),
        ({"inclusion_share": "10 %"}, "need their density"),
        ({"bulky": "sawdust; 3"}, "sawdust is not one of"),
        ({"bulky": "cocoa; x"}, "percent"),
        ({"whey": "20 %"}, "whey solids 20 %"),
        ({"gross_mix": "140"}, "unit"),
    ],
)
