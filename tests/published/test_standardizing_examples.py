"""Standardizing against published worked examples.

Basis beside each: where a source states only the case, the result was worked out from its stated model
(sum m = M, sum m x = M t) and the line says so.
"""

import pytest

from plant.process.standardizing import (
    CannotBlend,
    Stream,
    Target,
    account,
    attainable,
    blend,
    msnf_by_rule,
    pearson_square,
    prove,
    separate,
    skim_to,
    with_fat,
)

pytestmark = pytest.mark.once

WHOLE = Stream("whole milk", {"fat": 5.0, "SNF": 9.0})
POWDER = Stream("skim powder", {"fat": 0.5, "SNF": 96.0})
WATER = Stream("water")
FAT_3_SNF_85 = [Target.exactly("fat", 3.0), Target.exactly("SNF", 8.5)]


@pytest.mark.proves(
    "standardizing.pearson_square",
    by="published",
    source="University of Guelph, standardization problems, "
    "https://www.uoguelph.ca/foodscience/book-page/standardization-problems",
)
def test_cream_thinned_with_skim():
    """160 kg of cream 40 % thinned to 32 % with skim 0 % takes 40 kg and makes 200 kg, as printed."""
    square = pearson_square(40, 0, 32, rich_kg=160)
    assert (square.lean_kg, square.total_kg) == pytest.approx((40, 200))


@pytest.mark.proves(
    "standardizing.blend",
    by="published",
    source="University of Guelph, standardization problems, "
    "https://www.uoguelph.ca/foodscience/book-page/standardization-problems",
)
def test_cream_that_must_be_used_up_sets_the_whole():
    """The same case as a blend whose quantity is free: all 160 kg of cream, 40 kg of skim."""
    cream = Stream("cream", {"fat": 40}, least_kg=160, most_kg=160)
    found = blend([cream, Stream("skim", {"fat": 0})], [Target.exactly("fat", 32)])
    assert found.masses_kg == pytest.approx((160, 40))


@pytest.mark.proves(
    "standardizing.pearson_square",
    by="published",
    source="University of Guelph, standardization problems, "
    "https://www.uoguelph.ca/foodscience/book-page/standardization-problems",
)
@pytest.mark.proves(
    "standardizing.prove",
    by="published",
    source="University of Guelph, standardization problems, "
    "https://www.uoguelph.ca/foodscience/book-page/standardization-problems",
)
def test_pearson_square_of_cream_into_milk():
    """Cream 35 % into 500 kg of milk 4 % for 10 %: parts 6 : 25, 120 kg, 620 kg; fat 42 + 20 = 62 kg, as printed."""
    square = pearson_square(35, 4, 10, lean_kg=500)
    assert (square.rich_parts, square.lean_parts) == pytest.approx((6, 25))
    assert (square.rich_kg, square.total_kg) == pytest.approx((120, 620))
    proof = prove([Stream("cream", {"fat": 35}), Stream("milk", {"fat": 4})], [120, 500])
    assert [row.parts_kg[0] for row in proof.rows] == pytest.approx([42, 20])
    assert proof.sums_kg[0] == pytest.approx(62.0)


@pytest.mark.proves(
    "standardizing.separate",
    by="independent",
    source="fat balance of a separator, worked by hand from its inputs: 1000 (3.8 - 0.05)/(40 - 0.05)",
)
def test_separator_balance():
    """1000 kg of milk 3.8 %, cream 40 %, skim 0.05 %: 93.87 and 906.13 kg, 98.81 % recovered (worked by hand)."""
    found = separate(1000, 3.8, 40, 0.05)
    assert found.cream_kg == pytest.approx(93.87, abs=0.005)
    assert found.skim_kg == pytest.approx(906.13, abs=0.005)
    assert found.recovery_percent == pytest.approx(98.81, abs=0.005)


@pytest.mark.proves(
    "standardizing.with_fat",
    by="published",
    source="Earle, Unit Operations in Food Processing, chapter 2 (from memory), as reprinted at "
    "https://bissoy.com/mcq/419127",
)
def test_whole_milk_rebuilt_from_its_skim():
    """Skim 90.5/3.5/5.1/0.1/0.8 of whole milk with 4.5 % fat: 86.5, 3.3, 4.9, 4.5, 0.8 %, as printed."""
    skim = {"water": 90.5, "protein": 3.5, "carbohydrate": 5.1, "fat": 0.1, "ash": 0.8}
    whole = with_fat(skim, 4.5)
    printed = {"water": 86.5, "protein": 3.3, "carbohydrate": 4.9, "fat": 4.5, "ash": 0.8}
    # Protein is 3.346 and rounds to 3.3; all agree to the printed digit.
    assert whole == pytest.approx(printed, abs=0.05)


@pytest.mark.proves(
    "standardizing.pearson_square",
    by="published",
    source="Earle, Unit Operations in Food Processing, chapter 2 (from memory), as reprinted at "
    "https://bissoy.com/mcq/419127",
)
def test_fat_to_put_back_into_skim():
    """100 kg of that skim takes 4.607 kg of fat, printed 4.6: fat 100 % into skim 0.1 % for 4.5 %."""
    assert pearson_square(100, 0.1, 4.5, lean_kg=100).rich_kg == pytest.approx(4.607, abs=0.0005)


@pytest.mark.proves(
    "standardizing.blend",
    by="independent",
    source="case from https://quizgecko.com/q/prepare-500-kg-milk-testing-30-fat-and-85-snf-you-are-provided-with-"
    "whole-m-e65r0 (its printed answer is wrong); result by elimination by hand",
)
def test_500_kg_from_whole_milk_powder_and_water():
    """500 kg at 3.0 % fat and 8.5 % SNF: milk 298.37, powder 16.30, water 185.33 kg."""
    found = blend([WHOLE, POWDER, WATER], FAT_3_SNF_85, 500)
    assert found.masses_kg == pytest.approx((298.37, 16.30, 185.33), abs=0.005)
    assert found.proof.holds() and found.only_answer


@pytest.mark.proves(
    "standardizing.prove",
    by="independent",
    source="the wrong answer printed at https://quizgecko.com/q/prepare-500-kg-milk-testing-30-fat-and-85-snf-you-are-"
    "provided-with-whole-m-e65r0, its fat summed by hand",
)
def test_proof_finds_the_published_answer_that_is_wrong():
    """The page prints 370, 127.27 and 2.73 kg: they carry 19.1 kg of fat where 15 are wanted."""
    proof = prove([WHOLE, POWDER, WATER], [370, 127.27, 2.73], FAT_3_SNF_85, 500)
    assert proof.total_kg == pytest.approx(500)
    assert proof.sums_kg[0] == pytest.approx(19.1, abs=0.05)
    assert not proof.holds()
    assert proof.differences[0] == pytest.approx(0.827, abs=0.001)


@pytest.mark.proves(
    "standardizing.blend",
    by="independent",
    source="ice cream setting and equations from https://agritimps.com/journal/ice-cream-formula-94, solved by hand",
)
def test_10_000_kg_of_mix_from_seven_ingredients():
    """Cream 2615.96, milk 5510.12, powder 403.92, sugar 1400, gelatin 20, GMS 20, flavor 30 kg."""
    streams = [
        Stream("cream", {"fat": 38.5, "SNF": 5.5}),
        Stream("milk", {"fat": 3.5, "SNF": 8.5}),
        Stream("powder", {"SNF": 96}),
        *(Stream(name, {name: 100}) for name in ("sugar", "gelatin", "GMS", "flavor")),
    ]
    wanted = {"fat": 12, "SNF": 10, "sugar": 14, "gelatin": 0.2, "GMS": 0.2, "flavor": 0.3}
    found = blend(streams, [Target.exactly(name, percent) for name, percent in wanted.items()], 10_000)
    assert found.masses_kg == pytest.approx((2615.96, 5510.12, 403.92, 1400, 20, 20, 30), abs=0.005)


CREAM_40 = Stream("cream", {"fat": 40, "MSNF": 5.4})
MILK_35 = Stream("milk", {"fat": 3.5, "MSNF": 8.685})
DRY = [Stream("sugar", {"sugar": 100}), Stream("stabilizer", {"stabilizer": 100})]
MIX_10_12 = [
    Target.exactly("fat", 10),
    Target.exactly("MSNF", 12),
    Target.exactly("sugar", 15),
    Target.exactly("stabilizer", 0.3),
]


@pytest.mark.proves(
    "standardizing.blend",
    by="independent",
    source="three simultaneous equations worked by hand: 10 fat, 12 MSNF, 15 sugar, 0.3 stabilizer with condensed skim",
)
def test_concentrate_makes_the_mix_possible():
    """Cream 21.22, milk 43.18, condensed skim 35 % 20.30 kg."""
    streams = [CREAM_40, MILK_35, Stream("condensed skim", {"MSNF": 35}), *DRY]
    assert blend(streams, MIX_10_12, 100).masses_kg[:3] == pytest.approx((21.22, 43.18, 20.30), abs=0.005)


@pytest.mark.proves(
    "standardizing.attainable",
    by="independent",
    source="without a concentrate fat and mass fix MSNF, worked by hand: 6.723 %",
)
def test_without_the_concentrate_msnf_is_fixed_and_named():
    """MSNF comes to 6.723 % once mass and fat are met; the refusal names it and the richest stream."""
    reach = attainable([CREAM_40, MILK_35, *DRY], MIX_10_12, 100)[1]
    assert reach.together == pytest.approx((6.723, 6.723), abs=0.0005)
    with pytest.raises(CannotBlend) as refused:
        blend([CREAM_40, MILK_35, *DRY], MIX_10_12, 100)
    assert (refused.value.target, refused.value.wanted) == ("MSNF", 12)
    assert refused.value.highest == pytest.approx(6.723, abs=0.0005)
    assert "The richest of the streams has 8.685 % MSNF (milk)." in str(refused.value)


@pytest.mark.proves(
    "standardizing.msnf_by_rule",
    by="published",
    source="University of Guelph, ice cream mix problem 3, https://www.uoguelph.ca/foodscience/book/export/html/1712",
)
@pytest.mark.parametrize(("fat", "printed"), [(30, 6.3), (3.5, 8.685), (40, 5.4), (4, 8.64), (0, 9.0)])
def test_nine_percent_rule(fat, printed):
    """MSNF of milk or cream is 0.09 (100 - fat): 5.4 % in cream 40 %, 8.64 % in milk 4 %."""
    assert msnf_by_rule(fat) == pytest.approx(printed)


@pytest.mark.proves(
    "standardizing.separate",
    by="published",
    source="Dairy Processing Handbook, chapter on separators, calculation of mixing ratio (from memory)",
)
@pytest.mark.proves(
    "standardizing.skim_to",
    by="published",
    source="Dairy Processing Handbook, chapter on separators, calculation of mixing ratio (from memory)",
)
def test_surplus_cream_of_standardized_milk():
    """100 kg of 4 %: 9.9 kg cream 40 %, 90.1 kg skim 0.05 %; 7.2 kg back makes 97.3 kg of 3 %, 2.7 kg is left."""
    found = skim_to(100, 4, 40, 0.05, 3)
    assert (found.cream_kg, found.skim_kg) == pytest.approx((9.9, 90.1), abs=0.05)
    assert (found.returned_kg, found.product_kg) == pytest.approx((7.2, 97.3), abs=0.05)
    assert found.surplus_kg == pytest.approx(2.7, abs=0.05)


@pytest.mark.proves(
    "standardizing.account",
    by="independent",
    source="separator day of a reconciliation example: imbalance by hand, and chi-square 1.38 of it",
)
def test_unaccounted_mass_of_a_separator_day():
    """Milk 10,000, skim 9,020, cream 1,060 kg: 80 kg too much out; with their deviations chi-square is 1.38."""
    found = account(10_000, 4.0, 1060, 37, 9020, 0.05)
    assert found.mass_kg == pytest.approx(-80)
    assert found.mass_kg**2 / (50**2 + 45**2 + 10**2) == pytest.approx(1.38, abs=0.005)
