"""Whether a farm's milk was cold enough when it was picked up, by its temperature and the time since milking."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

COLDEST_F, WARMEST_F = Fraction(28), Fraction(113)  # no liquid milk of a farm is outside: common practice, no source


class AtPickup(StrEnum):
    """What a farm's temperature at pick-up shows."""

    WITHIN = "within"
    OUT = "out of limits"
    NOT_SHOWN = "not shown to be within"


_WORSE = (AtPickup.WITHIN, AtPickup.NOT_SHOWN, AtPickup.OUT)


@dataclass(frozen=True, slots=True)
class FirstMilking:
    """The first milking into an empty tank: `since_s` [s] from its beginning to pick-up, None where nobody knows;
    `high` has to be reached `within_s` [s] of its beginning."""

    since_s: Fraction | None
    high: Fraction
    within_s: Fraction


def judge_pickup(
    temperature: Fraction,
    since_milking_s: Fraction | None,
    *,
    high: Fraction,
    within_s: Fraction,
    blend_high: Fraction,
    first: FirstMilking | None = None,
) -> AtPickup:
    """Whether a farm's milk was cold enough at pick-up; temperatures in one unit, times in seconds.

    `high` has to be reached `within_s` of the end of milking; before that no blend is above `blend_high`. Milk between
    the two whose time since milking is not known (None) is not shown to be within. `first`: the milk is that of a first
    milking, which is no blend: it has its own hours for `first.high`, and `high` by two hours of its end all the same.
    Milking did not end before it began, so the time since its beginning bounds an end that nobody wrote.

    Source: PMO Table 1: 50 °F within 4 h of the start of the first milking, 45 °F within 2 h of the end of milking,
    blends at 50 °F or below (a textbook's copy was read: https://issuhub.com/view/index/5299?pageIndex=392); the rows
    are passed in.

    >>> judge_pickup(Fraction(47), None, high=Fraction(45), within_s=Fraction(7200), blend_high=Fraction(50)).value
    'not shown to be within'
    """
    began = first.since_s if first is not None else None
    cooled = _reached(temperature, high, since_milking_s, within_s, at_most=began)
    if first is None:
        early = AtPickup.WITHIN if temperature <= blend_high else AtPickup.OUT
    else:
        early = _reached(temperature, first.high, began, first.within_s)
    return max(early, cooled, key=_WORSE.index)


def _reached(
    temperature: Fraction, high: Fraction, since: Fraction | None, within: Fraction, at_most: Fraction | None = None
) -> AtPickup:
    """Whether `high` was reached `within` so long; `at_most`: a bound of the time since, where that is not known."""
    latest = since if since is not None else at_most
    if temperature <= high or (latest is not None and latest <= within):
        return AtPickup.WITHIN
    return AtPickup.NOT_SHOWN if since is None else AtPickup.OUT


def judge_collected(
    temperature: Fraction, *, daily: bool | None, daily_high: Fraction, high: Fraction
) -> AtPickup:
    """Whether a farm's milk was cold enough when it was collected; temperatures in one unit.

    `daily_high` counts where milk is collected every day, `high` where it is not. Between the two, where nobody said
    which of them it is (None), it is not shown to be within.

    Source: Reg. (EC) 853/2004 Annex III Section IX Chapter I, from memory: 8 °C collected daily, else 6 °C (the two
    numbers stand in a Swiss rule that was read); the rows are passed in.

    >>> judge_collected(Fraction(7), daily=None, daily_high=Fraction(8), high=Fraction(6)).value
    'not shown to be within'
    """
    told = {True: (daily_high,), False: (high,), None: (daily_high, high)}[daily]
    if temperature <= min(told):
        return AtPickup.WITHIN
    return AtPickup.OUT if temperature > max(told) else AtPickup.NOT_SHOWN


__all__ = ["COLDEST_F", "WARMEST_F", "AtPickup", "FirstMilking", "judge_collected", "judge_pickup"]
