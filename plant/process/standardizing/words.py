"""Numbers in sentences of the standardizing calculations."""

from __future__ import annotations

from fractions import Fraction

from plant.process.units import plain


def digits(value: float, places: int = 3) -> str:
    """A number in plain digits, at most so many decimals, more where fewer would show nothing of it."""
    exact = Fraction(value)
    shown = plain(exact, places)
    return shown if shown != "0" or not exact else plain(exact, places + 6)
