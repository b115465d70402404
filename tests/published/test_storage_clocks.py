"""The clocks of vessels and lines: the rule's own hours, and counting another way.

7 Pa. Code 59.212(a), a state rule that mirrors the model ordinance:
http://www.pacode.com/secure/data/007/chapter59/s59.212.html
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from plant.process.plant_calendar import PlantCalendar
from plant.process.storage import daily_wash_clock, raw_storage_clock, run_hours_clock, warming_stretch

pytestmark = pytest.mark.once

START = datetime(2026, 6, 8, 11, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.mark.proves(
    "storage.raw_storage_clock",
    by="published",
    source="7 Pa. Code 59.212(a): raw storage emptied and cleaned at least every 72 hours "
    "(http://www.pacode.com/secure/data/007/chapter59/s59.212.html)",
)
def test_raw_storage_is_emptied_every_72_hours():
    """At 72 hours still in time, a second later past."""
    end = START + 72 * HOUR
    assert raw_storage_clock(START, START).limit_at == end
    assert not raw_storage_clock(START, end).past(end)
    late = end + timedelta(seconds=1)
    assert raw_storage_clock(START, late).past(late)


@pytest.mark.proves(
    "storage.daily_wash_clock",
    by="published",
    source="7 Pa. Code 59.212(a): other equipment cleaned at least once each day used "
    "(http://www.pacode.com/secure/data/007/chapter59/s59.212.html)",
)
def test_other_equipment_is_cleaned_each_day_used():
    """Used at any hour of the plant's day, it is due when that day ends, never more than 24 hours later."""
    calendar = PlantCalendar("America/Chicago", (), "06:00")
    for hour in range(24):
        used = START + hour * HOUR
        due = daily_wash_clock(used, used, calendar).limit_at
        assert used < due <= used + 24 * HOUR


@pytest.mark.proves("storage.daily_wash_clock", by="independent", source="zoneinfo, wall clock of the plant")
@pytest.mark.parametrize(("day", "length"), [("2026-03-07", 23), ("2026-06-08", 24), ("2026-10-31", 25)])
def test_the_day_of_use_ends_by_the_wall_clock(day, length):
    """From 06:00 to 06:00 in Chicago: 23 and 25 hours over the changes of the clocks."""
    zone = ZoneInfo("America/Chicago")
    used = datetime.fromisoformat(f"{day}T06:00").replace(tzinfo=zone).astimezone(UTC)
    due = daily_wash_clock(used, used, PlantCalendar("America/Chicago", (), "06:00")).limit_at
    assert due - used == length * HOUR
    assert due.astimezone(zone).hour == 6


@pytest.mark.proves("storage.run_hours_clock", by="independent", source="counting minute by minute")
@pytest.mark.parametrize("seed", range(6))
def test_hours_run_are_the_minutes_that_something_ran(seed):
    """Overlapping runs, a wash among them, one still on: as many minutes as a count finds."""
    chance = np.random.default_rng(seed)
    minute, now = timedelta(minutes=1), START + 600 * timedelta(minutes=1)
    begins, lengths = chance.integers(0, 500, 6), chance.integers(5, 120, 6)
    runs = [
        (START + int(begin) * minute, START + int(begin + length) * minute)
        for begin, length in zip(begins, lengths, strict=True)
    ]
    runs[0] = (runs[0][0], None)
    washed = START + int(chance.integers(0, 300)) * minute
    ran = sum(
        1
        for place in range(600)
        if (at := START + place * minute) >= washed
        and any(begin <= at and (end is None or at < end) for begin, end in runs)
    )
    clock = run_hours_clock(runs, washed, now, Decimal(12))
    assert clock.left == 12 * HOUR - ran * minute
    assert clock.limit_at == now + clock.left


@pytest.mark.proves(
    "storage.run_hours_clock",
    by="published",
    source="plant rule of ten hours between full washes, common practice, no source",
)
def test_ten_hours_run_are_allowed_and_no_minute_more():
    """Ten hours in one run: nothing left; a minute more is past."""
    assert run_hours_clock([(START, START + 10 * HOUR)], None, START + 11 * HOUR, Decimal(10)).left == timedelta(0)
    more = [(START, START + 10 * HOUR + timedelta(minutes=1))]
    assert run_hours_clock(more, None, START + 11 * HOUR, Decimal(10)).past(START + 11 * HOUR)


@pytest.mark.proves("storage.warming_stretch", by="independent", source="numpy.argmin from the end of the readings")
@pytest.mark.parametrize("seed", range(6))
def test_warming_is_read_from_the_last_coldest_reading(seed):
    """In whole degrees, so that the coldest comes more than once; given in any order."""
    chance = np.random.default_rng(seed)
    levels = chance.integers(36, 40, 12)
    readings = [(START + place * HOUR, Decimal(int(level))) for place, level in enumerate(levels)]
    last_coldest = 11 - int(np.argmin(levels[::-1]))
    shuffled = [readings[int(place)] for place in chance.permutation(12)]
    assert warming_stretch(shuffled) == readings[last_coldest:]
