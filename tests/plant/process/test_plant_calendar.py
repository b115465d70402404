"""Shifts, plant days and closures on the plant's clocks."""

from datetime import UTC, date, datetime, timedelta

import pytest

from plant.process.plant_calendar import (
    Closure,
    PlantCalendar,
    RepeatedClosure,
    Shift,
    clock,
    parse_rule,
    shift_at,
)

pytestmark = pytest.mark.once

DAY_SHIFT = Shift("day", "Day", "06:00", "14:00", ("MO", "TU", "WE", "TH", "FR", "SA"))
NIGHT = Shift("night", "Night", "22:00", "06:00", ("MO", "TU", "WE", "TH", "FR", "SA"))
QUILLBROOK = PlantCalendar(
    "America/Chicago",
    (DAY_SHIFT, NIGHT),
    "06:00",
    (Closure("Stocktaking", date(2026, 6, 10), date(2026, 6, 11)),),
)
SUNDAY, WEDNESDAY = date(2026, 6, 14), date(2026, 6, 10)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)


def test_shift_past_midnight_belongs_to_the_day_it_started():
    """A night shift from 22:00 to 06:00 is one shift of the plant day on which it started."""
    night = QUILLBROOK.day_shifts(date(2026, 6, 8))[1]
    assert (night.key, night.start_at, night.end_at) == ("night", utc(2026, 6, 9, 3), utc(2026, 6, 9, 11))


def test_moment_after_midnight_belongs_to_the_plant_day_before():
    """Before the day's start the plant day is yesterday's."""
    assert QUILLBROOK.plant_day(utc(2026, 6, 9, 10, 59, 59)) == date(2026, 6, 8)
    assert QUILLBROOK.plant_day(utc(2026, 6, 9, 11)) == date(2026, 6, 9)


@pytest.mark.parametrize("day", [date(2026, 3, 7), date(2026, 3, 8), date(2026, 10, 31), date(2026, 11, 1), SUNDAY])
def test_plant_days_join_without_gap_or_overlap(day):
    """One plant day's end is the next one's start, and every moment in it names that day."""
    start, end = QUILLBROOK.day_bounds(day)
    assert end == QUILLBROOK.day_bounds(day + timedelta(days=1))[0]
    assert {QUILLBROOK.plant_day(start), QUILLBROOK.plant_day(end - timedelta(microseconds=1))} == {day}


def test_weekday_without_shifts_gives_them_flagged_closed():
    """On Sunday the shifts keep their ordinary times and are flagged closed."""
    assert [(one.key, one.closed) for one in QUILLBROOK.day_shifts(SUNDAY)] == [
        ("day", True),
        ("night", True),
    ]
    assert QUILLBROOK.is_closed(SUNDAY)


def test_closure_flags_its_shifts_closed():
    """A closure keeps the shift times and says that they are closed."""
    assert all(one.closed for one in QUILLBROOK.day_shifts(WEDNESDAY))
    assert QUILLBROOK.closure(WEDNESDAY) == "Stocktaking"


def test_closure_includes_both_its_days_and_no_more():
    """First and last day are closed, the days beside them are not."""
    assert [QUILLBROOK.is_closed(date(2026, 6, day)) for day in (9, 10, 11, 12)] == [False, True, True, False]


def test_repeated_closure_follows_its_rule():
    """A closure given as a recurrence rule closes the days it names and no other."""
    calendar = PlantCalendar(
        "America/Chicago", (DAY_SHIFT,), "06:00",
        (RepeatedClosure("Winter holiday", "FREQ=YEARLY;BYMONTH=12;BYMONTHDAY=25", date(2020, 12, 25)),),
    )  # fmt: skip
    assert calendar.closure(date(2026, 12, 25)) == "Winter holiday"
    assert calendar.closure(date(2026, 12, 24)) is None


def test_shift_that_another_one_replaces_is_not_given_twice():
    """A weekend shift over the same hours takes the place of the weekday shifts it overlaps."""
    weekend = Shift("weekend", "Weekend", "07:00", "15:00", ("SU",))
    calendar = PlantCalendar("America/Chicago", (DAY_SHIFT, NIGHT, weekend), "06:00")
    assert [(one.key, one.closed) for one in calendar.day_shifts(SUNDAY)] == [
        ("weekend", False),
        ("night", True),
    ]


def test_shift_that_starts_before_the_day_does_belongs_to_the_day_before():
    """With days from 06:00 a shift from 02:00 closes Monday's plant day on Tuesday's date."""
    early = Shift("early", "Early", "02:00", "06:00", ("MO",))
    found = PlantCalendar("America/Chicago", (early,), "06:00").day_shifts(date(2026, 6, 8))
    assert [one.start_at for one in found] == [utc(2026, 6, 9, 7)]


def test_shift_instances_overlap_the_window_only():
    """A window gives the shifts that touch it; one that ends at its start is not among them."""
    found = QUILLBROOK.shift_instances(utc(2026, 6, 9, 11), utc(2026, 6, 10, 3))
    assert [one.key for one in found] == ["day"]


def test_moment_at_hand_over_belongs_to_the_new_shift():
    """At the moment when one shift ends and the next starts, the next one is on."""
    found = QUILLBROOK.shift_instances(utc(2026, 6, 8), utc(2026, 6, 11))
    shift = shift_at(found, utc(2026, 6, 9, 11))
    assert shift is not None
    assert shift.key == "day"


def test_moment_between_shifts_has_none():
    """Between 14:00 and 22:00 nobody is on."""
    assert shift_at(QUILLBROOK.shift_instances(utc(2026, 6, 8), utc(2026, 6, 11)), utc(2026, 6, 9, 20)) is None


@pytest.mark.parametrize("text", ["6:00", "24:00", "06:60", "0600", "", "٠٦:٠٠", "06:00 "])
def test_wrong_clock_time_is_refused_by_name(text):
    """A clock time that is none is refused, and the message quotes it."""
    with pytest.raises(ValueError, match="no time of day"):
        clock(text)


def test_unknown_time_zone_is_refused_by_name():
    """A zone that the IANA database does not have is refused with its name."""
    for zone in ("America/Nowhere", "", "../etc/passwd"):
        with pytest.raises(ValueError, match=f"'{zone}' is no time zone"):
            PlantCalendar(zone, (), "06:00")


@pytest.mark.parametrize(
    "text", ["WEEKLY", "FREQ=WEAKLY", "FREQ=HOURLY", "DTSTART:20260101T000000\nRRULE:FREQ=DAILY", ""]
)
def test_wrong_recurrence_rule_is_refused(text):
    """What is no single rule by day, week, month or year is refused with a sentence."""
    with pytest.raises(ValueError, match="'"):
        parse_rule(text, datetime.fromisoformat("2026-01-01T00:00"))
