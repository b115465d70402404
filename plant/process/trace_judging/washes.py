"""The heat of washes in a tank's trace, beside the washes that were recorded."""

from __future__ import annotations

from fractions import Fraction

from plant.process.errors import within
from plant.process.limits import Outcome
from plant.process.pasteurization.numbers import said_time
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.faults import runs
from plant.process.trace_judging.findings import Washing
from plant.process.trace_judging.notes import Notes
from plant.process.trace_judging.pieces import ready
from plant.process.trace_judging.values import Cause, Channel, Kind, TankTrace, WashSign
from plant.process.trace_judging.whole import governing, least_passing, number


def washes_shown(
    channel: Channel, sign: WashSign, start_ms: int | None = None, end_ms: int | None = None
) -> tuple[Washing, ...]:
    """The heat of washes in a trace: samples at `sign.low` or above, none apart by more than the plan allows, for long.

    From the first hot sample to the last [ms]; what lies beyond them is not counted. `start_ms`, `end_ms` [ms]: only
    those that touch this span.

    Range: seconds of the sign above 0; units of temperature.
    Raises: OutsideRange, UnitError; CalculationError for arrays that do not fit.
    Source: a storage recorder has to reach 180 °F so that cleaning shows (course text, secondary:
    https://de.scribd.com/document/381824766/Cleaning-and-Sanitizing-of-Containers-and-Equipment); the sign is the
    plant's own.

    >>> from plant.process.trace_judging import samples_of
    >>> levels = samples_of([0, 60_000, 120_000, 180_000], [40.0, 150.0, 151.5, 60.0], 1)
    >>> [(one.start_ms, one.end_ms, float(one.hottest)) for one in washes_shown(
    ...     Channel("Silo", "°F", levels, 60_000), WashSign(140, "°F", 60))]
    [(60000, 120000, 151.5)]
    """
    given = ready(channel)
    least = least_passing(sign.low, sign.unit, channel.unit, given.places, correction=channel.downward)
    wanted = number(sign.seconds) * 1000
    within(_("time of a wash"), float(wanted), 0.001, None, "ms")
    keys, hot = given.keys[1:-1], (given.low[1:-1] >= least) & (given.doubted[1:-1] == 0)
    # A step that proves nothing parts two stretches of heat.
    linked = hot[:-1] & hot[1:] & (given.after[1:-1] == 0)
    found = []
    for first, last in runs(linked):
        start, end = int(keys[first]) >> 1, int(keys[last + 1]) >> 1
        outside = (start_ms is not None and end < start_ms) or (end_ms is not None and start > end_ms)
        if end - start < wanted or outside:
            continue
        hottest = int(given.low[1:-1][first : last + 2].max())
        value = governing(hottest, given.places, Fraction(0), channel.unit, sign.unit)
        found.append(Washing(start, end, value, sign.unit))
    return tuple(found)


def note_washes(notes: Notes, trace: TankTrace, washings: tuple[Washing, ...]) -> None:
    """Washes that were recorded and do not show, and heat of a wash that nobody recorded."""
    sign = trace.wash
    if sign is None:
        return
    words_of = {"low": words.amount(sign.low, sign.unit), "time": said_time(sign.seconds)}
    for start, end in trace.washes:
        inside = trace.start_ms <= start and end <= trace.end_ms
        if inside and not any(one.start_ms <= end and start <= one.end_ms for one in washings):
            sentence = _("A wash is recorded, and the trace does not show %(low)s for %(time)s.", **words_of)
            notes.add(
                Kind.WASH, Cause.NOT_SHOWN, Outcome.NOT_PROVEN, [(2 * start, 2 * end)], sentence, trace.clauses.wash
            )
    for one in washings:
        if not any(start <= one.end_ms and one.start_ms <= end for start, end in trace.washes):
            sentence = _(
                "The trace shows heat like that of a wash, up to %(value)s, and no wash is recorded.",
                value=words.amount(one.hottest, one.unit),
            )
            notes.add(
                Kind.WASH, Cause.NOT_RECORDED, Outcome.NOT_PROVEN, [(2 * one.start_ms, 2 * one.end_ms)], sentence,
                trace.clauses.wash, channel="" if trace.temperature is None else trace.temperature.name,
                extreme=one.hottest, unit=one.unit,
            )  # fmt: skip
