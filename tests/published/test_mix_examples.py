"""Ice cream mixes against published worked examples, and against the serum-point method by hand.

Serum-point: the serum of the mix is what is not fat, sugar, stabilizer or egg; 9 % of it is MSNF when only milk and
cream bring it, and a concentrate brings the rest. It solves no equations, so it is a second method.
"""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.mix import (
    DENSITY_FORMS,
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
from plant.process.standardizing import CannotBlend, Target

pytestmark = pytest.mark.once

SUCROSE = Ingredient("sucrose", {"sucrose": 100})
STABILIZER = Ingredient("stabilizer", {"stabilizer": 100})


def exactly(**percents):
    """Targets of one value; the part's name with _ for a space."""
    return [Target.exactly(part.replace("_", " "), percent) for part, percent in percents.items()]


def serum_point(targets, concentrate_msnf, concentrate_serum=100.0, egg=0.0):
    """The concentrate in 100 kg of mix: what 9 % of the serum lacks of the wanted MSNF.

    Each kg of concentrate brings its MSNF less 9 % of its own serum [both % by mass].
    """
    taken = targets["fat"] + targets["sugars"] + targets["stabilizer"] + egg
    lacking = targets["MSNF"] - 0.09 * (100 - taken)
    return 100 * lacking / (concentrate_msnf - 0.09 * concentrate_serum)


@pytest.mark.proves(
    "mix.formulate",
    by="published",
    source="University of Guelph, ice cream mix problem 3, https://www.uoguelph.ca/foodscience/book/export/html/1712",
)
@pytest.mark.proves("mix.formulate", by="independent", source="serum-point method by hand")
@pytest.mark.proves(
    "mix.cream_or_milk",
    by="published",
    source="University of Guelph, ice cream mix problem 3, https://www.uoguelph.ca/foodscience/book/export/html/1712",
)
def test_mix_with_skim_powder_and_egg():
    """18 fat, 9.5 MSNF, 15 sucrose, 0.4 stabilizer, 1 yolk: powder 4.086, milk and cream 79.51 kg.

    The source prints 4.08 (cut) and 79.52, so 0.01 kg is allowed. The yolk counts as no milk solids.
    """
    egg = Ingredient("frozen egg yolk", {"egg solids": 45}, least_kg=1, most_kg=1)
    powder = Ingredient("skim powder", {"MSNF": 97})
    things = [powder, cream_or_milk("milk", 3.5), cream_or_milk("cream", 30), SUCROSE, STABILIZER, egg]
    mix = formulate(things, exactly(fat=18, MSNF=9.5, sucrose=15, stabilizer=0.4), 100)
    assert mix.masses_kg[:3] == pytest.approx((4.0864, 22.0909, 57.4227), abs=5e-5)
    assert mix.masses_kg[0] == pytest.approx(4.08, abs=0.01)
    assert sum(mix.masses_kg[1:3]) == pytest.approx(79.52, abs=0.01)
    by_serum = serum_point({"fat": 18, "sugars": 15, "stabilizer": 0.4, "MSNF": 9.5}, 97, egg=1.0)
    assert mix.masses_kg[0] == pytest.approx(by_serum)


@pytest.mark.proves(
    "mix.formulate",
    by="published",
    source="University of Guelph, ice cream mix problem 5, https://www.uoguelph.ca/foodscience/book/export/html/1714",
)
@pytest.mark.proves("mix.formulate", by="independent", source="serum-point method by hand")
def test_mix_with_sweetened_condensed_whole_milk():
    """14 fat, 10 MSNF, 15 sucrose, 0.5 stabilizer: condensed 23.58, sucrose 5.10, cream 35.69, milk 35.13 kg.

    Total solids 39.50 %. Cream is 35.695 and printed 35.69: half of the last digit, and a little.
    """
    condensed = Ingredient("sweetened condensed", {"fat": 8, "MSNF": 20, "sucrose": 42})
    things = [condensed, SUCROSE, cream_or_milk("cream", 30), cream_or_milk("milk", 4), STABILIZER]
    mix = formulate(things, exactly(fat=14, MSNF=10, sucrose=15, stabilizer=0.5), 100)
    assert mix.masses_kg[:4] == pytest.approx((23.58, 5.10, 35.69, 35.13), abs=0.006)
    assert mix.masses_kg[:4] == pytest.approx((23.581, 5.096, 35.695, 35.129), abs=5e-4)
    assert mix.composition["total solids"] == pytest.approx(39.50, abs=0.005)
    by_serum = serum_point({"fat": 14, "sugars": 15, "stabilizer": 0.5, "MSNF": 10}, 20, concentrate_serum=50)
    assert mix.masses_kg[0] == pytest.approx(by_serum)


@pytest.mark.proves(
    "mix.formulate",
    by="published",
    source="University of Guelph, ice cream mix problem 7, https://www.uoguelph.ca/foodscience/book/export/html/1716",
)
@pytest.mark.proves("mix.formulate", by="independent", source="serum-point method by hand")
def test_mix_with_liquid_sweeteners():
    """12 fat, 11 MSNF, 14 sucrose, 3 corn syrup solids, 0.5 stabilizer and emulsifier from syrups.

    Printed: liquid sucrose 21.21, corn syrup 3.75, condensed skim 20.65, cream 27.69, milk 26.20 kg. The source
    rounds the serum to 62.54 first, hence 0.05 kg. The water of the syrups belongs to the mix, not to the serum.
    """
    things = [
        Ingredient("liquid sucrose", {"sucrose": 66}),
        Ingredient("corn syrup", {"corn syrup solids": 80}),
        Ingredient("condensed skim", {"MSNF": 35}),
        cream_or_milk("cream", 40),
        cream_or_milk("milk", 3.5),
        STABILIZER,
        Ingredient("emulsifier", {"emulsifier": 100}),
    ]
    wanted = exactly(fat=12, MSNF=11, sucrose=14, corn_syrup_solids=3, stabilizer=0.35, emulsifier=0.15)
    mix = formulate(things, wanted, 100)
    assert mix.masses_kg[:5] == pytest.approx((21.21, 3.75, 20.65, 27.69, 26.20), abs=0.05)
    assert mix.masses_kg[:5] == pytest.approx((21.2121, 3.7500, 20.6600, 27.7103, 26.1676), abs=5e-5)
    syrups = 14 / 0.66 + 3 / 0.80
    by_serum = serum_point({"fat": 12, "sugars": syrups, "stabilizer": 0.5, "MSNF": 11}, 35)
    assert mix.masses_kg[2] == pytest.approx(by_serum)


@pytest.mark.proves(
    "mix.formulate",
    by="independent",
    source="ice cream setting and equations from https://agritimps.com/journal/ice-cream-formula-94, solved by hand",
)
def test_10_000_kg_with_gelatin_and_flavor():
    """Cream 38.5/5.5 2615.96, milk 3.5/8.5 5510.12, powder 0/96 403.92 kg."""
    dry = {"sucrose": 14, "stabilizer": 0.2, "emulsifier": 0.2, "flavor and color": 0.3}
    things = [
        Ingredient("cream", {"fat": 38.5, "MSNF": 5.5}),
        Ingredient("milk", {"fat": 3.5, "MSNF": 8.5}),
        Ingredient("powder", {"MSNF": 96}),
        *(Ingredient(name, {name: 100}) for name in dry),
    ]
    wanted = [*exactly(fat=12, MSNF=10), *(Target.exactly(name, percent) for name, percent in dry.items())]
    mix = formulate(things, wanted, 10_000)
    assert mix.masses_kg == pytest.approx((2615.96, 5510.12, 403.92, 1400, 20, 20, 30), abs=0.005)


@pytest.mark.proves("mix.formulate", by="independent", source="serum-point method by hand")
def test_mix_that_needs_a_concentrate():
    """10 fat, 12 MSNF, 15 sugar, 0.3 stabilizer: cream 21.22, milk 43.18, condensed skim 20.30 kg; none without it."""
    condensed = Ingredient("condensed skim", {"MSNF": 35})
    things = [cream_or_milk("cream", 40), cream_or_milk("milk", 3.5), SUCROSE, STABILIZER]
    wanted = exactly(fat=10, MSNF=12, sucrose=15, stabilizer=0.3)
    mix = formulate([*things, condensed], wanted, 100)
    assert (mix.masses_kg[0], mix.masses_kg[1], mix.masses_kg[4]) == pytest.approx((21.22, 43.18, 20.30), abs=0.005)
    by_serum = serum_point({"fat": 10, "sugars": 15, "stabilizer": 0.3, "MSNF": 12}, 35)
    assert mix.masses_kg[4] == pytest.approx(by_serum)
    with pytest.raises(CannotBlend, match="MSNF"):
        formulate(things, wanted, 100)


@pytest.mark.proves(
    "mix.formulate",
    by="independent",
    source="serum-point method by hand; case as in Goff and Hartel, Ice Cream, 7th ed., mix calculations (from memory)",
)
def test_mix_from_cream_skim_and_powder():
    """13 fat, 11 MSNF, 15 sucrose, 0.5 stabilizer, 0.15 emulsifier: cream 32.5, powder 97 % 5.20, skim 46.65 kg."""
    emulsifier = Ingredient("emulsifier", {"emulsifier": 100})
    things = [
        cream_or_milk("cream", 40),
        cream_or_milk("skim", 0),
        Ingredient("powder", {"MSNF": 97}),
        SUCROSE,
        STABILIZER,
        emulsifier,
    ]
    mix = formulate(things, exactly(fat=13, MSNF=11, sucrose=15, stabilizer=0.5, emulsifier=0.15), 100)
    assert mix.masses_kg[:3] == pytest.approx((32.5, 46.65, 5.20), abs=0.005)
    by_serum = serum_point({"fat": 13, "sugars": 15, "stabilizer": 0.65, "MSNF": 11}, 97)
    assert mix.masses_kg[2] == pytest.approx(by_serum)


@pytest.mark.proves("mix.formulate", by="independent", source="simultaneous equations, numpy.linalg.solve")
@settings(max_examples=50, deadline=None)
@given(st.floats(8, 18), st.floats(9, 12), st.floats(10, 17), st.floats(0.1, 0.5), st.floats(1, 1e5))
def test_mix_solves_its_simultaneous_equations(fat, msnf, sugar, firm, total):
    """Five ingredients, five balances: the masses are the solution of the equations."""
    things = [
        cream_or_milk("cream", 40),
        cream_or_milk("milk", 3.5),
        Ingredient("condensed skim", {"MSNF": 40}),
        SUCROSE,
        STABILIZER,
    ]
    parts = ("fat", "MSNF", "sucrose", "stabilizer")
    rows = [[one.percent(part) for one in things] for part in parts]
    wanted = np.array([fat, msnf, sugar, firm])
    masses = np.linalg.solve([[1] * 5, *rows], [total, *(total * wanted)])
    if masses.min() < 0:
        with pytest.raises(CannotBlend):
            formulate(things, exactly(fat=fat, MSNF=msnf, sucrose=sugar, stabilizer=firm), total)
        return
    mix = formulate(things, exactly(fat=fat, MSNF=msnf, sucrose=sugar, stabilizer=firm), total)
    assert mix.masses_kg == pytest.approx(masses, abs=1e-6 * total)


@pytest.mark.proves(
    "mix.msnf_balance",
    by="published",
    source="rule of ice cream makers, https://th4.ilovetranslation.com/lpEmzJCCHZr=d (read in a copy)",
)
def test_balance_rule():
    """0.15 (100 - 10 - 15 - 0.5) is 11.175 %."""
    assert msnf_balance(10, 15, 0.5) == pytest.approx(11.175)


@pytest.mark.proves(
    "mix.mix_density",
    by="published",
    source="overrun calculations, https://www.scribd.com/document/495662971/Overrun-calculations",
)
@pytest.mark.proves(
    "mix.pounds_per_gallon", by="independent", source="1.0969 kg/L x 3.785411784 / 0.45359237 by hand: 9.154 lb/gal"
)
def test_density_of_a_mix():
    """12 % fat, 38.3 % solids: 1.0969 kg/L, printed 1.096 (cut, not rounded), and 9.154 lb/gal."""
    density = mix_density(12, 38.3)
    assert density == pytest.approx(1.0969, abs=5e-5)
    assert int(density * 1000) / 1000 == 1.096
    assert pounds_per_gallon(density) == pytest.approx(9.154, abs=5e-4)


@pytest.mark.proves("mix.mix_density", by="independent", source="volumes of fat 0.93, solids 1.58, water 1 kg/L added")
@settings(max_examples=50)
@given(st.floats(0, 25), st.floats(26, 60))
def test_density_is_the_sum_of_the_volumes(fat, solids):
    """The long form is a fat density of 0.93 and a solids density of 1.58 kg/L to the digits it gives."""
    volume = fat / 0.93 + (solids - fat) / 1.58 + (100 - solids)
    assert mix_density(fat, solids, "long") == pytest.approx(100 / volume, abs=1e-4)
    assert DENSITY_FORMS["long"] == pytest.approx((1 / 0.93, 1 / 1.58), abs=5e-5)
    assert mix_density(fat, solids) == pytest.approx(mix_density(fat, solids, "long"), rel=0.0025)


@pytest.mark.proves(
    "mix.pounds_per_gallon",
    by="published",
    source="dairy newsletter of 1964, https://paperzz.com/doc/8796165/mn2000-mdpp-1964-no15--342.8kb-application-pdf- "
    "(8.6 lb/gal); 8.345 lb/gal of water (common practice, no source)",
)
@pytest.mark.parametrize(
    ("density", "printed"),
    [(1.033, 8.621), (1.035, 8.637), (1.029, 8.587), (1.041, 8.688), (1.0305, 8.600), (1, 8.345)],
)
def test_weight_of_a_gallon(density, printed):
    """Milk of 1.0305 kg/L is the trade's 8.6 lb/gal; the others follow from the exact factors."""
    assert pounds_per_gallon(density) == pytest.approx(printed, abs=6e-4)


# What has no published value: second methods.

THINGS = [
    Ingredient("cream", {"fat": 40, "MSNF": 5.4}, 3.1, step_kg=0.1),
    Ingredient("milk", {"fat": 3.5, "MSNF": 8.685}, 0.5, step_kg=0.5),
    Ingredient("sucrose", {"sucrose": 100}, 1.0, step_kg=0.05),
    Ingredient("stabilizer", {"stabilizer": 100}, 11.0, step_kg=0.005),
]
BATCH = st.tuples(st.floats(20, 500), st.floats(20, 500), st.floats(5, 200), st.floats(0.5, 5))


@pytest.mark.proves("mix.compose", by="independent", source="numpy matrix product")
@settings(max_examples=50)
@given(BATCH)
def test_composition_is_the_matrix_product(masses):
    """Contents, solids and cost of any masses are products of matrices."""
    mix, total = compose(THINGS, masses), sum(masses)
    parts = ("fat", "MSNF", "sucrose", "stabilizer")
    contents = np.array([[one.percent(part) for one in THINGS] for part in parts]) @ masses / total
    assert [mix.composition[part] for part in parts] == pytest.approx(list(contents))
    assert mix.composition["total solids"] == pytest.approx(contents.sum())
    assert mix.composition["water"] == pytest.approx(100 - contents.sum())
    assert mix.cost == pytest.approx(np.dot([3.1, 0.5, 1.0, 11.0], masses))


@pytest.mark.proves("mix.to_steps", by="independent", source="exact decimal steps searched one by one")
@settings(max_examples=40, deadline=None)
@given(BATCH)
def test_steps_are_the_nearest_and_the_largest_dairy_ingredient_keeps_the_whole(masses):
    """Every mass is a whole number of steps, the nearest to the exact one; the larger of milk and cream makes up."""
    found = to_steps(compose(THINGS, masses)).mix.masses_kg
    whole, largest = sum(map(Decimal, map(repr, masses))), 0 if masses[0] >= masses[1] else 1
    stepped = []
    for one, mass in zip(THINGS, masses, strict=True):
        step, exact = Decimal(str(one.step_kg)), Decimal(repr(mass))
        below = exact // step
        stepped.append(min((abs(exact - count * step), -count, count * step) for count in (below, below + 1))[2])
    rest = whole - sum(stepped[:largest] + stepped[largest + 1 :])
    assert all(float(stepped[at]) == found[at] for at in range(4) if at != largest)
    assert abs(Decimal(repr(found[largest])) - rest) <= Decimal(str(THINGS[largest].step_kg)) / 2
    assert abs(sum(found) - float(whole)) <= THINGS[largest].step_kg / 2 + 1e-9


@pytest.mark.proves("mix.missed", by="independent", source="contents by numpy, compared by hand")
@settings(max_examples=50)
@given(BATCH, st.floats(1, 20), st.floats(1, 20))
def test_what_is_missed_is_what_lies_outside(masses, low, high):
    """A requirement is missed exactly when the content, worked out apart, lies outside."""
    low, high = sorted((low, high))
    fat = np.dot([40, 3.5, 0, 0], masses) / sum(masses)
    found = missed(compose(THINGS, masses), [Target("fat", low, high)])
    if low + 1e-6 <= fat <= high - 1e-6:
        assert found == ()
    elif fat < low - 1e-6 or fat > high + 1e-6:
        assert found[0].difference == pytest.approx(fat - (low if fat < low else high))


@pytest.mark.proves("mix.batch_lines", by="independent", source="the masses of the mix, in their order")
@pytest.mark.proves("mix.weighed", by="independent", source="gross less tare in exact decimals")
@pytest.mark.proves("mix.recomputed", by="independent", source="numpy matrix product with the tested cream")
@settings(max_examples=50)
@given(BATCH, st.floats(38, 42), st.decimals(1, 30, places=2), st.decimals(31, 500, places=2))
def test_batch_is_recomputed_from_what_was_weighed_and_tested(masses, tested, tare, gross):
    """The cream's tested fat, its MSNF in the fat-free part, and the net masses give the composition."""
    lines = batch_lines(compose(THINGS, masses))
    assert tuple(line.target_kg for line in lines) == masses
    cream = weighed(lines[0], float(gross), float(tare), "C-1", {"fat": tested})
    filled = [cream, *(BatchLine(line.ingredient, line.target_kg, "L", 0, line.target_kg) for line in lines[1:])]
    net = float(gross - tare)
    assert cream.actual_kg == pytest.approx(net)
    actual = np.array([net, *masses[1:]])
    mix = recomputed(filled).mix
    assert mix.composition["fat"] == pytest.approx(np.dot([tested, 3.5, 0, 0], actual) / actual.sum())
    serum = 5.4 / 60 * (100 - tested)
    assert mix.composition["MSNF"] == pytest.approx(np.dot([serum, 8.685, 0, 0], actual) / actual.sum())
