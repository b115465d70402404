"""Unit factors that others publish."""

from decimal import Decimal

import pytest

from plant.process.units import convert, exact

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("value", "unit", "to", "places", "printed"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, factors printed to seven digits (from memory).
        ("1", "gal", "L", 6, "3.785412"),
        ("1", "lb", "kg", 7, "0.4535924"),
        ("1", "oz", "g", 5, "28.34952"),
        ("1", "psi", "kPa", 6, "6.894757"),
        ("1", "bar", "kPa", 0, "100"),
        # 21 CFR 1240.61(b) and 131.3(b): the pairs the law prints, °C rounded to whole degrees.
        ("161", "°F", "°C", 0, "72"),
        ("145", "°F", "°C", 0, "63"),
        # Fixed points of water and the crossing of the scales (common knowledge, no source).
        ("0", "°C", "°F", 0, "32"),
        ("100", "°C", "°F", 0, "212"),
        ("-40", "°F", "°C", 0, "-40"),
    ],
)
def test_conversion_gives_the_printed_figure(value, unit, to, places, printed):
    """Each factor, rounded to the printed digits, is the printed one."""
    assert convert(Decimal(value), unit, to, places) == Decimal(printed)


def test_fahrenheit_governs_where_the_printed_celsius_was_rounded():
    """71.7 °C is 161.06 °F and passes a limit of 161 °F; 71.6 °C is 160.88 °F and does not."""
    assert exact(Decimal("71.7"), "°C", "°F") == Decimal("161.06")
    assert exact(Decimal("71.6"), "°C", "°F") == Decimal("160.88")


def test_gallon_and_pound_are_exact():
    """1 US gallon is 3.785411784 L and 1 lb is 0.45359237 kg exactly (NIST Handbook 44, appendix C.

    From memory).
    """
    assert exact(Decimal(1), "gal", "L") == Decimal("3.785411784")
    assert exact(Decimal(1), "lb", "kg") == Decimal("0.45359237")
