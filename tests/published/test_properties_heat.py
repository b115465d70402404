"""Heat properties by composition: Choi and Okos, 1986, and what others say of the same components.

The coefficients were read in a scan with errors (https://www.scribd.com/document/496001891) and in an open library.
"""

from __future__ import annotations

import numpy as np
import pytest

from plant.process import properties
from plant.process.properties import Composition

pytestmark = pytest.mark.once

MILK = Composition(87.7, protein=3.3, fat=3.5, carbohydrate=4.8, ash=0.7)


@pytest.mark.proves(
    "properties.food_density_kg_m3",
    by="published",
    source="Choi and Okos, 1986, coefficients and mixing rules (https://www.scribd.com/document/496001891)",
)
@pytest.mark.proves(
    "properties.specific_heat_kj_kgk",
    by="published",
    source="Choi and Okos, 1986, coefficients and mixing rules (https://www.scribd.com/document/496001891)",
)
@pytest.mark.proves(
    "properties.thermal_conductivity_w_mk",
    by="published",
    source="Choi and Okos, 1986, coefficients and mixing rules (https://www.scribd.com/document/496001891)",
)
@pytest.mark.parametrize(
    ("temperature_c", "kg_m3", "kj_kgk", "w_mk"),
    [(4, 1025.4, 3.881, 0.540), (20, 1023.6, 3.884, 0.564), (72, 1005.3, 3.911, 0.620)],
)
def test_whole_milk(temperature_c, kg_m3, kj_kgk, w_mk):
    """To the digits printed."""
    assert properties.food_density_kg_m3(MILK, temperature_c) == pytest.approx(kg_m3, abs=0.05)
    assert properties.specific_heat_kj_kgk(MILK, temperature_c) == pytest.approx(kj_kgk, abs=0.0005)
    assert properties.thermal_conductivity_w_mk(MILK, temperature_c) == pytest.approx(w_mk, abs=0.0005)


@pytest.mark.proves(
    "properties.food_density_kg_m3",
    by="published",
    source="Choi and Okos, 1986: whole milk 1023.60 kg/m3 at 20 °C by the reciprocal rule",
)
def test_density_mixes_by_volume_and_not_by_mass():
    """1023.60; adding density x mass fraction, as an open library does, would give 1042.3."""
    assert properties.food_density_kg_m3(MILK, 20) == pytest.approx(1023.60, abs=0.005)
    by_mass = sum(share * properties.component_density_kg_m3(name, 20) for name, share in MILK.fractions().items())
    assert by_mass == pytest.approx(1042.3, abs=0.05)


@pytest.mark.proves(
    "properties.component_density_kg_m3",
    by="independent",
    source="IAPWS SR6-08 density of water: the bias of Choi and Okos, 995.74 for 998.21 kg/m3 at 20 °C",
)
def test_known_bias_of_its_water_density():
    """Water 2.47 kg/m3 light at 20 °C, so milk about 6 kg/m3."""
    light = properties.component_density_kg_m3("water", 20)
    assert light == pytest.approx(995.74, abs=0.005)
    assert properties.water_density_kg_m3(20) - light == pytest.approx(2.47, abs=0.01)
    true = properties.density_20c_kg_m3(3.5, 3.3, 4.8, 0.7)
    assert 5 < true - properties.food_density_kg_m3(MILK, 20) < 7.5


# At 20 °C, worked out with numpy's polynomials from coefficients in rising order as printed: another way to read them.
AT_20 = {
    "density": {
        "protein": [1329.9, -0.5184], "fat": [925.59, -0.41757], "carbohydrate": [1599.1, -0.31046],
        "fiber": [1311.5, -0.36589], "ash": [2423.8, -0.28063], "water": [997.18, 3.1439e-3, -3.7574e-3],
    },
    "heat": {
        "protein": [2.0082, 1.2089e-3, -1.3129e-6], "fat": [1.9842, 1.4733e-3, -4.8008e-6],
        "carbohydrate": [1.5488, 1.9625e-3, -5.9399e-6], "ash": [1.0926, 1.8896e-3, -3.6817e-6],
        "water": [4.1762, -9.0864e-5, 5.4731e-6],
    },
    "conductivity": {
        "protein": [0.17881, 1.1958e-3, -2.7178e-6], "fat": [0.18071, -2.7604e-4, -1.7749e-7],
        "carbohydrate": [0.20141, 1.3874e-3, -4.3312e-6], "ash": [0.32962, 1.4011e-3, -2.9069e-6],
        "water": [0.57109, 1.7625e-3, -6.7036e-6],
    },
}  # fmt: skip


@pytest.mark.proves(
    "properties.component_density_kg_m3",
    by="published",
    source="Choi and Okos, 1986, density (https://github.com/gbingol/scisuit_pypkg, coefficients)",
)
@pytest.mark.proves(
    "properties.component_specific_heat_kj_kgk",
    by="published",
    source="Choi and Okos, 1986, specific heat (https://github.com/gbingol/scisuit_pypkg; water from memory)",
)
@pytest.mark.proves(
    "properties.component_conductivity_w_mk",
    by="published",
    source="Choi and Okos, 1986, conductivity (https://github.com/gbingol/scisuit_pypkg, coefficients)",
)
@pytest.mark.parametrize("temperature_c", [0, 20, 72])
def test_components_have_the_printed_coefficients(temperature_c):
    """Every component that a second text prints."""
    for quantity, one in (
        ("density", properties.component_density_kg_m3),
        ("heat", properties.component_specific_heat_kj_kgk),
        ("conductivity", properties.component_conductivity_w_mk),
    ):
        for name, coefficients in AT_20[quantity].items():
            expected = np.polynomial.Polynomial(coefficients)(temperature_c)
            assert one(name, temperature_c) == pytest.approx(expected, rel=1e-12)


@pytest.mark.proves(
    "properties.component_specific_heat_kj_kgk",
    by="independent",
    source="IAPWS-95 specific heat of water: 4.1762 of 1986 fits it, 4.1289 of later printings does not",
)
@pytest.mark.proves(
    "properties.component_conductivity_w_mk", by="independent", source="IAPWS 2011 conductivity of water"
)
def test_its_water_is_water():
    """Specific heat to 0.8 % and conductivity to 2.3 % of the formulations for water, 0 to 100 °C."""
    for temperature_c in (4, 20, 40, 72, 95):
        assert properties.component_specific_heat_kj_kgk("water", temperature_c) == pytest.approx(
            properties.water_specific_heat_kj_kgk(temperature_c), rel=0.008
        )
        assert properties.component_conductivity_w_mk("water", temperature_c) == pytest.approx(
            properties.water_conductivity_w_mk(temperature_c), rel=0.023
        )


# Choi and Okos fitted the diffusivity of each component on its own: 1e-6 m2/s, constant, T, T squared (from memory).
DIFFUSIVITY = {
    "protein": (0.068714, 4.7578e-4, -1.4646e-6),
    "carbohydrate": (0.080842, 5.3052e-4, -2.3218e-6),
    "ash": (0.12461, 3.7321e-4, -1.2244e-6),
    "fiber": (0.073976, 5.1902e-4, -2.2202e-6),
    "water": (0.13168, 6.2477e-4, -2.4022e-6),
    "fat": (0.098777, -1.2569e-5, -3.8286e-8),
}


@pytest.mark.proves(
    "properties.thermal_diffusivity_m2_s",
    by="published",
    source="Choi and Okos, 1986, their separate fit of diffusivity (from memory)",
)
@pytest.mark.proves(
    "properties.component_density_kg_m3",
    by="published",
    source="Choi and Okos, 1986, their separate fit of diffusivity = k/(rho cp) (from memory)",
)
@pytest.mark.parametrize("name", sorted(DIFFUSIVITY))
def test_conductivity_density_and_heat_give_the_diffusivity_fitted_apart(name):
    """Within 5 % from 0 to 40 °C (fat 7 %): a wrong coefficient in any of the three tables would show."""
    food = Composition(**{"water": 0.0, name: 100.0})
    for temperature_c in (0, 20, 40):
        constant, linear, square = DIFFUSIVITY[name]
        expected = (constant + linear * temperature_c + square * temperature_c**2) * 1e-6
        found = properties.thermal_diffusivity_m2_s(food, temperature_c)
        assert found == pytest.approx(expected, rel=0.07 if name == "fat" else 0.05)


@pytest.mark.proves(
    "properties.thermal_diffusivity_m2_s",
    by="published",
    source="Choi and Okos, 1986, their separate fit of the diffusivity of ice (from memory)",
)
@pytest.mark.parametrize("temperature_c", [-30, -20, -5])
def test_ice_has_the_diffusivity_fitted_apart(temperature_c):
    """1.1756 - 0.0060833 T + 0.000095037 T^2, in 1e-6 m2/s: to 0.2 %."""
    expected = (1.1756 - 6.0833e-3 * temperature_c + 9.5037e-5 * temperature_c**2) * 1e-6
    found = properties.thermal_diffusivity_m2_s(Composition(0, ice=100), temperature_c)
    assert found == pytest.approx(expected, rel=0.002)


@pytest.mark.proves(
    "properties.specific_heat_kj_kgk",
    by="independent",
    source="Heldman and Singh, 1981: cp = 1.424 carbohydrate + 1.549 protein + 1.675 fat + 0.837 ash + 4.187 water "
    "(from memory)",
)
def test_specific_heat_agrees_with_another_correlation():
    """Milk, cream and mix to 5 % of a set of coefficients found by others, near 20 °C."""
    for food in (
        MILK,
        Composition(58.0, protein=2.1, fat=36, carbohydrate=3.4, ash=0.5),
        Composition(61.7, protein=4.0, fat=12, carbohydrate=21.4, ash=0.9),
    ):
        other = 1.424 * food.carbohydrate + 1.549 * food.protein + 1.675 * food.fat + 0.837 * food.ash
        other = (other + 4.187 * food.water) / 100
        assert properties.specific_heat_kj_kgk(food, 20) == pytest.approx(other, rel=0.05)


@pytest.mark.proves(
    "properties.thermal_conductivity_w_mk",
    by="published",
    source="Walstra, Wouters and Geurts, Dairy Science and Technology: milk about 0.56 W/(m K) at 20 °C (from memory)",
)
@pytest.mark.proves(
    "properties.specific_heat_kj_kgk",
    by="published",
    source="Walstra, Wouters and Geurts, Dairy Science and Technology: milk about 3.9 kJ/(kg K) (from memory)",
)
def test_milk_of_the_textbooks():
    """To the digits of the textbook."""
    assert properties.thermal_conductivity_w_mk(MILK, 20) == pytest.approx(0.56, abs=0.01)
    assert properties.specific_heat_kj_kgk(MILK, 20) == pytest.approx(3.9, abs=0.05)
