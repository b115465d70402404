"""Until when a training counts: months of the calendar against the standard library's, and the edges of the days."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.process.errors import OutsideRange
from plant.process.training import Standing, last_day, standing


def by_the_calendar(day: date, months: int) -> date:
    """The same day of the month so many months on, or that month's last: counted with integers and monthrange."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


@pytest.mark.proves("training.last_day", by="independent", source="calendar.monthrange of the standard library")
@given(st.dates(date(1950, 1, 1), date(2100, 12, 31)), st.integers(1, 120))
def test_months_are_those_of_the_calendar(day: date, months: int) -> None:
    """Any day, any interval that a plan may have."""
    assert last_day(day, months) == by_the_calendar(day, months)


@pytest.mark.parametrize(
    ("day", "months", "last"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2028, 2, 29), 48, date(2032, 2, 29)),
        (date(2025, 12, 31), 2, date(2026, 2, 28)),
        (date(2025, 3, 3), 12, date(2026, 3, 3)),
    ],
)
def test_a_month_without_that_day_ends_on_its_own_last(day: date, months: int, last: date) -> None:
    """Read off a calendar."""
    assert last_day(day, months) == last


def test_the_certificates_own_end_counts_where_it_is_earlier() -> None:
    """Never later than the plan says; alone where the plan asks once; no end where neither names one."""
    day = date(2025, 3, 3)
    assert last_day(day, 12, date(2025, 9, 1)) == date(2025, 9, 1)
    assert last_day(day, 12, date(2029, 9, 1)) == date(2026, 3, 3)
    assert last_day(day, 0, date(2029, 9, 1)) == date(2029, 9, 1) and last_day(day, 0) is None


@pytest.mark.parametrize("months", [-1, 121])
def test_months_that_no_plan_may_have_are_outside_the_range(months: int) -> None:
    """A plan is refused with them; so is the calculation."""
    with pytest.raises(OutsideRange):
        last_day(date(2026, 3, 3), months)


@pytest.mark.proves("training.standing", by="independent", source="whole days counted by their ordinals")
@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(-4000, 4000))
def test_the_last_day_counts_and_the_month_before_it_is_soon(last: date, days: int) -> None:
    """Overdue from the first day after; due soon for the last day and the 30 before it."""
    left = last.toordinal() - (last + timedelta(days=days)).toordinal()
    expected = "overdue" if left < 0 else "due soon" if left <= 30 else "in date"
    assert standing(last, last + timedelta(days=days)) == expected


def test_what_has_no_end_stays_in_date() -> None:
    """Asked once, and no certificate names a day."""
    assert standing(None, date(2199, 1, 1)) is Standing.IN_DATE
