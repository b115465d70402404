"""A trace reduced to columns: an independent plain-Python reduction agrees, and nothing missing is drawn over."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.pictures.strip_columns import (
    FAILED,
    SILENT,
    Silence,
    allowed_steps,
    columns,
    edges,
    line,
    silences,
)
from plant.pictures.strip_data import Trace

pytestmark = pytest.mark.once

START = 1_772_535_600_000  # 2026-03-03 11:00 UTC


def trace(pairs: Sequence[tuple[int, float | None]], gap_ms: float | None = None) -> Trace:
    """A trace from (moment after START [ms], value); None: the sensor failed."""
    times = np.array([START + at for at, _value in pairs], dtype=np.int64)
    values = np.array([0.0 if value is None else value for _at, value in pairs])
    return Trace(times, values, np.array([value is None for _at, value in pairs], dtype=np.bool_), gap_ms)


def in_plain_python(
    times: list[int], values: list[float], start: int, end: int, width: int
) -> dict[int, tuple[float, float, float, float, int]]:
    """The reduction once more, sample by sample: (least, greatest, first, last, count) by column."""
    found: dict[int, tuple[float, float, float, float, int]] = {}
    for at, value in zip(times, values, strict=True):
        if start <= at < end:
            column = (at - start) * width // (end - start)
            low, high, first, _last, count = found.get(column, (value, value, value, value, 0))
            found[column] = (min(low, value), max(high, value), first, value, count + 1)
    return found


@settings(max_examples=200, deadline=None)
@given(
    offsets=st.lists(st.integers(-5_000, 100_000), max_size=120),
    length=st.integers(1, 90_000),
    width=st.integers(1, 400),
    data=st.data(),
)
def test_columns_agree_with_plain_python(offsets: list[int], length: int, width: int, data: st.DataObject) -> None:
    """Whatever the samples, the window and the width: the same columns, in whole milliseconds, none rounded away."""
    offsets = sorted(offsets)
    numbers = st.floats(-1e6, 1e6, allow_nan=False)
    values = data.draw(st.lists(numbers, min_size=len(offsets), max_size=len(offsets)))
    times = [START + at for at in offsets]
    found = columns(np.array(times, dtype=np.int64), np.array(values), START, START + length, width)
    wanted = in_plain_python(times, values, START, START + length, width)
    assert found.count.tolist() == [wanted[at][4] if at in wanted else 0 for at in range(width)]
    for at, expected in wanted.items():
        assert (found.low[at], found.high[at], found.first[at], found.last[at]) == expected[:4]
    assert all(np.isnan(found.low[at]) for at in range(width) if at not in wanted)


def test_edges_tile_the_window() -> None:
    """Each millisecond of the window belongs to one column; the first begins with it, the last ends with it."""
    cuts = edges(START, START + 1000, 7)
    assert (cuts[0], cuts[-1]) == (START, START + 1000) and (np.diff(cuts) > 0).all()
    for at in range(1000):
        assert cuts[at * 7 // 1000] <= START + at < cuts[at * 7 // 1000 + 1]


@pytest.mark.parametrize(("length", "width"), [(0, 10), (-1, 10), (10, 0)])
def test_columns_of_nothing_are_refused(length: int, width: int) -> None:
    """A window without length, and no column at all."""
    with pytest.raises(ValueError, match="columns need"):
        columns(np.array([START], dtype=np.int64), np.array([1.0]), START, START + length, width)


def test_a_day_of_seconds_is_reduced_far_quicker_than_by_plain_python() -> None:
    """86,400 samples into 900 columns; the bound is a twentieth, what is measured is far below it."""
    times = START + 1000 * np.arange(86_400, dtype=np.int64)
    values = np.sin(np.arange(86_400) / 500.0)
    plain_times, plain_values = times.tolist(), values.tolist()

    def best(work: Callable[[], object], tries: int) -> float:
        taken = []
        for _one in range(tries):
            begun = time.perf_counter()
            work()
            taken.append(time.perf_counter() - begun)
        return min(taken)

    ours = best(lambda: columns(times, values, START, START + 86_400_000, 900), 20)
    plain = best(lambda: in_plain_python(plain_times, plain_values, START, START + 86_400_000, 900), 2)
    assert ours * 20 < plain


# --- where the line is broken


def test_the_line_is_joined_within_the_usual_step_and_broken_beyond_it() -> None:
    """Ten seconds without a sample, among samples of each second."""
    found = line(trace([(1000 * at, 1.0) for at in [*range(10), *range(20, 30)]]), START, START + 30_000, 30)
    assert found.joined.tolist() == [False, *[True] * 9, *[False] * 11, *[True] * 9]
    assert found.lead is None and found.trail is None and not found.through


def test_stamps_cut_to_whole_seconds_make_no_gaps() -> None:
    """A recorder that samples each 1.2 s writes steps of one second and sometimes of two."""
    moments = [int(1.2 * at) * 1000 for at in range(200)]
    one = trace([(at, 1.0) for at in moments])
    assert silences(one, START, START + moments[-1]) == []
    assert line(one, START, START + moments[-1] + 1, 100).joined[1:].all()


def test_what_is_usual_is_told_by_the_hour() -> None:
    """A second during the run, a minute at night: neither makes gaps of the other."""
    run, night = [(1000 * at, 1.0) for at in range(3600)], [(3_600_000 + 60_000 * at, 1.0) for at in range(60)]
    assert silences(trace(run + night), START, START + 7_140_000) == []
    missing = [*run[:1800], *run[1830:], *night[:30], *night[34:]]
    found = silences(trace(missing), START, START + 7_140_000)
    assert [(one.end_ms - one.start_ms) // 1000 for one in found] == [31, 300]


def test_a_failed_sensor_breaks_the_line() -> None:
    """Its moment is there, its value is not: the line stops before it, and why is said."""
    one = trace([(0, 5.0), (1000, 5.0), (2000, None), (3000, None), (4000, 6.0), (5000, 6.0)])
    found = line(one, START, START + 6000, 6)
    assert found.joined.tolist() == [False, True, False, False, False, True]
    assert found.columns.count.tolist() == [1, 1, 0, 0, 1, 1]
    assert silences(one, START, START + 6000) == [Silence(START + 2000, START + 4000, FAILED)]


def test_the_line_runs_on_to_samples_outside_of_the_window() -> None:
    """A logger of each ten minutes, seen from near: the line comes in and goes out."""
    one = trace([(600_000 * at, float(at)) for at in range(12)])
    inside = line(one, START + 1_500_000, START + 2_000_000, 50)
    assert inside.lead == (START + 1_200_000, 2.0) and inside.trail == (START + 2_400_000, 4.0)
    between = line(one, START + 1_210_000, START + 1_220_000, 50)
    assert between.through and between.lead == (START + 1_200_000, 2.0) and between.trail == (START + 1_800_000, 3.0)
    assert silences(one, START + 1_210_000, START + 1_220_000) == []


def test_what_is_missing_at_the_ends_of_the_window_is_told() -> None:
    """Before the first sample and after the last; with no sample at all, the whole window."""
    one = trace([(1000 * at, 1.0) for at in range(60, 120)])
    found = silences(one, START, START + 300_000)
    assert found == [Silence(START, START + 60_000, SILENT), Silence(START + 119_000, START + 300_000, SILENT)]
    assert silences(one, START + 500_000, START + 600_000) == [Silence(START + 500_000, START + 600_000, SILENT)]
    assert silences(trace([]), START, START + 10) == [Silence(START, START + 10, SILENT)]


def test_a_given_gap_stands_above_what_is_usual() -> None:
    """The plan may say what a gap is."""
    pairs = [(1000 * at, 1.0) for at in (0, 1, 2, 7, 8)]
    assert len(silences(trace(pairs), START, START + 8000)) == 1
    assert silences(trace(pairs, gap_ms=5000), START, START + 8000) == []
    assert allowed_steps(trace(pairs, gap_ms=5000)).tolist() == [5000.0] * 4


@settings(max_examples=100, deadline=None)
@given(
    steps=st.lists(st.sampled_from([1000, 1000, 1000, 2000, 9000, 400_000]), min_size=1, max_size=60),
    failed=st.sets(st.integers(0, 60)),
    width=st.integers(1, 80),
)
def test_no_column_is_joined_over_what_is_missing(steps: list[int], failed: set[int], width: int) -> None:
    """Told sample by sample: a column is joined only where each step since the sample before it is no gap, and no
    sample between them failed."""
    moments = [0]
    for step in steps:
        moments.append(moments[-1] + step)
    one = trace([(at, None if index in failed else 1.0) for index, at in enumerate(moments)])
    allowed = allowed_steps(one).tolist()
    found = line(one, START, START + moments[-1] + 1, width)
    first: dict[int, int] = {}
    for index, at in enumerate(moments):
        if index not in failed:
            first.setdefault(at * width // (moments[-1] + 1), index)
    for column in range(width):
        index = first.get(column, 0)
        no_gap = index > 0 and steps[index - 1] <= allowed[index - 1] and index - 1 not in failed
        assert bool(found.joined[column]) == (column in first and no_gap)


def test_a_trace_that_cannot_be_drawn_is_refused() -> None:
    """Moments that go back, and values that are no numbers."""
    with pytest.raises(ValueError, match="go back"):
        trace([(1000, 1.0), (0, 1.0)])
    with pytest.raises(ValueError, match="no number"):
        trace([(0, float("nan"))])
    with pytest.raises(ValueError, match="each sample"):
        Trace(np.array([START], dtype=np.int64), np.array([1.0, 2.0]), np.array([False]))
