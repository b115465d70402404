"""Whether a product was cooled in time: rules with a limit and a time, passed in as values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray, trace
from plant.process.cooling.out_of_limits import ROUNDING
from plant.process.errors import within
from plant.process.limits import Outcome
from plant.process.said import Said
from plant.process.said import say as _


@dataclass(frozen=True, slots=True)
class FirstInLimit:
    """When a trace is first in limits [s on the trace's own clock]; None where it never is.

    `seen_s` is the first reading in limits, what a verdict takes. `estimate_s` is where the line to it crosses the
    limit, `seen_s` itself after a gap. `last_out_s` is the reading out of limits before it. `stays_from_s` is the
    first reading from which on every reading is in limits.
    """

    seen_s: float | None
    estimate_s: float | None
    last_out_s: float | None
    stays_from_s: float | None


@dataclass(frozen=True, slots=True)
class CoolingRule:
    """A rule with time, a row of a rule set as values: at `high` or below within so long, then at `then_high` or below.

    `high`, `then_high` [unit of the trace, the unit that the rule is written in]; `within_s` [s]; `then_high` None:
    nothing is asked afterwards.
    """

    high: float
    within_s: float
    then_high: float | None = None
    clause: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Cooled:
    """The judgement of a cooling: outcome, its reason in words, and the numbers behind it.

    `first` is about the cooling for good: what was warm once more before the deadline is cooled anew. `margin_s`: what
    was left of the time then, below zero when it came late, None when it never came. `warmest_after` [unit of the
    trace]: the warmest reading after that one, None when there is none.
    """

    outcome: Outcome
    reason: Said
    first: FirstInLimit
    deadline_s: float
    margin_s: float | None
    warmest_after: float | None


def first_in_limit(
    times_s: ArrayLike, values: ArrayLike, high: float, *, longest_gap_s: float, from_s: float | None = None
) -> FirstInLimit:
    """When a cooling trace is first at or below a limit, and from when on it stays there.

    times_s: moments of the readings, rising, n >= 2 [s].
    values: the reading at each, shape (n,) [unit of the limit].
    high: the limit [unit that it is written in].
    longest_gap_s: how far apart two readings may be for a line between them to count [s].
    from_s: readings before this moment do not count [s]; None: all count.

    Range: finite limit; longest gap 0 s and more.
    Raises: OutsideRange; CalculationError for a wrong trace.
    Source: by definition.

    >>> first_in_limit([0, 3600, 7200], [60, 50, 40], 45, longest_gap_s=3600)
    FirstInLimit(seen_s=7200.0, estimate_s=5400.0, last_out_s=3600.0, stays_from_s=7200.0)
    """
    times, levels = trace(times_s, values)
    ceiling = within("upper limit", high)
    longest = within("longest gap", longest_gap_s, 0, None, "s")
    if from_s is not None:
        counts = times >= within("moment from which readings count", from_s)
        times, levels = times[counts], levels[counts]
    inside = levels <= ceiling
    if not inside.any():
        return FirstInLimit(None, None, float(times[-1]) if len(times) else None, None)
    place = int(inside.argmax())
    seen = float(times[place])
    outside = np.flatnonzero(~inside)
    last = int(outside[-1]) + 1 if len(outside) else 0
    stays = float(times[last]) if last < len(times) else None
    if place == 0:
        return FirstInLimit(seen, seen, None, stays)
    before = float(times[place - 1])
    if seen - before > longest * ROUNDING:
        return FirstInLimit(seen, seen, before, stays)
    share = (levels[place - 1] - ceiling) / (levels[place - 1] - levels[place])
    return FirstInLimit(seen, before + float(share) * (seen - before), before, stays)


def judge_cooling(
    times_s: ArrayLike, values: ArrayLike, rule: CoolingRule, *, start_s: float = 0.0, longest_gap_s: float
) -> Cooled:
    """Whether a product was cooled in time and then stayed cold enough.

    MET needs a reading at or below the limit by the deadline, none above `then_high` after it, and readings no further
    apart than the longest gap from the deadline on. A crossing between two readings is never a pass. NOT_PROVEN: the
    trace ends too early, the first cold reading came after the deadline and the last warm one before it, or a gap.

    times_s: moments of the readings, rising, n >= 2 [s].
    values: the reading at each, shape (n,) [unit that the rule is written in].
    rule: limit, time and what holds afterwards.
    start_s: when the rule's time begins, as the end of milking [s on the clock of times_s].
    longest_gap_s: how far apart two readings may be once the product is cold [s].

    Range: time of the rule 1 s and more; then_high not below high; longest gap 0 s and more.
    Raises: OutsideRange; CalculationError for a wrong trace.
    Source: raw milk on the farm, 45 °F within 2 h of the end of milking and blends at 50 °F or below, 50 °F within 4 h
        of the start of the first milking: PMO Table 1 (a textbook's copy was read:
        https://issuhub.com/view/index/5299?pageIndex=392); the rows are passed in.

    >>> rule = CoolingRule(high=45, within_s=7200, then_high=50)
    >>> found = judge_cooling([0, 3600, 6300, 7200], [90, 55, 45, 40], rule, longest_gap_s=3600)
    >>> found.outcome, found.margin_s
    (<Outcome.MET: 'met'>, 900.0)
    """
    times, levels = trace(times_s, values)
    deadline = within("start", start_s) + within("time of the rule", rule.within_s, 1, None, "s")
    if rule.then_high is not None:
        within("limit afterwards", rule.then_high, rule.high)
    first = first_in_limit(times, levels, rule.high, longest_gap_s=longest_gap_s, from_s=start_s)
    if first.seen_s is None or first.seen_s > deadline:
        return _late(times, first, deadline)
    last_in_time = float(times[times <= deadline][-1])
    warm_again = bool(levels[times == last_in_time][0] > rule.high)
    if rule.then_high is None:
        if warm_again:  # a cold reading before (an empty tank's) cools nothing
            reason = _("In limits before, and above the limit when the time was over.")
            return _done(Outcome.NOT_MET, reason, first, deadline, times, levels)
        return _done(Outcome.MET, _("Cooled in time."), first, deadline, times, levels)
    too_warm = times[(levels > rule.then_high) & (times > first.seen_s)]
    if (too_warm > deadline).any():
        reason = _("Cooled in time, but it did not stay cold enough.")
        return _done(Outcome.NOT_MET, reason, first, deadline, times, levels)
    if len(too_warm):  # warm once more before the time was over: what counts is when it was cold for good
        again = float(too_warm[-1])
        first = first_in_limit(times, levels, rule.high, longest_gap_s=longest_gap_s, from_s=again)
        if first.seen_s is None or first.seen_s > deadline:
            return _late(times, first, deadline)
    # Between two cold readings before the deadline nothing is asked; from the last one in time on, all is.
    outcome, reason = Outcome.MET, _("Cooled in time, and it stayed cold.")
    if warm_again:
        outcome, reason = Outcome.NOT_PROVEN, _("In limits before, and above the limit when the time was over.")
    elif float(times[-1]) < deadline:
        outcome, reason = Outcome.NOT_PROVEN, _("In limits in time; nothing was read when the time was over.")
    elif (np.diff(times[times >= last_in_time]) > longest_gap_s * ROUNDING).any():
        outcome, reason = Outcome.NOT_PROVEN, _("Cooled in time, but the readings after it lie too far apart.")
    return _done(outcome, reason, first, deadline, times, levels)


def _done(
    outcome: Outcome, reason: Said, first: FirstInLimit, deadline: float, times: FloatArray, levels: FloatArray
) -> Cooled:
    """Seen in limits in time: with what was left of it, and the warmest reading since."""
    seen = deadline if first.seen_s is None else first.seen_s
    after = levels[times > seen]
    return Cooled(outcome, reason, first, deadline, deadline - seen, float(after.max()) if len(after) else None)


def _late(times: FloatArray, first: FirstInLimit, deadline: float) -> Cooled:
    """Not seen in limits by the deadline: not met, or not proven."""
    if first.seen_s is None and float(times[-1]) < deadline:
        reason = _("The readings end before the time is over, and none is at or below the limit.")
        return Cooled(Outcome.NOT_PROVEN, reason, first, deadline, None, None)
    margin = None if first.seen_s is None else deadline - first.seen_s
    if margin is not None and (first.last_out_s is None or first.last_out_s < deadline):
        reason = _("Nothing shows that the limit was reached in time: the first reading in limits came later.")
        return Cooled(Outcome.NOT_PROVEN, reason, first, deadline, margin, None)
    return Cooled(Outcome.NOT_MET, _("Not cooled in time."), first, deadline, margin, None)
