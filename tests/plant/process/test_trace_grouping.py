"""Findings of a value that dithers: one where there were many, and nothing of them lost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from plant.process.errors import OutsideRange
from plant.process.limits import Outcome
from plant.process.trace_judging import Cause, Finding, Kind, grouped

pytestmark = pytest.mark.once


def dip(start_s, length_s=2, value=160, side=1, lots=("A",), cause=Cause.PROCESS, kind=Kind.TEMPERATURE):
    """A finding of some seconds."""
    return Finding(
        kind, cause, Outcome.NOT_MET, start_s * 1000, (start_s + length_s) * 1000, Decimal(length_s), "tr",
        Fraction(value), "°F", "htst-milk", "21 CFR 1240.61(b)", "text consulted", "low", lots, 1, side,
    )  # fmt: skip


def test_four_are_listed_each_and_five_are_one():
    """With all their seconds, the worst value, and how often."""
    dips = [dip(at, value=160 - at / 100) for at in (0, 50, 110, 172, 234)]
    assert grouped(dips[:4]) == tuple(dips[:4])
    (one,) = grouped(dips)
    assert (one.start_ms, one.end_ms, one.seconds, one.extreme, one.contradicting) == (
        0, 236_000, Decimal(10), Fraction(160 - 2.34), 5
    )  # fmt: skip
    assert str(one.sentence) == "low It was out 5 times within 3 min 56 s, 10 s in all."


def test_of_a_bound_from_above_the_highest_is_the_worst():
    """A tank that dithers round 45 °F."""
    dips = [dip(10 * at, value=46 + at, side=-1, kind=Kind.STORAGE) for at in range(6)]
    assert [one.extreme for one in grouped(dips)] == [51]


@pytest.mark.parametrize(
    "changes", [{"lots": ("B",)}, {"side": 0}, {"cause": Cause.GAP}, {"kind": Kind.PRESSURE}], ids=str
)
def test_what_differs_is_never_joined(changes):
    """Another lot, cause or limit between them stands for itself; so does what has no side."""
    dips = [dip(10 * at) for at in range(4)]
    assert len(grouped([*dips, dip(40, **changes)])) == 5
    assert len(grouped([dip(10 * at, **{"side": 0, **changes}) for at in range(6)])) == 6


def test_a_group_needs_two():
    """One alone is no group."""
    with pytest.raises(OutsideRange):
        grouped([], many=1)


@settings(max_examples=50, deadline=None)
@given(some.lists(some.tuples(some.integers(1, 100), some.integers(0, 30), some.sampled_from("AB")), max_size=30))
@pytest.mark.proves("trace_judging.grouped", by="independent", source="plain loops, written apart")
def test_nothing_is_lost(steps):
    """Seconds, samples and the worst value of each lot are the same before and after; groups are near and many."""
    at, dips = 0, []
    for gap, length, lot in steps:
        at += gap
        dips.append(dip(at, length, 160 - at % 7, lots=(lot,)))
        at += length
    found = grouped(dips)
    for lot in "AB":
        mine, told = ([one for one in every if one.lots == (lot,)] for every in (dips, found))
        assert sum(one.seconds for one in told) == sum(one.seconds for one in mine)
        assert sum(one.contradicting for one in told) == len(mine)
        assert min((one.extreme for one in told), default=0) == min((one.extreme for one in mine), default=0)
        runs = []
        for one in mine:
            if runs and one.start_ms - runs[-1][-1].end_ms <= 60_000:
                runs[-1].append(one)
            else:
                runs.append([one])
        spans = []
        for run in runs:
            whole = [(run[0].start_ms, run[-1].end_ms)]
            spans += whole if len(run) >= 5 else [(one.start_ms, one.end_ms) for one in run]
        assert [(one.start_ms, one.end_ms) for one in told] == spans
