"""The recorder beside that run's indicating thermometer."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from plant.process.trace_judging.channel import merged
from plant.process.trace_judging.findings import Comparison
from plant.process.trace_judging.values import Channel, Indicated, Run
from plant.process.trace_judging.whole import number
from plant.process.units import CELSIUS, exact, exact_difference


def compare_recorder(recorder: Channel | None, run: Run) -> Comparison | None:
    """The worst comparison of a run: the one in which the recorder reads highest beside the indicating thermometer.

    recorder: the trace at the holding tube's end. Where a reading brings no `recording`, the sample at its moment is
    taken, else the last one before it if the next is no later than the plan's slowest step; of contradicting values
    the higher. A reading that no sample belongs to compares nothing; None where none does.

    Range: temperatures.
    Raises: UnitError for other units; CalculationError for arrays that do not fit.
    Source: the recorder is checked by the indicating thermometer at the start of a run and never reads higher: ATCP
    65.66(3)(d) (state mirror), 1 NYCRR 2.45(b)(2) (vat wording; for continuous flow from memory).

    >>> import numpy as np
    >>> from decimal import Decimal
    >>> from plant.process.trace_blocks import Samples
    >>> trace = Channel("tr", "°F", Samples(np.array([0, 1000]), np.array([1624, 1626]), np.zeros(2, bool), 1), 1000)
    >>> compare_recorder(trace, Run(0, 9000, (Indicated(1000, Decimal("162.5"), "°F"),))).difference
    Fraction(1, 10)
    """
    found = [one for each in run.indicated if (one := _compared(recorder, each)) is not None]
    return max(
        found, key=lambda one: (exact_difference(one.difference, one.unit, CELSIUS), -one.at_ms), default=None
    )  # fmt: skip


def vouches(recorder: Channel, read: Indicated) -> bool:
    """Whether a reading speaks for the trace too: it shows a sample then, no higher than what was compared."""
    own = _at(recorder, read.at_ms, read.unit)
    return own is not None and (read.recording is None or own <= number(read.recording))


def _compared(recorder: Channel | None, read: Indicated) -> Comparison | None:
    recording = None if read.recording is None else number(read.recording)
    if recording is None and recorder is not None:
        recording = _at(recorder, read.at_ms, read.unit)
    if recording is None:
        return None
    indicating = number(read.value)
    return Comparison(read.at_ms, indicating, recording, recording - indicating, read.unit)


def _at(recorder: Channel, at_ms: int, unit: str) -> Fraction | None:
    """What the recorder shows at a moment, in `unit`; None where it shows nothing."""
    whole = merged(recorder)
    place = int(np.searchsorted(whole.times, at_ms, "right")) - 1
    if place < 0 or whole.failed[place]:
        return None
    if whole.times[place] != at_ms:
        last = place + 1 == len(whole.times)
        if last or whole.failed[place + 1] or whole.times[place + 1] - whole.times[place] > recorder.slowest_ms:
            return None
    return exact(Fraction(int(whole.high[place]), 10**whole.places), recorder.unit, unit)
