"""Segments of flow from the signals of the diversion device and the timing pump.

A state holds from its sample to the next one, and no further when that is late: then it is known at its own moment and
not after it. Moments are counted in halves here: an even key 2t is the moment t itself, the odd key 2t + 1 all that
follows it at once. So "at t and not after" is the half-open [2t, 2t + 1), and no end needs a mark of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plant.process.arrays import BoolArray
from plant.process.errors import CalculationError
from plant.process.said import say as _
from plant.process.trace_blocks import Samples
from plant.process.trace_judging.findings import Segment
from plant.process.trace_judging.values import FlowState, Signal
from plant.process.trace_judging.whole import FAR, Codes, Whole, checked

STATES = (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED, FlowState.UNKNOWN)
_FORWARD, _DIVERTED, _STOPPED, _UNKNOWN = range(4)
_NOT_KNOWN = 2  # of one signal: beside 0 and 1


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """Stretches of time [keys]: from `starts` until before `ends`, shape (m,), in order, apart or touching."""

    starts: Whole
    ends: Whole

    def __len__(self) -> int:
        return len(self.starts)

    def cut(self, start: int, end: int) -> Windows:
        """What of them lies from `start` until before `end`."""
        first = int(np.searchsorted(self.ends, start, "right"))
        last = int(np.searchsorted(self.starts, end, "left"))
        return Windows(np.maximum(self.starts[first:last], start), np.minimum(self.ends[first:last], end))

    def holds(self, keys: Whole) -> BoolArray:
        """Which of the keys, in order, lie in one of them."""
        change = np.zeros(len(keys) + 1, np.int32)
        np.add.at(change, np.searchsorted(keys, self.starts), 1)
        np.add.at(change, np.searchsorted(keys, self.ends), -1)
        return np.asarray(np.cumsum(change[:-1]) > 0, np.bool_)

    def pairs(self) -> list[tuple[int, int]]:
        """Each as (start, end)."""
        return list(zip(self.starts.tolist(), self.ends.tolist(), strict=True))

    def merged(self) -> Windows:
        """Touching ones made one."""
        if len(self) < 2:
            return self
        apart = np.append(True, self.starts[1:] > self.ends[:-1])
        return Windows(self.starts[apart], self.ends[np.append(apart[1:], True)])


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """A state from each of `keys` on until the next, shape (m,); the last one until `end`."""

    keys: Whole
    states: Codes
    end: int

    def windows(self, *wanted: FlowState) -> Windows:
        """Where flow is in one of these states."""
        chosen = np.isin(self.states, [STATES.index(one) for one in wanted])
        ends = np.append(self.keys[1:], self.end)
        return Windows(self.keys[chosen], ends[chosen]).merged()


def together(pairs: list[Windows]) -> Windows:
    """Several as one, in order of time; they must not overlap."""
    if not pairs:
        return Windows(np.zeros(0, np.int64), np.zeros(0, np.int64))
    starts, ends = (np.concatenate([getattr(one, name) for one in pairs]) for name in ("starts", "ends"))
    order = np.argsort(starts, kind="stable")
    return Windows(starts[order], ends[order]).merged()


def flow_segments(forward: Signal | None, running: Signal | None, start_ms: int, end_ms: int) -> tuple[Segment, ...]:
    """Forward flow, diverted, stopped or not known, from `start_ms` to `end_ms` [ms]; the segments touch and cover it.

    forward: 1 while the diversion device is in forward flow; None: nobody knows when there was forward flow.
    running: 1 while the timing pump turns; None: a stop shows as diverted. It only tells a stop from a diversion: while
    the valve stands forward, or nobody knows where it stands, a pump that is said to stand hides nothing: its
    signal may be stuck.

    A sample later than the plan's slowest step, or a failed one, leaves what lies before it not known: never forward
    flow that was met, never none.

    Range: signals of 0 and 1; end_ms not before start_ms.
    Raises: CalculationError otherwise.
    Source: every period of forward flow on the chart, ATCP 65.66(3)(e); 1 NYCRR 3.27(a)(10) (state mirrors); that a
    state holds to the next sample, by definition of a sampled signal.

    >>> import numpy as np
    >>> valve = Samples(np.array([0, 1000, 2000, 9000]), np.array([0, 1, 1, 1]), np.zeros(4, bool), 0)
    >>> [(one.state.value, str(one.seconds)) for one in flow_segments(Signal("fdd", valve, 1000), None, 0, 9000)]
    [('diverted', '1.000'), ('forward flow', '1.000'), ('not known', '7.000'), ('forward flow', '0.000')]
    """
    steps = flow_steps(forward, running, start_ms, end_ms)
    ends = np.append(steps.keys[1:], steps.end)
    return tuple(
        Segment(STATES[state], key >> 1, end >> 1)
        for key, end, state in zip(steps.keys.tolist(), ends.tolist(), steps.states.tolist(), strict=True)
    )


def flow_steps(forward: Signal | None, running: Signal | None, start_ms: int, end_ms: int) -> Steps:
    """As flow_segments, in keys; the moment `end_ms` itself belongs to it."""
    if end_ms < start_ms:
        raise CalculationError(_("a trace cannot end before it starts"))
    start, end = 2 * int(start_ms), 2 * int(end_ms) + 1
    valve, pump = _known(forward), _known(running)
    keys = np.concatenate([[start], valve[0], pump[0]])
    keys = np.unique(keys[(keys >= start) & (keys < end)])
    position, turns = _at(valve, keys), _at(pump, keys)
    states = np.full(len(keys), _UNKNOWN, np.int8)
    states[position == 0] = _DIVERTED
    states[position == 1] = _FORWARD
    states[(position == 0) & (turns == 0)] = _STOPPED
    kept = np.append(True, states[1:] != states[:-1])
    return Steps(keys[kept], states[kept], end)


def _at(steps: tuple[Whole, Codes], keys: Whole) -> Codes:
    found: Codes = steps[1][np.searchsorted(steps[0], keys, "right") - 1]
    return found


def _known(signal: Signal | None) -> tuple[Whole, Codes]:
    """What one signal says from each key on: 0, 1 or not known."""
    before = np.array([-2 * FAR], np.int64), np.array([_NOT_KNOWN], np.int8)
    if signal is None:
        return before
    samples = both(signal)
    if samples.places or ((samples.values | 1) != 1)[~samples.failed].any():
        raise CalculationError(_("%(name)s: a signal is 0 or 1", name=signal.name))
    times = samples.times_ms
    states = np.where(samples.failed, _NOT_KNOWN, samples.values).astype(np.int8)
    late = (times[1:] - times[:-1] > signal.slowest_ms) | samples.failed[1:] | samples.failed[:-1]
    lost = np.concatenate([late, np.ones(min(len(times), 1), np.bool_)])
    keys = np.concatenate([before[0], 2 * times, 2 * times[lost] + 1])
    every = np.concatenate([before[1], states, np.full(int(lost.sum()), _NOT_KNOWN, np.int8)])
    order = np.argsort(keys, kind="stable")
    keys, every = keys[order], every[order]
    changed = np.append(True, every[1:] != every[:-1])
    return keys[changed], every[changed]


def both(signal: Signal) -> Samples:
    """The samples of a signal with those that contradict them: 1 where either is 1, failed only where both are."""
    first = checked(signal.samples)
    if signal.contradicting is None or not len(signal.contradicting):
        return first
    other = checked(signal.contradicting, again=True)
    times, place = np.unique(np.concatenate([first.times_ms, other.times_ms]), return_inverse=True)
    failed = np.concatenate([first.failed, other.failed])
    values = np.where(failed, -1, np.concatenate([first.values, other.values]))
    worst = np.full(len(times), -1, np.int64)
    np.maximum.at(worst, place, values)
    # One that says 0 beside one that failed does not prove that nothing flowed.
    doubted = np.zeros(len(times), np.bool_)
    np.logical_or.at(doubted, place, failed)
    gone = (worst == -1) | (doubted & (worst == 0))
    return replace(first, times_ms=times, values=np.where(gone, 0, worst), failed=gone)
