"""Faults of sensors told apart from events of the process, and what the clock of a recorder was off.

A process has a fastest change: no product cools by 50 degrees between two samples. What goes faster and comes back is a
spike; what goes faster and stays is a jump; what does not move at all for long is a flat line. Spikes and jumps prove
nothing either way. A flat line takes a pass away, never a miss: a steady process may look like one. So does a value
that the instrument cannot measure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from plant.process.arrays import BoolArray
from plant.process.errors import CalculationError, within
from plant.process.limits import Outcome
from plant.process.said import say as _
from plant.process.trace_judging.channel import Merged, merged
from plant.process.trace_judging.values import Cause, Channel, ClockCheck, FaultRules
from plant.process.trace_judging.whole import Codes, Whole, number

# Why a sample proves nothing, as its place here; 0: it proves what it says.
NO_FAULT, FAILED, SPIKE, JUMP, BEYOND = range(5)
CAUSES = {FAILED: Cause.SENSOR_FAILED, SPIKE: Cause.SPIKE, JUMP: Cause.JUMP, BEYOND: Cause.OUT_OF_RANGE}
_MOST = 2**62


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault of a sensor from its first sample at fault, `start_ms`, to its last, `end_ms` [ms].

    `extreme` in the channel's unit, as recorded: the value furthest from the one before it, or the flat line's own;
    None for a failure that the sensor reported.
    """

    cause: Cause
    start_ms: int
    end_ms: int
    extreme: Fraction | None


@dataclass(frozen=True, slots=True)
class ClockState:
    """A recorder's clock by its checks: how far ahead at least and at most [ms], below 0 late; None without a check.

    `drift_ppm` from the first check to the last; None with fewer than two. `spans` (start, end) [ms] in which it was
    further off than allowed, or nobody knows.
    """

    outcome: Outcome
    least_ms: int | None
    most_ms: int | None
    drift_ppm: Fraction | None
    spans: tuple[tuple[int, int], ...]


def sensor_faults(channel: Channel) -> tuple[Fault, ...]:
    """The faults that a channel shows, in order of time, by its own `faults` rules and marks of failed samples.

    Range: fastest change above 0; flat line 1 ms and more; spike 0 ms and more; lowest not above highest.
    Raises: OutsideRange; CalculationError for arrays that do not fit.
    Source: common practice, no source (range, rate-of-change and stuck-value checks; the bounds are the plant's own).

    >>> import numpy as np
    >>> from plant.process.trace_blocks import Samples
    >>> levels = Samples(np.arange(5) * 1000, np.array([1650, 1650, 320, 1649, 1650]), np.zeros(5, bool), 1)
    >>> [(one.cause.value, one.start_ms, int(one.extreme)) for one in sensor_faults(
    ...     Channel("tr", "°F", levels, 1000, faults=FaultRules(fastest_per_s=10)))]
    [('spike', 2000, 32)]
    """
    whole = merged(channel)
    codes, flats = marks(whole, channel.faults, channel.vouched_ms)
    codes = np.where((codes == NO_FAULT) & beyond(whole, channel.faults), BEYOND, codes)
    size = 10**whole.places
    found: list[Fault] = []
    for code, cause in CAUSES.items():
        for first, last in runs(codes == code):
            value = None if code == FAILED else Fraction(_furthest(whole.low, first, last), size)
            found.append(Fault(cause, int(whole.times[first]), int(whole.times[last]), value))
    found += [Fault(Cause.FLAT, start, end, Fraction(level, size)) for start, end, level in flats]
    return tuple(sorted(found, key=lambda one: (one.start_ms, one.end_ms, one.cause)))


def _furthest(values: Whole, first: int, last: int) -> int:
    """Of some samples the one furthest from the one before them."""
    part = values[first : last + 1]
    before = values[max(first - 1, 0)]
    return int(part[int(np.abs(part - before).argmax())])


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """The first and last place of each unbroken run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(first), int(after) - 1) for first, after in zip(edges[::2], edges[1::2], strict=True)]


def marks(
    whole: Merged, rules: FaultRules | None, vouched_ms: Iterable[int]
) -> tuple[Codes, list[tuple[int, int, int]]]:
    """For each sample why it proves nothing (0: it proves); and the flat lines as (start, end [ms], value)."""
    codes = np.where(whole.failed, FAILED, NO_FAULT).astype(np.int8)
    if rules is None:
        return codes, []
    seen = np.flatnonzero(~whole.failed)
    times, values = whole.times[seen], whole.low[seen]
    if rules.fastest_per_s is not None and len(seen) > 1:
        for first, last, code in _too_fast(times, values, rules, whole.places, sorted(vouched_ms)):
            codes[seen[first : last + 1]] = code
    return codes, _flat(times, values, rules.flat_ms)


def beyond(whole: Merged, rules: FaultRules | None) -> BoolArray:
    """Which samples say what the instrument cannot measure: each of their values lies beyond its range."""
    found = np.zeros(len(whole.times), np.bool_)
    if rules is None or (rules.lowest is None and rules.highest is None):
        return found
    low, high = (None if one is None else number(one) * 10**whole.places for one in (rules.lowest, rules.highest))
    if low is not None and high is not None:
        within(_("range of the instrument"), float(high - low), 0)
    under, over = [found, found], [found, found]
    if low is not None:
        under = [values < math.ceil(low) for values in (whole.low, whole.high)]
    if high is not None:
        over = [values > math.floor(high) for values in (whole.low, whole.high)]
    return ~whole.failed & (under[0] | over[0]) & (under[1] | over[1])


def _flat(times: Whole, values: Whole, flat_ms: int | None) -> list[tuple[int, int, int]]:
    if flat_ms is None or not len(times):
        return []
    within(_("time of a flat line"), flat_ms, 1, None, "ms")
    bounds = np.concatenate([[0], np.flatnonzero(values[1:] != values[:-1]) + 1, [len(values)]])
    first, last = bounds[:-1], bounds[1:] - 1
    long = times[last] - times[first] >= flat_ms
    return [
        (int(times[a]), int(times[b]), int(values[a])) for a, b in zip(first[long], last[long], strict=True)
    ]  # fmt: skip


def _too_fast(
    times: Whole, values: Whole, rules: FaultRules, places: int, vouched: Sequence[int]
) -> Iterable[tuple[int, int, int]]:
    """Runs of samples (first, last, code) that only a step faster than the process can explain."""
    spike_ms = within(_("time of a spike"), rules.spike_ms, 0, None, "ms")
    rate = number(rules.fastest_per_s or 0) * 10**places / 1000
    if rate <= 0:
        within(_("fastest change"), float(rate), np.nextafter(0, 1))
    steps, lengths = values[1:] - values[:-1], times[1:] - times[:-1]
    wide = int(np.abs(steps).max()) * rate.denominator >= _MOST or int(lengths.max()) * rate.numerator >= _MOST
    sizes, spent = (one.astype(object) if wide else one for one in (np.abs(steps), lengths))
    fast = np.flatnonzero((sizes * rate.denominator > spent * rate.numerator).astype(np.bool_)).tolist()
    place, done = 0, -1
    while place < len(fast):
        step = fast[place]
        if step < done:
            place += 1
            continue
        back = _back(times, values, fast, place, spike_ms, rate)
        if back is not None:
            yield step + 1, fast[back], SPIKE
            place, done = back + 1, fast[back] + 1
            continue
        last = _until(times, steps, fast, place, vouched)
        if last > step:
            yield step + 1, last, JUMP
        place, done = place + 1, max(last, step) + 1  # the step home is no fault of its own


def _back(times: Whole, values: Whole, fast: Sequence[int], place: int, spike_ms: float, rate: Fraction) -> int | None:
    """The place among the fast steps of the one that ends a spike begun at `place`; None where it is none."""
    step = fast[place]
    for other in range(place + 1, len(fast)):
        end = fast[other]
        if times[end] - times[step + 1] > spike_ms:
            return None
        away, home = int(values[step + 1] - values[step]), int(values[end + 1] - values[end])
        left = abs(int(values[end + 1] - values[step])) <= rate * int(times[end + 1] - times[step])
        if (away > 0) != (home > 0) and left:
            return other
    return None


def _until(times: Whole, steps: Whole, fast: Sequence[int], place: int, vouched: Sequence[int]) -> int:
    """The last sample in the doubt of a jump: until it goes back by half or more, somebody compared it, or the end."""
    step = fast[place]
    away = int(steps[step])
    last = len(times) - 1
    for other in range(place + 1, len(fast)):
        end = fast[other]
        home = int(steps[end])
        if (away > 0) != (home > 0) and 2 * abs(home) >= abs(away):
            last = end
            break
    compared = next((moment for moment in vouched if moment > times[step]), None)
    if compared is not None:
        last = min(last, int(np.searchsorted(times, compared, "left")) - 1)
    return last


def judge_clock(checks: Iterable[ClockCheck], most_ms: int, start_ms: int, end_ms: int) -> ClockState:
    """Whether a recorder's clock was right enough from `start_ms` to `end_ms` [ms], by the checks that were made of it.

    most_ms: how far off it may be [ms]. A check that is further off puts all in doubt back to the last good check and
    on to the next one. Without a check nothing is proven. Between good checks the clock counts as good.

    Range: most_ms 0 and more; end_ms not before start_ms; one check at a moment.
    Raises: OutsideRange; CalculationError.
    Source: time accuracy of the recorder, 1 NYCRR 3.27(a)(4),(5) (text consulted:
    http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part3_20_1_s3.27); the bound is the plant's own; doubt
    back to the last good check: common practice, no source.

    >>> found = judge_clock([ClockCheck(0, 1000), ClockCheck(100_000_000, 61_000)], 60_000, 0, 200_000_000)
    >>> found.spans, int(found.drift_ppm)
    (((0, 200000000),), 600)
    """
    within(_("how far off a clock may be"), most_ms, 0, None, "ms")
    if end_ms < start_ms:
        raise CalculationError(_("a trace cannot end before it starts"))
    made = sorted(checks, key=lambda one: one.at_ms)
    if any(one.at_ms == after.at_ms for one, after in pairwise(made)):
        raise CalculationError(_("two checks of a clock at one moment"))
    if not made:
        return ClockState(Outcome.NOT_PROVEN, None, None, None, ((start_ms, end_ms),))
    good = [one.at_ms for one in made if abs(one.ahead_ms) <= most_ms]
    spans: list[tuple[int, int]] = []
    for one in made:
        if abs(one.ahead_ms) <= most_ms:
            continue
        since = max([start_ms, *(at for at in good if at < one.at_ms)])
        until = min([end_ms, *(at for at in good if at > one.at_ms)])
        if since <= until and (since, until) not in spans:
            spans.append((since, until))
    drift = None
    if len(made) > 1:
        drift = Fraction((made[-1].ahead_ms - made[0].ahead_ms) * 10**6, made[-1].at_ms - made[0].at_ms)
    offs = [one.ahead_ms for one in made]
    return ClockState(Outcome.NOT_PROVEN if spans else Outcome.MET, min(offs), max(offs), drift, tuple(spans))
