"""Judging at printed legal values, through Quillbrook's plan. Sources stand beside each value.

R-numbers are the addresses in plant/rules/us.toml under [sources].
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.records.judging.made import judged

pytestmark = pytest.mark.once

BELOW, ABOVE = Decimal("-0.1"), Decimal("0.1")
IN = ("met", "met, past the operating limit")


# 21 CFR 1240.61(b), table (52 FR 29514, amended 57 FR 57344): milk 161 °F for 15 s. R3, R4.
# The same, footnote 1: fat of 10 % or more, or sweetener added: 5 °F more, so 166 °F.
@pytest.mark.parametrize(("product_class", "printed"), [("milk", "161"), ("raised", "166")])
@pytest.mark.parametrize("check", ["press-first", "press-pair"])
def test_flow_at_the_printed_temperature_is_in_limits(check: str, product_class: str, printed: str) -> None:
    """At the printed temperature it is in limits, a tenth of a degree below it is out."""
    at = Decimal(printed)
    just = judged(check, printed, value_second=at, product_class=product_class)
    below = judged(check, str(at + BELOW), value_second=at + BELOW, product_class=product_class)
    assert just.outcome in IN and below.outcome == "not met"


# 21 CFR 1240.61(b): 15 seconds. R3, R4.
@pytest.mark.parametrize(("typed", "met"), [("14.9", False), ("15", True), ("15.1", True)])
def test_milk_is_held_fifteen_seconds(typed: str, met: bool) -> None:
    """A test of record below 15 s does not prove the hold."""
    assert (judged("press-hold", typed, product_class="milk").outcome in IN) is met


# 21 CFR 1240.61(b) prints 161 °F as 72 °C; the regulation's unit is °F. 71.7 °C = 161.06 °F, 71.6 °C = 160.88 °F
# (°F = °C × 1.8 + 32, exact: NIST Special Publication 811, appendix B.9; from memory).
@pytest.mark.parametrize(("typed", "met"), [("71.6", False), ("71.7", True), ("72", True)])
def test_a_celsius_reading_is_judged_by_the_fahrenheit_rule(typed: str, met: bool) -> None:
    """71.7 °C meets 161 °F although 72 °C is printed."""
    found = judged("press-pair", typed, value_second=Decimal(typed), unit="°C", product_class="milk")
    assert (found.outcome in IN) is met


# Raw milk: 1 NYCRR 2.49(a) and Wis. ATCP 65.40(2)(b), 45 °F or below until processed (R28, R29: state mirrors).
# Pasteurized: 1 NYCRR 2.49(b), cooled to 45 °F or below and held there (R28).
@pytest.mark.parametrize("check", ["raw-temperature", "pasteurized-temperature", "tanker-temperature"])
@pytest.mark.parametrize(("typed", "met"), [("44.9", True), ("45", True), ("45.1", False)])
def test_milk_is_kept_at_45_or_below(check: str, typed: str, met: bool) -> None:
    """45 °F itself is in limits, a tenth above is out."""
    assert (judged(check, typed).outcome in IN) is met


# 1 NYCRR 2.45(b)(2), vat, text consulted: the recording thermometer never reads higher than the indicating one; for
# continuous pasteurization the same, from memory.
def test_the_recorder_is_never_above_the_indicating_thermometer() -> None:
    """A recorder a tenth above is out of limits however hot both are."""
    hot = judged("press-pair", "170", value_second=Decimal("170.1"), product_class="milk")
    assert hot.outcome == "not met"
