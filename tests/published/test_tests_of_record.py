"""Intervals of the tests of record, what follows a broken seal, and the numbers of the list, against their texts.

La. 51 VII-313: La. Admin. Code 51, VII, section 313, as read at its public address (R22). ATCP 65.68: Wisconsin
Administrative Code, as read (R105, R18).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from plant.rules.intervals import HOLDING, INSTRUMENTS, business_day_after, counts_until, rule_of, to_tell
from records.workshop.parts import HOLDING_TIME, PARTS, READ, TESTS
from records.workshop.parts import tests_after as after_work

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("tested", "day", "month_end"),
    [
        (date(2026, 1, 15), date(2026, 4, 15), date(2026, 4, 30)),
        (date(2026, 11, 30), date(2027, 2, 28), date(2027, 2, 28)),
        (date(2027, 11, 29), date(2028, 2, 29), date(2028, 2, 29)),
        (date(2026, 3, 31), date(2026, 6, 30), date(2026, 6, 30)),
    ],
)
def test_instruments_are_tested_every_three_months_through_the_end_of_the_month_due(
    tested: date, day: date, month_end: date
) -> None:
    """La. 51 VII-313: at least every 3 months, through the end of the month due; the day itself is the stricter one."""
    found = counts_until("us", INSTRUMENTS, tested)
    assert (found.months, found.strict, found.month_end) == (3, day, month_end)


@pytest.mark.parametrize(
    ("tested", "day"), [(date(2026, 1, 15), date(2026, 7, 15)), (date(2026, 8, 31), date(2027, 2, 28))]
)
def test_the_holding_time_is_tested_every_six_months(tested: date, day: date) -> None:
    """La. 51 VII-313; ATCP 65.68(3): at least every 6 months. No text read lets it run on to the month's end."""
    found = counts_until("us", HOLDING, tested)
    assert (found.months, found.strict, found.month_end) == (6, day, None)


def test_a_broken_seal_is_told_within_two_hours_and_in_writing_within_five_business_days() -> None:
    """ATCP 65.68(6)(a): 2 hours; the form within 5 business days. PMO 16p, at once: from memory."""
    at = datetime(2026, 3, 6, 20, 0, tzinfo=UTC)  # a Friday
    wisconsin, ordinance = to_tell("us", at, date(2026, 3, 6))
    assert wisconsin.told_by == at + timedelta(hours=2)
    assert wisconsin.form_by == date(2026, 3, 13)
    assert (wisconsin.rule.basis, ordinance.rule.basis) == ("text consulted", "from memory")
    assert ordinance.told_by is None


@pytest.mark.parametrize("start", [date(2026, 3, day) for day in range(1, 15)])
@pytest.mark.parametrize("count", [1, 5, 12])
def test_business_days_are_counted_as_the_library_counts_them(start: date, count: int) -> None:
    """numpy.busday_offset, Monday to Friday; from a weekend the first business day is the Monday after it."""
    assert business_day_after(start, count) == np.busday_offset(start, count, roll="backward").astype(date)


def test_a_rule_set_without_such_rows_asks_for_nothing_to_be_told() -> None:
    """The EU set has no rows on seals here; the months are those of the US rows, on the side of caution."""
    assert to_tell("eu", datetime(2026, 3, 6, tzinfo=UTC), date(2026, 3, 6)) == []
    assert counts_until("eu", HOLDING, date(2026, 1, 15)).rule is None
    assert rule_of("of nowhere", INSTRUMENTS) is None


def test_the_numbers_of_the_list_that_were_read() -> None:
    """La. 51 VII-313, table: 1 to 4, 6 to 9; that 5 has nine parts (text consulted, which is which from memory)."""
    assert {number for number, one in TESTS.items() if one.basis == READ} == {"1", "2", "3", "4", "6", "7", "8", "9"}
    assert sum(number.startswith("5.") for number in TESTS) == 9
    assert TESTS[HOLDING_TIME].row == HOLDING and TESTS["5.6"].row == INSTRUMENTS


@pytest.mark.parametrize("part", sorted(PARTS))
def test_wisconsin_wants_the_holding_time_again_whenever_a_seal_is_broken(part: str) -> None:
    """ATCP 65.68(3)(c): retest."""
    assert HOLDING_TIME in after_work(part, seals_broken=True)


@pytest.mark.parametrize(
    ("part", "tests"),
    [
        # La. 51 VII-313 and 1 NYCRR 3.27(b): after any change that may affect it; which part affects which test is
        # common practice, no source.
        ("timing pump", ["11"]),
        ("holding tube", ["11"]),
        ("indicating thermometer", ["1", "4", "7"]),
        ("pressure controls", ["9"]),
    ],
)
def test_a_change_that_may_affect_a_device_asks_for_its_tests(part: str, tests: list[str]) -> None:
    """In order of their numbers."""
    assert after_work(part, seals_broken=False) == tests
