"""The calculator of physical properties."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "properties")


def test_examples_give_the_properties_of_whole_milk():
    """Milk of 3.5 % fat at 4 °C: density of the cold formula, heat by components, viscosity."""
    found = worked()
    assert found.answer.startswith("Density 1034.0 kg/m3, 8.629 lb/gal")
    assert result(found, "Specific heat at 4 °C") == "3.881 kJ/(kg K)"
    assert result(found, "Thermal conductivity at 4 °C") == "0.540 W/(m K)"
    assert result(found, "Viscosity at 4 °C") == "3.56 mPa s"
    assert result(found, "Boiling point of water at 101.325 kPa") == "99.97 °C"
    assert [row[1] for row in found.tables[1].rows] == ["999.975", "1.5673", "4.2074", "0.5655"]


def test_warm_milk_takes_the_density_at_20_c_and_says_so():
    """Outside 0.95 to 10 °C the cold formula gives no number."""
    found = worked(temperature="72 °C")
    assert "from components, at 20 °C" in found.answer
    assert found.tables[0].rows[0][2].startswith("no answer")
    assert result(found, "Viscosity at 72 °C").startswith("no answer")


def test_cream_has_its_own_densities():
    """36 % fat: by components and by the line of cold cream; its viscosity was never measured."""
    found = worked(kind="cream", fat="36 %", protein="2.1 %", carbohydrate="3.1 %", ash="0.5 %")
    assert [row[2] for row in found.tables[0].rows] == ["988.8", "1003.5"]
    assert result(found, "Viscosity at 4 °C").startswith("no answer")


def test_mix_has_the_formula_of_mix():
    """12 % fat and 38.3 % solids: 1096.9 kg/m3, 9.154 lb/gal (course text)."""
    found = worked(kind="mix", fat="12 %", protein="4 %", carbohydrate="21.4 %", ash="0.9 %")
    assert found.tables[0].rows[0][2:4] == ("1096.9", "9.154")


def test_without_a_density_for_weight_it_says_that_it_is_for_heat_alone():
    """A mix of 60 % solids is in no range."""
    found = worked(kind="mix", fat="12 %", protein="10 %", carbohydrate="37 %", ash="1 %")
    assert found.answer.startswith("No density formula for weight holds")


def test_bias_of_the_density_for_heat_is_told():
    """Choi and Okos come out 6 kg/m3 light, on every working."""
    assert "6 kg/m3 light" in " ".join(worked().cautions)


def test_no_pressure_no_boiling_point():
    """What is left empty is not worked out."""
    assert not any("Boiling" in one.what for one in worked(pressure="").steps)


def test_fahrenheit_is_the_same_temperature():
    """39.2 °F is 4 °C."""
    assert worked(temperature="39.2 °F").answer == worked().answer


test_wrong_input_gets_a_sentence = refusals(
    "properties",
    [
        ({"fat": "99 %"}, "more than 100"),
        ({"fat": "-1 %"}, "outside"),
        ({"temperature": "4"}, "unit"),
        ({"temperature": "200 °C"}, "outside"),
        ({"pressure": "0 kPa"}, "outside"),
        ({"kind": "cheese"}, "not one of"),
        ({"protein": ""}, "Nothing was given"),
    ],
)
