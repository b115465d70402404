"""What a failed calibration puts in doubt: readings and stretches of traces whose verdict turns with its error.

Nobody knows when an instrument went off. So the whole error that was found is taken to have been there since the last
good calibration; it is not spread over the time between.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal, localcontext
from fractions import Fraction

from numpy.typing import ArrayLike

from plant.process.arrays import trace
from plant.process.errors import CalculationError, within
from plant.process.limits import SEVERITY, Judged, Limit, Outcome, judge_number
from plant.process.said import say as _

IN_LIMITS = (Outcome.MET, Outcome.OPERATING)


@dataclass(frozen=True, slots=True)
class Stored:
    """A reading as the instrument showed it, in `unit`, before any correction, and the limits it was judged by."""

    key: str
    at: datetime
    value: Decimal
    unit: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading whose verdict turns: judged as it was read, and as it is corrected by the error that was found.

    `corrected` is the worst value within the uncertainty, in the reading's own unit.
    """

    stored: Stored
    as_read: Judged
    as_corrected: Judged
    corrected: Fraction


@dataclass(frozen=True, slots=True)
class InDoubt:
    """The readings between the last good calibration and the failed one, each group in order of time, then key.

    `now_not_met`: met as read, not met as corrected; judge them, and the product, again. `now_met`: not met as read,
    met as corrected; they stay not met, since a correction never rescues. `unchanged`: the same verdict either way.
    """

    now_not_met: tuple[Doubt, ...]
    now_met: tuple[Doubt, ...]
    unchanged: tuple[Doubt, ...]


def doubtful_readings(
    readings: Iterable[Stored],
    error: Decimal,
    last_good_at: datetime | None,
    found_at: datetime,
    uncertainty: Decimal = Decimal(0),
) -> InDoubt:
    """Which readings change their verdict when they are corrected by the error that a failed calibration found.

    `error` = reading minus true, as found nearest to the limit, and `uncertainty` (expanded) [each reading's own unit];
    the true value is taken anywhere within it, the worse for the reading. `last_good_at` None: no good calibration is
    known, so every earlier reading counts. Readings at the two moments themselves belong to the time between; later
    ones do not. A reading without a limit that bounds a number is unchanged: not proven either way.

    Range: found_at at or after last_good_at; every moment with its zone; finite readings; uncertainty >= 0.
    Raises: CalculationError, OutsideRange; UnitError when a limit's unit measures something else.
    Source: by definition of the error; the whole error back to the last good calibration (common practice, no source).

    >>> from datetime import UTC
    >>> limit = (Limit("t", "temperature", "°C", low=Decimal(72)),)
    >>> day = lambda n: datetime(2026, 3, n, tzinfo=UTC)
    >>> runs = [Stored("b", day(3), Decimal("72.9"), "°C", limit), Stored("a", day(2), Decimal("72.3"), "°C", limit)]
    >>> [one.stored.key for one in doubtful_readings(runs, Decimal("0.55"), day(1), day(4)).now_not_met]
    ['a']
    """
    within(_("error"), error)
    within(_("uncertainty"), uncertainty, 0)
    end = _in_utc(found_at)
    start = None if last_good_at is None else _in_utc(last_good_at)
    if start is not None and start > end:
        raise CalculationError(_("The failed calibration cannot come before the last good one."))
    now_not_met: list[Doubt] = []
    now_met: list[Doubt] = []
    unchanged: list[Doubt] = []
    for at, one in sorted(((_in_utc(one.at), one) for one in readings), key=lambda pair: (pair[0], pair[1].key)):
        if (start is not None and at < start) or at > end:
            continue
        within(_("reading %(key)s", key=one.key), one.value)
        doubt = _compared(one, error, uncertainty)
        before, after = doubt.as_read.outcome in IN_LIMITS, doubt.as_corrected.outcome in IN_LIMITS
        group = unchanged if before == after else now_not_met if before else now_met
        group.append(doubt)
    return InDoubt(tuple(now_not_met), tuple(now_met), tuple(unchanged))


def _in_utc(moment: datetime) -> datetime:
    """Moments in order of time, whatever zone each is written in."""
    if moment.utcoffset() is None:
        raise CalculationError(_("a moment without its time zone cannot be put in order"))
    return moment.astimezone(UTC)


def doubtful_intervals(
    times_s: ArrayLike,
    values: ArrayLike,
    error: float,
    last_good_s: float | None,
    found_s: float,
    low: float | None = None,
    high: float | None = None,
    uncertainty: float = 0.0,
) -> tuple[tuple[float, float], ...]:
    """The stretches [s, s] of a trace that meet `low` and `high` as read, but not once corrected; in order, merged.

    `times_s` [s] and `values` [unit of the limits], arrays of one shape (n,); between readings the trace is the
    straight line that joins them. `error` = reading minus true and `uncertainty` (expanded) [that unit]. `last_good_s`
    and `found_s` [s, same clock] bound the time in doubt; None: from the start. A single moment has equal ends.

    Range: a trace; low <= high; uncertainty >= 0; found_s >= last_good_s.
    Raises: CalculationError, OutsideRange.
    Source: by definition of the error; the whole error back to the last good calibration (common practice, no source).

    >>> doubtful_intervals([0, 100, 200], [71.0, 73.0, 75.0], 0.5, None, 1000, low=72)
    ((50.0, 75.0),)
    """
    times, levels = trace(times_s, values)
    band = _Band(error, low, high, uncertainty)
    end = within(_("time of the failed calibration"), found_s)
    start = -math.inf if last_good_s is None else within(_("time of the last good calibration"), last_good_s)
    if start > end:
        raise CalculationError(_("The failed calibration cannot come before the last good one."))
    found: list[tuple[float, float]] = []
    for place in range(len(times) - 1):
        segment = (float(times[place]), float(levels[place]), float(times[place + 1]), float(levels[place + 1]))
        for piece in _pieces(segment, band, start, end):
            if found and piece[0] <= found[-1][1]:
                found[-1] = (found[-1][0], max(found[-1][1], piece[1]))
            else:
                found.append(piece)
    return tuple(found)


class _Band:
    """Where a value meets the limits as read but not as corrected."""

    def __init__(self, error: float, low: float | None, high: float | None, uncertainty: float) -> None:
        off, spread = within(_("error"), error), within(_("uncertainty"), uncertainty, 0)
        if low is None and high is None:
            raise CalculationError(_("A limit is needed to judge by."))
        self.low = -math.inf if low is None else within(_("lower limit"), low)
        self.high = math.inf if high is None else within(_("upper limit"), high)
        if self.low > self.high:
            raise CalculationError(_("The lower limit lies above the upper one."))
        # A reading v stands for a true value between v - off - spread and v - off + spread.
        self.sure_low, self.sure_high = self.low + off + spread, self.high + off - spread

    @property
    def edges(self) -> tuple[float, ...]:
        every = (self.low, self.high, self.sure_low, self.sure_high)
        return tuple(one for one in every if math.isfinite(one))

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high and not self.sure_low <= value <= self.sure_high


def _pieces(
    segment: tuple[float, float, float, float], band: _Band, start: float, end: float
) -> Iterable[tuple[float, float]]:
    """The stretches of one straight piece of a trace that lie in the band, within start and end."""
    from_s, from_value, to_s, to_value = segment
    first, last = max(from_s, start), min(to_s, end)
    if first > last:
        return
    rise = to_value - from_value
    cuts = [(first, _at(segment, first)), (last, _at(segment, last))]
    for edge in band.edges:
        if rise:
            moment = from_s + (edge - from_value) / rise * (to_s - from_s)
            if first < moment < last:
                cuts.append((moment, edge))  # the edge itself, not what rounding makes of it
    cuts.sort()
    for (left, left_value), (right, right_value) in zip(cuts, cuts[1:], strict=False):
        if band.holds((left_value + right_value) / 2):
            yield (left, right)
        elif band.holds(left_value):
            yield (left, left)
    if band.holds(cuts[-1][1]):
        yield (last, last)


def _at(segment: tuple[float, float, float, float], moment: float) -> float:
    from_s, from_value, to_s, to_value = segment
    if moment == to_s:
        return to_value
    return from_value + (to_value - from_value) * (moment - from_s) / (to_s - from_s)


def _compared(one: Stored, error: Decimal, uncertainty: Decimal) -> Doubt:
    as_read = judge_number(one.value, one.unit, None, one.limits)
    tried = [_corrected(one, side * uncertainty - error) for side in (-1, 1)]
    as_corrected, value = min(tried, key=lambda pair: (SEVERITY.index(pair[0].outcome), pair[0].margin or 0))
    return Doubt(one, as_read, as_corrected, value)


def _corrected(one: Stored, correction: Decimal) -> tuple[Judged, Fraction]:
    """The corrected value judged by itself; its reasons where the judging of both together gives them to it."""
    value = Fraction(one.value) + Fraction(correction)
    alone = judge_number(_decimal(value), one.unit, None, one.limits)
    both = judge_number(one.value, one.unit, correction, one.limits)
    return replace(alone, reasons=both.reasons if both.decisive == alone.decisive else ()), value


def _decimal(value: Fraction) -> Decimal:
    """The exact value as a Decimal; it ends, since it is a sum of decimals."""
    with localcontext() as context:
        context.prec = 100
        return Decimal(value.numerator) / Decimal(value.denominator)
