"""Exact conversion between units, and numbers as people type them."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.units import (
    NumberError,
    NumberFault,
    UnitError,
    convert,
    exact,
    exact_difference,
    parse_number,
    plain,
    quantized,
    rounded,
)

pytestmark = pytest.mark.once

decimals = st.decimals(-10_000, 10_000, places=3, allow_nan=False)


@settings(deadline=None)
@given(decimals, st.sampled_from([("°C", "°F"), ("gal", "L"), ("lb", "kg"), ("min", "s"), ("psi", "bar")]))
def test_conversion_there_and_back_is_the_same_number(value, units):
    """No digit is lost on the way there and back."""
    unit, other = units
    assert exact(exact(value, unit, other), other, unit) == Fraction(value)


@settings(deadline=None)
@given(decimals, decimals)
def test_difference_converts_without_the_offset(first, second):
    """A difference of temperatures converts as the difference of the converted temperatures."""
    apart = exact(first, "°C", "°F") - exact(second, "°C", "°F")
    assert exact_difference(first - second, "°C", "°F") == apart


def test_unit_unknown_to_the_table_converts_to_itself_only():
    """ppm is ppm; nothing else becomes ppm."""
    assert exact(Decimal("200"), "ppm", "ppm") == 200
    with pytest.raises(UnitError, match="ppm does not convert to %"):
        exact(Decimal("200"), "ppm", "%")


@pytest.mark.parametrize(("unit", "to"), [("gal", "lb"), ("°C", "kg"), ("", "°F"), ("min", "psi")])
def test_units_of_different_kinds_do_not_convert(unit, to):
    """A gallon is no pound: without a density there is no answer."""
    with pytest.raises(UnitError):
        exact(Decimal(1), unit, to)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [("0.05", 1, "0.1"), ("-0.05", 1, "-0.1"), ("0.049", 1, "0.0"), ("72.25", 1, "72.3"), ("12", 0, "12")],
)
def test_rounding_for_display_is_half_up(value, places, text):
    """Half goes away from zero, as on paper."""
    assert str(rounded(Fraction(value), places)) == text


def test_convert_rounds_only_for_display():
    """161 °F prints as 71.7 °C while the exact value is 71 and two thirds."""
    assert convert(Decimal("161"), "°F", "°C", 1) == Decimal("71.7")
    assert exact(Decimal("161"), "°F", "°C") == Fraction(215, 3)


@pytest.mark.parametrize(
    ("value", "text"),
    [("45.0", "45"), ("100", "100"), ("0", "0"), ("-0.50", "-0.5"), ("0.000001", "0.000001")],
)
def test_plain_number_has_no_idle_zeros(value, text):
    """Plain digits without exponent and trailing zeros."""
    assert plain(Decimal(value)) == text


def test_plain_number_without_end_is_cut():
    """A third is cut to the places asked for."""
    assert plain(Fraction(1, 3), 2) == "0.33"


def test_quantized_snaps_to_the_resolution():
    """A value shown on an instrument that steps by 0.5."""
    assert quantized(Decimal("38.26"), Decimal("0.5")) == Decimal("38.5")


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("38.4", "38.4"),
        ("38.40", "38.40"),
        (" 38.4 ", "38.4"),
        ("-80", "-80"),
        ("\N{MINUS SIGN}80", "-80"),
        ("+3", "3"),
        (".5", "0.5"),
        ("38.", "38"),
        ("0", "0"),
        ("3500", "3500"),
        ("1.234", "1.234"),
    ],
)
def test_number_is_read_as_typed(typed, value):
    """Digits as typed are kept, trailing zeros too."""
    assert str(parse_number(typed)) == value


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("abc", "letters"),
        ("38F", "letters"),
        ("1e3", "letters"),
        ("NaN", "letters"),
        ("Infinity", "letters"),
        ("-", "letters"),
        (".", "letters"),
        ("--3", "letters"),
        ("3-8", "letters"),
        ("38 4", "letters"),
        ("1_000", "letters"),
        ("\N{FULLWIDTH DIGIT THREE}8", "letters"),
        ("٣٨", "letters"),
        ("<script>", "letters"),
        ("3.8.4", "two marks"),
        ("1,234.5", "two marks"),
        ("38..4", "two marks"),
        ("38,4", "comma"),
        ("1,234", "comma"),
        ("123456789012", "too long"),
        ("0.12345", "too long"),
        ("9" * 1_000_000, "too long"),
    ],
)
def test_number_that_is_none_is_refused_with_its_fault(typed, fault):
    """Each kind of wrong number is named."""
    with pytest.raises(NumberError) as caught:
        parse_number(typed)
    assert caught.value.fault == NumberFault(fault)


def test_comma_is_answered_with_the_number_as_it_should_be():
    """The sentence shows the same number with a dot."""
    with pytest.raises(NumberError, match="38.4"):
        parse_number("38,4")


@pytest.mark.parametrize(("typed", "value"), [("38,4", "38.4"), ("38.4", "38.4"), ("0,125", "0.125"), ("-1,5", "-1.5")])
def test_comma_is_a_decimal_mark_where_the_language_has_it(typed, value):
    """Where decimals are written with a comma, both marks are read."""
    assert parse_number(typed, ",") == Decimal(value)


@pytest.mark.parametrize("typed", ["1,234", "1.234", "-12,345"])
def test_mark_that_may_mean_thousands_is_refused(typed):
    """One mark before three digits may be thousands: nobody guesses."""
    with pytest.raises(NumberError) as caught:
        parse_number(typed, ",")
    assert caught.value.fault == NumberFault.AMBIGUOUS


def test_other_decimal_mark_is_a_mistake_of_the_caller():
    """A mark that is neither dot nor comma is refused."""
    with pytest.raises(ValueError, match="dot or a comma"):
        parse_number("1", ";")
