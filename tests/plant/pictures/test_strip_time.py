"""The strip chart's time axis: round steps of the wall clock, right over both clock changes.

15 U.S.C. 260a(a): daylight time begins at 2 o'clock on the second Sunday of March (8 March 2026) and ends at 2 o'clock
on the first Sunday of November (1 November 2026). Directive 2000/84/EC, articles 2 and 3: summer time begins and
ends at 01:00 UTC on the last Sunday of March (29 March 2026) and of October (25 October 2026).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.strip_time import (
    DAY,
    HOUR,
    MINUTE,
    SECOND,
    clock_changes,
    milliseconds,
    moment,
    said,
    ticks,
    ticks_beside,
)

pytestmark = pytest.mark.once

CHICAGO, BERLIN, KOLKATA, LORD_HOWE = "America/Chicago", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe"


def at(zone: str, *parts: int) -> int:
    """A local time as milliseconds."""
    return milliseconds(datetime(*parts, tzinfo=ZoneInfo(zone)).astimezone(UTC))  # type: ignore[arg-type, misc]


def test_the_day_that_skips_an_hour_has_no_name_for_it() -> None:
    """8 March 2026 in Chicago: after 01:00 comes 03:00, as far from it as any hour from the next."""
    start, end = at(CHICAGO, 2026, 3, 8), at(CHICAGO, 2026, 3, 9)
    assert end - start == 23 * HOUR
    found = ticks(start, end, CHICAGO, 1500)
    assert [one.name for one in found][:4] == ["00:00", "01:00", "03:00", "04:00"]
    assert {b.at_ms - a.at_ms for a, b in zip(found, found[1:], strict=False)} == {HOUR}
    assert clock_changes(start, end, CHICAGO) == [(at("UTC", 2026, 3, 8, 8), HOUR)]


def test_the_day_that_repeats_an_hour_names_it_twice_with_its_zone() -> None:
    """1 November 2026 in Chicago: 01:00 CDT, 01:00 CST, and the quarters between them too."""
    start, end = at(CHICAGO, 2026, 11, 1), at(CHICAGO, 2026, 11, 2)
    assert end - start == 25 * HOUR
    hours = ticks(start, end, CHICAGO, 1500)
    assert [(one.name, one.zone) for one in hours][:4] == [
        ("00:00", ""),
        ("01:00", "CDT"),
        ("01:00", "CST"),
        ("02:00", ""),
    ]
    quarters = ticks(start + HOUR, start + 3 * HOUR, CHICAGO, 500)
    assert [f"{one.name} {one.zone}".strip() for one in quarters] == [
        "01:00 CDT", "01:15 CDT", "01:30 CDT", "01:45 CDT", "01:00 CST", "01:15 CST", "01:30 CST", "01:45 CST", "02:00",
    ]  # fmt: skip
    assert clock_changes(start, end, CHICAGO) == [(at("UTC", 2026, 11, 1, 7), -HOUR)]
    assert said(start + 2 * HOUR, CHICAGO) == "2026-11-01 01:00:00 CST"


def test_both_changes_of_a_year_are_found() -> None:
    """In the Union too, at 01:00 UTC."""
    year = at(BERLIN, 2026, 1, 1), at(BERLIN, 2027, 1, 1)
    found = clock_changes(*year, BERLIN)
    assert found == [(at("UTC", 2026, 3, 29, 1), HOUR), (at("UTC", 2026, 10, 25, 1), -HOUR)]


def test_half_hour_zones_have_their_own_round_times() -> None:
    """05:30 ahead of UTC: hours are full there, not in UTC; a change by half an hour moves the hours by it."""
    start = at(KOLKATA, 2026, 3, 3, 5, 10)
    assert [one.name for one in ticks(start, start + 3 * HOUR, KOLKATA, 330)][:3] == ["05:30", "06:00", "06:30"]
    start = at(LORD_HOWE, 2026, 4, 5, 0)  # 02:00 becomes 01:30 on the first Sunday of April (tz database)
    assert clock_changes(start, start + DAY, LORD_HOWE) == [(start + 2 * HOUR, -HOUR // 2)]


def test_days_begin_where_their_date_is() -> None:
    """The first tick has its date, then each that begins a day."""
    start = at(CHICAGO, 2026, 3, 3, 5)
    found = ticks(start, start + DAY, CHICAGO, 800)
    assert [(one.name, one.day) for one in found if one.day] == [("06:00", "2026-03-03"), ("00:00", "2026-03-04")]
    weeks = ticks(start, start + 28 * DAY, CHICAGO, 800)
    assert [one.name for one in weeks][:2] == ["2026-03-09", "2026-03-16"]
    # Midnight after the change lies one hour less after the one before it.
    assert weeks[0].at_ms == at(CHICAGO, 2026, 3, 9)


def test_what_is_dragged_into_sight_has_the_same_steps() -> None:
    """The windows before and after, without what the window itself names."""
    start = at(CHICAGO, 2026, 3, 3, 5)
    inside, beside = (work(start, start + DAY, CHICAGO, 800) for work in (ticks, ticks_beside))
    assert not {one.at_ms for one in inside} & {one.at_ms for one in beside}
    every = sorted(one.at_ms for one in (*inside, *beside))
    assert {b - a for a, b in zip(every, every[1:], strict=False)} == {2 * HOUR}


@settings(max_examples=150, deadline=None)
@given(
    start=st.integers(at("UTC", 2025, 1, 1), at("UTC", 2028, 1, 1)),
    length=st.integers(10 * SECOND, 400 * DAY),
    room=st.floats(200, 1600),
    zone=st.sampled_from([CHICAGO, BERLIN, KOLKATA, LORD_HOWE, "UTC"]),
)
def test_ticks_are_round_times_of_the_wall_clock(start: int, length: int, room: float, zone: str) -> None:
    """Any window in any zone: within it, in order, told apart by their words, round, and with room for them."""
    found = ticks(start, start + length, zone, room)
    moments = [one.at_ms for one in found]
    assert moments == sorted(set(moments)) and all(start <= one <= start + length for one in moments)
    assert len(found) <= room / 50 + 2
    for one in found:
        local = moment(one.at_ms).astimezone(ZoneInfo(zone))
        assert one.name in (f"{local:%H:%M}", f"{local:%H:%M:%S}", f"{local:%Y-%m-%d}")
        assert local.microsecond == 0
        if len(one.name) == 5:
            assert local.second == 0
        if len(one.name) == 10:
            assert (local.hour, local.minute) == (0, 0)


@pytest.mark.parametrize("length", [10 * SECOND, 3 * MINUTE, HOUR, 8 * HOUR, DAY, 5 * DAY, 31 * DAY])
def test_every_window_has_some_names(length: int) -> None:
    """From ten seconds to a month."""
    assert 3 <= len(ticks(at(CHICAGO, 2026, 3, 3, 5), at(CHICAGO, 2026, 3, 3, 5) + length, CHICAGO, 800)) <= 16


def test_a_moment_needs_its_zone() -> None:
    """A naive time is refused."""
    with pytest.raises(ValueError, match="zone"):
        milliseconds(datetime(2026, 3, 3))  # noqa: DTZ001
    assert moment(0) == datetime(1970, 1, 1, tzinfo=UTC) and moment(1500) - moment(0) == timedelta(seconds=1.5)
