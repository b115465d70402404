"""Ice cream mix: ingredients, the mix that meets its targets, steps of the scales, the weighed batch."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError, OutsideRange
from plant.process.mix import (
    BatchLine,
    Ingredient,
    batch_lines,
    compose,
    cream_or_milk,
    formulate,
    missed,
    mix_density,
    msnf_balance,
    pounds_per_gallon,
    recomputed,
    to_steps,
    weighed,
)
from plant.process.standardizing import Target

pytestmark = pytest.mark.once

CREAM = Ingredient("cream", {"fat": 40, "MSNF": 5.4}, step_kg=0.1)
MILK = Ingredient("milk", {"fat": 3.5, "MSNF": 8.685}, step_kg=0.5)
SUGAR = Ingredient("sugar", {"sucrose": 100}, step_kg=0.05)
STABILIZER = Ingredient("stabilizer", {"stabilizer": 100}, step_kg=0.005)
WATER = Ingredient("water")
FAT_12 = [Target.exactly("fat", 12), Target.exactly("sucrose", 15), Target.exactly("stabilizer", 0.3)]


# Ingredients


def test_what_is_not_solid_is_water():
    """Liquid sucrose 66 % brings 34 % water."""
    syrup = Ingredient("liquid sucrose", {"sucrose": 66})
    assert (syrup.percent("total solids"), syrup.percent("water"), syrup.percent("sugars")) == (66, 34, 66)


def test_total_solids_leave_other_solids():
    """Egg yolk of 45 % solids with 1 % salt: the remaining 44 % are other solids."""
    yolk = Ingredient("yolk", {"egg solids": 44, "total solids": 45})
    assert yolk.parts == {"egg solids": 44.0, "other solids": 1.0}


def test_milk_solids_count_fat_msnf_and_whey_solids_only():
    """Egg and other fat are not milk solids."""
    blend = Ingredient("blend", {"fat": 1, "MSNF": 2, "whey solids": 3, "other fat": 4, "egg solids": 5})
    assert blend.percent("milk solids") == 6
    assert blend.dairy and not Ingredient("oil", {"other fat": 99}).dairy


def test_parts_beyond_a_hundred_percent_are_refused():
    """No ingredient is more than all solids, or more than the total solids it states."""
    with pytest.raises(CalculationError, match="come to 101 %, more than 100 %"):
        Ingredient("odd", {"fat": 60, "MSNF": 41})
    with pytest.raises(CalculationError, match="come to 45 %, more than 40 %"):
        Ingredient("odd", {"fat": 40, "MSNF": 5, "total solids": 40})


@pytest.mark.parametrize("group", ["sugars", "milk solids", "water"])
def test_group_cannot_be_given_as_a_part(group):
    """It would be counted twice."""
    with pytest.raises(CalculationError, match="follows from the other parts"):
        Ingredient("odd", {group: 10})


def test_fat_test_moves_the_fat_free_part():
    """Cream tested at 38 % keeps 9 % of its serum as MSNF."""
    assert CREAM.tested({"fat": 38}).percent("MSNF") == pytest.approx(0.09 * 62)


def test_tested_msnf_is_taken_as_tested():
    """Both tested: both stand."""
    assert CREAM.tested({"fat": 38, "MSNF": 5.7}).parts == {"fat": 38, "MSNF": 5.7}


def test_fat_test_of_skim_without_stated_fat():
    """An ingredient stated without fat may be found to hold some."""
    assert Ingredient("skim", {"MSNF": 9}).tested({"fat": 0.1}).percent("fat") == pytest.approx(0.1)


def test_test_of_a_group_is_refused():
    """A total solids test does not say which solids they are."""
    with pytest.raises(CalculationError, match="total solids follows"):
        CREAM.tested({"total solids": 45})


# The mix


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.1, 1e4), min_size=4, max_size=4))
def test_solids_and_water_are_the_whole(masses):
    """Total solids and water are 100 %, and the parts are the solids."""
    mix = compose([CREAM, MILK, SUGAR, STABILIZER], masses)
    parts = [percent for name, percent in mix.composition.items() if name in ("fat", "MSNF", "sucrose", "stabilizer")]
    assert math.fsum(parts) == pytest.approx(mix.composition["total solids"])
    assert mix.composition["total solids"] + mix.composition["water"] == pytest.approx(100)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 1e6))
def test_composition_does_not_depend_on_the_batch(total):
    """A larger batch has the same contents, density and cost for a kilogram."""
    things = [Ingredient(one.name, one.parts, 2.0) for one in (CREAM, MILK, SUGAR, STABILIZER)]
    small, large = formulate(things, FAT_12, 100), formulate(things, FAT_12, total)
    assert large.composition == pytest.approx(small.composition, abs=1e-6)
    assert large.density_kg_l == pytest.approx(small.density_kg_l)
    assert large.cost == pytest.approx(2.0 * total)


def test_target_for_a_group_is_met():
    """36 % total solids and 16 % sugars of whatever kind."""
    things = [CREAM, MILK, Ingredient("powder", {"MSNF": 97}), SUGAR]
    wanted = [Target.exactly("fat", 12), Target.exactly("sugars", 16), Target.exactly("total solids", 38)]
    mix = formulate(things, wanted, 100)
    assert mix.proof.holds()
    assert mix.composition["total solids"] == pytest.approx(38)


def test_cheapest_source_of_fat_is_used():
    """Butter is dearer by the kilogram and cheaper by its fat: with prices the mix takes the cheaper one."""
    things = [
        Ingredient("cream", {"fat": 40, "MSNF": 5.4}, 4.0),
        Ingredient("butter", {"fat": 80, "MSNF": 2}, 5.0),
        Ingredient("milk", {"fat": 3.5, "MSNF": 8.7}, 0.5),
    ]
    assert formulate(things, [Target.exactly("fat", 12)], 100).masses_kg[0] == pytest.approx(0, abs=1e-9)


def test_cost_is_unknown_without_a_price():
    """One used ingredient without a price: no cost is made up; one that is not used does not matter."""
    priced = Ingredient("milk", {"fat": 3.5}, 0.5)
    assert compose([priced, WATER], [10, 1]).cost is None
    assert compose([priced, WATER], [10, 0]).cost == pytest.approx(5)


def test_density_is_not_worked_out_outside_its_formula():
    """Cream alone, 40 % fat, has no density by the formula for mixes."""
    assert compose([CREAM], [10]).density_kg_l is None
    assert compose([CREAM], [10]).lb_per_gal is None


@pytest.mark.parametrize(
    "asked",
    [
        lambda: mix_density(-0.1, 38),
        lambda: mix_density(30.1, 38),
        lambda: mix_density(12, 9.9),
        lambda: mix_density(12, 60.1),
        lambda: mix_density(20, 15),
        lambda: mix_density(math.nan, 38),
        lambda: pounds_per_gallon(-1),
        lambda: msnf_balance(-1, 15),
        lambda: msnf_balance(50, 40, 11),
        lambda: cream_or_milk("butter", 82),
        lambda: Ingredient("milk", step_kg=0),
        lambda: Ingredient("milk", density_kg_l=0.1),
        lambda: compose([CREAM], [-1]),
        lambda: weighed(BatchLine(CREAM, 10), 1, 2, "L"),
        lambda: weighed(BatchLine(CREAM, 10), 1, -1, "L"),
        lambda: CREAM.tested({"fat": 100}),
    ],
)
def test_value_outside_its_range_is_refused(asked):
    """Nothing is extrapolated."""
    with pytest.raises(OutsideRange):
        asked()


@pytest.mark.parametrize(("fat", "solids"), [(0, 10), (30, 60), (0, 60), (10, 10)])
def test_density_at_the_ends_of_its_range(fat, solids):
    """The ends are inside."""
    assert 0.9 < mix_density(fat, solids) < 1.35


def test_unknown_form_of_the_density_is_refused():
    """A form is named or refused."""
    with pytest.raises(CalculationError, match="not a form"):
        mix_density(12, 38, "best")


@settings(max_examples=50)
@given(st.floats(0, 20), st.floats(25, 55), st.floats(0.1, 5))
def test_more_solids_not_fat_make_a_mix_heavier_and_more_fat_lighter(fat, solids, more):
    """Density rises with solids-not-fat and falls when fat takes their place."""
    assert mix_density(fat, solids + more) > mix_density(fat, solids)
    assert mix_density(fat + more, solids) < mix_density(fat, solids)


# Steps of the scales


def test_largest_dairy_ingredient_takes_up_the_difference():
    """Milk is the largest: the whole stays within half its step, and every mass is a step."""
    mix = formulate([CREAM, MILK, SUGAR, STABILIZER], FAT_12, 100)
    found = to_steps(mix)
    assert found.corrected_with == "milk"
    assert found.mix.total_kg == pytest.approx(100, abs=0.25)
    for one, mass in zip(found.mix.ingredients, found.mix.masses_kg, strict=True):
        assert mass / one.step_kg == pytest.approx(round(mass / one.step_kg), abs=1e-9)


def test_without_a_dairy_ingredient_the_whole_is_what_the_steps_make():
    """Sugar and water: nothing is corrected."""
    found = to_steps(compose([SUGAR, Ingredient("water", step_kg=1)], [15.02, 84.6]))
    assert found.corrected_with == ""
    assert found.mix.masses_kg == (15.0, 85.0)


def test_metered_ingredient_keeps_the_whole_exactly():
    """Milk without a step takes up the difference to the last digit."""
    milk = Ingredient("milk", MILK.parts)
    found = to_steps(compose([CREAM, milk, SUGAR], [30.04, 54.93, 15.03]))
    assert found.mix.total_kg == pytest.approx(100, abs=1e-12)


def test_rounding_is_judged_by_what_is_required():
    """24.96 kg of cream in half kilograms are 25: 10.016 becomes 10 %; required 10.01 is then missed, 10 is met."""
    cream = Ingredient("cream", {"fat": 40}, step_kg=0.5)
    mix = compose([cream, WATER], [25.04, 74.96])
    assert to_steps(mix, [Target("fat", 10.01)]).missed[0].difference < 0
    assert to_steps(compose([cream, WATER], [25.0, 75.0]), [Target("fat", 10)]).missed == ()


def test_half_a_step_goes_up():
    """0.25 in steps of 0.5 is 0.5; 0.24 cannot be weighed."""
    assert to_steps(compose([Ingredient("salt", {"other solids": 99}, step_kg=0.5)], [0.25])).mix.masses_kg == (0.5,)


def test_what_the_scale_cannot_weigh_is_refused():
    """0.3 kg of stabilizer on a scale of 1 kg would be left out in silence: it is refused by name."""
    stabilizer = Ingredient("stabilizer", {"stabilizer": 100}, step_kg=1)
    with pytest.raises(CalculationError, match=r"0\.3 kg of stabilizer cannot be weighed in steps of 1 kg"):
        to_steps(compose([MILK, stabilizer], [99.7, 0.3]))


def test_rounding_never_takes_more_than_there_is():
    """20.06 kg at hand in steps of 0.1: 20.0, not 20.1."""
    cream = Ingredient("cream", {"fat": 40}, most_kg=20.06, step_kg=0.1)
    assert to_steps(compose([cream, MILK], [20.06, 79.94])).mix.masses_kg[0] == 20.0


def test_fixed_largest_dairy_ingredient_leaves_the_correction_to_the_next():
    """All 60 kg of cream must go in: the milk takes up the difference."""
    cream = Ingredient("cream", {"fat": 40}, least_kg=60, most_kg=60, step_kg=0.1)
    found = to_steps(compose([cream, MILK, SUGAR], [60, 30.2, 9.83]))
    assert found.corrected_with == "milk"
    assert found.mix.masses_kg[0] == 60


def test_quantity_used_up_in_pounds_is_weighed_in_pounds():
    """30 lb that must go in, in steps of half a pound, are 60 steps whatever their last digit in kg."""
    pound = 0.45359237
    cream = Ingredient("cream", {"fat": 40}, least_kg=30 * pound, most_kg=30 * pound, step_kg=0.5 * pound)
    milk = Ingredient("milk", MILK.parts, step_kg=0.5 * pound)
    found = to_steps(formulate([cream, milk], [Target("fat", 3.5)], 100 * pound))
    assert [mass / pound for mass in found.mix.masses_kg] == pytest.approx([30, 70])


def test_ingredient_that_is_not_used_stays_out():
    """No step is made of nothing."""
    assert to_steps(compose([MILK, SUGAR], [50, 0])).mix.masses_kg == (50, 0)


@pytest.mark.parametrize(("fat", "met"), [(11.999, False), (12.0, True), (12.001, True)])
def test_requirement_is_judged_below_at_and_above(fat, met):
    """At the requirement it is met; a thousandth below it is not."""
    mix = compose([Ingredient("a", {"fat": fat})], [10])
    assert (missed(mix, [Target("fat", 12)]) == ()) is met


# The batch


def test_batch_line_says_what_to_weigh_and_meter():
    """Targets in order, as volume where the density is known."""
    milk = Ingredient("milk", MILK.parts, density_kg_l=1.03)
    first, second = batch_lines(compose([milk, SUGAR, WATER], [103, 20, 0]))
    assert (first.target_kg, second.target_kg) == (103, 20)
    assert first.target_l == pytest.approx(100)
    assert second.target_l is None
    assert second.difference_kg is None


def test_weighed_batch_shows_differences_and_what_is_missed():
    """Two kilograms of cream too little: the line and the fat say so."""
    lines = batch_lines(compose([CREAM, MILK], [25, 75]))
    filled = [weighed(lines[0], 28, 5, "C-17"), weighed(lines[1], 80, 5, "M-3")]
    found = recomputed(filled, [Target.exactly("fat", 12.625)], [Target("fat", 12.5)])
    assert found.differences_kg == pytest.approx((-2, 0))
    assert found.mix.composition["fat"] == pytest.approx((23 * 40 + 75 * 3.5) / 98)
    assert found.missed[0].required.component == "fat"
    assert found.mix.proof.wanted_kg == 100 and not found.mix.proof.holds()


def test_line_that_is_not_weighed_is_never_taken_at_its_target():
    """A batch with an open line is not worked out."""
    with pytest.raises(CalculationError, match="milk is not weighed yet"):
        recomputed([weighed(BatchLine(CREAM, 25), 30, 5, "C-17"), BatchLine(MILK, 75)])


def test_two_lots_of_one_ingredient_are_two_lines():
    """Each with its own test."""
    lines = [
        weighed(BatchLine(CREAM, 10), 10, 0, "C-17", {"fat": 38}),
        weighed(BatchLine(CREAM, 10), 10, 0, "C-18", {"fat": 42}),
    ]
    assert recomputed(lines).mix.composition["fat"] == pytest.approx(40)


def test_weighing_without_a_lot_is_refused():
    """What was used must be traceable."""
    with pytest.raises(CalculationError, match="Write the lot of cream"):
        weighed(BatchLine(CREAM, 10), 12, 2, " ")
