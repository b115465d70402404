"""Blocks of samples: what comes out is what went in; damage is named; noise costs about a byte a sample."""

from __future__ import annotations

import zlib
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError, OutsideRange
from plant.process.trace_blocks import Samples, pack, unpack

pytestmark = pytest.mark.once

WHOLE = st.integers(-(2**61), 2**61)


def samples(times: list[int], values: list[int], failed: list[bool] | None = None, places: int = 2) -> Samples:
    """Arrays of these."""
    marks = np.array(failed if failed is not None else [False] * len(times), dtype=np.bool_)
    return Samples(np.array(times, dtype=np.int64), np.array(values, dtype=np.int64), marks, places)


@st.composite
def any_samples(draw: st.DrawFn) -> Samples:
    """Regular or not, jumps as large as numbers go, failures anywhere."""
    values = draw(st.lists(WHOLE, min_size=1, max_size=60))
    steps = draw(st.one_of(st.just([1000] * len(values)), st.lists(st.integers(1, 10**9), min_size=60, max_size=60)))
    start = draw(st.integers(-(10**13), 10**13))
    times = [start + sum(steps[:index]) for index in range(len(values))]
    failed = draw(st.lists(st.booleans(), min_size=len(values), max_size=len(values)))
    return samples(times, values, failed, draw(st.integers(0, 6)))


@settings(max_examples=150, deadline=None)
@given(one=any_samples())
def test_what_comes_out_is_what_went_in(one: Samples) -> None:
    """Moments, values, marks and places, bit for bit."""
    again = unpack(pack(one))
    assert again.places == one.places
    for name in ("times_ms", "values", "failed"):
        assert np.array_equal(getattr(again, name), getattr(one, name)), name


def test_an_hour_of_noise_costs_less_than_a_byte_and_a_half() -> None:
    """1 Hz, standard deviation 0.1, resolution 0.01, one jump: with the head."""
    chance = np.random.default_rng(7)
    values = (7200 + chance.normal(0, 10, 3600)).round().astype(np.int64)
    values[1800:] += 40_000
    one = Samples(np.arange(3600) * 1000, values, np.zeros(3600, np.bool_), 2)
    assert len(pack(one)) / 3600 < 1.1


@settings(max_examples=150, deadline=None)
@given(one=any_samples(), at=st.integers(0, 10**6), bit=st.integers(0, 7))
def test_a_changed_bit_is_always_named(one: Samples, at: int, bit: int) -> None:
    """In the head too: another moment, step or place of the decimal point would otherwise look like samples."""
    block = bytearray(pack(one))
    block[at % len(block)] ^= 1 << bit
    with pytest.raises(CalculationError):
        unpack(bytes(block))


def test_every_bit_of_a_head_is_guarded() -> None:
    """Each of its bits, one by one; bytes changed together too."""
    block = pack(samples([0, 1000, 2500], [1, 2, 4]))
    for place in range(8 * 28):
        changed = bytearray(block)
        changed[place // 8] ^= 1 << place % 8
        with pytest.raises(CalculationError):
            unpack(bytes(changed))
    with pytest.raises(CalculationError):
        unpack(block[:3] + b"\x03" + block[4:])
    with pytest.raises(CalculationError):
        unpack(b"TB1" + block[3:])


# Blocks as they stand in records written in the first form, and what was packed into them.
FIRST_FORM = (
    (
        "5442310203000000405c3fb39c010000e80300000000000078da63fac3c168cec0000006ce013f",
        samples([1772533800000, 1772533801000, 1772533802000], [7166, 7170, 7169]),
    ),
    (
        "5442310104000000405c3fb39c010000000000000000000078da637a71e40b33272393f89ac993187878781400366504de",
        samples(
            [1772533800000, 1772533801000, 1772533803500, 1772533804000],
            [-12, 1610, 0, 1609],
            [False, False, True, False],
            1,
        ),
    ),
    ("54423100010000000500000000000000000000000000000078da63646c000000880083", samples([5], [-1], [True], 0)),
)


@pytest.mark.parametrize(("block", "packed"), FIRST_FORM)
def test_blocks_of_the_first_form_stay_readable(block: str, packed: Samples) -> None:
    """Regular, irregular with a failure, one sample; written again they have the form with a checksum."""
    read = unpack(bytes.fromhex(block))
    assert read.places == packed.places
    for name in ("times_ms", "values", "failed"):
        assert np.array_equal(getattr(read, name), getattr(packed, name)), name
    assert pack(read)[:3] == b"TB2" and len(pack(read)) == len(block) // 2 + 4


def test_moments_that_do_not_rise_are_damage_in_the_first_form_too() -> None:
    """A step turned negative in the head."""
    block = bytearray.fromhex(FIRST_FORM[0][0])
    block[23] ^= 0x80
    with pytest.raises(CalculationError, match="damaged"):
        unpack(bytes(block))


@settings(max_examples=100, deadline=None)
@given(at=st.integers(0, 10**6), bit=st.integers(0, 7), which=st.sampled_from([one for one, _packed in FIRST_FORM]))
def test_a_changed_bit_of_the_first_form_never_breaks_anything(at: int, bit: int, which: str) -> None:
    """It is named, or gives other samples (a changed head, which the ledger's hash shows); never another error."""
    block = bytearray.fromhex(which)
    block[at % len(block)] ^= 1 << bit
    try:
        unpack(bytes(block))
    except CalculationError:
        return


@pytest.mark.parametrize("cut", [0, 2, 20, 24, 27, 28, -1])
def test_a_cut_block_is_named(cut: int) -> None:
    """Wherever it is cut."""
    with pytest.raises(CalculationError):
        unpack(pack(samples([0, 1000, 2500], [1, 2, 4]))[:cut])


def test_a_small_block_that_would_fill_the_memory_is_refused() -> None:
    """A bomb: a few bytes that inflate to gigabytes, in either form, its checksum right."""
    bomb = zlib.compress(b"\1" + bytes(50_000_000), 9)
    for form in (b"TB1", b"TB2"):
        head = form + pack(samples([0], [0]))[3:24]
        check = zlib.crc32(head + bomb).to_bytes(4, "little") if form == b"TB2" else b""
        with pytest.raises(CalculationError, match="damaged"):
            unpack(head + check + bomb)


def test_moments_must_rise() -> None:
    """Two samples of one moment are not one trace."""
    with pytest.raises(CalculationError, match="must rise"):
        pack(samples([0, 0], [1, 2]))
    with pytest.raises(CalculationError, match="must rise"):
        pack(samples([2**63 - 1, -2], [1, 2]))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"values": np.array([71.6, 71.7])}, "whole numbers"),
        ({"values": np.array([71.0, 72.0])}, "whole numbers"),
        ({"times_ms": np.array([0.4, 1000.6])}, "whole numbers"),
        ({"values": np.array([2**63, 1], dtype=np.uint64)}, "whole numbers"),
        ({"values": np.array(["1", "2"])}, "whole numbers"),
        ({"failed": np.array([0.0, 0.5])}, "yes or no"),
        ({"values": np.array([1])}, "a moment, a value and a mark"),
    ],
)
def test_what_would_be_cut_is_refused(changes: dict[str, Any], said: str) -> None:
    """71.6 is not 71: who packs says how many places there are."""
    with pytest.raises(CalculationError, match=said):
        pack(replace(samples([0, 1000], [7160, 7170]), **changes))


def test_shorter_whole_numbers_are_taken() -> None:
    """They lose nothing."""
    short = replace(samples([0, 1000], [716, 717]), values=np.array([716, 717], dtype=np.uint16))
    assert unpack(pack(short)).values.tolist() == [716, 717]


def test_nothing_and_too_many_digits_are_refused() -> None:
    """Each names its range."""
    with pytest.raises(OutsideRange):
        pack(samples([], []))
    with pytest.raises(OutsideRange):
        pack(samples([0], [0], places=7))
    with pytest.raises(OutsideRange, match="whole number of decimal places 2.5"):
        pack(replace(samples([0], [0]), places=2.5))  # type: ignore[arg-type]
    with pytest.raises(OutsideRange, match="not a number"):
        pack(replace(samples([0], [0]), places=float("nan")))  # type: ignore[arg-type]
