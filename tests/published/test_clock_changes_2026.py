"""Clock changes of 2026 in the United States.

Dates and hours: 15 U.S.C. 260a as amended by the Energy Policy Act of 2005, section 110 (second Sunday of
March and first Sunday of November, 02:00 local; from memory), checked against the IANA time zone database.
What a skipped or repeated local time means: RFC 5545 section 3.3.5, form 3 (from memory): the repeated time
is its first occurrence, the skipped one is read with the offset from before the gap.
"""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from dateutil.tz import gettz, resolve_imaginary

from plant.process.plant_calendar import PlantCalendar, Shift, skipped, to_utc

pytestmark = pytest.mark.once

NIGHT = Shift("night", "Night", "22:00", "06:00")
CHICAGO = PlantCalendar("America/Chicago", (NIGHT,), "22:00")


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        (date(2026, 3, 7), 7),
        (date(2026, 10, 31), 9),
        (date(2026, 3, 8), 8),
    ],  # spring, autumn, an ordinary night
)
def test_night_shift_has_the_hours_that_the_clock_change_leaves(day, hours):
    """A 22:00 to 06:00 shift lasts 7 h on the night of 7 March 2026 and 9 h on that of 31 October."""
    (night,) = CHICAGO.day_shifts(day)
    assert night.end_at - night.start_at == timedelta(hours=hours)


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 3, 9), 24)])
def test_calendar_day_has_the_hours_that_the_clock_change_leaves(day, hours):
    """A day from midnight to midnight has 23 h on 8 March 2026 and 25 h on 1 November."""
    start, end = PlantCalendar("America/Chicago", (), "00:00").day_bounds(day)
    assert end - start == timedelta(hours=hours)


def test_repeated_time_means_its_first_pass():
    """01:30 on 1 November happens at 06:30 and 07:30 UTC; it means 06:30."""
    assert CHICAGO.utc(date(2026, 11, 1), time(1, 30)) == datetime(2026, 11, 1, 6, 30, tzinfo=UTC)


def test_skipped_time_moves_forward_by_the_gap():
    """02:30 on 8 March does not exist; it means 03:30 daylight time, 08:30 UTC."""
    moment = CHICAGO.utc(date(2026, 3, 8), time(2, 30))
    assert moment == datetime(2026, 3, 8, 8, 30, tzinfo=UTC)
    assert CHICAGO.local(moment).time() == time(3, 30)


def test_skipped_time_is_known_as_such():
    """A page can say which local times the clock change left out."""
    assert skipped(datetime.fromisoformat("2026-03-08T02:30"), CHICAGO.tz)
    assert not skipped(datetime.fromisoformat("2026-03-08T03:00"), CHICAGO.tz)


def test_skipped_time_agrees_with_the_reference_library():
    """dateutil, an independent reading of the same rule, gives the same moments around the gap."""
    chicago = gettz("America/Chicago")
    for minute in range(0, 240, 10):
        local = datetime.fromisoformat("2026-03-08T00:00") + timedelta(minutes=minute)
        assert to_utc(local, CHICAGO.tz) == resolve_imaginary(local.replace(tzinfo=chicago)).astimezone(UTC)


def test_arizona_keeps_its_clocks():
    """Phoenix does not observe daylight time: the same night has 8 h."""
    (night,) = PlantCalendar("America/Phoenix", (NIGHT,), "22:00").day_shifts(date(2026, 3, 7))
    assert night.end_at - night.start_at == timedelta(hours=8)
