"""What the tests of the findings on overrun share."""

from __future__ import annotations

from collections.abc import Iterable

from plant.process.overrun import Finding


def finding(found: Iterable[Finding], words: str) -> Finding:
    """The one finding whose name has these words."""
    (one,) = [one for one in found if words in one.name]
    return one
