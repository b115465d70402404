"""Moments as the pure calculation counts them: whole milliseconds."""

from __future__ import annotations

from datetime import datetime, timedelta

from records.traces.blocks import EPOCH


def to_ms(at: datetime) -> int:
    """A moment in whole milliseconds since 1970."""
    return (at - EPOCH) // timedelta(milliseconds=1)


def to_moment(ms: int) -> datetime:
    """Back."""
    return EPOCH + timedelta(milliseconds=ms)
