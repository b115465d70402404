"""A recorded temperature trace against a legal limit from below, sample by sample.

Nothing is interpolated into a pass: the time between two samples counts as met only when both are at or above the limit
and no more than one sampling step apart. A longer gap proves nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plant.process.arrays import BoolArray, FloatArray, trace
from plant.process.errors import CalculationError, within
from plant.process.limits import Limit, Outcome
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import CELSIUS, FAHRENHEIT, exact

__all__ = ["STATES", "BelowLimit", "Segment", "below_limit", "least_reading", "longer_steps"]

# The state of an interval is kept as its place here.
STATES = (Outcome.MET, Outcome.NOT_MET, Outcome.NOT_PROVEN)
_GAP = STATES.index(Outcome.NOT_PROVEN)

# Without a step of its own, a trace's median step and half of it again: clocks jitter, one lost sample is a gap.
JITTER = 1.5
LONGEST_UNSAID_S = 60.0  # nobody said how far apart the samples may lie: this project's choice
_ROUNDING_S = 1e-6  # moments counted in seconds since 1970 are exact to a quarter of a microsecond

_TEMPERATURES = (CELSIUS, FAHRENHEIT)


@dataclass(frozen=True, slots=True)
class Segment:
    """Neighboring intervals of one state: from sample `first` to sample `last`, `from_s` to `until_s` [s]."""

    outcome: Outcome
    first: int
    last: int
    from_s: float
    until_s: float

    @property
    def seconds(self) -> float:
        """How long it is [s]."""
        return self.until_s - self.from_s


@dataclass(frozen=True, slots=True, eq=False)
class BelowLimit:
    """A trace of n samples beside a limit.

    `times_s` [s], shape (n,); `least` the lowest reading that meets the limit, in the trace's `unit`; `below`, shape
    (n,), which samples are below; `states`, shape (n - 1,), the state of each interval as its place in STATES;
    `bounds`, shape (segments + 1,), the samples at which the state changes, the first and the last included.
    `seconds_met`, `seconds_below` and `seconds_not_proven` [s] add up to the trace's length; `longest_met_s` and
    `longest_below_s` [s] are the longest unbroken runs; `lowest` the lowest sample, at `lowest_at_s` [s].
    """

    limit: Limit
    unit: str
    least: float
    times_s: FloatArray
    below: BoolArray
    states: NDArray[np.int8]
    bounds: NDArray[np.intp]
    seconds_met: float
    seconds_below: float
    seconds_not_proven: float
    longest_met_s: float
    longest_below_s: float
    lowest: float
    lowest_at_s: float

    @property
    def samples_below(self) -> int:
        """How many samples are below the limit, those that stand alone between two gaps included."""
        return int(np.count_nonzero(self.below))

    @property
    def outcome(self) -> Outcome:
        """Not met when any sample is below; else not proven when there is a gap; else met throughout."""
        if self.below.any():
            return Outcome.NOT_MET
        return Outcome.NOT_PROVEN if (self.states == _GAP).any() else Outcome.MET

    def segments(self) -> Iterator[Segment]:
        """The segments in order of time; they touch and cover the whole trace."""
        for first, last in zip(self.bounds[:-1].tolist(), self.bounds[1:].tolist(), strict=True):
            ends = float(self.times_s[first]), float(self.times_s[last])
            yield Segment(STATES[self.states[first]], first, last, *ends)

    def words(self) -> Said:
        """One sentence: the longest unbroken time at the limit, and what was below it or not proven."""
        return _(
            "%(met)s s on end at %(limit)s at most; %(below)s s below it, %(gaps)s s not proven.",
            met=f"{self.longest_met_s:.10g}",
            limit=self.limit.words(),
            below=f"{self.seconds_below:.10g}",
            gaps=f"{self.seconds_not_proven:.10g}",
        )


def least_reading(limit: Limit, unit: str) -> float:
    """The lowest reading, as a float in `unit` ("°C" or "°F"), that meets a limit from below.

    The limit governs in its own unit: its exact value in the other is found first, then the float for it that is not
    below it. A float stands for the shortest decimal that prints like it, so 71.7 °C meets 161.06 °F.

    Range: a limit with a lower bound, on a temperature.
    Raises: CalculationError otherwise.
    Source: by definition (comparison in the unit that the clause is written in).

    >>> from decimal import Decimal
    >>> least_reading(Limit("milk", "temperature", "°F", low=Decimal("161.06")), "°C")
    71.7
    """
    if limit.low is None or limit.unit not in _TEMPERATURES or unit not in _TEMPERATURES:
        raise CalculationError(_("a trace is compared with a lowest temperature in °C or °F"))
    bound = exact(limit.low, limit.unit, unit)
    near = float(bound)
    while Fraction(repr(near)) < bound:
        near = math.nextafter(near, math.inf)
    return near


def longer_steps(steps_s: FloatArray, step_s: float | None = None) -> BoolArray:
    """Which of a trace's steps are gaps: longer than the longest that counts as unbroken.

    `steps_s` [s], shape (n - 1,), above 0; `step_s` [s] the longest that counts as unbroken. None takes one and a half
    times their median, and a minute (LONGEST_UNSAID_S) at the most: a trace that is coarse throughout has no step
    longer than its own median, and nobody said that it may be coarse.

    Range: step_s above 0.
    Raises: OutsideRange otherwise.
    Source: by definition; one and a half times the median, and the minute, are this project's choice.

    >>> longer_steps(np.array([1.0, 1.2, 1.0, 3.0])).tolist(), longer_steps(np.array([1.0, 1.2]), 1).tolist()
    ([False, False, False, True], [False, True])
    """
    if step_s is None:
        longest_s = float(steps_s.max())
        if longest_s <= LONGEST_UNSAID_S and longest_s <= JITTER * float(steps_s.min()):
            return np.zeros(steps_s.shape, dtype=np.bool_)  # none can be longer than the median by so much
        longest = min(JITTER * float(np.median(steps_s)), LONGEST_UNSAID_S)
    else:
        longest = within(_("sampling step"), step_s, math.ulp(0.0), unit="s")
    return np.asarray(steps_s > longest + _ROUNDING_S, dtype=np.bool_)


def below_limit(
    times_s: ArrayLike, temperatures: ArrayLike, limit: Limit, unit: str = CELSIUS, step_s: float | None = None
) -> BelowLimit:
    """A trace's samples and intervals beside a limit from below, such as a row of the pasteurization table.

    `times_s` [s], shape (n,), n >= 2, rising; `temperatures` [`unit`], same shape, as read or as corrected: the caller
    gives the lower of the two. `limit` with its lowest temperature `low` in its governing unit. `step_s` [s] is the
    longest step between two samples that counts as unbroken; None as in longer_steps. An interval is met when both its
    samples are at or above the limit, not met when one is below, not proven when it is longer than the step, whatever
    its samples say. Leave out samples of a sensor at fault: that makes them a gap.

    Range: as `plant.process.arrays.trace`; temperatures -273.15 to 1000 °C; step_s above 0.
    Raises: CalculationError and OutsideRange otherwise.
    Source: the limit's own clause; the rule for intervals and gaps is this project's, on the side of caution.

    >>> from decimal import Decimal
    >>> found = below_limit([0, 1, 2, 3], [72.0, 71.7, 71.6, 72.0], Limit("milk", "temperature", "°F", Decimal(161)))
    >>> found.seconds_met, found.seconds_below, found.outcome.value
    (1.0, 2.0, 'not met')
    """
    times, levels = trace(times_s, temperatures)
    least = least_reading(limit, unit)
    lowest_at = int(levels.argmin())
    floor = -273.15 if unit == CELSIUS else -459.67
    within(_("temperature"), float(levels[lowest_at]), floor, unit=unit)
    within(_("temperature"), float(levels.max()), None, 1000 if unit == CELSIUS else 1832, unit)
    steps = np.diff(times)
    below = levels < least
    states = (below[:-1] | below[1:]).astype(np.int8)  # the places of MET and NOT_MET in STATES
    states[longer_steps(steps, step_s)] = _GAP
    changes = np.flatnonzero(states[1:] != states[:-1]) + 1
    bounds = np.concatenate(([0], changes, [len(states)]))
    lengths = np.diff(times[bounds])
    kinds = states[bounds[:-1]]
    met, under, gaps = (lengths[kinds == one] for one in range(len(STATES)))
    return BelowLimit(
        limit=limit,
        unit=unit,
        least=least,
        times_s=times,
        below=below,
        states=states,
        bounds=bounds,
        seconds_met=float(met.sum()),
        seconds_below=float(under.sum()),
        seconds_not_proven=float(gaps.sum()),
        longest_met_s=float(met.max(initial=0.0)),
        longest_below_s=float(under.max(initial=0.0)),
        lowest=float(levels[lowest_at]),
        lowest_at_s=float(times[lowest_at]),
    )
