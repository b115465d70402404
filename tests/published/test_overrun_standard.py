"""The gallon and the composition of ice cream against 21 CFR 135.110(a)(2) and 7 CFR 58.2825.

Read at http://www.grokfood.com/regulations/135.110.htm (first part), in state copies at
https://www.law.cornell.edu/regulations/connecticut/Regs-Conn-State-Agencies-SS-21a-58-15 and
https://www.law.cornell.edu/regulations/pennsylvania/7-Pa-Code-SS-39-12, and at
https://www.ams.usda.gov/grades-standards/ice-cream.
"""

from __future__ import annotations

import pytest
from scipy.optimize import brentq

from plant.process import overrun
from plant.process.overrun import Bulky, Inclusion, Named
from plant.process.properties import (
    density_of_pounds_per_gallon_kg_m3,
    mix_density_kg_m3,
    pounds_per_gallon,
)
from tests.plant.process.findings import finding

pytestmark = pytest.mark.once


@pytest.mark.proves(
    "overrun.judge_gallon", by="published", source="21 CFR 135.110(a)(2): 4.5 lb and 1.6 lb of solids a gallon"
)
@pytest.mark.proves(
    "overrun.food_solids_lb_gal", by="published", source="21 CFR 135.110(a)(2): 4.5 lb and 1.6 lb of solids a gallon"
)
def test_mix_of_the_course_text_at_full_overrun():
    """9.154 lb/gal of mix; at 100 % 4.577 lb and 1.753 lb of food solids: both are met."""
    mix = mix_density_kg_m3(12, 38.3)
    assert pounds_per_gallon(mix) == pytest.approx(9.154, abs=0.0005)
    pounds = pounds_per_gallon(overrun.product_density_kg_m3(mix, 100))
    weight, solids = overrun.judge_gallon(pounds, 38.3)
    assert (weight.value, solids.value) == pytest.approx((4.577, 1.753), abs=0.0005)
    assert (weight.low, solids.low) == (4.5, 1.6)
    assert weight.met
    assert solids.met


@pytest.mark.proves(
    "overrun.largest_lawful_overrun",
    by="published",
    source="from 21 CFR 135.110(a)(2): 9.15 lb/gal and 38.3 or 36 % solids; 9.2 lb/gal, 104 %",
)
@pytest.mark.parametrize(
    ("pounds", "solids", "by_weight", "by_solids"),
    [(9.15, 38.3, 103.3, 119.0), (9.15, 36, 103.3, 105.9), (9.2, 40, 104.4, 130.0)],
)
def test_largest_lawful_overrun(pounds, solids, by_weight, by_solids):
    """To a tenth of a percent; the weight binds."""
    found = overrun.largest_lawful_overrun(density_of_pounds_per_gallon_kg_m3(pounds), solids)
    assert found.by_weight_percent == pytest.approx(by_weight, abs=0.05)
    assert found.by_solids_percent == pytest.approx(by_solids, abs=0.06)  # 105.875 is printed 105.9
    assert found.overrun_percent == found.by_weight_percent
    assert found.binding == "weight"


@pytest.mark.proves(
    "overrun.largest_lawful_overrun",
    by="independent",
    source="scipy.optimize.brentq on the weight and the solids of a gallon, inclusions and cellulose in it",
)
@pytest.mark.parametrize(("share", "own"), [(0, 100), (10, 95), (25, 20)])
def test_ceiling_with_inclusions(share, own):
    """Where the first of the two falls to its limit."""
    density, solids, cellulose, pieces = 1095.0, 36.5, 0.4, 820.0

    def spare(percent):
        part = share / 100
        volume = (1 - part) / density * (1 + percent / 100) + part / pieces
        gallon = 3.785411784 / 1000 / 0.45359237 / volume
        dry = (1 - part) * (solids - cellulose) / 100 + part * own / 100
        return min(gallon * (1 - (1 - part) * cellulose / 100) - 4.5, gallon * dry - 1.6)

    inclusion = Inclusion(share, pieces, own) if share else None
    found = overrun.largest_lawful_overrun(density, solids, cellulose, inclusion)
    assert found.overrun_percent == pytest.approx(brentq(spare, 0, 299), abs=1e-6)


@pytest.mark.proves(
    "overrun.least_nonfat_milk_solids_percent",
    by="published",
    source="21 CFR 135.110(a)(2), table of fat and nonfat milk solids (state copies)",
)
@pytest.mark.parametrize(("fat", "nonfat"), [(10, 10), (11, 9), (12, 8), (13, 7), (14, 6)])
def test_pairs_of_fat_and_nonfat_milk_solids(fat, nonfat):
    """Each pair is met, a hundredth less of either solids is not."""
    assert overrun.least_nonfat_milk_solids_percent(fat) == nonfat
    assert all(one.met for one in overrun.judge_composition(fat, nonfat))
    assert not all(one.met for one in overrun.judge_composition(fat, nonfat - 0.01))


@pytest.mark.proves(
    "overrun.bulky_weight_percent",
    by="published",
    source="7 CFR 58.2825(b): cocoa or chocolate solids x 2.5, fruit or nuts x 1.4",
)
def test_factors_of_bulky_flavors():
    """3 kg of cocoa count 7.5, 10 kg of nuts 14, 2 kg of something else 2."""
    for kind, percent, counted in (("cocoa", 3, 7.5), ("fruit or nuts", 10, 14), ("other", 2, 2)):
        assert overrun.bulky_weight_percent([Bulky(kind, percent)]) == pytest.approx(counted)


@pytest.mark.proves(
    "overrun.judge_composition",
    by="published",
    source="7 CFR 58.2825(b): 12 kg of fruit in 100 kg counts 16.8, wants 8.32 kg fat and 16.64 kg milk solids",
)
def test_fruit_in_a_hundred_kilograms():
    """16.8 counted, 83.2 remain."""
    fruit = [Bulky("fruit or nuts", 12)]
    assert overrun.bulky_weight_percent(fruit) == pytest.approx(16.8)
    found = overrun.judge_composition(8.32, 8.32, bulky=fruit)
    assert finding(found, "milkfat").low == pytest.approx(8.32)
    assert finding(found, "total milk solids").low == pytest.approx(16.64)
    assert all(one.met for one in found)
    assert not finding(overrun.judge_composition(8.31, 8.33, bulky=fruit), "milkfat").met


@pytest.mark.proves(
    "overrun.judge_composition",
    by="published",
    source="21 CFR 135.110(a)(2): floors 8 and 16 % with bulky flavors, egg yolk solids 1.4 % (state copies)",
)
def test_floors_whey_and_yolk():
    """8 and 16 % of the food; whey 25 % and nonfat milk solids 6 % (7 CFR 58.2825(a)); custard from 1.4 % yolk."""
    heavy = [Bulky("fruit or nuts", 20)]  # 28 counted, 72 remain: 7.2 and 14.4 would do
    found = overrun.judge_composition(8, 8, bulky=heavy)
    assert (finding(found, "milkfat").low, finding(found, "total milk solids").low) == (8, 16)
    plain = overrun.judge_composition(14, 6, 1.5, 1.4)
    assert finding(plain, "whey").high == 25
    assert finding(plain, "whey").met
    assert finding(plain, "in any case").low == 6
    assert not finding(plain, "yolk").met
    assert finding(overrun.judge_composition(14, 6, 1.5, 1.4, named=Named.CUSTARD), "yolk").met


def test_least_yolk_of_custard_with_bulky_flavors():
    """1.12 % of the finished food at least (21 CFR 135.110(a)(2), from memory)."""
    found = overrun.judge_composition(10, 10, 0, 1.12, [Bulky("fruit or nuts", 25)], Named.CUSTARD)
    assert finding(found, "yolk").low == 1.12
    assert finding(found, "yolk").met
