"""A batch in a vat: hold with filling and emptying, air space, evenness."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import pasteurization as past
from plant.process.errors import CalculationError, OutsideRange
from plant.process.pasteurization import Batch, Bound, Method, ProductClass, Row, VatRules

pytestmark = pytest.mark.once

MIX = Row("mix", (ProductClass.MIX,), Method.VAT, Decimal(155), "°F", Decimal(1800), "a clause", "text consulted")
TUBE = Row("tube", (ProductClass.MIX,), Method.HTST, Decimal(175), "°F", Decimal(25), "a clause", "text consulted")
RULES = VatRules(Bound(5, "°F", "air", "text consulted"), Bound(1, "°F", "spread", "state mirror"))


def batch(**changes: Any) -> past.BatchVerdict:
    """A batch of mix just at every bound, changed."""
    good = {"coolest": 155, "unit": "°F", "hold_s": 1800, "coolest_air": 160, "warmest": 156, "fill_s": 0, "empty_s": 0}
    return past.judge_batch(Batch(**{**good, **changes}), MIX, RULES)


def missed(found: past.BatchVerdict) -> list[str]:
    """The names of the checks that are not met."""
    return [str(one.name) for one in found.checks if not one.met]


def test_at_every_bound_a_batch_is_met():
    """All four margins are nothing."""
    found = batch()
    assert found.met and found.shown
    assert [one.margin for one in found.checks] == [0, 0, 0, 0]


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"coolest": Decimal("154.9"), "warmest": 155}, "product, coolest"),
        ({"hold_s": 1799}, "hold on the chart"),
        ({"coolest_air": Decimal("159.9")}, "air space, coolest"),
        ({"warmest": Decimal("156.1")}, "warmest to coolest product"),
        ({"fill_s": 1}, "hold on the chart"),
        ({"empty_s": 1}, "hold on the chart"),
    ],
)
def test_just_beyond_one_bound_a_batch_is_not_met(changes, name):
    """A tenth of a degree or a second, and that check alone fails."""
    found = batch(**changes)
    assert not found.met and missed(found) == [name]


def test_the_air_space_counts_from_the_row_not_from_the_product():
    """Hotter product asks for no hotter air."""
    assert batch(coolest=165, warmest=165, coolest_air=160).met


def test_what_nobody_read_is_named_and_the_batch_is_not_shown():
    """Met by what was given, but not shown to be."""
    found = batch(coolest_air=None, warmest=None)
    assert found.met and not found.shown
    assert found.not_given == ("air space, coolest", "product, warmest")


def test_a_filling_time_that_nobody_knows_is_not_none():
    """A vat filled hot holds its last part for less than the chart shows: unknown is named, 0 has to be said."""
    found = batch(fill_s=None, empty_s=None)
    assert found.met and not found.shown
    assert found.not_given == ("filling time", "emptying time")


def test_a_rule_set_without_vat_rules_asks_nothing_more():
    """Then the row alone is judged."""
    found = past.judge_batch(Batch(155, "°F", 1800, fill_s=0, empty_s=0), MIX, VatRules())
    assert found.shown and len(found.checks) == 2
    assert past.least_air_space(MIX, VatRules()) is None


def test_an_air_space_in_celsius_is_converted_as_a_difference():
    """3 °C above 155 °F is 160.4 °F."""
    assert past.least_air_space(MIX, VatRules(Bound(3, "°C", "air", "twin"))) == Fraction("160.4")


def test_readings_in_celsius_are_judged_in_the_rows_unit():
    """68.4 °C is 155.12 °F."""
    found = batch(coolest=68.4, unit="°C", coolest_air=71.2, warmest=68.9)
    assert found.checks[0].margin == Fraction("0.12") and found.met


def test_the_words_say_what_is_missing_or_to_spare():
    """In the unit of the check."""
    words = [str(one.words) for one in batch(hold_s=1740, coolest_air=162).checks]
    assert words == ["0 °F to spare", "1 min missing", "2 °F to spare", "0 °F to spare"]


def test_filling_and_emptying_both_add():
    """Each to the row's time; the clause is then that of the addition."""
    found = batch(hold_s=2520, fill_s=420, empty_s=300)
    assert found.met and found.checks[1].margin == 0 and "16p(A)" in found.checks[1].clause


@pytest.mark.parametrize("call", [past.chart_hold_s, lambda row: past.least_air_space(row, RULES)])
def test_a_row_of_continuous_flow_is_refused(call):
    """A tube has no air space and no filling."""
    with pytest.raises(CalculationError, match="not for a vat"):
        call(TUBE)


@pytest.mark.parametrize(
    "changes", [{"fill_s": -1}, {"empty_s": 86401}, {"hold_s": -1}, {"coolest": 500}, {"coolest_air": -100}]
)
def test_values_beyond_the_range_are_refused(changes):
    """No verdict on what nobody can have read."""
    with pytest.raises(OutsideRange):
        batch(**changes)


def test_a_warmest_below_the_coolest_is_refused():
    """One of the two was written down wrongly."""
    with pytest.raises(CalculationError, match="colder than the coolest"):
        batch(warmest=154)


@pytest.mark.parametrize("value", [-5, 101])
def test_an_air_space_that_no_rule_asks_is_refused(value):
    """A mistake in the rules never loosens the verdict."""
    with pytest.raises(OutsideRange):
        past.least_air_space(MIX, VatRules(Bound(value, "°F", "air", "text consulted")))


@given(hold_s=st.integers(0, 5000), fill=st.integers(0, 900), empty=st.integers(0, 900), more=st.integers(0, 900))
@settings(max_examples=50)
def test_longer_filling_never_helps_and_a_longer_hold_never_hurts(hold_s, fill, empty, more):
    """Monotone."""
    met = batch(hold_s=hold_s, fill_s=fill, empty_s=empty).met
    assert met >= batch(hold_s=hold_s, fill_s=fill + more, empty_s=empty).met
    assert met <= batch(hold_s=hold_s + more, fill_s=fill, empty_s=empty).met
