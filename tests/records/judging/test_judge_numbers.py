"""Numbers against the limits of Quillbrook's plan: just outside, at, and just inside."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from tests.records.judging.made import instrument, judged

pytestmark = pytest.mark.once

MET, ACT, OUT, DOUBT = "met", "met, past the operating limit", "not met", "not proven"


@pytest.mark.parametrize(
    ("typed", "outcome"),
    [("39.9", MET), ("40", MET), ("40.1", ACT), ("45", ACT), ("45.0", ACT), ("45.1", OUT), ("-1", MET)],
)
def test_raw_milk_is_in_limits_up_to_45(typed: str, outcome: str) -> None:
    """45 °F itself is in limits; past 40 °F the plan asks to act."""
    assert judged("raw-temperature", typed).outcome == outcome


@pytest.mark.parametrize(("typed", "outcome"), [("7.2", ACT), ("7.3", OUT), ("4.4", MET), ("4.5", ACT)])
def test_celsius_is_compared_exactly_in_the_unit_of_the_limit(typed: str, outcome: str) -> None:
    """7.2 °C is 44.96 °F, 7.3 °C is 45.14 °F."""
    assert judged("raw-temperature", typed, unit="°C").outcome == outcome


def test_a_verdict_names_rule_clause_basis_and_numbers() -> None:
    """Whoever reads the verdict later finds what produced it."""
    found = judged("raw-temperature", "46.4", **instrument(correction=Decimal("-0.2")))
    assert (found.limit_key, found.rule, found.basis) == ("raw-cold", "raw-cold", "state mirror")
    assert "2.49(a)" in found.clause
    assert found.numbers["as_read"] == "46.4" and found.numbers["corrected"] == "46.2"
    assert found.numbers["instrument"] == "T-1" and found.numbers["correction"] == "-0.2"
    assert "45 °F" in found.reason


@pytest.mark.parametrize("typed", ["45.2", "44.9"])
def test_a_correction_never_rescues_and_may_condemn(typed: str) -> None:
    """As read and as corrected must both be in limits, whichever way the correction points."""
    shift = Decimal("-0.4") if typed == "45.2" else Decimal("0.4")
    assert judged("raw-temperature", typed, **instrument(correction=shift)).outcome == OUT


@pytest.mark.parametrize(("correction", "outcome"), [("0.5", MET), ("-0.5", MET), ("0.6", DOUBT), ("-0.6", DOUBT)])
def test_an_instrument_outside_its_tolerance_proves_nothing(correction: str, outcome: str) -> None:
    """Half a degree is allowed: at it the reading stands, beyond it nothing is proven."""
    found = judged("raw-temperature", "38", **instrument(correction=Decimal(correction)))
    assert found.outcome == outcome


def test_tolerance_and_correction_stay_in_the_unit_of_the_instrument() -> None:
    """Half a degree Celsius is 0.9 °F: within what a Celsius thermometer may be off, whatever unit was typed."""
    celsius = instrument(instrument_unit="°C", correction=Decimal("0.4"), accuracy=Decimal("0.4"))
    found = judged("raw-temperature", "38", **celsius)
    assert found.outcome == MET and found.numbers["corrected"] == "38.72"


def test_an_overdue_calibration_proves_nothing_but_the_due_day_counts() -> None:
    """The day on which calibration is due is still in time, by the plant's clock."""
    on_the_day = instrument(calibration_due=date(2026, 3, 3))
    day_after = instrument(calibration_due=date(2026, 3, 2))
    assert judged("raw-temperature", "38", **on_the_day).outcome == MET
    assert judged("raw-temperature", "38", **day_after).outcome == DOUBT
    assert judged("raw-temperature", "46", **day_after).outcome == OUT


@pytest.mark.parametrize(
    ("agitator", "bulb", "outcome"),
    [(True, True, MET), (False, True, DOUBT), (True, False, DOUBT), (None, True, DOUBT), (True, None, DOUBT)],
)
def test_a_cold_probe_lies(agitator: bool | None, bulb: bool | None, outcome: str) -> None:
    """Without a running agitator or a covered bulb, or without an answer, a cool reading proves nothing."""
    assert judged("raw-temperature", "38", agitator_ran=agitator, bulb_covered=bulb).outcome == outcome


def test_a_warm_reading_stays_out_of_limits_without_the_agitator() -> None:
    """Doubt never makes it better."""
    assert judged("raw-temperature", "46", agitator_ran=False).outcome == OUT


def test_not_taken_is_not_proven_with_its_reason() -> None:
    """Nobody is forced to invent a number."""
    found = judged("raw-temperature", not_taken="The probe is broken")
    assert found.outcome == DOUBT and "The probe is broken" in found.reason


@pytest.mark.parametrize(
    ("product_class", "typed", "outcome"),
    [
        ("milk", "160.9", OUT), ("milk", "161", ACT), ("milk", "163", MET),
        ("raised", "165.9", OUT), ("raised", "166", ACT), ("raised", "168", MET),
    ],
)  # fmt: skip
def test_the_limit_is_that_of_the_products_class(product_class: str, typed: str, outcome: str) -> None:
    """Cream runs five degrees hotter than milk on the same press."""
    found = judged("press-pair", typed, value_second=Decimal(typed), product_class=product_class)
    assert found.outcome == outcome


def test_an_unknown_class_meets_every_limit_or_none() -> None:
    """What runs is not known: the hottest row governs."""
    assert judged("press-pair", "168", value_second=Decimal("168")).outcome == OUT


def test_a_class_without_a_limit_is_not_proven() -> None:
    """A check whose limits are all for other products never passes in silence."""
    found = judged("press-pair", "200", value_second=Decimal("200"), product_class="cheese")
    assert found.outcome == DOUBT and "cheese" in found.reason


@pytest.mark.parametrize(("second", "outcome"), [("164", MET), ("163.5", MET), ("164.1", OUT)])
def test_the_recorder_never_reads_higher(second: str, outcome: str) -> None:
    """Equal is allowed, a tenth above is not."""
    found = judged("press-pair", "164", value_second=Decimal(second), product_class="milk")
    assert found.outcome == outcome


def test_a_pair_needs_both() -> None:
    """One thermometer alone proves nothing."""
    assert judged("press-pair", "164", product_class="milk").outcome == DOUBT


def test_a_unit_of_another_kind_proves_nothing() -> None:
    """Pounds are no temperature."""
    assert judged("raw-temperature", "38", unit="lb").outcome == DOUBT
