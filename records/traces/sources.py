"""Samples of a window: those in blocks, and those that are not blocks yet.

A feature that holds samples beside the blocks (live ones, until their hour is over) registers a source, in its own
module, when the application starts:

    @sources.source
    def staged(instrument: str, start: datetime, end: datetime) -> Samples | None: ...
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from plant.process.trace_blocks import Samples
from records.traces.blocks import EPOCH, between, joined, sorted_out

Source = Callable[[str, datetime, datetime], Samples | None]
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
    # The sources first: what is sealed meanwhile is then found in both, and never in neither.
    given = [one(instrument, start, end) for one in _SOURCES]
    blocks, beside = between(instrument, start, end)
    for found in given:
        if found is not None and len(found):
            fresh, otherwise = sorted_out(found, blocks)
            blocks = joined([blocks, fresh]) if len(blocks) else fresh
            beside = joined([beside, otherwise]) if len(otherwise) else beside
    return blocks, beside


def staged_span(instrument: str, start: datetime, end: datetime) -> tuple[datetime, datetime] | None:
    """The first and last moment of the samples in [start, end) that are not blocks yet; None where there are none."""
    found = [one for given in _SOURCES if (one := given(instrument, start, end)) is not None and len(one)]
    if not found:
        return None
    first, last = min(int(one.times_ms[0]) for one in found), max(int(one.times_ms[-1]) for one in found)
    return EPOCH + timedelta(milliseconds=first), EPOCH + timedelta(milliseconds=last)
