"""The class of a product, its rows, and a temperature and a time against them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import pasteurization as past
from plant.process.errors import CalculationError, OutsideRange
from plant.process.pasteurization import FEDERAL, Method, Product, ProductClass, Row, Use
from plant.process.pasteurization.numbers import exactly, said_temperature, said_time
from plant.process.units import UnitError, exact

pytestmark = pytest.mark.once

HTST, HHST, VAT = Method.HTST, Method.HHST, Method.VAT


def row(key: str, temperature: Any, hold_s: Any, method: Method = HTST, **changes: Any) -> Row:
    """A row for milk."""
    given = {"classes": (ProductClass.MILK,), "unit": "°F", "clause": "a clause", "basis": "text consulted"}
    return Row(key=key, temperature=temperature, hold_s=hold_s, method=method, **{**given, **changes})


MILK = (
    row("vat", Decimal(145), Decimal(1800), VAT),
    row("161", Decimal(161), Decimal(15)),
    row("191", Decimal(191), Decimal(1), HHST),
    row("194", Decimal(194), Decimal("0.5"), HHST),
)
# Temperatures [°F] and times [s] with one decimal, as people read them.
temperatures = st.integers(320, 3920).map(lambda tenths: Fraction(tenths, 10))
holds = st.integers(0, 36000).map(lambda tenths: Fraction(tenths, 10))


def milk_product(**known: Any) -> Product:
    """A milk product of which everything is known: plain milk, changed."""
    plain_milk = {
        "fat_percent": Decimal("3.25"),
        "total_solids_percent": 12,
        "sweetener_added": False,
        "concentrated": False,
    }
    return Product(Use.MILK_PRODUCT, **{**plain_milk, **known})


# Class


@pytest.mark.parametrize(
    ("changed", "raised"),
    [
        ({}, False),
        ({"fat_percent": Decimal("9.99"), "total_solids_percent": 17}, False),
        ({"fat_percent": 10, "total_solids_percent": 17}, True),
        ({"total_solids_percent": Decimal("17.99")}, False),
        ({"total_solids_percent": 18}, True),
        ({"sweetener_added": True}, True),
        ({"concentrated": True}, True),
    ],
)
def test_any_one_trigger_raises_a_milk_product(changed, raised):
    """A bound itself raises; just below it does not."""
    found = past.classify(milk_product(**changed))
    assert found.product_class == (ProductClass.RAISED if raised else ProductClass.MILK)
    assert bool(found.fired) is raised


@pytest.mark.parametrize(
    ("use", "named"),
    [
        (Use.MIX, ProductClass.MIX),
        (Use.EGGNOG, ProductClass.EGGNOG),
        (Use.BUTTER_CREAM, ProductClass.BUTTER_CREAM),
        (Use.PLASTIC_CREAM, ProductClass.PLASTIC_CREAM),
    ],
)
def test_the_use_alone_decides_for_products_with_rows_of_their_own(use, named):
    """Mix stays mix however little fat it has, and nothing else is asked."""
    found = past.classify(Product(use))
    assert (found.product_class, found.conditions) == (named, ())


@pytest.mark.parametrize("missing", ["fat_percent", "total_solids_percent", "sweetener_added", "concentrated"])
def test_what_is_not_known_never_counts_as_below_a_trigger(missing):
    """A product that nothing raises but that is not wholly known gets no class."""
    with pytest.raises(CalculationError, match="Give the"):
        past.classify(milk_product(**{missing: None}))


def test_one_trigger_is_enough_where_the_rest_is_not_known():
    """Sweetened milk is raised whatever its fat."""
    found = past.classify(Product(Use.MILK_PRODUCT, sweetener_added=True))
    assert found.product_class is ProductClass.RAISED
    assert [one.fires for one in found.conditions] == [None, True, None, None]


def test_the_clause_is_that_of_the_trigger():
    """Fat is the federal footnote's; solids stand on the ordinance, from memory."""
    by_fat = past.classify(milk_product(fat_percent=20, total_solids_percent=27))
    by_solids = past.classify(milk_product(total_solids_percent=20))
    assert (by_fat.clause, by_fat.basis) == (FEDERAL.clause, "text consulted")
    assert by_solids.basis == "from memory"


def test_a_dairy_ingredient_is_raised_by_its_own_section():
    """No solids and no concentration in the federal text; the ordinance's triggers raise it as well."""
    condensed = Product(Use.INGREDIENT, 1, 35, sweetener_added=False, concentrated=True)
    raised = past.classify(Product(Use.INGREDIENT, 12, sweetener_added=False), past.FEDERAL)
    base = past.classify(condensed, past.FEDERAL)
    assert past.classify(condensed, past.ORDINANCE).product_class == ProductClass.RAISED_INGREDIENT
    assert (raised.product_class, base.product_class) == (ProductClass.RAISED_INGREDIENT, ProductClass.INGREDIENT)


@pytest.mark.parametrize(
    ("fat", "solids"), [(-1, 10), (101, None), (float("nan"), None), (Decimal("Infinity"), None), (10**400, None)]
)
def test_a_share_outside_0_to_100_is_refused(fat, solids):
    """No percentage, no class."""
    with pytest.raises(OutsideRange):
        past.classify(milk_product(fat_percent=fat, total_solids_percent=solids))


def test_fat_above_the_total_solids_is_refused():
    """Fat belongs to the solids."""
    with pytest.raises(CalculationError, match="more than the total solids"):
        past.classify(milk_product(fat_percent=15, total_solids_percent=12))


@given(
    fat=st.integers(0, 30), solids=st.integers(30, 60), more=st.integers(0, 30),
    sweetener=st.booleans(), condensed=st.booleans(),
)  # fmt: skip
@settings(max_examples=50)
def test_the_ordinance_raises_whatever_the_federal_text_raises(fat, solids, more, sweetener, condensed):
    """It has the same triggers and two more; and more fat never takes a product out of the raised class."""
    known = {"total_solids_percent": solids, "sweetener_added": sweetener, "concentrated": condensed}
    federal = past.classify(milk_product(fat_percent=fat, **known), FEDERAL)
    fatter = past.classify(milk_product(fat_percent=min(fat + more, solids), **known), FEDERAL)
    if federal.product_class is ProductClass.RAISED:
        assert past.classify(milk_product(fat_percent=fat, **known)).product_class is ProductClass.RAISED
        assert fatter.product_class is ProductClass.RAISED


# Rows


def test_rows_are_those_of_the_class_the_coolest_first():
    """Another class's rows are not there."""
    eggnog = row("eggnog", 155, 1800, VAT, classes=(ProductClass.EGGNOG,))
    assert [one.key for one in past.rows_for(ProductClass.MILK, (*reversed(MILK), eggnog))] == [
        "vat", "161", "191", "194",
    ]  # fmt: skip


def test_an_areas_rows_stand_in_place_of_the_general_ones_method_by_method():
    """Where the area has no row for a method the general one holds; no other area's row counts."""
    local = row("local", 170, 15, area="Here")
    other = row("other", 100, 1, area="There")
    rows = (*MILK, local, other)
    assert [one.key for one in past.rows_for(ProductClass.MILK, rows, "Here")] == ["vat", "local", "191", "194"]
    assert [one.key for one in past.rows_for(ProductClass.MILK, rows)] == ["vat", "161", "191", "194"]
    assert {one.key for one in past.rows_elsewhere(ProductClass.MILK, rows, "Here")} == {"161", "other"}


@pytest.mark.parametrize("product_class", list(ProductClass))
@pytest.mark.parametrize("area", ["", "Here", "Nowhere"])
def test_rows_here_and_elsewhere_are_all_rows_of_the_class(product_class, area):
    """Nothing is lost, nothing is twice."""
    rows = (*MILK, row("a", 170, 15, area="Here"), row("b", 155, 1800, VAT, classes=(ProductClass.MIX,)))
    here, there = past.rows_for(product_class, rows, area), past.rows_elsewhere(product_class, rows, area)
    mine = [one for one in rows if product_class in one.classes]
    assert sorted(one.key for one in (*here, *there)) == sorted(one.key for one in mine)


def test_a_raised_row_keeps_its_time():
    """Five degrees more, the printed Celsius gone."""
    found = past.raised(row("161", 161, 15, celsius="72"), 5, "°F", ProductClass.RAISED, "footnote 1")
    assert (found.temperature, found.hold_s, found.celsius) == (166, 15, "")
    assert found.classes == (ProductClass.RAISED,)


def test_a_raise_in_celsius_is_converted_as_a_difference():
    """1 °C more is 1.8 °F more, without the 32."""
    assert past.raised(MILK[1], 1, "°C", ProductClass.RAISED, "x").temperature == Fraction("162.8")


@pytest.mark.parametrize("by", [0, -5, 21])
def test_a_raise_that_lowers_or_leaps_is_refused(by):
    """Only a small raise is one."""
    with pytest.raises(OutsideRange):
        past.raised(MILK[1], by, "°F", ProductClass.RAISED, "x")


@pytest.mark.parametrize(
    ("temperature", "hold_s", "changes"),
    [
        (161, 0, {}),
        (161, -1, {}),
        (161, 15, {"unit": "K"}),
        (161, 15, {"classes": ()}),
        (500, 15, {}),
        (20, 15, {}),
    ],
)
def test_a_row_that_asks_nothing_is_refused(temperature, hold_s, changes):
    """A row in no unit, for no product, without time or beyond any heat is a mistake in the rules."""
    with pytest.raises(CalculationError):
        row("wrong", temperature, hold_s, **changes)


@pytest.mark.parametrize(
    ("hold_s", "methods"),
    [(0, {HTST, HHST}), (1, {HTST, HHST}), (25, {HTST, HHST}), (59.9, {HTST, HHST}), (60, {VAT}), (1800, {VAT})],
)
def test_a_minute_or_more_counts_as_a_vats(hold_s, methods):
    """The strict side: a vat's rows ask for 30 minutes."""
    assert set(past.methods_by_time(hold_s)) == methods


# Verdict


@pytest.mark.parametrize(
    ("temperature", "hold_s", "met", "named"),
    [
        (161, 15, True, "161"),
        (Decimal("160.9"), 15, False, "161"),
        (161, Decimal("14.9"), False, "161"),
        (175, 15, True, "161"),
        (Decimal("190.9"), 1, False, "191"),
        (191, 1, True, "191"),
        (191, 15, True, "191"),
        (193, Decimal("0.5"), False, "194"),
        (191, Decimal("0.9"), False, "191"),
        (194, Decimal("0.5"), True, "194"),
        (145, 1800, True, "vat"),
        (144, 1800, False, "vat"),
        (145, 1799, False, "vat"),
        (165, 1200, False, "vat"),
        (100, 15, False, "161"),
    ],
)
def test_each_row_is_a_pair(temperature, hold_s, met, named):
    """Between two rows the time of the cooler one is needed; the row met or the nearest is named."""
    found = past.judge(temperature, "°F", hold_s, MILK)
    assert (found.met, found.row.key) == (met, named)


def test_margins_are_exact_in_the_rows_unit():
    """71.7 °C is 161.06 °F: 0.06 °F over, exactly."""
    standing = past.judge(Decimal("71.7"), "°C", 16, MILK).standing
    assert standing.temperature == Fraction("161.06")
    assert (standing.temperature_margin, standing.time_margin_s) == (Fraction("0.06"), 1)


def test_a_float_counts_as_the_decimal_that_it_prints():
    """71.7 is no binary fraction; 0.1 s three times is 0.3 s."""
    assert past.judge(71.7, "°C", 15.0, MILK).standing.temperature == Fraction("161.06")


def test_what_is_missing_is_said_both_ways():
    """At 193 °F a whole second is needed; for half a second 194 °F."""
    found = past.judge(193, "°F", Decimal("0.5"), MILK)
    assert (found.lacking_time.row.key, found.lacking_time.time_margin_s) == ("191", Fraction("-0.5"))
    assert (found.lacking_heat.row.key, found.lacking_heat.temperature_margin) == ("194", -1)
    assert found.words == "No row is met. The nearest is 194 °F for 0.5 s: 1 °F missing."


def test_both_can_be_missing():
    """The sentence names both."""
    assert past.judge(160, "°F", 14, MILK, HTST).words.endswith("161 °F for 15 s: 1 °F and 1 s missing.")


def test_a_named_method_judges_by_its_rows_alone():
    """191 °F for 1 s is no HTST; twenty minutes in a tube are."""
    assert past.judge(191, "°F", 1, MILK).met and not past.judge(191, "°F", 1, MILK, HTST).met
    assert past.judge(165, "°F", 1200, MILK, HTST).met


def test_a_table_without_a_row_for_the_method_is_met_by_nothing():
    """No row, no verdict but not met."""
    found = past.judge(250, "°F", 50, MILK[:1])
    assert (found.met, found.row, found.standing, found.every) == (False, None, None, ())
    assert found.words == "No row of this table is for this product by HTST / HHST."


def test_no_row_at_all_is_not_met():
    """An empty list of rules fails closed."""
    assert not past.judge(300, "°F", 3000, []).met


@pytest.mark.parametrize(
    ("temperature", "unit", "hold_s"),
    [(-1, "°C", 15), (201, "°C", 15), (393, "°F", 15), (161, "°F", -1), (161, "°F", 86401), (float("nan"), "°F", 15)],
)
def test_values_beyond_the_range_are_refused(temperature, unit, hold_s):
    """No verdict on what nobody can have read."""
    with pytest.raises(OutsideRange):
        past.judge(temperature, unit, hold_s, MILK)


def test_a_value_a_hair_outside_its_bound_is_refused():
    """A float would round it onto the bound."""
    with pytest.raises(OutsideRange):
        exactly("hold", Decimal("86400.000000000000000001"), 0, 86400, "s")


def test_a_unit_that_is_no_temperatures_is_refused():
    """UnitError, as everywhere."""
    with pytest.raises(UnitError):
        past.judge(161, "psi", 15, MILK)


@given(temperature=temperatures, hold_s=holds, hotter=temperatures, longer=holds)
@settings(max_examples=50)
def test_hotter_and_longer_by_one_method_never_loses_a_row(temperature, hold_s, hotter, longer):
    """Monotone in both, method by method."""
    for method in Method:
        if past.judge(temperature, "°F", hold_s, MILK, method).met:
            assert past.judge(max(temperature, hotter), "°F", max(hold_s, longer), MILK, method).met


@given(temperature=temperatures, hold_s=holds)
@settings(max_examples=50)
def test_the_verdict_does_not_depend_on_the_unit_of_the_reading(temperature, hold_s):
    """The same temperature in °C comes to the same."""
    celsius = exact(temperature, "°F", "°C")
    assert past.judge(temperature, "°F", hold_s, MILK) == past.judge(celsius, "°C", hold_s, MILK)


@given(temperature=temperatures, hold_s=holds)
@settings(max_examples=50)
def test_the_order_of_the_rows_changes_nothing_but_their_order(temperature, hold_s):
    """The same row is named."""
    one = past.judge(temperature, "°F", hold_s, MILK)
    other = past.judge(temperature, "°F", hold_s, tuple(reversed(MILK)))
    assert (one.met, one.standing, one.lacking_time, one.lacking_heat) == (
        other.met, other.standing, other.lacking_time, other.lacking_heat,
    )  # fmt: skip


@given(temperature=temperatures, hold_s=holds)
@settings(max_examples=50)
def test_what_is_missing_is_enough(temperature, hold_s):
    """Adding exactly what lacks, in time or in heat, meets that row; a hair less does not."""
    found = past.judge(temperature, "°F", hold_s, MILK)
    for lacking in (found.lacking_time, found.lacking_heat):
        if lacking is None:
            continue
        heat, time = max(-lacking.temperature_margin, 0), max(-lacking.time_margin_s, 0)
        alone = (lacking.row,)
        method = lacking.row.method
        assert past.judge(temperature + heat, "°F", hold_s + time, alone, method).met
        less = past.judge(temperature + heat - (heat > 0) / Fraction(10**9), "°F", hold_s, alone, method)
        assert time > 0 or not less.met


# Words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (60, "1 min"), (90.5, "1 min 30.5 s"), (Decimal("0.05"), "0.05 s"), (-3, "-3 s"),
     (Fraction(1, 10**9), "0.000000001 s")],
)  # fmt: skip
def test_times_are_said_in_minutes_and_seconds(seconds, words):
    """Nothing that is not zero is said as zero."""
    assert said_time(seconds) == words


def test_a_tiny_shortfall_is_not_said_as_nothing():
    """A margin below a millionth still shows."""
    assert said_temperature(Fraction(1, 10**8), "°F") == "0.00000001 °F"
