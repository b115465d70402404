"""Blocks of samples in the ledger: only what is new is kept, contradictions stand beside the first, all verified."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plant.process.trace_blocks import Samples
from records.ledger.actions import WATCH, act
from records.ledger.verify import verify
from records.traces.blocks import Channel, Kept, between, keep
from records.traces.models import CONTRADICTING, TraceBlock

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 3, 9, 59, 58, tzinfo=UTC)
AT = round(START.timestamp() * 1000)


def samples(values: list[int], first: int = AT, step: int = 1000, places: int = 1) -> Samples:
    """One a second from START."""
    times = first + step * np.arange(len(values), dtype=np.int64)
    return Samples(times, np.array(values, dtype=np.int64), np.zeros(len(values), np.bool_), places)


def kept(given: Samples, unit: str = "°F") -> Kept:
    """Kept in an act of its own."""
    with act(WATCH) as a:
        return keep(a, Channel("T-1", "Recorder", unit, given), None)


def test_an_hour_has_a_block_of_its_own() -> None:
    """Two seconds before ten and two after: two blocks, and the window reads both as one."""
    assert kept(samples([720, 721, 722, 723])) == Kept(new=4)
    assert TraceBlock.objects.count() == 2
    read, other = between("T-1", START, START + timedelta(hours=1))
    assert read.values.tolist() == [720, 721, 722, 723] and not len(other)
    assert (read.times_ms - AT).tolist() == [0, 1000, 2000, 3000]


def test_the_window_is_half_open() -> None:
    """From its start, up to but not at its end."""
    kept(samples([720, 721, 722, 723]))
    read, _other = between("T-1", START + timedelta(seconds=1), START + timedelta(seconds=3))
    assert read.values.tolist() == [721, 722]


def test_the_same_samples_again_add_nothing() -> None:
    """No block, no entry."""
    kept(samples([720, 721, 722]))
    count = TraceBlock.objects.count()
    assert kept(samples([720, 721, 722])) == Kept(known=3)
    assert kept(samples([7200, 7210], places=2)) == Kept(known=2)
    assert TraceBlock.objects.count() == count


def test_an_overlapping_file_adds_only_what_is_new() -> None:
    """The known ones stay in their block."""
    kept(samples([720, 721, 722]))
    assert kept(samples([721, 722, 723, 724], AT + 1000)) == Kept(new=2, known=2)
    assert between("T-1", START, START + timedelta(hours=1))[0].values.tolist() == [720, 721, 722, 723, 724]


def test_another_value_at_a_known_moment_is_kept_beside_the_first() -> None:
    """Once, however often it comes; a third value is another contradiction."""
    kept(samples([720, 721, 722], AT + 5000))
    other = samples([720, 700, 722], AT + 5000)
    assert kept(other) == Kept(known=2, contradicting=1)
    assert kept(other) == Kept(known=3)
    assert kept(samples([720, 690, 722], AT + 5000)) == Kept(known=2, contradicting=1)
    read, beside = between("T-1", START, START + timedelta(hours=1))
    assert read.values.tolist() == [720, 721, 722] and beside.values.tolist() == [700, 690]


def test_another_unit_is_refused() -> None:
    """Nothing is written."""
    kept(samples([720]))
    with pytest.raises(ValueError, match="kept in °F before"):
        kept(samples([220], AT + 9000), unit="°C")
    assert TraceBlock.objects.count() == 1


def test_blocks_are_verified_with_the_ledger() -> None:
    """The content holds the hash of the bytes, and the verification writes it again from the row."""
    kept(samples([720, 721, 722, 723]))
    assert verify().good


def test_a_window_reads_its_own_hours_alone() -> None:
    """One query for a minute of three days, and one block in it."""
    kept(samples(list(range(720, 792)), AT, step=3_600_000))
    with CaptureQueriesContext(
        connection,
    ) as asked:
        read, _other = between("T-1", START + timedelta(hours=30), START + timedelta(hours=30, minutes=1))
    assert read.values.tolist() == [750] and len(asked) == 1


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    parts=st.lists(st.lists(st.tuples(st.integers(0, 7200), st.integers(-99, 99)), min_size=1), min_size=1, max_size=5)
)
def test_whatever_comes_the_first_value_of_a_moment_stands(db: None, parts: list[list[tuple[int, int]]]) -> None:
    """Files in any order with any overlap: the trace is the first value of each moment, every other value is beside."""
    from django.db import transaction

    first: dict[int, int] = {}
    beside: set[tuple[int, int]] = set()
    with transaction.atomic():
        for part in parts:
            of_part = dict(sorted(part, reverse=True))
            moments = sorted(of_part)
            given_ = Samples(
                np.array([AT + 1000 * one for one in moments], dtype=np.int64),
                np.array([of_part[one] for one in moments], dtype=np.int64),
                np.zeros(len(moments), np.bool_),
                1,
            )
            kept(given_)
            for one in moments:
                if first.setdefault(one, of_part[one]) != of_part[one]:
                    beside.add((one, of_part[one]))
        read, other = between("T-1", START, START + timedelta(hours=3))
        assert dict(zip(((read.times_ms - AT) // 1000).tolist(), read.values.tolist(), strict=True)) == first
        told = set(zip(((other.times_ms - AT) // 1000).tolist(), other.values.tolist(), strict=True))
        assert told == beside and len(other) == len(beside)
        assert all(row.content == CONTRADICTING or row.failed == 0 for row in TraceBlock.objects.all())
        transaction.set_rollback(True)
