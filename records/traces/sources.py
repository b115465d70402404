"""Samples of a window: those in blocks, and those that are not blocks yet.

A feature that holds samples beside the blocks (live ones, until their hour is over) registers a source, in its own
module, when the application starts:

    @sources.source
    def staged(instruments: Sequence[str], start: datetime, end: datetime) -> dict[str, Samples]: ...
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta

from plant.process.trace_blocks import Samples
from records.traces.blocks import EPOCH, between_many, joined, sorted_out

Source = Callable[[Sequence[str], datetime, datetime], dict[str, Samples]]
_SOURCES: list[Source] = []


def source(given: Source) -> Source:
    """Register a source, once."""
    if given not in _SOURCES:
        _SOURCES.append(given)
    return given


def samples_between(instrument: str, start: datetime, end: datetime) -> tuple[Samples, Samples]:
    """The samples of [start, end), and those that contradict one of them; both in order of time, both may be empty.

    Of a moment that blocks and a source have, the block's sample is taken; another value contradicts it.
    """
    return samples_of([instrument], start, end)[instrument]


def samples_of(instruments: Iterable[str], start: datetime, end: datetime) -> dict[str, tuple[Samples, Samples]]:
    """`samples_between` for each of several instruments, with the queries of one."""
    codes = list(dict.fromkeys(instruments))
    # The sources first: what is sealed meanwhile is then found in both, and never in neither.
    given = [one(codes, start, end) for one in _SOURCES]
    told = between_many(codes, start, end)
    for found in given:
        for code, samples in found.items():
            blocks, beside = told[code]
            fresh, otherwise = sorted_out(samples, blocks)
            blocks = joined([blocks, fresh]) if len(blocks) else fresh
            beside = joined([beside, otherwise]) if len(otherwise) else beside
            told[code] = blocks, beside
    return told


def staged_span(instruments: Iterable[str], start: datetime, end: datetime) -> tuple[datetime, datetime] | None:
    """The first and last moment of the samples in [start, end) that are not blocks yet; None where there are none."""
    codes = list(dict.fromkeys(instruments))
    found = [samples for given in _SOURCES for samples in given(codes, start, end).values() if len(samples)]
    if not found:
        return None
    first, last = min(int(one.times_ms[0]) for one in found), max(int(one.times_ms[-1]) for one in found)
    return EPOCH + timedelta(milliseconds=first), EPOCH + timedelta(milliseconds=last)
