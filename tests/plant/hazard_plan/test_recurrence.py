"""Recurrence rules in words; what is not surely understood stays as written."""

from __future__ import annotations

import pytest

from plant.hazard_plan.recurrence import recurrence

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=DAILY", "each day"),
        ("FREQ=WEEKLY;BYDAY=MO,TH", "each week, on Monday, Thursday"),
        ("FREQ=MONTHLY;BYDAY=1SA", "each month, on the first Saturday"),
        ("FREQ=MONTHLY;INTERVAL=3;BYMONTHDAY=15", "every 3 months, on day 15"),
        ("FREQ=MONTHLY;BYDAY=-1FR", "each month, on the last Friday"),
        ("FREQ=YEARLY;BYMONTH=6;BYMONTHDAY=15", "each year, on day 15, in June"),
    ],
)
def test_a_common_rule_is_said_in_words(rule: str, words: str) -> None:
    """The meaning of each part is that of RFC 5545 section 3.3.10."""
    assert recurrence(rule) == words


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=MONTHLY;BYDAY=MO;BYSETPOS=-1",
        "FREQ=WEEKLY;COUNT=4",
        "FREQ=MONTHLY;BYMONTHDAY=-1",
        "FREQ=HOURLY",
        "FREQ=YEARLY;BYMONTH=13",
        "FREQ=WEEKLY;INTERVAL=0",
        "FREQ=WEEKLY;BYDAY=XX",
        "anything",
        "",
    ],
)
def test_any_other_rule_stays_as_written(rule: str) -> None:
    """Better unread than read wrongly."""
    assert recurrence(rule) == rule
