"""Overrun: laws of volumes and masses, the limits of a gallon at their edges, the composition part by part."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import overrun
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.overrun import Bulky, Inclusion, Named
from plant.process.properties import density_of_pounds_per_gallon_kg_m3, pounds_per_gallon
from tests.plant.process.findings import finding

pytestmark = pytest.mark.once

percents = st.floats(0, 250)
masses = st.floats(1, 10_000)
densities = st.floats(900, 1200)
inclusions = st.builds(Inclusion, st.floats(0, 50), st.floats(300, 1500), st.floats(0, 100))


@settings(max_examples=50, deadline=None)
@given(masses, percents)
def test_mass_and_volume_say_the_same(mass, percent):
    """The mass of an equal volume falls by the factor that the volume of an equal mass grows."""
    by_volume = overrun.overrun_by_volume(mass, mass * (1 + percent / 100))
    by_mass = overrun.overrun_by_mass(mass, mass / (1 + percent / 100))
    assert by_volume == pytest.approx(percent, abs=1e-6)
    assert by_mass == pytest.approx(percent, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(st.floats(10, 1000), st.floats(1, 500), st.floats(0.001, 1000), percents)
def test_overrun_does_not_ask_for_the_unit(mix, tare, factor, percent):
    """Grams or pounds: the same percent."""
    product = mix / (1 + percent / 100)
    in_one = overrun.overrun_by_cup(mix + tare, product + tare, tare)
    in_other = overrun.overrun_by_cup((mix + tare) * factor, (product + tare) * factor, tare * factor)
    assert in_other == pytest.approx(in_one, rel=1e-6, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(st.floats(10, 1000), st.floats(0, 500), st.lists(percents, max_size=8))
def test_cup_table_read_backwards_is_the_overrun(net, tare, wanted):
    """Each gross weight, weighed, gives the overrun of its row."""
    for row in overrun.cup_weights(net, tare, wanted):
        assert overrun.overrun_by_cup(net + tare, row.gross, tare) == pytest.approx(row.overrun_percent, abs=1e-5)
        assert row.gross == row.net + tare


@settings(max_examples=50, deadline=None)
@given(densities, percents, inclusions)
def test_package_keeps_mass_and_volume(mix_density, percent, inclusion):
    """A kilogram of package is its mix, its inclusions and its air, and nothing else."""
    made = overrun.package(mix_density, percent, inclusion)
    share = inclusion.share_percent / 100
    mix_volume, added = (1 - share) / mix_density, share / inclusion.density_kg_m3
    assert 1 / made.density_kg_m3 == pytest.approx(mix_volume * (1 + percent / 100) + added)
    assert made.air_percent == pytest.approx(100 * mix_volume * percent / 100 * made.density_kg_m3, abs=1e-9)
    assert made.inclusion_volume_percent == pytest.approx(100 * added * made.density_kg_m3, abs=1e-9)
    assert made.package_overrun_percent <= percent + 1e-9


@settings(max_examples=50, deadline=None)
@given(densities, percents, inclusions)
def test_overrun_comes_back_from_the_package(mix_density, percent, inclusion):
    """From overrun to density and back."""
    made = overrun.package(mix_density, percent, inclusion)
    again = overrun.mix_overrun_in_package(mix_density, made.density_kg_m3, inclusion)
    assert again == pytest.approx(percent, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(densities, percents)
def test_package_without_inclusions_is_the_plain_product(mix_density, percent):
    """Nothing added changes nothing."""
    made = overrun.package(mix_density, percent, Inclusion(0, 800))
    assert made.density_kg_m3 == pytest.approx(overrun.product_density_kg_m3(mix_density, percent))
    assert made.package_overrun_percent == pytest.approx(percent, abs=1e-9)
    assert made.weighed_as_plain_percent == pytest.approx(percent, abs=1e-6)
    assert made.air_percent == pytest.approx(overrun.air_percent(percent))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: overrun.overrun_by_volume(0, 10),
        lambda: overrun.overrun_by_volume(10, 9),
        lambda: overrun.overrun_by_volume(10, 15, 6),
        lambda: overrun.overrun_by_volume(10, 41),
        lambda: overrun.overrun_by_volume(10, float("nan")),
        lambda: overrun.overrun_by_mass(500, 501),
        lambda: overrun.overrun_by_cup(140, 30, 30),
        lambda: overrun.overrun_by_cup(20, 140, 30),
        lambda: overrun.cup_weights(110, 30, [-1]),
        lambda: overrun.cup_weights(110, -1, [0]),
        lambda: overrun.product_density_kg_m3(1100, -0.1),
        lambda: overrun.product_density_kg_m3(0, 100),
        lambda: overrun.air_percent(301),
        lambda: Inclusion(61, 800),
        lambda: Inclusion(10, 10),
        lambda: Inclusion(10, 800, 101),
        lambda: overrun.food_solids_lb_gal(4.5, 101),
        lambda: overrun.food_solids_lb_gal(0.5, 36),
        lambda: overrun.food_solids_lb_gal(4.5, 36, 6),
        lambda: overrun.largest_lawful_overrun(400, 40),
        lambda: overrun.least_nonfat_milk_solids_percent(41),
        lambda: overrun.judge_composition(10, 10, 11),
        lambda: overrun.judge_composition(10, 10, 0, 21),
        lambda: Bulky("cocoa", 61),
        lambda: overrun.bulky_weight_percent([Bulky("other", 40), Bulky("cocoa", 40)]),
    ],
)
def test_outside_its_range_it_refuses(wrong):
    """A product denser than its mix, an empty cup that weighs more, shares that cannot be."""
    with pytest.raises(OutsideRange):
        wrong()


def test_package_heavier_than_its_parts_is_infeasible():
    """1100 kg/m3 of mix with 9 % of 748 kg/m3 cannot weigh 1070 kg/m3, and the refusal says what is the most."""
    with pytest.raises(Infeasible, match="without air, 1055.3") as refused:
        overrun.mix_overrun_in_package(1100, 1070, Inclusion(9, 748))
    assert refused.value.highest == pytest.approx(1055.3, abs=0.05)


def test_weight_of_a_gallon_at_its_limit():
    """4.5 lb is met, a thousandth less is not."""
    assert [one.met for one in overrun.judge_gallon(4.5, 40)] == [True, True]
    weight, solids = overrun.judge_gallon(4.499, 40)
    assert (weight.met, solids.met) == (False, True)
    assert weight.margin == pytest.approx(-0.001)


def test_food_solids_of_a_gallon_at_their_limit():
    """1.6 lb of 5 lb is 32 %: met; 31.9 % is not."""
    assert overrun.judge_gallon(5, 32)[1].met
    assert not overrun.judge_gallon(5, 31.9)[1].met


def test_cellulose_counts_neither_as_weight_nor_as_solids():
    """With half a percent of it 4.5 lb is no longer 4.5 lb."""
    weight, solids = overrun.judge_gallon(4.5, 40, 0.5)
    assert weight.value == pytest.approx(4.4775)
    assert solids.value == pytest.approx(4.5 * 0.395)
    assert not weight.met


@settings(max_examples=50, deadline=None)
@given(st.floats(1000, 1150), st.floats(34, 48), st.floats(0, 1), inclusions)
def test_at_the_lawful_overrun_both_are_met_and_just_above_one_is_not(density, solids, cellulose, inclusion):
    """The ceiling is where the judgement turns."""
    try:
        ceiling = overrun.largest_lawful_overrun(density, solids, cellulose, inclusion)
    except Infeasible:
        return

    def judged(percent):
        share = 1 - inclusion.share_percent / 100
        pounds = pounds_per_gallon(overrun.package(density, percent, inclusion).density_kg_m3)
        finished = solids * share + inclusion.share_percent * inclusion.solids_percent / 100
        return [one.met for one in overrun.judge_gallon(pounds, finished, cellulose * share)]

    assert judged(ceiling.overrun_percent) == [True, True]
    if ceiling.overrun_percent < 299:
        assert judged(ceiling.overrun_percent + 0.01) != [True, True]
    assert ceiling.overrun_percent == min(ceiling.by_weight_percent, ceiling.by_solids_percent)


def test_mix_too_thin_for_the_solids_has_no_lawful_overrun():
    """16 % of 9 lb is 1.44 lb: not even without air."""
    with pytest.raises(Infeasible, match="1.440 lb of the 1.6 lb"):
        overrun.largest_lawful_overrun(density_of_pounds_per_gallon_kg_m3(9.0), 16)


def test_solids_bind_in_a_thin_mix():
    """At 9 lb and 34 % solids the weight allows 100 %, the solids 91 %."""
    found = overrun.largest_lawful_overrun(density_of_pounds_per_gallon_kg_m3(9.0), 34)
    assert (round(found.by_weight_percent, 2), round(found.by_solids_percent, 2)) == (100.0, 91.25)
    assert found.binding == "solids"


@pytest.mark.parametrize(
    ("fat", "nonfat", "met"), [(10, 10, True), (9.99, 12, False), (10, 9.99, False), (14, 6, True), (20, 5.9, False)]
)
def test_fat_and_nonfat_solids_at_their_limits(fat, nonfat, met):
    """The pairs of the standard, and just beside them."""
    assert all(one.met for one in overrun.judge_composition(fat, nonfat)) is met


def test_between_two_steps_the_lower_fat_counts():
    """12.9 % fat still wants the 8 % of 12 % fat."""
    assert overrun.least_nonfat_milk_solids_percent(12.9) == 8
    assert overrun.least_nonfat_milk_solids_percent(12.99999999999) == 7


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 40), st.floats(0, 40))
def test_more_fat_never_wants_more_nonfat_solids(one, other):
    """The table falls, and its ends are 10 and 6."""
    low, high = sorted((one, other))
    least, most = (overrun.least_nonfat_milk_solids_percent(fat) for fat in (high, low))
    assert 6 <= least <= most <= 10


def test_floors_hold_however_much_is_bulky():
    """A quarter of fruit would leave 6.5 % fat: 8 and 16 % stay."""
    found = overrun.judge_composition(8, 8, bulky=[Bulky("fruit or nuts", 25)])
    assert finding(found, "milkfat").low == 8
    assert finding(found, "total milk solids").low == 16
    assert all(one.met for one in found)


def test_without_the_factors_more_milk_solids_are_wanted():
    """12 % of fruit at its plain weight leaves 88 %."""
    found = overrun.judge_composition(8.5, 9, bulky=[Bulky("fruit or nuts", 12)], sweetener_allowance=False)
    assert finding(found, "milkfat").low == pytest.approx(8.8)
    assert finding(found, "total milk solids").low == pytest.approx(17.6)
    assert not finding(found, "milkfat").met


def test_whey_is_a_share_of_the_nonfat_milk_solids():
    """2.5 of 10 is met, 2.6 is not, and none of nothing is no share."""
    assert finding(overrun.judge_composition(10, 10, 2.5), "whey").met
    assert not finding(overrun.judge_composition(10, 10, 2.6), "whey").met
    assert finding(overrun.judge_composition(10, 0, 0), "whey").value == 0


def test_egg_yolk_decides_the_name():
    """1.4 % is custard and no longer ice cream; 1.39 % the other way round."""
    for yolk, ice_cream in ((1.39, True), (1.4, False), (1.5, False)):
        assert finding(overrun.judge_composition(10, 10, 0, yolk), "yolk").met is ice_cream
        custard = overrun.judge_composition(10, 10, 0, yolk, named=Named.CUSTARD)
        assert finding(custard, "yolk").met is not ice_cream


def test_yolk_of_custard_with_bulky_flavors_falls_in_proportion_to_its_floor():
    """10 % of nuts: 1.26 %; 30 %: not 0.98 but 1.12 %."""
    for nuts, least in ((10, 1.26), (30, 1.12)):
        found = overrun.judge_composition(10, 10, 0, 1.3, [Bulky("fruit or nuts", nuts)], Named.CUSTARD)
        assert finding(found, "yolk").low == pytest.approx(least)


def test_yolk_of_ice_cream_counts_without_the_bulky_flavors():
    """1.3 % of the food is 1.53 % of what is not nuts."""
    found = overrun.judge_composition(10, 10, 0, 1.3, [Bulky("fruit or nuts", 15)])
    assert finding(found, "yolk").value == pytest.approx(1.3 / 0.85)
    assert not finding(found, "yolk").met


def test_unknown_bulky_flavor_and_too_much_together_are_refused():
    """Neither has a factor nor room."""
    with pytest.raises(CalculationError, match="sawdust is not one of"):
        Bulky("sawdust", 1)
    with pytest.raises(CalculationError, match="more than 100 %"):
        overrun.judge_composition(30, 30, bulky=[Bulky("other", 45)])


def test_every_finding_names_its_clause_and_basis():
    """Nothing is required without saying by what."""
    found = [*overrun.judge_gallon(4.6, 38), *overrun.judge_composition(12, 11, 1, 0.5, [Bulky("cocoa", 3)])]
    assert all("CFR" in one.clause and one.basis for one in found)
