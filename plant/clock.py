"""The one clock. Actions ask it for now; nobody hands them a time.

Only tests and the demo of an invented plant may replace it, through `replaced`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

_source: Callable[[], datetime] | None = None


def now() -> datetime:
    """The present moment, aware, in UTC, to the microsecond."""
    return datetime.now(UTC) if _source is None else _source()


@contextmanager
def replaced(source: Callable[[], datetime]) -> Iterator[None]:
    """Until the block ends, `source` tells the time. For tests, and for a database marked as the invented plant."""
    global _source
    before, _source = _source, source
    try:
        yield
    finally:
        _source = before
