"""A channel ready to be held against a bound: contradictions made the worse of two, samples at fault left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plant.process.arrays import BoolArray
from plant.process.errors import within
from plant.process.said import say as _
from plant.process.trace_judging.values import Channel
from plant.process.trace_judging.whole import Whole, checked


@dataclass(frozen=True, slots=True, eq=False)
class Merged:
    """All samples of a channel, one for each moment: `times` [ms], `low` and `high` [10^-places], shape (n,).

    `low` and `high` differ where two values contradict; `clashes` marks those, `failed` those without a value,
    `doubted` those that one record gives a value for and another calls failed.
    """

    times: Whole
    low: Whole
    high: Whole
    failed: BoolArray
    doubted: BoolArray
    clashes: BoolArray
    places: int


def merged(channel: Channel) -> Merged:
    """The samples of a channel with those that contradict them."""
    within(_("slowest step of the plan"), channel.slowest_ms, 1, None, "ms")
    first = checked(channel.samples)
    nothing = np.zeros(len(first), np.bool_)
    if channel.contradicting is None or not len(channel.contradicting):
        return Merged(first.times_ms, first.values, first.values, first.failed, nothing, nothing, first.places)
    other = checked(channel.contradicting, again=True)
    places = max(first.places, other.places)
    scaled = [one.values * 10 ** (places - one.places) for one in (first, other)]
    times, place = np.unique(np.concatenate([first.times_ms, other.times_ms]), return_inverse=True)
    values, failed = np.concatenate(scaled), np.concatenate([first.failed, other.failed])
    low, high = np.full(len(times), np.iinfo(np.int64).max), np.full(len(times), np.iinfo(np.int64).min)
    np.minimum.at(low, place[~failed], values[~failed])
    np.maximum.at(high, place[~failed], values[~failed])
    any_failed = np.zeros(len(times), np.bool_)
    any_failed[place[failed]] = True
    none = low > high
    doubted = any_failed & ~none
    low[none] = high[none] = 0
    return Merged(times, low, high, none, doubted, (low != high) | doubted, places)
