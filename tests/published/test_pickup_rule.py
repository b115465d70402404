"""A farm's milk at pick-up against the numbers that the rule prints.

PMO Table 1 as a textbook prints it (https://issuhub.com/view/index/5299?pageIndex=392): cooled to 45 °F within two
hours of milking, the blend after first and later milkings never above 50 °F; a first milking 50 °F within four hours
of its start. The second rule set's numbers: (EC) 853/2004 Annex III Section IX Chapter I, from memory; 8 and 6 °C also
in a Swiss rule that was read (R75 of plant/rules/eu.toml).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from plant.process.pickup import AtPickup, FirstMilking, judge_collected, judge_pickup
from plant.rules import rule_set

pytestmark = pytest.mark.once
TABLE_1: dict[str, Any] = {"high": Fraction(45), "within_s": Fraction(2 * 3600), "blend_high": Fraction(50)}


@pytest.mark.proves("pickup.judge_pickup", by="published", source="PMO Table 1, a textbook's copy")
@pytest.mark.parametrize(
    ("temperature", "hours", "expected"),
    [
        ("45", "3", AtPickup.WITHIN),
        ("45", None, AtPickup.WITHIN),
        ("45.1", "3", AtPickup.OUT),
        ("45.1", None, AtPickup.NOT_SHOWN),
        ("50", "2", AtPickup.WITHIN),
        ("50", "2.01", AtPickup.OUT),
        ("50.1", "1", AtPickup.OUT),
        ("50.1", None, AtPickup.OUT),
    ],
)
def test_the_tables_own_edges(temperature: str, hours: str | None, expected: AtPickup) -> None:
    since = None if hours is None else Fraction(hours) * 3600
    assert judge_pickup(Fraction(temperature), since, **TABLE_1) == expected


@pytest.mark.proves("pickup.judge_pickup", by="published", source="PMO Table 1, a textbook's copy")
@pytest.mark.parametrize(
    ("temperature", "since_start", "since_end", "expected"),
    [
        ("90", "4", "2", AtPickup.WITHIN),
        ("50.1", "4.01", "2", AtPickup.OUT),
        ("50", "6", "2", AtPickup.WITHIN),
        ("50", "6", "2.01", AtPickup.OUT),
        ("45", "40", None, AtPickup.WITHIN),
        ("45.1", "40", None, AtPickup.NOT_SHOWN),
        ("50.1", "40", None, AtPickup.OUT),
        ("60", None, "1", AtPickup.NOT_SHOWN),
        ("60", None, "2.01", AtPickup.OUT),
    ],
)
def test_a_first_milkings_edges(temperature: str, since_start: str, since_end: str, expected: AtPickup) -> None:
    began, ended = (None if one is None else Fraction(one) * 3600 for one in (since_start, since_end))
    first = FirstMilking(began, Fraction(50), Fraction(4 * 3600))
    assert judge_pickup(Fraction(temperature), ended, **TABLE_1, first=first) == expected


@pytest.mark.proves("pickup.judge_collected", by="published", source="(EC) 853/2004 Annex III Sec. IX Ch. I, memory")
@pytest.mark.parametrize(
    ("temperature", "daily", "expected"),
    [
        ("8", True, AtPickup.WITHIN),
        ("8.1", True, AtPickup.OUT),
        ("6", False, AtPickup.WITHIN),
        ("6.1", False, AtPickup.OUT),
        ("6", None, AtPickup.WITHIN),
        ("8", None, AtPickup.NOT_SHOWN),
        ("8.1", None, AtPickup.OUT),
    ],
)
def test_collected_daily_or_not(temperature: str, daily: bool | None, expected: AtPickup) -> None:
    found = judge_collected(Fraction(temperature), daily=daily, daily_high=Fraction(8), high=Fraction(6))
    assert found == expected


def test_the_rule_sets_rows_are_the_tables_numbers() -> None:
    rows = rule_set("us").rows
    assert (rows["farm-2h"].high, rows["farm-2h"].hours, rows["farm-2h"].unit) == ("45", "2", "°F")
    assert (rows["farm-blend"].high, rows["farm-blend"].clause) == ("50", "PMO Table 1")
    assert (rows["farm-4h"].high, rows["farm-4h"].hours) == ("50", "4")
    second = rule_set("eu").rows
    assert [(second[key].high, second[key].basis) for key in ("farm-daily", "farm", "arrival")] == [
        ("8", "from memory"), ("6", "from memory"), ("10", "from memory"),
    ]  # fmt: skip
    assert (second["farm-processed"].hours, second["farm-processed"].basis) == ("2", "from memory")
