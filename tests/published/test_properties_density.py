"""Density and viscosity of milk, cream and mix against tables and papers.

Table of densities: University of Guelph dairy text, copy at https://bsci-ch.org/what-is-the-density-of-milk/
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from plant.process import properties
from plant.process.errors import CalculationError
from plant.process.properties import TABULATED
from plant.process.units import UnitError

pytestmark = pytest.mark.once


@pytest.mark.proves(
    "properties.tabulated_density_kg_m3",
    by="published",
    source="University of Guelph dairy text, densities (copy at https://bsci-ch.org/what-is-the-density-of-milk/)",
)
@pytest.mark.parametrize(
    ("product", "kg_l"),
    [
        ("producer milk", [1.035, 1.033, 1.030, 1.023]),  # 4.00 % fat, 8.95 % solids-not-fat
        ("homogenized milk", [1.033, 1.032, 1.029, 1.022]),  # 3.60, 8.60
        ("fortified skim milk", [1.041, 1.040, 1.038, 1.031]),  # 0.02, 10.15
        ("light cream", [1.021, 1.018, 1.012, 1.000]),  # 20.00, 7.20
        ("heavy cream", [1.008, 1.005, 0.994, 0.978]),  # 36.60, 5.55, from memory
        ("skim milk", [1.036, 1.035, 1.033, 1.026]),  # 0.02, 8.90, from memory
    ],
)
def test_printed_densities(product, kg_l):
    """At 4.4, 10.0, 20.0 and 38.9 °C."""
    found = [properties.tabulated_density_kg_m3(product, one) / 1000 for one in (4.4, 10.0, 20.0, 38.9)]
    assert found == pytest.approx(kg_l, abs=1e-9)


@pytest.mark.proves(
    "properties.cold_milk_density_kg_m3",
    by="published",
    source="Watson and Tittsler, J. Dairy Sci. 44:416, 1961 (formula from memory)",
)
@pytest.mark.parametrize(
    ("temperature_c", "fat", "snf", "kg_l"), [(4.4, 4.0, 8.95, 1.0343), (4.4, 3.6, 8.6, 1.0331), (10, 3.6, 8.6, 1.0321)]
)
def test_cold_milk_by_the_formula(temperature_c, fat, snf, kg_l):
    """To the digits printed."""
    assert properties.cold_milk_density_kg_m3(fat, snf, temperature_c) / 1000 == pytest.approx(kg_l, abs=0.00005)


@pytest.mark.proves(
    "properties.cold_milk_density_kg_m3",
    by="independent",
    source="University of Guelph dairy text, densities (copy at https://bsci-ch.org/what-is-the-density-of-milk/)",
)
@pytest.mark.parametrize("product", ["producer milk", "homogenized milk", "skim milk", "fortified skim milk"])
@pytest.mark.parametrize("temperature_c", [4.4, 10.0])
def test_formula_and_table_of_cold_milk_agree(product, temperature_c):
    """To 0.001 kg/L, though one was fitted to other milk than the other."""
    row = TABULATED[product]
    found = properties.cold_milk_density_kg_m3(row.fat_percent, row.snf_percent, temperature_c)
    assert found == pytest.approx(properties.tabulated_density_kg_m3(product, temperature_c), abs=1.0)


@pytest.mark.proves(
    "properties.cold_milk_density_kg_m3",
    by="published",
    source="Watson and Tittsler, 1961, abstract: 101 samples 1.0312-1.0386 at 0.95, 1.0322-1.0373 at 4.95, "
    "1.0298-1.0368 kg/L at 9.85 °C (https://scilit.net/publications/4a5434f43fb0baf9f06396805f56caad)",
)
@pytest.mark.parametrize(
    ("temperature_c", "low", "high"), [(0.95, 1.0312, 1.0386), (4.95, 1.0322, 1.0373), (9.85, 1.0298, 1.0368)]
)
def test_usual_milk_lies_among_the_samples(temperature_c, low, high):
    """Milk of 3.2/8.5 to 4.5/9.1 % lies between the extremes measured."""
    for fat, snf in ((3.2, 8.5), (4.5, 9.1)):
        assert low <= properties.cold_milk_density_kg_m3(fat, snf, temperature_c) / 1000 <= high


@pytest.mark.proves(
    "properties.cold_cream_density_kg_m3",
    by="published",
    source="57 samples of cream at 9.85 °C, 20 % 1.01583, 30 % 1.00813 kg/L "
    "(https://paperexplained.cn/articles/paper/detail/ab451f2680a9278ab558ecac112008d704521e6e)",
)
@pytest.mark.parametrize(("fat", "kg_l"), [(20, 1.01583), (30, 1.00813)])
def test_cold_cream_by_the_line(fat, kg_l):
    """To the digits printed."""
    assert properties.cold_cream_density_kg_m3(fat) / 1000 == pytest.approx(kg_l, abs=0.000005)


@pytest.mark.proves(
    "properties.cold_cream_density_kg_m3",
    by="independent",
    source="University of Guelph dairy text, densities (copy at https://bsci-ch.org/what-is-the-density-of-milk/)",
)
@pytest.mark.parametrize("product", ["light cream", "heavy cream"])
def test_line_and_table_of_cold_cream_agree(product):
    """To 0.003 kg/L at 10 °C: the creams differ in solids-not-fat and in how long they stood cold."""
    line = properties.cold_cream_density_kg_m3(TABULATED[product].fat_percent)
    assert line == pytest.approx(properties.tabulated_density_kg_m3(product, 10), abs=3)


@pytest.mark.proves(
    "properties.density_20c_kg_m3",
    by="published",
    source="Walstra, Wouters and Geurts, Dairy Science and Technology, densities of components (from memory)",
)
def test_milk_at_20_c_by_components():
    """3.5 fat, 3.3 protein, 4.7 lactose, 0.85 rest: 1030.1 kg/m3."""
    assert properties.density_20c_kg_m3(3.5, 3.3, 4.7, 0.85) == pytest.approx(1030.1, abs=0.05)


@pytest.mark.proves(
    "properties.density_20c_kg_m3",
    by="independent",
    source="University of Guelph dairy text, densities (copy at https://bsci-ch.org/what-is-the-density-of-milk/)",
)
def test_components_and_table_agree_at_20_c():
    """Milk and skim to 0.001 kg/L; light cream to 0.004, for part of its fat is solid at 20 °C."""
    for product, parts, most in (
        ("producer milk", (4.0, 3.3, 4.8, 0.85), 1.0),
        ("homogenized milk", (3.6, 3.2, 4.65, 0.75), 1.0),
        ("skim milk", (0.02, 3.3, 4.8, 0.8), 1.0),
        ("light cream", (20.0, 2.65, 3.85, 0.7), 4.0),
    ):
        table = properties.tabulated_density_kg_m3(product, 20)
        assert properties.density_20c_kg_m3(*parts) == pytest.approx(table, abs=most)


@pytest.mark.proves(
    "properties.density_20c_kg_m3",
    by="published",
    source="University of Guelph dairy text: milk 1027 to 1033 kg/m3 at 20 °C "
    "(copy at https://bsci-ch.org/what-is-the-density-of-milk/)",
)
@pytest.mark.parametrize("parts", [(3.0, 3.0, 4.6, 0.75), (3.5, 3.3, 4.7, 0.85), (4.5, 3.6, 4.8, 0.9)])
def test_usual_milk_at_20_c_lies_in_the_usual_range(parts):
    """Thin and rich milk, 1027 to 1033 kg/m3."""
    assert 1027 <= properties.density_20c_kg_m3(*parts) <= 1033


@pytest.mark.proves(
    "properties.cold_milk_density_kg_m3",
    by="published",
    source="Watson and Tittsler, 1961, abstract: density follows solids-not-fat more closely than fat "
    "(https://scilit.net/publications/4a5434f43fb0baf9f06396805f56caad)",
)
def test_density_follows_solids_not_fat_more_than_fat():
    """A percent of solids-not-fat moves it ten times as far as one of fat."""
    here = properties.cold_milk_density_kg_m3(4, 8.9, 4.4)
    by_snf = properties.cold_milk_density_kg_m3(4, 9.9, 4.4) - here
    by_fat = here - properties.cold_milk_density_kg_m3(5, 8.9, 4.4)
    assert by_snf > 10 * by_fat > 0


@pytest.mark.proves(
    "properties.mix_density_kg_m3",
    by="published",
    source="ice-cream course text, example of mix density (https://www.scribd.com/document/495662971)",
)
def test_mix_by_its_composition():
    """12 % fat, 38.3 % solids: 1.0969 kg/L. The source prints 1.096, cut and not rounded."""
    found = properties.mix_density_kg_m3(12, 38.3) / 1000
    assert found == pytest.approx(1.0969, abs=0.00005)
    assert int(found * 1000) / 1000 == 1.096


@pytest.mark.proves(
    "properties.mix_density_kg_m3", by="independent", source="Choi and Okos, 1986, the same mix at 4 °C"
)
def test_mix_and_components_agree_within_a_percent():
    """A mix of 12 fat, 11 milk solids-not-fat, 15.3 sugars, by the heat properties' own density."""
    food = properties.Composition(61.7, protein=4.0, fat=12, carbohydrate=21.4, ash=0.9)
    assert properties.mix_density_kg_m3(12, 38.3) == pytest.approx(properties.food_density_kg_m3(food, 4), rel=0.01)


@pytest.mark.proves(
    "properties.pounds_per_gallon",
    by="published",
    source="NIST Handbook 44 appendix C, pound and gallon (from memory); 8.6 lb/gal of milk: "
    "http://www.ask.com/question/how-much-does-one-gallon-of-milk-weigh-in-pounds",
)
@pytest.mark.proves(
    "properties.density_of_pounds_per_gallon_kg_m3",
    by="published",
    source="8.6 lb/gal, dairy newsletter of 1964 (https://paperzz.com/doc/8796165)",
)
@pytest.mark.parametrize(
    ("kg_l", "lb_gal"), [(1.033, 8.621), (1.035, 8.637), (1.029, 8.587), (1.041, 8.688), (1.0969, 9.154), (1, 8.345)]
)
def test_pounds_a_gallon(kg_l, lb_gal):
    """To the digits printed; milk of the trade's 8.6 lb/gal is 1.0305 kg/L."""
    assert properties.pounds_per_gallon(kg_l * 1000) == pytest.approx(lb_gal, abs=0.0006)
    assert properties.density_of_pounds_per_gallon_kg_m3(8.6) / 1000 == pytest.approx(1.0305, abs=0.00005)


@pytest.mark.proves(
    "properties.milk_viscosity_mpas",
    by="published",
    source="Bakshi and Smith, J. Dairy Sci. 67:1157, 1984 "
    "(https://experts.umn.edu/en/publications/effect-of-fat-content-and-temperature-on-viscosity-in-relation-to)",
)
@pytest.mark.parametrize(
    ("fat", "temperature_c", "mpas"),
    [(3.5, 4, 3.56), (3.5, 20, 2.08), (0.1, 4, 2.53)],
)
def test_viscosity_of_milk(fat, temperature_c, mpas):
    """To the digits printed. One index prints +8.9 for -8.9, which would give millions."""
    assert properties.milk_viscosity_mpas(fat, temperature_c) == pytest.approx(mpas, abs=0.005)


@pytest.mark.proves(
    "properties.milk_viscosity_mpas",
    by="published",
    source="Walstra and others, Dairy Science and Technology: whole milk about 2.1 mPa s at 20 °C (from memory)",
)
def test_viscosity_is_that_of_the_textbooks():
    """Whole milk is about twice as viscous as water at 20 °C."""
    ratio = properties.milk_viscosity_mpas(3.5, 20) / properties.water_viscosity_mpas(20)
    assert ratio == pytest.approx(2.1, abs=0.15)


GUELPH = "University of Guelph dairy text, densities (copy at https://bsci-ch.org/what-is-the-density-of-milk/)"


@pytest.mark.proves("properties.usual_density", by="published", source=GUELPH)
@pytest.mark.parametrize(
    ("kind", "product"),
    [
        ("milk", "producer milk"), ("milk", "homogenized milk"), ("milk", "skim milk"), ("milk", "fortified skim milk"),
        ("cream", "half-and-half"), ("cream", "light cream"), ("cream", "heavy cream"),
    ],
)  # fmt: skip
def test_usual_densities_by_their_tests_are_the_printed_ones(kind, product):
    """At 4.4 °C, within the doubt that each one says of itself; cream is lighter than the trade's 8.6 lb/gal."""
    row = TABULATED[product]
    found = properties.usual_density(kind, row.fat_percent, row.fat_percent + row.snf_percent)
    printed = properties.pounds_per_gallon(row.kg_l[0] * 1000)
    assert found.tested and float(found.lb_per_gal) == pytest.approx(printed, rel=float(found.doubt))
    untested = properties.usual_density(kind, row.fat_percent)
    assert not untested.tested and untested.doubt > found.doubt
    assert float(untested.lb_per_gal) == pytest.approx(printed, rel=float(untested.doubt))


@pytest.mark.proves(
    "properties.usual_density",
    by="published",
    source="overrun calculations, 12 % fat, 38.3 % solids (https://www.scribd.com/document/495662971/Overrun-calculations)",
)
def test_a_mix_weighs_nine_pounds_and_milk_the_trades_figure():
    """1.0969 kg/L is 9.154 lb/gal (the source prints 1.096, cut); milk that nobody tested has the trade's 8.6."""
    assert float(properties.usual_density("mix", 12, 38.3).lb_per_gal) == pytest.approx(1.0969 * 8.345404, abs=0.002)
    assert float(properties.usual_density("mix", 12).lb_per_gal) == pytest.approx(9.15, abs=0.01)
    assert str(properties.usual_density("milk").lb_per_gal) == "8.6"
    with pytest.raises(CalculationError):
        properties.usual_density("brine")
    with pytest.raises(CalculationError):
        properties.usual_density("mix", 40, 30)


@pytest.mark.proves(
    "properties.usual_density", by="independent", source="Choi and Okos 1986 (coefficients of properties.composition)"
)
@pytest.mark.parametrize(
    ("kind", "parts"),
    [("mix", {"water": 61.7, "fat": 12, "protein": 4, "carbohydrate": 21.4, "ash": 0.9}),
     ("milk", {"water": 87.7, "fat": 3.5, "protein": 3.3, "carbohydrate": 4.8, "ash": 0.7})],
)  # fmt: skip
def test_usual_densities_beside_the_components(kind, parts):
    """One per cent apart at most, though the one was fitted to milk and the other to components."""
    by_parts = properties.food_density_kg_m3(properties.Composition(**parts), 4.4)
    found = properties.usual_density(kind, parts["fat"], 100 - parts["water"])
    assert float(found.lb_per_gal) == pytest.approx(properties.pounds_per_gallon(by_parts), rel=0.01)


BY_DEFINITION = "the pound is 0.45359237 kg, the gallon 231 cubic inches (NIST SP 811, from memory)"


@pytest.mark.proves("properties.between", by="independent", source=BY_DEFINITION)
@pytest.mark.proves("properties.crosses", by="independent", source=BY_DEFINITION)
def test_between_mass_and_volume():
    """10 gal of mix at 9.15 lb/gal are 91.5 lb, 41.504 kg, and back again; a length is neither."""
    weight = Decimal("9.15")
    assert properties.between(Decimal(10), "gal", "lb", weight) == Fraction("91.5")
    assert float(properties.between(Decimal(10), "gal", "kg", weight)) == pytest.approx(91.5 * 0.45359237, rel=1e-12)
    assert properties.between(properties.between(Decimal(7), "kg", "L", weight), "L", "kg", weight) == 7
    assert properties.crosses("kg", "mL") and not properties.crosses("kg", "lb") and not properties.crosses("m", "gal")
    with pytest.raises(UnitError):
        properties.between(Decimal(1), "m", "gal", weight)
