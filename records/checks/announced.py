"""What a line is being made ready for, before anything runs through it: a later feature's record says so.

A start-up reading on water (cut-in, cut-out) is judged by the limits of the product that the line is started for.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

Finder = Callable[[str, datetime], str]
_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """`finder(place, moment)` gives the code of the product, or an empty text where it knows of none."""
    if finder not in _finders:
        _finders.append(finder)


def product_at(place: str, moment: datetime) -> str:
    """The code of the product that a line is made ready for at a moment; empty where nothing recorded says so."""
    return next((code for finder in _finders if (code := finder(place, moment))), "")
