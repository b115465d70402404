"""Excursions out of limits, from the last reading in limits to the first of two in a row."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.excursion import IN_LIMITS, excursion, rechecks
from plant.process.limits import Outcome

pytestmark = pytest.mark.once

NOON = datetime(2026, 6, 8, 12, tzinfo=UTC)
LETTERS = {"m": Outcome.MET, "o": Outcome.OPERATING, "x": Outcome.NOT_MET, "?": Outcome.NOT_PROVEN}


def row(text):
    """Readings a minute apart, one a letter, numbered from 1."""
    return [(NOON + place * timedelta(minutes=1), LETTERS[letter], place + 1) for place, letter in enumerate(text)]


def minutes(text):
    """Each excursion as (first bad, last bad, from, until) in minutes."""

    def minute(moment):
        return None if moment is None else (moment - NOON) // timedelta(minutes=1)

    found = excursion(row(text))
    return [(minute(one.first_bad), minute(one.last_bad), minute(one.from_at), minute(one.until)) for one in found]


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        ("", []),
        ("mmm", []),
        ("moom", []),
        ("mx", [(1, 1, 0, None)]),
        ("mxm", [(1, 1, 0, None)]),
        ("mxmm", [(1, 1, 0, 2)]),
        ("mxoo", [(1, 1, 0, 2)]),
        ("mxxmxmm", [(1, 4, 0, 5)]),
        ("xmm", [(0, 0, None, 1)]),
        ("m?mm", [(1, 1, 0, 2)]),
        ("mxm?mm", [(1, 3, 0, 4)]),
        ("mxmmxmm", [(1, 1, 0, 2), (4, 4, 3, 5)]),
        ("mxmmmmx", [(1, 1, 0, 2), (6, 6, 5, None)]),
    ],
)
def test_excursion_reaches_from_last_to_next_in_limits(readings, expected):
    """m met, o past the operating limit, x not met, ? not proven: begin, end and reach of each excursion."""
    assert minutes(readings) == expected


def test_excursion_lists_its_bad_readings():
    """The readings out of limits or not proven are named by number."""
    assert excursion(row("mx?mxmm"))[0].numbers == (2, 3, 5)


def test_late_entered_reading_takes_its_place_by_observed_time():
    """The order of entry does not matter."""
    assert excursion(reversed(row("mxxmm"))) == excursion(row("mxxmm"))


def test_excursion_covers_its_window_with_both_ends():
    """What was there at the last reading in limits and at the next one is in the window."""
    (one,) = excursion(row("mmxmm"))
    assert [one.covers(NOON + minute * timedelta(minutes=1)) for minute in range(5)] == [False, True, True, True, False]


def test_open_excursion_covers_all_that_follows():
    """Without an end, and without a reading before it, everything is touched."""
    (one,) = excursion(row("xm"))
    assert one.covers(NOON - timedelta(days=9))
    assert one.covers(NOON + timedelta(days=9))


@pytest.mark.parametrize(
    ("readings", "asking"),
    [("mm", []), ("mx", [2]), ("mxm", [2, 3]), ("mxmm", [2, 3]), ("mxmxmmm", [2, 3, 4, 5]), ("xmm", [1, 2])],
)
def test_each_reading_asks_for_another_until_two_are_met(readings, asking):
    """Out of limits makes a re-check due, and the first met reading a second one."""
    assert [number for _, number in rechecks(row(readings), 15)] == asking


def test_recheck_is_due_the_plans_minutes_after_the_reading():
    """Fifteen minutes after the reading that asks for it."""
    assert rechecks(row("x"), 15) == [(NOON + timedelta(minutes=15), 1)]


@settings(deadline=None)
@given(st.text("mox?", max_size=30))
def test_every_bad_reading_is_in_exactly_one_excursion(text):
    """No reading out of limits passes unmentioned, and excursions follow one another."""
    found = excursion(row(text))
    bad = [number for _, outcome, number in row(text) if outcome not in IN_LIMITS]
    assert [number for one in found for number in one.numbers] == bad
    assert all(
        one.until is not None and one.until < after.first_bad for one, after in zip(found, found[1:], strict=False)
    )
