"""Any file: both ways of reading agree to the bit, plain Python agrees with them, nothing breaks on damaged bytes."""

from __future__ import annotations

import io
import os
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.trace_file import FileRefused, Mapping, Parsed, guess
from plant.process.trace_file.reading import read_with
from tests.trace_file_tools import CHICAGO, EARLIEST_MS, NOW_MS, File, as_plain, files, read_plain, same

pytestmark = pytest.mark.once

CASES = 5000 if os.environ.get("THOROUGH") else 250
SETTINGS = settings(max_examples=CASES, deadline=None, suppress_health_check=list(HealthCheck))
# What damage writes: line ends, marks, a NUL, formulas, other encodings, words, times that cannot be.
BITS = (
    b"\n", b"\r", b"\r\n", b",", b";", b"\t", b" ", b'"', b'""', b"'", b"\0", b"\x1a", b"\xff", b"\xc3", b"=1+1",
    b"-", b"+", b".", b"9", b"0000000000", b"1e9", b"1e99", b"NaN", b"OPEN", b"abc", b"1970-01-01", b"24:00:00",
    b"2093-01-01 00:00:00", b"23:59:60", b"31/02/2026", b"+01:00", b"Z", b"\xe2\x88\x92", b"\xc2\xb0C", b"PK\x03\x04",
    b"999999999999999999999",
)  # fmt: skip


def outcome(file: bytes, mapping: Mapping, *, size: int = 1 << 20, one_by_one: bool = False) -> Parsed | str:
    """What reading gives, or the sentence of its refusal."""
    try:
        return read_with(io.BytesIO(file), mapping, NOW_MS, EARLIEST_MS, CHICAGO, size=size, one_by_one=one_by_one)
    except FileRefused as refused:
        return str(refused)


def alike(one: Parsed | str, other: Parsed | str) -> bool:
    """Whether both are the same refusal or the same reading."""
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    return same(one, other)


@SETTINGS
@given(file=files(), size=st.integers(40, 400))
def test_plain_python_reads_the_same(file: File, size: int) -> None:
    """csv, strptime, zoneinfo and Decimal give the same samples, contradictions and counts; nothing is left out."""
    parsed = outcome(file.data, file.mapping, size=size)
    assert isinstance(parsed, Parsed), parsed
    assert parsed.rejected == ()
    assert as_plain(parsed) == read_plain(file)


@SETTINGS
@given(file=files(), seed=st.integers(0, 2**32), size=st.integers(30, 400))
def test_damaged_file_reads_alike_both_ways_or_is_refused_alike(file: File, seed: int, size: int) -> None:
    """By the thousand, one by one, in small blocks: the same rows, reasons, samples; and no other error ever."""
    data = damaged(file.data, random.Random(seed))
    usual = outcome(data, file.mapping)
    assert alike(usual, outcome(data, file.mapping, one_by_one=True))
    assert alike(usual, outcome(data, file.mapping, size=size))
    try:
        guess(data, whole=True, now_ms=NOW_MS, earliest_ms=EARLIEST_MS)
    except CalculationError as refused:
        assert str(refused)


def damaged(data: bytes, chance: random.Random) -> bytes:
    """One to six changes anywhere: bytes put in, taken out, written over, a piece doubled or moved, the end cut off."""
    for _turn in range(chance.randrange(1, 7)):
        at, until = sorted(chance.randrange(len(data) + 1) for _one in range(2))
        until = min(until, at + chance.randrange(1, 60))
        piece = chance.choice(BITS)
        data = (
            chance.choice(
                (
                    data[:at] + piece + data[at:],
                    data[:at] + piece + data[at + len(piece) :],
                    data[:at] + data[until:],
                    data[:until] + data[at:until] + data[until:],
                    data[:at] + data[until:] + data[at:until],
                    data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :],
                    data[:at] if chance.random() < 0.3 else data,
                )
            )
            or b"x"
        )
    return data
