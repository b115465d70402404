"""The table beside a strip chart: least, greatest, mean and samples of each minute, exactly."""

from __future__ import annotations

import statistics
from collections.abc import Collection
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.strip_table import MINUTE_MS, rows, step_minutes
from plant.process.trace_blocks import Samples

pytestmark = pytest.mark.once

START = 1_772_535_600_000  # 2026-03-03 11:00 UTC
NONE = Samples(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0, np.bool_), 0)


def samples(moments: list[int], values: list[int], failed: Collection[int] = (), places: int = 1) -> Samples:
    """Samples from moments after START [ms]."""
    marks = np.array([index in failed for index in range(len(moments))], dtype=np.bool_)
    return Samples(np.array(moments, np.int64) + START, np.array(values, np.int64), marks, places)


@settings(max_examples=150, deadline=None)
@given(
    given_=st.lists(st.tuples(st.integers(-90_000, 1_000_000), st.integers(-9999, 9999), st.booleans()), max_size=80),
    start=st.integers(-60_000, 60_000),
    length=st.integers(1, 900_000),
    minutes=st.sampled_from([1, 2, 5]),
)
def test_rows_agree_with_the_statistics_module(
    given_: list[tuple[int, int, bool]], start: int, length: int, minutes: int
) -> None:
    """Each row against Python's own statistics.mean of its fractions; the rows tile the window."""
    moments = dict(sorted((at, (value, bad)) for at, value, bad in given_))
    one = samples(
        list(moments), [value for value, _b in moments.values()], {i for i, (_v, b) in enumerate(moments.values()) if b}
    )
    found = rows(one, NONE, START + start, START + start + length, minutes)
    assert (found[0].start_ms, found[-1].end_ms) == (START + start, START + start + length)
    assert all(a.end_ms == b.start_ms for a, b in zip(found, found[1:], strict=False))
    for row in found:
        held = [(value, bad) for at, (value, bad) in moments.items() if row.start_ms <= START + at < row.end_ms]
        values = [Fraction(value, 10) for value, bad in held if not bad]
        assert (row.samples, row.failed) == (len(values), sum(bad for _value, bad in held))
        assert row.mean == (statistics.mean(values) if values else None)
        assert (row.least, row.greatest) == ((min(values), max(values)) if values else (None, None))
        assert row.silent == (not held)


def test_rows_begin_with_whole_minutes_of_the_wall_clock() -> None:
    """The first and the last row are as long as the window lets them; a zone of half an hour has its own hours."""
    one = samples([0, 30_000, 90_000], [10, 20, 30])
    cuts = [row.start_ms - START for row in rows(one, NONE, START + 15_000, START + 100_000)]
    assert cuts == [15_000, 60_000]
    hours = rows(one, NONE, START, START + 2 * 60 * MINUTE_MS, 60, offset_ms=330 * MINUTE_MS)
    assert hours[0].end_ms - hours[0].start_ms == 30 * MINUTE_MS


def test_what_is_missing_is_one_row() -> None:
    """An hour without a sample is said once; a minute of a failed sensor is not nothing."""
    one = samples([0, 60_000, 62 * MINUTE_MS], [10, 10, 10], failed={1})
    found = rows(one, NONE, START, START + 63 * MINUTE_MS)
    assert [(row.samples, row.failed, row.silent) for row in found] == [
        (1, 0, False), (0, 1, False), (0, 0, True), (1, 0, False),
    ]  # fmt: skip
    assert (found[2].end_ms - found[2].start_ms) == 60 * MINUTE_MS


def test_contradicting_samples_are_counted() -> None:
    """They change neither the least nor the mean."""
    one, other = samples([0, 1000], [10, 12]), samples([0], [99])
    (row,) = rows(one, other, START, START + MINUTE_MS)
    assert (row.samples, row.contradicting, row.greatest, row.mean) == (2, 1, Fraction(12, 10), Fraction(11, 10))


def test_the_step_is_the_shortest_that_fits() -> None:
    """A day in minutes, a week in more."""
    assert step_minutes(0, 1440 * MINUTE_MS, 1500) == 1
    assert step_minutes(0, 7 * 1440 * MINUTE_MS, 1500) == 10
    assert step_minutes(0, 31 * 1440 * MINUTE_MS, 1500) == 30
    assert step_minutes(0, 4000 * 1440 * MINUTE_MS, 1500) == 1440
    with pytest.raises(ValueError, match="length"):
        rows(NONE, NONE, START, START)
