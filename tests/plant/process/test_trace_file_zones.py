"""Clock changes: a local time that comes twice is told by the rows that run on, one that is left out is named."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.trace_file import Parsed, TimeColumns
from plant.process.trace_file.zones import changes, offsets, to_utc
from tests.plant.process.test_trace_file_reading import mapping, parsed
from tests.trace_file_tools import CHICAGO

pytestmark = pytest.mark.once

ZONES = ("America/Chicago", "America/Phoenix", "Europe/Madrid", "Australia/Lord_Howe", "Asia/Kolkata", "UTC")
NIGHT = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)  # 00:30 in Chicago, half an hour before the time that comes twice


def clocked(moments: list[datetime]) -> Parsed:
    """A file of these moments on Chicago's clock, each value the minutes since NIGHT."""
    rows = [f"{one.astimezone(CHICAGO):%Y-%m-%d %H:%M:%S},{(one - NIGHT) // timedelta(minutes=1)},1" for one in moments]
    return parsed("\n".join(["Time,Milk,Water", *rows, ""]), mapping(time=TimeColumns((0,))))


def every(minutes: float, count: int, start: float = 0) -> list[datetime]:
    """Moments so many minutes apart, from `start` minutes after NIGHT."""
    return [NIGHT + timedelta(minutes=start + minutes * at) for at in range(count)]


def right(one: Parsed) -> bool:
    """Whether each value is at the moment that it names."""
    samples = one.channels[0].samples
    start = int(NIGHT.timestamp() * 1000)
    return bool((samples.times_ms - start == samples.values * 60_000).all())


@pytest.mark.parametrize("minutes", [1, 2, 5, 10, 15, 20, 30, 60])
def test_hour_that_comes_twice_is_told_by_the_order_of_the_rows(minutes: int) -> None:
    """All rows of both passes are at their moments, also newest first; how many were told apart is counted."""
    count = 240 // minutes + 1
    moments = every(minutes, count, start=0 if minutes < 60 else -30)
    for rows in (moments, moments[::-1]):
        one = clocked(rows)
        assert (one.kept, one.rejected, one.out_of_order) == (count, (), 0)
        assert right(one) and one.told_apart == 120 // minutes


def test_second_pass_may_begin_and_end_with_gaps() -> None:
    """The recorder was off for some minutes on both sides of the change: the rows still run on."""
    moments = every(1, 80) + every(1, 100, start=95)
    assert right(clocked(moments)) and clocked(moments).rejected == ()


def test_file_that_ends_or_begins_within_the_hour() -> None:
    """What runs on from before is the first pass, what runs on into later times the second."""
    assert right(clocked(every(1, 60))) and clocked(every(1, 60)).rejected == ()
    later = every(1, 90, start=100)
    assert right(clocked(later)) and clocked(later).rejected == ()


def test_one_pass_that_fits_on_both_sides_is_not_guessed() -> None:
    """A recorder without the second pass: each row of the hour is rejected and named; those around it stay."""
    one = clocked(every(1, 90) + every(1, 30, start=150))
    assert (one.kept, one.rejected_count) == (60, 60)
    assert str(one.rejected[0].sentence) == (
        "row 32, column 1 (Time): this time came twice on the night of the clock change, "
        "and the rows do not tell which is meant"
    )
    assert one.rejected[0].text == "2026-11-01 01:00:00" and right(one)


def test_hour_that_stands_alone_is_not_guessed() -> None:
    """Gaps on both sides leave nothing to run on from."""
    one = clocked(every(1, 10) + every(1, 20, start=50) + every(1, 10, start=200))
    assert (one.kept, one.rejected_count) == (20, 20)


def test_back_and_forth_within_the_hour_is_not_guessed() -> None:
    """Three passes, or a jump of twenty minutes, are no clock change."""
    hour = every(1, 60, start=30)
    assert clocked(every(1, 30) + hour + hour + hour + every(1, 30, start=150)).rejected_count == 180
    jump = every(1, 50, start=30) + every(1, 30, start=60)
    assert clocked(every(1, 30) + jump).rejected_count == 80


def test_time_that_spring_leaves_out_is_named() -> None:
    """02:00 to 02:59 on 8 March 2026 does not exist in Chicago; the rows around it stay."""
    rows = [f"2026-03-08 {hour:02d}:{minute:02d}:00,1,1" for hour in (1, 2, 3) for minute in (0, 30)]
    plan = mapping(time=TimeColumns((0,)))
    one = parsed("\n".join(["Time,Milk,Water", *rows, ""]), plan)
    assert [each.row for each in one.rejected] == [4, 5] and one.kept == 4
    assert str(one.rejected[1].sentence).startswith(
        "row 5, column 1 (Time): the spring clock change leaves this time out"
    )
    assert np.diff(one.channels[0].samples.times_ms).tolist() == [1_800_000] * 3


def test_recorder_that_keeps_no_summer_time_has_a_fixed_offset() -> None:
    """The same rows all exist at -06:00."""
    rows = [f"2026-03-08 {hour:02d}:{minute:02d}:00,1,1" for hour in (1, 2, 3) for minute in (0, 30)]
    plan = mapping(time=TimeColumns((0,), clock="-06:00"))
    assert parsed("\n".join(["Time,Milk,Water", *rows, ""]), plan).kept == 6


@settings(max_examples=150, deadline=None)
@given(zone=st.sampled_from(ZONES), start=st.integers(1_600_000_000, 1_900_000_000), step=st.integers(1, 7200))
def test_thousands_at_once_agree_with_zoneinfo_one_by_one(zone: str, start: int, step: int) -> None:
    """Where a local time comes once, the moment is zoneinfo's own; one that is left out is exactly one that is not."""
    place = ZoneInfo(zone)
    first = datetime.fromtimestamp(start, UTC).replace(tzinfo=None)
    local = [first + timedelta(seconds=step * at) for at in range(60)]
    local_ms = np.array([int(one.replace(tzinfo=UTC).timestamp()) * 1000 for one in local])
    found = to_utc(local_ms, place, step * 1000)
    for at, one in enumerate(local):
        early, late = (one.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1))
        exists = early.astimezone(place).replace(tzinfo=None) == one
        assert bool(found.skipped[at]) is not exists
        if exists and early == late:
            assert found.utc_ms[at] == int(early.timestamp()) * 1000
        assert bool(found.told[at] or found.unknown[at]) is (exists and early != late)


@settings(max_examples=50, deadline=None)
@given(
    zone=st.sampled_from(ZONES), moments=st.lists(st.integers(1_500_000_000, 2_000_000_000), min_size=1, max_size=20)
)
def test_offsets_are_those_of_zoneinfo(zone: str, moments: list[int]) -> None:
    """At any moment."""
    place = ZoneInfo(zone)
    wanted = [
        datetime.fromtimestamp(one, UTC).astimezone(place).utcoffset() // timedelta(milliseconds=1)  # type: ignore[operator]
        for one in moments
    ]
    assert offsets(np.array(moments) * 1000, place).tolist() == wanted


def test_zone_without_changes_has_none() -> None:
    """Phoenix keeps its clocks."""
    assert len(changes(ZoneInfo("America/Phoenix"), 2024, 2027).at_ms) == 0
