"""A day of six channels beside a library that reads tables (polars): the same times and values, to the digit."""

from __future__ import annotations

import io
from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest

from plant.process.trace_file import ChannelColumn, Mapping, TimeColumns, read
from plant.process.trace_file.reading import read_with
from tests.trace_file_tools import CHICAGO, EARLIEST_MS, NOW_MS, same

pytestmark = pytest.mark.once

ROWS, CHANNELS = 86_400, 6
GAPS = ((30_000, 30_060), (50_000, 50_400))
HEADER = ("Time", *(f"T{at}" for at in range(CHANNELS)))
PLAN = Mapping(
    "utf-8", ",", ".", 1 + CHANNELS, TimeColumns((0,), clock="UTC"),
    tuple(ChannelColumn(1 + at, f"TT-{at}", "°C") for at in range(CHANNELS)), HEADER,
)  # fmt: skip


@pytest.fixture(scope="module")
def day() -> bytes:
    """An invented day at 1 Hz: noise of 0.1, two digits, jumps above 100 and below 0, two gaps."""
    chance = np.random.default_rng(20260303)
    levels = np.interp(np.arange(ROWS), [0, 3600, 5400, 79_200, 82_800, ROWS], [4, 4, 72.6, 72.6, -18, -18])
    values = levels[:, None] + chance.normal(0, 0.1, (ROWS, CHANNELS))
    values[40_000:41_000] += 60
    start = datetime(2026, 3, 3)  # noqa: DTZ001  (as a recorder writes it)
    lines = [
        f"{start + timedelta(seconds=at)},{','.join(f'{one:.2f}' for one in row)}"
        for at, row in enumerate(values.tolist())
        if not any(first <= at < last for first, last in GAPS)
    ]
    return "\n".join([",".join(HEADER), *lines, ""]).encode()


def test_day_is_what_the_library_reads(day: bytes) -> None:
    """518,000 values and 86,000 times; both gaps are named."""
    one = read(io.BytesIO(day), PLAN, now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO)
    frame = pl.read_csv(day, try_parse_dates=True)
    assert one.rejected == () and one.rows == frame.height
    times = frame["Time"].dt.epoch("ms").to_numpy()
    for at, channel in enumerate(one.channels):
        assert np.array_equal(channel.samples.times_ms, times)
        assert channel.samples.places == 2
        assert np.array_equal(channel.samples.values, np.rint(frame[f"T{at}"].to_numpy() * 100).astype(np.int64))
        assert np.diff(channel.gaps_ms).ravel().tolist() == [(last - first + 1) * 1000 for first, last in GAPS]


def test_day_reads_alike_row_by_row(day: bytes) -> None:
    """A fifth of it one by one, and in blocks of a few kilobytes."""
    part = day[: len(day) // 5]
    part = part[: part.rindex(b"\n") + 1]
    usual = read_with(io.BytesIO(part), PLAN, NOW_MS, EARLIEST_MS, CHICAGO)
    assert same(usual, read_with(io.BytesIO(part), PLAN, NOW_MS, EARLIEST_MS, CHICAGO, one_by_one=True))
    assert same(usual, read_with(io.BytesIO(part), PLAN, NOW_MS, EARLIEST_MS, CHICAGO, size=5000))
