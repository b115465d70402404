"""A pasteurizer's temperature counts together with the holding time of record: one row of the tables needs both.

21 CFR 1240.61(b): 161 °F for 15 s; raised 166 °F for 15 s; 21 CFR 135.3: mix 175 °F for 25 s (all text consulted).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from records.judging.judge import Judgement, judge_reading
from records.judging.pasteurizer import Held, by_rows, holding_checks
from tests.records.judging.made import in_force, quillbrook, reading


def judged(typed: str, second: str, class_: str, hold: str | None, **changes: Any) -> Judgement:
    """Quillbrook's check of both thermometers, with a holding time of record."""
    values = {"typed_second": second, "value_second": Decimal(second), "product_class": class_}
    held = Held(Decimal(hold), 41) if hold else None
    found = judge_reading(reading("press-pair", typed, **values, **changes), quillbrook(), held)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("typed", "second", "class_", "hold", "outcome"),
    [
        ("163.5", "163.4", "milk", "15.0", "met"),
        ("163.5", "163.4", "milk", "14.9", "not met"),
        ("168.5", "168.4", "raised", "15.0", "met"),
        ("168.5", "168.4", "raised", "14.9", "not met"),
        ("177.5", "177.4", "mix", "25.0", "met"),
        ("177.5", "177.4", "mix", "24.9", "not met"),
        ("160.9", "160.9", "milk", "16", "not met"),
        ("161.0", "160.9", "milk", "16", "not met"),
    ],
)
def test_both_temperature_and_time_are_needed(
    typed: str, second: str, class_: str, hold: str, outcome: str
) -> None:
    """At the row's own figures it is met; a tenth less of either, on either thermometer, is not."""
    found = judged(typed, second, class_, hold)
    assert found.outcome == outcome
    assert found.numbers["hold_s"] == hold.removesuffix(".0") and found.numbers["hold_reading"] == "41"
    assert "row" in found.reason


def test_a_correction_that_takes_away_counts() -> None:
    """Read 161.5 °F, corrected 160.7 °F: the row's 161 °F is missed by the corrected value."""
    found = judged(
        "161.5", "161.2", "milk", "16",
        instrument="ti", instrument_unit="°F", correction=Decimal("-0.8"), accuracy=Decimal("1"),
    )  # fmt: skip
    assert found.outcome == "not met"


def test_hotter_makes_no_shorter_time_good() -> None:
    """No lethality: 180 °F for 10 s is no row of milk by HTST."""
    assert judged("180", "180", "milk", "10").outcome == "not met"


def test_past_the_operating_limit_stays_so() -> None:
    """A row that is met makes nothing better."""
    assert judged("162", "161.9", "milk", "16").outcome == "met, past the operating limit"


def test_without_a_holding_time_the_temperature_is_judged_alone() -> None:
    """And no row is claimed."""
    found = judged("163.5", "163.4", "milk", None)
    assert found.outcome == "met" and "row" not in found.numbers


def test_a_class_that_the_tables_do_not_know_claims_no_row() -> None:
    """The plan's own limits decide it."""
    assert "row" not in judged("163.5", "163.4", "custom", "16").numbers


def test_by_a_states_row_the_verdict_says_what_the_federal_row_lacks() -> None:
    """1 NYCRR 2.44: 180 °F for 15 s for mix (a copy of the rule); 21 CFR 135.3 asks for 175 °F for 25 s."""
    plan = quillbrook().plan
    limits = tuple(
        replace(one, rule="ny-mix-180", low="180", operating_low="", clause="1 NYCRR 2.44")
        if one.key == "press-mix"
        else one
        for one in plan.limits
    )
    state = in_force(replace(plan, limits=limits))
    values = {"typed_second": "181", "value_second": Decimal(181), "product_class": "mix"}
    read = reading("press-pair", "181", state, **values)
    short, full = (judge_reading(read, state, Held(Decimal(hold), 41)) for hold in (15, 25))
    assert short is not None and full is not None
    assert (short.outcome, full.outcome) == ("met", "met")
    assert "175 °F for 25 s (21 CFR 135.3) is not met by these numbers: 10 s missing" in short.reason
    assert "not met" not in full.reason


def test_which_checks_go_with_a_row_follows_from_the_plan() -> None:
    """Quillbrook's thermometers do, its cooler does not; its test of record states the time."""
    plan = quillbrook().plan
    thermometers, tank = plan.monitoring_by_key("press-pair"), plan.monitoring_by_key("press-cooled")
    assert thermometers is not None and tank is not None
    assert by_rows(thermometers, quillbrook()) and not by_rows(tank, quillbrook())
    assert holding_checks(quillbrook()) == ["press-hold"]
