"""The hours of a day, over both clock changes of 2026 in America/Chicago.

15 U.S.C. 260a(a): daylight time from 2 o'clock antemeridian on the second Sunday of March (8 March 2026) to 2 o'clock
antemeridian on the first Sunday of November (1 November 2026).
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from plant.pictures.hours import Axis, clock_change, hours

CHICAGO = "America/Chicago"


def _day(year: int, month: int, day: int, zone: str = CHICAGO) -> tuple[datetime, datetime]:
    place = ZoneInfo(zone)
    start = datetime(year, month, day, tzinfo=place)
    return start, datetime(year, month, day, tzinfo=place) + timedelta(days=1)


def test_the_day_that_skips_an_hour_has_23() -> None:
    """8 March 2026: no 02:00, and 24 rules including both midnights."""
    names = [hour.name for hour in hours(*_day(2026, 3, 8), CHICAGO)]
    assert len(names) == 24
    assert "02:00" not in names
    assert names[:3] == ["00:00", "01:00", "03:00"]


def test_the_day_that_repeats_an_hour_has_25() -> None:
    """1 November 2026: 01:00 twice, told apart by zone, and 26 rules including both midnights."""
    found = hours(*_day(2026, 11, 1), CHICAGO)
    assert len(found) == 26
    assert [(h.name, h.zone) for h in found if h.twice] == [("01:00", "CDT"), ("01:00", "CST")]


def test_hours_stand_evenly_in_elapsed_time() -> None:
    """Every hour of a day with a clock change is as wide as every other."""
    start, end = _day(2026, 11, 1)
    axis = Axis(start, end, 0, 2500)
    places = [axis.x(hour.at) for hour in hours(start, end, CHICAGO)]
    assert places == pytest.approx([i * 100 for i in range(26)])


def test_the_clock_change_is_found() -> None:
    """07:00 UTC on 1 November is when 02:00 CDT becomes 01:00 CST; 08:00 UTC on 8 March the other way."""
    assert clock_change(*_day(2026, 11, 1), CHICAGO) == (datetime(2026, 11, 1, 7, tzinfo=UTC), timedelta(hours=-1))
    assert clock_change(*_day(2026, 3, 8), CHICAGO) == (datetime(2026, 3, 8, 8, tzinfo=UTC), timedelta(hours=1))
    assert clock_change(*_day(2026, 3, 9), CHICAGO) is None


def test_a_day_may_start_between_hours_and_lie_in_a_half_hour_zone() -> None:
    """A shift that starts at 05:30 in Kolkata (UTC+5:30) has its first rule at 06:00 there."""
    start = datetime(2026, 3, 3, 5, 30, tzinfo=ZoneInfo("Asia/Kolkata"))
    assert hours(start, start + timedelta(hours=24), "Asia/Kolkata")[0].at == datetime(2026, 3, 3, 0, 30, tzinfo=UTC)


def test_moments_outside_the_day_stand_at_its_ends() -> None:
    """A fill that began yesterday begins at the left edge."""
    start, end = _day(2026, 3, 3)
    axis = Axis(start, end, 10, 110)
    assert axis.x(start - timedelta(hours=3)) == 10
    assert axis.x(end + timedelta(hours=3)) == 110


def test_a_moment_without_a_zone_is_refused() -> None:
    """Naive times cannot be placed."""
    with pytest.raises(ValueError, match="zone"):
        Axis(datetime(2026, 3, 3), datetime(2026, 3, 4), 0, 1)  # noqa: DTZ001 - naive on purpose


def test_a_reading_without_a_zone_is_refused() -> None:
    """A naive moment is not taken for the machine's own time."""
    with pytest.raises(ValueError, match="zone"):
        Axis(*_day(2026, 3, 3), 0, 1).x(datetime(2026, 3, 3, 9))  # noqa: DTZ001 - naive on purpose


def test_a_day_that_ends_before_it_starts_is_refused() -> None:
    """A chart needs a length."""
    start, end = _day(2026, 3, 3)
    with pytest.raises(ValueError, match="end after"):
        Axis(end, start, 0, 1)
