"""A storage tank's trace judged: its limits with their times, cooling after filling, the washing that shows in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import numpy as np

from plant.process.errors import CalculationError, within
from plant.process.limits import Outcome
from plant.process.pasteurization.numbers import said_time
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.cells import check_spans, classes_at, edges_of, keyed
from plant.process.trace_judging.faults import judge_clock
from plant.process.trace_judging.findings import CooledFill, TankJudgement, Washing, in_seconds
from plant.process.trace_judging.flow import Windows, together
from plant.process.trace_judging.notes import Notes, Pair, verdicts
from plant.process.trace_judging.pieces import Ready, pieces, ready
from plant.process.trace_judging.values import (
    Cause,
    Cited,
    CoolingAfter,
    Fill,
    Kind,
    TankTrace,
    TimedLimit,
)
from plant.process.trace_judging.washes import note_washes, washes_shown
from plant.process.trace_judging.watching import (
    Edge,
    Out,
    apart_from,
    beside,
    edges,
    limit_above,
    note_flats,
    note_unproven,
    spans_out,
)
from plant.process.trace_judging.whole import FAR, governing, greatest_passing, number


@dataclass(slots=True)
class _Case:
    trace: TankTrace
    given: Ready | None
    held: Windows
    notes: Notes
    washings: tuple[Washing, ...]


def judge_tank(trace: TankTrace) -> TankJudgement:
    """A storage tank's trace beside the limits of what it held: each piece between two samples, compared exactly.

    Time out of a limit is counted from the last sample in limits to the next one; within what the plan allows at once
    and altogether it is past an operating limit, else not met. While a fill's cooling has its time, the limits that
    wait, from above, wait for the deadline; then the last sample by it has to be in limits, and a blend never above its
    own bound. A gap, a slow trace, a sensor at fault or a wash that the trace does not show is not proven.

    Judges facts; it releases nothing.

    Range: at least one limit with a number, in a unit that the channel converts to; allowed times 0 s and more.
    Raises: CalculationError, OutsideRange and UnitError otherwise.
    Source: 45 °F or below, 1 NYCRR 2.49(a), (b) (state mirror) as each limit says; cooling with a time, PMO Table 1 (a
    textbook's copy: https://issuhub.com/view/index/5299?pageIndex=392); a recorder on raw tanks, 7 Pa. Code 59.212(a)
    (state mirror), able to show cleaning (course text, secondary).

    >>> from plant.process.limits import Limit
    >>> from plant.process.trace_judging import Band, Channel, samples_of
    >>> levels = samples_of([0, 900_000, 1_800_000, 2_700_000], [44.0, 45.0, 45.1, 45.0], 1)
    >>> found = judge_tank(TankTrace(0, 2_700_000, Channel("Silo", "°F", levels, 900_000),
    ...     (Band(0, 2_700_000, "raw", "R1"),), (TimedLimit(Limit("raw", "temperature", "°F", high=Decimal(45))),)))
    >>> [(one.outcome.value, str(one.seconds), float(one.extreme), one.lots) for one in found.findings]
    [('not met', '1800.000', 45.1, ('R1',))]
    """
    if not trace.limits:
        raise CalculationError(_("a tank is judged by at least one limit"))
    if trace.end_ms < trace.start_ms:
        raise CalculationError(_("a trace cannot end before it starts"))
    check_spans(_("products"), ((one.start_ms, one.end_ms) for one in trace.bands), apart=False)
    check_spans(_("washes"), trace.washes, apart=False)
    given = None if trace.temperature is None else ready(trace.temperature)
    clock = None
    if trace.clock_ms is not None:
        clock = judge_clock(trace.clock_checks, trace.clock_ms, trace.start_ms, trace.end_ms)
    washings: tuple[Washing, ...] = ()
    if trace.temperature is not None and trace.wash is not None:
        washings = washes_shown(trace.temperature, trace.wash, trace.start_ms, trace.end_ms)
    case = _Case(trace, given, _held(trace, None), Notes(trace.bands, clock), washings)
    _limits(case)
    cooled = tuple(one for fill in trace.fills if (one := _cooled(case, fill)) is not None)
    note_washes(case.notes, trace, washings)
    if clock is not None:
        sentence = words.clock_off(clock.least_ms, clock.most_ms, trace.clock_ms or 0)
        cause = Cause.NOT_CHECKED if clock.least_ms is None else Cause.CLOCK_OFF
        for start, end in clock.spans:
            pairs = [(2 * start, 2 * end)]
            case.notes.add(Kind.CLOCK, cause, Outcome.NOT_PROVEN, pairs, sentence, trace.clauses.clock)
    every = verdicts(case.held, case.notes.painted, [])
    lengths = [(outcome, in_seconds((end >> 1) - (start >> 1))) for outcome, start, end in every]
    return TankJudgement(
        findings=case.notes.in_order(),
        cooled=cooled,
        washings=washings,
        held_s=sum((one for _outcome, one in lengths), Decimal(0)),
        met_s=sum((one for outcome, one in lengths if outcome is Outcome.MET), Decimal(0)),
    )


def _held(trace: TankTrace, classes: tuple[str, ...] | None) -> Windows:
    """When the tank held product (of these classes)."""
    start, end = 2 * int(trace.start_ms), 2 * int(trace.end_ms) + 1
    bands = [(*keyed(one.start_ms, one.end_ms, trace.end_ms), one) for one in trace.bands]
    pairs = []
    for a, b in pairwise(edges_of(start, end, ((a, b) for a, b, _band in bands))):
        named = set(classes_at(a, bands) or ())
        if named and (classes is None or named & set(classes)):
            pairs.append((a, b))
    return _windows(pairs)


def _unlimited(trace: TankTrace) -> Windows:
    """When the tank held a product of a class that no limit is for."""
    if any(one.classes is None for one in trace.limits):
        return _windows([])
    known = {name for one in trace.limits for name in one.classes or ()}
    return _held(trace, tuple({one.product_class for one in trace.bands} - known))


def _windows(pairs: Iterable[Pair]) -> Windows:
    found = sorted(pairs)
    return together([Windows(*(np.array(side, np.int64) for side in zip(*found, strict=True)))] if found else [])


def _without(windows: Windows, others: Windows) -> Windows:
    """What of some windows lies outside others."""
    found = []
    for start, end in windows.pairs():
        at = start
        for a, b in others.cut(start, end).pairs():
            if at < a:
                found.append((at, a))
            at = b
        if at < end:
            found.append((at, end))
    return _windows(found)


def _limits(case: _Case) -> None:
    trace, given, notes = case.trace, case.given, case.notes
    if given is None:
        if len(case.held):
            sentence = _("No temperature of the tank is recorded.")
            pairs = case.held.pairs()
            notes.add(
                Kind.STORAGE, Cause.NO_CHANNEL, Outcome.NOT_PROVEN, pairs, sentence, trace.clauses.storage, legal=True
            )
        return
    waiting = _union([_windows([(2 * one.start_ms, 2 * _deadline(one))]) for one in trace.fills])
    for timed in trace.limits:
        _limit(case, given, timed, _held(trace, timed.classes), waiting if timed.waits else _windows([]))
    for pair in _unlimited(trace).pairs():
        sentence = _("The tank held a product that no limit is known for.")
        notes.add(
            Kind.STORAGE, Cause.NO_ROW, Outcome.NOT_PROVEN, [pair], sentence, trace.clauses.storage, legal=True
        )  # fmt: skip
    if len(case.held):
        sign, unit = edges(trace.limits[0].limit)[0].sign, trace.limits[0].limit.unit
        # Beside a bound that nothing is out of: what is in doubt for one limit is so for the others.
        found = pieces(given, sign, -FAR, case.held, case.held.holds(given.keys))
        note_unproven(notes, Kind.STORAGE, given, sign, found, trace.clauses.storage, unit, legal=True)
        note_flats(notes, Kind.STORAGE, given, case.held, trace.clauses.storage, unit, legal=True)


def _union(windows: Iterable[Windows]) -> Windows:
    """Several windows as one; they may overlap."""
    found: list[Pair] = []
    for start, end in sorted(pair for one in windows for pair in one.pairs()):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return _windows(found)


def _deadline(fill: Fill) -> int:
    within_s = number(fill.cooling.within_s)
    within(_("time of the rule"), float(within_s), 0.001, None, "s")
    return fill.at_ms + int(within_s * 1000)


def _limit(case: _Case, given: Ready, timed: TimedLimit, held: Windows, waiting: Windows) -> None:
    """Time out of one limit, with what the plan allows."""
    limit = timed.limit
    total = number(timed.total_s) * 1000
    at_once = total if timed.at_once_s is None else number(timed.at_once_s) * 1000
    within(_("time allowed out of limits"), float(min(at_once, total)), 0, None, "s")
    cited = Cited(limit.rule, limit.clause, limit.basis)
    critical: list[Out] = []
    for edge in edges(limit):
        windows = _without(held, waiting) if edge.sign < 0 else held
        outs = spans_out(given, edge, limit.unit, beside(given, edge, limit.unit, False, windows, held))
        over = sum((one.end >> 1) - (one.start >> 1) for one in outs) > total
        if edge.outcome is Outcome.NOT_MET:
            critical += outs
        else:
            outs = apart_from(outs, critical)
        for one in outs:
            length = (one.end >> 1) - (one.start >> 1)
            allowed = edge.outcome is Outcome.NOT_MET and bool(total) and length <= at_once and not over
            outcome = Outcome.OPERATING if allowed else edge.outcome
            _note_out(case, given, one, outcome, timed, edge, cited)


def _note_out(
    case: _Case, given: Ready, one: Out, outcome: Outcome, timed: TimedLimit, edge: Edge, cited: Cited
) -> None:
    limit, name = timed.limit, given.channel.name
    washing = any(wash.start_ms < one.end >> 1 and one.start >> 1 < wash.end_ms for wash in case.washings)
    if outcome is Outcome.NOT_MET:
        sentence = words.out_of(name, one.value, limit, False)
    elif number(timed.total_s):
        sentence = _(
            "%(name)s: %(value)s; the limit is %(limit)s, and the plan allows %(time)s out of it.",
            name=name,
            value=words.amount(one.value, limit.unit),
            limit=limit.words(),
            time=said_time(timed.total_s),
        )
    else:
        sentence = words.past_operating(name, one.value, edge.bound, limit.unit)
    if washing:
        sentence = _(
            "%(sentence)s It looks like a wash, and the book has product in the tank.", sentence=sentence
        )  # fmt: skip
    case.notes.add(
        Kind.STORAGE, Cause.WASHING if washing else Cause.PROCESS, outcome, [(one.start, one.end)], sentence, cited,
        channel=name, extreme=one.value, unit=limit.unit, contradicting=one.contradicting, side=edge.sign,
        legal=outcome is Outcome.NOT_MET,
    )  # fmt: skip


def _cooled(case: _Case, fill: Fill) -> CooledFill | None:
    """Whether a fill was cooled in time; None where it was cold when its time was cut short, or no trace shows it."""
    trace, given, rule = case.trace, case.given, fill.cooling
    deadline = _deadline(fill)
    if given is None:
        return None
    if deadline > trace.end_ms or not case.held.holds(np.array([2 * deadline]))[0]:
        return _cut_short(case, given, fill, deadline)
    channel = given.channel
    most = greatest_passing(rule.high, rule.unit, channel.unit, given.places, correction=channel.upward)
    keys, out, doubted = given.keys[1:-1], given.high[1:-1] > most, given.doubted[1:-1] > 0
    first, after = (int(one) for one in np.searchsorted(keys, [2 * fill.at_ms, 2 * deadline + 1]))
    _blend(case, given, fill, deadline)
    warm = np.flatnonzero(out[first:after] | doubted[first:after]) + first
    pair = [(2 * fill.at_ms, 2 * deadline)]
    read_then = first < after and keys[after - 1] == 2 * deadline
    sure = first < after and not out[after - 1] and not doubted[after - 1]
    if sure and (read_then or given.after[after] == 0):
        place = int(warm[-1]) + 1 if len(warm) else first
        return CooledFill(fill.at_ms, deadline, Outcome.MET, int(keys[place]) >> 1)
    if first < after and not out[after - 1]:
        outcome, cause = Outcome.NOT_PROVEN, Cause.GAP
        sentence = _(
            "In limits before, and nothing was read when its time of %(time)s was over.", time=_rule(rule)["time"]
        )
    elif read_then or (after < len(keys) and out[after]):
        outcome, cause = Outcome.NOT_MET, Cause.TOO_LATE
        sentence = _("Not cooled to %(limit)s within %(time)s.", **_rule(rule))
    else:
        outcome, cause = Outcome.NOT_PROVEN, Cause.GAP
        sentence = _("Nothing shows that it was cooled to %(limit)s within %(time)s.", **_rule(rule))
    extreme = None
    if first < after:
        shift = max(channel.upward, Fraction(0))
        extreme = governing(int(given.high[1:-1][after - 1]), given.places, shift, channel.unit, rule.unit)
    case.notes.add(
        Kind.COOLING, cause, outcome, pair, sentence, rule.cited, channel=channel.name, extreme=extreme,
        unit="" if extreme is None else rule.unit, legal=True,
    )  # fmt: skip
    return CooledFill(fill.at_ms, deadline, outcome, None)


def _cut_short(case: _Case, given: Ready, fill: Fill, deadline: int) -> CooledFill | None:
    """A fill that left before its deadline, or whose time still runs: not proven unless it was cold when last read."""
    channel, rule = given.channel, fill.cooling
    _blend(case, given, fill, deadline)
    held = case.held.cut(2 * fill.at_ms, 2 * deadline).pairs()
    if not held:
        return None
    start, end = held[0]
    first, after = (int(one) for one in np.searchsorted(given.keys, [start, end]))
    most = greatest_passing(rule.high, rule.unit, channel.unit, given.places, correction=channel.upward)
    if first < after and given.high[after - 1] <= most and not given.doubted[after - 1]:
        return None
    if end <= 2 * case.trace.end_ms:
        extreme = None
        if first < after:
            shift = max(channel.upward, Fraction(0))
            extreme = governing(int(given.high[after - 1]), given.places, shift, channel.unit, rule.unit)
        sentence = _(
            "It left before its time of %(time)s was over, and nothing shows that it was cooled to %(limit)s then.",
            **_rule(rule),
        )
        case.notes.add(
            Kind.COOLING, Cause.PROCESS, Outcome.NOT_PROVEN, [(2 * fill.at_ms, end)], sentence, rule.cited,
            channel=channel.name, extreme=extreme, unit="" if extreme is None else rule.unit, legal=True,
        )  # fmt: skip
    return CooledFill(fill.at_ms, deadline, Outcome.NOT_PROVEN, None)


def _rule(rule: CoolingAfter) -> dict[str, str]:
    return {"limit": words.amount(rule.high, rule.unit), "time": said_time(rule.within_s)}


def _blend(case: _Case, given: Ready, fill: Fill, deadline: int) -> None:
    """A blend warmer than its own bound while the cooling has its time."""
    rule = fill.cooling
    if rule.never_above is None:
        return
    limit = limit_above(rule.never_above, rule.unit)
    edge = edges(limit)[0]
    windows = case.held.cut(2 * fill.start_ms, 2 * deadline)
    for one in spans_out(given, edge, rule.unit, beside(given, edge, rule.unit, False, windows, case.held)):
        sentence = words.out_of(given.channel.name, one.value, limit, False)
        case.notes.add(
            Kind.COOLING, Cause.PROCESS, Outcome.NOT_MET, [(one.start, one.end)], sentence, rule.cited,
            channel=given.channel.name, extreme=one.value, unit=rule.unit, contradicting=one.contradicting, legal=True,
        )  # fmt: skip
