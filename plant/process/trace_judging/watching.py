"""A channel held against a limit over windows of time: what is out, past an operating limit, or not proven."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate

import numpy as np

from plant.process.errors import CalculationError
from plant.process.limits import Limit, Outcome
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.faults import CAUSES
from plant.process.trace_judging.flow import Windows
from plant.process.trace_judging.notes import Notes
from plant.process.trace_judging.pieces import Pieces, Ready, pieces
from plant.process.trace_judging.values import Cause, Cited, Exact, Kind
from plant.process.trace_judging.whole import governing, greatest_passing, least_passing, number


@dataclass(frozen=True, slots=True)
class Watch:
    """A channel beside a limit, and where the rules stand: of the limit, and that it has to be recorded."""

    kind: Kind
    given: Ready | None
    limit: Limit
    cited: Cited
    recorded: Cited
    strict: bool = False
    cause: Cause = Cause.PROCESS


@dataclass(frozen=True, slots=True)
class Out:
    """Unbroken time out of one bound: [keys], the worst value in the limit's unit, samples that contradict."""

    start: int
    end: int
    value: Fraction
    contradicting: int


@dataclass(frozen=True, slots=True)
class Edge:
    """One bound of a limit: `sign` 1 from below, -1 from above."""

    sign: int
    bound: Decimal
    outcome: Outcome


def edges(limit: Limit) -> list[Edge]:
    """The bounds of a limit, the critical ones first. Raises CalculationError without any."""
    given = (
        (1, limit.low, Outcome.NOT_MET),
        (-1, limit.high, Outcome.NOT_MET),
        (1, limit.act_low, Outcome.OPERATING),
        (-1, limit.act_high, Outcome.OPERATING),
    )
    found = [Edge(sign, bound, outcome) for sign, bound, outcome in given if bound is not None]
    if not found:
        raise CalculationError(_("a trace is held against a limit with a number"))
    return found


def beside(given: Ready, edge: Edge, unit: str, strict: bool, windows: Windows, counts: Windows) -> Pieces:
    """The pieces of windows beside one bound in `unit`; `counts`: when a sample counts."""
    channel = given.channel
    where = (edge.bound, unit, channel.unit, given.places)
    if edge.sign > 0:
        least = least_passing(*where, strict=strict, correction=channel.downward)
    else:
        least = -greatest_passing(*where, strict=strict, correction=channel.upward)
    return pieces(given, edge.sign, least, windows, counts.holds(given.keys))


def spans_out(given: Ready, edge: Edge, unit: str, found: Pieces) -> list[Out]:
    """The unbroken times out of one bound, in order; a sample out that stands alone is one of no length."""
    channel = given.channel
    shift = min(channel.downward, Fraction(0)) if edge.sign > 0 else max(channel.upward, Fraction(0))

    def value(signed: int) -> Fraction:
        return governing(edge.sign * signed, given.places, shift, given.channel.unit, unit)

    outs = [
        Out(start, end, value(worst), int(given.clashes[first : last + 1].sum()))
        for start, end, worst, first, last in found.runs_out()
    ]
    signed = given.signed(edge.sign)
    for place in found.alone.tolist():
        moment = int(given.keys[place])
        outs.append(Out(moment, moment, value(int(signed[place])), int(given.clashes[place])))
    return sorted(outs, key=lambda one: one.start)


def apart_from(outs: list[Out], others: list[Out]) -> list[Out]:
    """Those times out that none of the others touches."""
    ordered = sorted(others, key=lambda one: one.start)
    starts = [one.start for one in ordered]
    reach = list(accumulate((one.end for one in ordered), max))  # how far those up to each one go
    found = []
    for one in outs:
        before = bisect_right(starts, one.end)
        if not before or reach[before - 1] < one.start:
            found.append(one)
    return found


def watch(notes: Notes, asked: Watch, windows: Windows, *, legal: bool = False) -> None:
    """Add what is out of the limit in these windows, past an operating limit, or not proven."""
    if not len(windows):
        return
    given, limit = asked.given, asked.limit
    if given is None:
        sentence = _("Nothing records the %(quantity)s.", quantity=limit.quantity)
        notes.add(
            asked.kind, Cause.NO_CHANNEL, Outcome.NOT_PROVEN, windows.pairs(), sentence, asked.recorded, legal=legal
        )
        return
    name, critical = given.channel.name, list[Out]()
    for place, edge in enumerate(edges(limit)):
        strict = asked.strict and edge.outcome is Outcome.NOT_MET
        found = beside(given, edge, limit.unit, strict, windows, windows)
        outs = spans_out(given, edge, limit.unit, found)
        if edge.outcome is Outcome.NOT_MET:
            critical += outs
        else:
            outs = apart_from(outs, critical)  # the way to and from the critical limit is said
        for one in outs:
            if edge.outcome is Outcome.NOT_MET:
                sentence = words.out_of(name, one.value, limit, asked.strict)
            else:
                sentence = words.past_operating(name, one.value, edge.bound, limit.unit)
            notes.add(
                asked.kind, asked.cause, edge.outcome, [(one.start, one.end)], sentence, asked.cited, channel=name,
                extreme=one.value, unit=limit.unit, contradicting=one.contradicting, side=edge.sign,
                legal=legal and edge.outcome is Outcome.NOT_MET,
            )  # fmt: skip
        if not place:
            note_unproven(notes, asked.kind, given, edge.sign, found, asked.recorded, limit.unit, legal=legal)
    note_flats(notes, asked.kind, given, windows, asked.recorded, limit.unit, legal=legal)


def note_unproven(
    notes: Notes, kind: Kind, given: Ready, sign: int, found: Pieces, cited: Cited, unit: str, *, legal: bool = False
) -> None:
    """Add the stretches of some pieces that prove nothing, each with its reason."""
    channel = given.channel
    for start, end, why in found.runs_unproven():
        if start >> 1 == end >> 1:
            continue
        cause = CAUSES.get(why) or (Cause.TOO_SLOW if given.slow else Cause.GAP)
        extreme, value = None, _("no value")
        if cause in (Cause.SPIKE, Cause.JUMP, Cause.OUT_OF_RANGE):
            extreme = (_beyond if cause is Cause.OUT_OF_RANGE else _at_fault)(given, why, start, end, sign, unit)
            value = words.amount(extreme, unit)
        sentence = words.unproven(channel.name, cause, (end >> 1) - (start >> 1), channel.slowest_ms, value)
        notes.add(
            kind, cause, Outcome.NOT_PROVEN, [(start, end)], sentence, cited, channel=channel.name, extreme=extreme,
            unit="" if extreme is None else unit, legal=legal,
        )  # fmt: skip


def _at_fault(given: Ready, why: int, start: int, end: int, sign: int, unit: str) -> Fraction:
    """The worst of the samples at fault in a stretch, as recorded."""
    every = given.every
    # The whole step that holds the stretch: it may end before the sample at fault.
    before = int(given.keys[np.searchsorted(given.keys, start, "right") - 1]) >> 1
    after = int(given.keys[np.searchsorted(given.keys, end, "left")]) >> 1
    first, last = np.searchsorted(every.times, [before, after + 1])
    chosen = given.codes[first:last] == why
    values = every.low[first:last][chosen] if sign > 0 else -every.high[first:last][chosen]
    return governing(sign * int(values.min()), given.places, Fraction(0), given.channel.unit, unit)


def _beyond(given: Ready, why: int, start: int, end: int, sign: int, unit: str) -> Fraction:
    """The samples in a stretch that say what the instrument cannot measure: the one that would pass best."""
    first = int(np.searchsorted(given.keys, start, "right")) - 1
    last = int(np.searchsorted(given.keys, end, "left"))
    chosen = given.signed(sign)[first : last + 1][given.doubted[first : last + 1] == why]
    return governing(sign * int(chosen.max()), given.places, Fraction(0), given.channel.unit, unit)


def note_flats(
    notes: Notes, kind: Kind, given: Ready, windows: Windows, cited: Cited, unit: str, *, legal: bool = False
) -> None:
    """Add the flat lines of a channel, as far as they lie in windows."""
    for start, end, level in given.flats:
        pairs = [pair for pair in windows.cut(2 * start, 2 * end + 1).pairs() if pair[0] >> 1 < pair[1] >> 1]
        if not pairs:
            continue
        value = governing(level, given.places, Fraction(0), given.channel.unit, unit)
        sentence: Said = words.unproven(given.channel.name, Cause.FLAT, end - start, 0, words.amount(value, unit))
        notes.add(
            kind, Cause.FLAT, Outcome.NOT_PROVEN, pairs, sentence, cited, channel=given.channel.name, extreme=value,
            unit=unit, legal=legal,
        )  # fmt: skip


def meter_watch(given: Ready | None, top_rate: Exact, unit: str, cited: Cited) -> Watch:
    """A meter's flow beside the fastest that the test of record covers."""
    limit = Limit("", _("flow"), unit, high=_decimal(top_rate), clause=cited.clause, basis=cited.basis, rule=cited.rule)
    return Watch(Kind.HOLDING, given, limit, cited, cited, cause=Cause.TOO_FAST)


def limit_above(bound: Exact, unit: str) -> Limit:
    """A limit from above with nothing else to it."""
    return Limit("", "", unit, high=_decimal(bound))


def _decimal(value: Exact) -> Decimal:
    whole = number(value)
    found = Decimal(whole.numerator) / Decimal(whole.denominator)
    if Fraction(found) != whole:
        raise CalculationError(_("a bound has to be a decimal number"))
    return found
