"""A farm's milk at pick-up against the numbers that the rule prints.

PMO Table 1 as a textbook prints it (https://issuhub.com/view/index/5299?pageIndex=392): cooled to 45 °F within two
hours of milking, the blend after first and later milkings never above 50 °F.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from plant.process.pickup import AtPickup, judge_pickup
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


def test_the_rule_sets_rows_are_the_tables_numbers() -> None:
    rows = rule_set("us").rows
    assert (rows["farm-2h"].high, rows["farm-2h"].hours, rows["farm-2h"].unit) == ("45", "2", "°F")
    assert (rows["farm-blend"].high, rows["farm-blend"].clause) == ("50", "PMO Table 1")
