"""Properties of milk, cream, mix and water: their laws, and what they refuse."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import properties
from plant.process.errors import CalculationError, OutsideRange
from plant.process.properties import COMPONENTS, TABLE_C, TABULATED, Composition

pytestmark = pytest.mark.once

MILK = Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7)
OF_FOOD = (
    properties.food_density_kg_m3,
    properties.specific_heat_kj_kgk,
    properties.thermal_conductivity_w_mk,
    properties.thermal_diffusivity_m2_s,
)
OF_COMPONENT = (
    properties.component_density_kg_m3,
    properties.component_specific_heat_kj_kgk,
    properties.component_conductivity_w_mk,
)
OF_WATER = (
    properties.water_density_kg_m3,
    properties.water_specific_heat_kj_kgk,
    properties.water_viscosity_mpas,
    properties.water_conductivity_w_mk,
)
parts = st.lists(st.floats(0.01, 100), min_size=6, max_size=6)


def composition(weights, temperature_c=20.0):
    """A composition from any weights; no ice."""
    total = sum(weights)
    water, protein, fat, carbohydrate, ash, fiber = (100 * one / total for one in weights)
    return Composition(water, protein, fat, carbohydrate, ash, fiber)


@settings(max_examples=50, deadline=None)
@given(parts, st.floats(-40, 150))
def test_a_food_lies_between_its_components(weights, temperature_c):
    """No mixture is denser, or holds more heat, than the extreme of its parts."""
    food = composition(weights)
    for mixed, single in zip(OF_FOOD[:3], OF_COMPONENT, strict=True):
        of_parts = [single(name, temperature_c) for name in COMPONENTS if name != "ice"]
        assert min(of_parts) - 1e-9 <= mixed(food, temperature_c) <= max(of_parts) + 1e-9


@settings(max_examples=50, deadline=None)
@given(st.sampled_from([one for one in COMPONENTS if one != "ice"]), st.floats(-40, 150))
def test_a_food_of_one_component_is_that_component(name, temperature_c):
    """A hundred percent of one part has its properties."""
    food = Composition(**{"water": 0.0, name: 100.0})
    for mixed, single in zip(OF_FOOD[:3], OF_COMPONENT, strict=True):
        assert mixed(food, temperature_c) == pytest.approx(single(name, temperature_c), rel=1e-12)


@settings(max_examples=50, deadline=None)
@given(parts, parts, st.floats(0.05, 0.95), st.floats(-40, 150))
def test_mixing_conserves_heat_and_volume(weights, others, share, temperature_c):
    """Two foods mixed by mass have the sum of their heats and of their volumes."""
    one, other = composition(weights), composition(others)
    mixed = Composition(
        **{name: share * getattr(one, name) + (1 - share) * getattr(other, name) for name in COMPONENTS}
    )

    def heat(food):
        return properties.specific_heat_kj_kgk(food, temperature_c)

    def volume(food):
        return 1 / properties.food_density_kg_m3(food, temperature_c)

    for each in (heat, volume):
        assert each(mixed) == pytest.approx(share * each(one) + (1 - share) * each(other), rel=1e-9)


def test_printed_percents_that_miss_a_hundred_a_little_are_spread():
    """99.9 % means the same food as 100 %."""
    nearly = Composition(87.6123, protein=3.2967, fat=3.4965, carbohydrate=4.7952, ash=0.6993)
    for each in OF_FOOD:
        assert each(nearly, 20) == pytest.approx(each(MILK, 20), rel=1e-12)


@pytest.mark.parametrize("wrong", [{"water": 87.0}, {"water": 87.0, "fat": 20.0}])
def test_parts_that_do_not_add_to_a_hundred_are_refused(wrong):
    """A forgotten part would change every property."""
    with pytest.raises(CalculationError, match="add to"):
        Composition(**wrong)


@pytest.mark.parametrize("wrong", [{"water": 101.0}, {"water": 104.0, "fat": -4.0}, {"water": math.nan}])
def test_a_part_below_none_or_above_all_is_refused(wrong):
    """No percent below 0 or above 100, and a number at all."""
    with pytest.raises(OutsideRange):
        Composition(**wrong)


@pytest.mark.parametrize("temperature_c", [-40.1, 150.1, math.nan, math.inf])
def test_food_outside_the_range_is_refused(temperature_c):
    """-40 to 150 °C."""
    for each in OF_FOOD:
        with pytest.raises(OutsideRange):
            each(MILK, temperature_c)


def test_ice_is_refused_above_its_melting_point():
    """Ice at 0 °C has an answer, a hair warmer it has none, alone and in a food."""
    frozen = Composition(40, carbohydrate=30, ice=30)
    assert properties.food_density_kg_m3(frozen, 0) > 0
    for each in OF_FOOD:
        with pytest.raises(OutsideRange, match="ice"):
            each(frozen, 0.01)
    for each in OF_COMPONENT:
        with pytest.raises(OutsideRange, match="ice"):
            each("ice", 0.01)


def test_a_component_that_is_none_is_refused():
    """Only the seven components have coefficients."""
    for each in OF_COMPONENT:
        with pytest.raises(CalculationError, match="sugar"):
            each("sugar", 20)


@pytest.mark.parametrize(
    ("fat", "snf", "temperature_c"),
    [(7.1, 8.9, 4), (-0.1, 8.9, 4), (4, 6.9, 4), (4, 11.1, 4), (4, 8.9, 0.9), (4, 8.9, 10.1), (4, 8.9, math.nan)],
)
def test_cold_milk_outside_its_range_is_refused(fat, snf, temperature_c):
    """Fat to 7 %, solids-not-fat 7 to 11 %, 0.95 to 10 °C."""
    with pytest.raises(OutsideRange):
        properties.cold_milk_density_kg_m3(fat, snf, temperature_c)


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 6.9), st.floats(7, 10.9), st.floats(1, 9.9))
def test_cold_milk_is_lighter_with_fat_and_heat_and_heavier_with_solids(fat, snf, temperature_c):
    """The signs of the formula's three terms."""
    here = properties.cold_milk_density_kg_m3(fat, snf, temperature_c)
    assert properties.cold_milk_density_kg_m3(fat + 0.1, snf, temperature_c) < here
    assert properties.cold_milk_density_kg_m3(fat, snf + 0.1, temperature_c) > here
    assert properties.cold_milk_density_kg_m3(fat, snf, temperature_c + 0.1) < here


@pytest.mark.parametrize("fat", [19.9, 50.1])
def test_cream_outside_its_samples_is_refused(fat):
    """20 to 50 % fat."""
    with pytest.raises(OutsideRange):
        properties.cold_cream_density_kg_m3(fat)


@pytest.mark.parametrize("parts", [(-0.1, 3, 5, 1), (50, 5, 5, 1), (3, 3, 5, math.nan)])
def test_components_at_20_c_outside_their_range_are_refused(parts):
    """No part below 0, together at most 60 %."""
    with pytest.raises(OutsideRange):
        properties.density_20c_kg_m3(*parts)


@pytest.mark.parametrize(("fat", "solids"), [(25.1, 40), (10, 19.9), (22, 21.9), (10, 50.1)])
def test_mix_outside_its_range_is_refused(fat, solids):
    """Fat to 25 %, total solids 20 to 50 % and not below the fat."""
    with pytest.raises(OutsideRange):
        properties.mix_density_kg_m3(fat, solids)


@pytest.mark.parametrize("product", sorted(TABULATED))
def test_table_answers_at_its_temperatures_and_between(product):
    """What is printed at a column, and between two of them a value between the two."""
    printed = [1000 * one for one in TABULATED[product].kg_l]
    assert [properties.tabulated_density_kg_m3(product, at) for at in TABLE_C] == pytest.approx(printed)
    between = properties.tabulated_density_kg_m3(product, 15)
    assert between == pytest.approx((printed[1] + printed[2]) / 2)


@pytest.mark.parametrize("temperature_c", [4.3, 39.0, math.nan])
def test_table_is_not_extrapolated(temperature_c):
    """4.4 to 38.9 °C."""
    with pytest.raises(OutsideRange):
        properties.tabulated_density_kg_m3("light cream", temperature_c)


def test_table_has_no_product_between_two():
    """An unknown product is refused with those there are."""
    with pytest.raises(CalculationError, match="heavy cream"):
        properties.tabulated_density_kg_m3("cream of 30 %", 10)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 3000))
def test_pounds_a_gallon_and_back_is_the_same(density):
    """The two conversions are each other's inverse."""
    pounds = properties.pounds_per_gallon(density)
    if pounds <= 25:
        assert properties.density_of_pounds_per_gallon_kg_m3(pounds) == pytest.approx(density, rel=1e-12)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, 3001])
def test_pounds_a_gallon_of_no_density_is_refused(wrong):
    """Nothing that has weight has density 0."""
    with pytest.raises(OutsideRange):
        properties.pounds_per_gallon(wrong)
    with pytest.raises(OutsideRange):
        properties.density_of_pounds_per_gallon_kg_m3(wrong)


@pytest.mark.parametrize(("fat", "temperature_c"), [(36, 4), (30.1, 4), (0.05, 4), (3.5, -0.1), (3.5, 30.1)])
def test_viscosity_outside_its_range_is_refused(fat, temperature_c):
    """Cream of 36 % would come out at 92 mPa s, beyond the 60 that were measured."""
    with pytest.raises(OutsideRange):
        properties.milk_viscosity_mpas(fat, temperature_c)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 30), st.floats(0, 30))
def test_viscosity_stays_in_what_was_measured(fat, temperature_c):
    """1 to 60 mPa s over the whole range."""
    assert 1 <= properties.milk_viscosity_mpas(fat, temperature_c) <= 60


@pytest.mark.parametrize("temperature_c", [-0.01, 100.01, math.nan, math.inf])
def test_water_outside_its_range_is_refused(temperature_c):
    """0 to 100 °C."""
    for each in OF_WATER:
        with pytest.raises(OutsideRange):
            each(temperature_c)


def test_water_is_densest_at_four_degrees():
    """The maximum of density lies at 3.98 °C."""
    densest = max(range(1001), key=lambda hundredth: properties.water_density_kg_m3(hundredth / 100))
    assert 395 <= densest <= 401


@settings(max_examples=50, deadline=None)
@given(st.floats(0.7, 22_000))
def test_boiling_point_and_vapor_pressure_are_inverse(pressure_kpa):
    """Water boils where its vapor pressure is the pressure."""
    assert properties.vapor_pressure_kpa(properties.boiling_point_c(pressure_kpa)) == pytest.approx(
        pressure_kpa, rel=1e-7
    )


@pytest.mark.parametrize("pressure_kpa", [0, 0.6, 22_064.1, math.nan])
def test_boiling_outside_the_saturation_line_is_refused(pressure_kpa):
    """From the freezing point to the critical point."""
    with pytest.raises(OutsideRange):
        properties.boiling_point_c(pressure_kpa)


@pytest.mark.parametrize("temperature_c", [-0.1, 374, math.nan])
def test_vapor_pressure_outside_the_saturation_line_is_refused(temperature_c):
    """0 to 373.946 °C."""
    with pytest.raises(OutsideRange):
        properties.vapor_pressure_kpa(temperature_c)
