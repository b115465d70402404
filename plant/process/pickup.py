"""Whether a farm's milk was cold enough when it was picked up, by its temperature and the time since milking ended."""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

COLDEST_F, WARMEST_F = Fraction(28), Fraction(113)  # no liquid milk of a farm is outside: common practice, no source


class AtPickup(StrEnum):
    """What a farm's temperature at pick-up shows."""

    WITHIN = "within"
    OUT = "out of limits"
    NOT_SHOWN = "not shown to be within"


def judge_pickup(
    temperature: Fraction,
    since_milking_s: Fraction | None,
    *,
    high: Fraction,
    within_s: Fraction,
    blend_high: Fraction,
) -> AtPickup:
    """Whether a farm's milk was cold enough at pick-up; temperatures in one unit, times in seconds.

    `high` has to be reached `within_s` of the end of milking; before that no blend is above `blend_high`. Milk between
    the two whose time since milking is not known (None) is not shown to be within. The four hours that the first
    milking into an empty tank has are not granted: this project's, on the side of caution.

    Source: PMO Table 1: 45 °F within 2 h of the end of milking, blends at 50 °F or below (a textbook's copy was read:
    https://issuhub.com/view/index/5299?pageIndex=392); the rows are passed in.

    >>> judge_pickup(Fraction(47), None, high=Fraction(45), within_s=Fraction(7200), blend_high=Fraction(50)).value
    'not shown to be within'
    """
    if temperature > blend_high:
        return AtPickup.OUT
    if temperature <= high:
        return AtPickup.WITHIN
    if since_milking_s is None:
        return AtPickup.NOT_SHOWN
    return AtPickup.WITHIN if since_milking_s <= within_s else AtPickup.OUT


__all__ = ["COLDEST_F", "WARMEST_F", "AtPickup", "judge_pickup"]
