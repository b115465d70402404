"""A continuous pasteurizer's trace judged: temperature and time at each second of forward flow."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from plant.process.limits import Outcome
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.cells import Cell, cells_of
from plant.process.trace_judging.conditions import Case, note_conditions, note_products, note_signal
from plant.process.trace_judging.crossings import crossings
from plant.process.trace_judging.faults import judge_clock
from plant.process.trace_judging.findings import Comparison, Judgement, Segment, Span
from plant.process.trace_judging.flow import STATES, Steps, Windows, flow_steps, together
from plant.process.trace_judging.notes import Notes, verdicts
from plant.process.trace_judging.pieces import Ready, pieces, ready
from plant.process.trace_judging.recorder import vouches
from plant.process.trace_judging.values import Cause, Cited, FlowState, Kind, PasteurizerTrace
from plant.process.trace_judging.watching import Watch, meter_watch, note_flats, note_unproven, watch
from plant.process.trace_judging.whole import governing


def judge_pasteurizer(trace: PasteurizerTrace) -> Judgement:
    """A continuous pasteurizer's trace beside the rows, set-ups, runs and limits that were in force.

    At each moment of forward flow the row of the class then running decides that the hold of the set-up then approved
    is enough for: the coolest such row, compared exactly in its own unit, with the worse of as recorded and corrected
    by that run's indicating reading. A sealed timing pump's hold stands on its last test of record while its seals are
    unbroken; only a set-up with a top rate is judged by flow too. Cut-in is the first temperature in forward flow,
    cut-out the last. What no sample proves is not proven, never met: a gap, a trace slower than the plan asks, no
    forward-flow signal, a sensor at fault, a product or set-up that nobody named, a run without an indicating reading.

    Judges facts; it approves nothing, and whether a product may be sold the regulator decides.

    Range: temperatures in °F or °C, flow in units of flow; set-ups and runs of which no two are at one time.
    Raises: CalculationError, OutsideRange and UnitError otherwise.
    Source: 21 CFR 1240.61(b), (c), 131.3(b), 135.3 as in each row (text consulted); what a chart shows, ATCP 65.66(3),
    (4) and 1 NYCRR 3.27(a) (state mirrors); seals and tests, ATCP 65.68 (text consulted); the rule for pieces and gaps
    is this project's, on the side of caution.

    >>> from decimal import Decimal
    >>> from plant.process.pasteurization import Method, ProductClass, Row
    >>> from plant.process.trace_judging import Band, Channel, Indicated, Run, SetUpWindow, Signal, samples_of
    >>> times = [0, 1000, 2000, 3000]
    >>> milk = Row("a", (ProductClass.MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "21 CFR 1240.61", "read")
    >>> found = judge_pasteurizer(PasteurizerTrace(
    ...     0, 3000, Channel("tr", "°F", samples_of(times, [161.5, 161.0, 160.9, 161.0], 1), 1000),
    ...     Signal("fdd", samples_of(times, [1, 1, 1, 1], 0), 1000), (Band(0, 3000, "milk", "A"),),
    ...     (SetUpWindow(0, 3000, "milk", 16, ("milk",), 0),), (Run(0, 3000, (Indicated(0, 162, "°F"),)),),
    ...     {"milk": (milk,)}))
    >>> [(one.kind.value, one.outcome.value, str(one.seconds), float(one.extreme), one.lots) for one in found.findings]
    [('temperature', 'not met', '2.000', 160.9, ('A',))]
    """
    recorder = _recorder(trace)
    steps = flow_steps(trace.forward, trace.running, trace.start_ms, trace.end_ms)
    clock = None
    if trace.clock_ms is not None:
        clock = judge_clock(trace.clock_checks, trace.clock_ms, trace.start_ms, trace.end_ms)
    cells = cells_of(trace, 0 if recorder is None else recorder.places)
    forward = steps.windows(FlowState.FORWARD)
    case = Case(trace, steps, recorder, cells, forward, Notes(trace.bands, clock))
    judged = together([case.forward_in(cell) for cell in cells if cell.counts])
    note_signal(case)
    note_products(case)
    note_conditions(case)
    _temperature(case, judged)
    _meter(case)
    for one in trace.watched:
        windows = _watched_windows(case, one.during, one.classes)
        channel = None if one.channel is None else ready(one.channel)
        cited = Cited(one.limit.rule, one.limit.clause, one.limit.basis)
        watch(case.notes, Watch(one.kind, channel, one.limit, cited, trace.clauses.trace, one.strict), windows)
    if clock is not None:
        sentence = words.clock_off(clock.least_ms, clock.most_ms, trace.clock_ms or 0)
        cause = Cause.NOT_CHECKED if clock.least_ms is None else Cause.CLOCK_OFF
        for start, end in clock.spans:
            pairs = [(2 * start, 2 * end)]
            case.notes.add(Kind.CLOCK, cause, Outcome.NOT_PROVEN, pairs, sentence, trace.clauses.clock)
    crossed = crossings(recorder, steps, cells, case.notes, trace.clauses)
    return Judgement(
        segments=_segments(steps),
        spans=_spans(case, judged),
        crossings=crossed,
        comparisons=_comparisons(cells),
        findings=case.notes.in_order(),
    )


def _recorder(trace: PasteurizerTrace) -> Ready | None:
    """The recorder made ready; what was compared with the indicating thermometer ends the doubt of a jump."""
    given = trace.temperature
    if given is None:
        return None
    return ready(given, tuple(one.at_ms for run in trace.runs for one in run.indicated if vouches(given, one)))


def _segments(steps: Steps) -> tuple[Segment, ...]:
    ends = [*steps.keys[1:].tolist(), steps.end]
    every = zip(steps.keys.tolist(), ends, steps.states.tolist(), strict=True)
    return tuple(Segment(STATES[state], key >> 1, end >> 1) for key, end, state in every)


def _comparisons(cells: list[Cell]) -> tuple[Comparison, ...]:
    found = {id(cell.compared): cell.compared for cell in cells if cell.compared is not None}
    return tuple(found.values())


def _spans(case: Case, judged: Windows) -> tuple[Span, ...]:
    unknown = case.steps.windows(FlowState.UNKNOWN)
    windows = together([judged, *(unknown.cut(cell.start, cell.end) for cell in case.cells if cell.counts)])
    starts = [cell.start for cell in case.cells]
    found: list[Span] = []
    for outcome, start, end in verdicts(windows, case.notes.painted, starts):
        cell = case.cells[int(np.searchsorted(starts, start, "right")) - 1]
        row = cell.row.key if cell.row is not None else ""
        name = cell.product_class or " / ".join(cell.classes or ())
        one = Span(outcome, start >> 1, end >> 1, name, row)
        if one.start_ms == one.end_ms:
            continue
        before = found[-1] if found else None
        if before and (before.outcome, before.product_class, before.row, before.end_ms) == (
            one.outcome, name, row, one.start_ms
        ):  # fmt: skip
            found[-1] = Span(outcome, before.start_ms, one.end_ms, name, row)
        else:
            found.append(one)
    return tuple(found)


def _temperature(case: Case, judged: Windows) -> None:
    given, trace = case.recorder, case.trace
    if given is None:
        if len(judged):
            sentence = _("No temperature is recorded at the holding tube.")
            case.notes.add(
                Kind.TEMPERATURE, Cause.NO_CHANNEL, Outcome.NOT_PROVEN, judged.pairs(), sentence, trace.clauses.trace,
                legal=True,
            )  # fmt: skip
        return
    counts = judged.holds(given.keys)
    for cell in case.cells:
        row = cell.row
        if row is None:
            continue
        shift = min(cell.correction, Fraction(0))
        found = pieces(given, 1, cell.least, case.forward_in(cell), counts)
        hold_s = None if cell.set_up is None else cell.set_up.hold_s
        cited = Cited(row.key, row.clause, row.basis)
        unit = given.channel.unit
        for start, end, worst, first, last in found.runs_out():
            value = governing(worst, given.places, shift, unit, row.unit)
            recorded = governing(worst, given.places, Fraction(0), unit, row.unit)
            case.notes.add(
                Kind.TEMPERATURE, Cause.PROCESS, Outcome.NOT_MET, [(start, end)],
                words.below_row(row, hold_s, value, recorded, cell.compared), cited, channel=given.channel.name,
                extreme=value, unit=row.unit, contradicting=int(given.clashes[first : last + 1].sum()), side=1,
                legal=True,
            )  # fmt: skip
        for place in found.alone.tolist():
            value = governing(int(given.low[place]), given.places, shift, unit, row.unit)
            recorded = governing(int(given.low[place]), given.places, Fraction(0), unit, row.unit)
            moment = int(given.keys[place])
            case.notes.add(
                Kind.TEMPERATURE, Cause.PROCESS, Outcome.NOT_MET, [(moment, moment)],
                words.below_row(row, hold_s, value, recorded, cell.compared), cited, channel=given.channel.name,
                extreme=value, unit=row.unit, contradicting=int(given.clashes[place]), side=1, legal=True,
            )  # fmt: skip
        note_unproven(case.notes, Kind.TEMPERATURE, given, 1, found, trace.clauses.trace, row.unit, legal=True)
    named = together([case.forward_in(cell) for cell in case.cells if cell.row is not None])
    note_flats(case.notes, Kind.TEMPERATURE, given, named, trace.clauses.trace, given.channel.unit, legal=True)


def _meter(case: Case) -> None:
    """Flow beside the top rate, where a meter sets the time."""
    given = None if case.trace.flow is None else ready(case.trace.flow)
    for set_up in case.trace.set_ups:
        if set_up.top_rate is not None:
            cells = [cell for cell in case.cells if cell.set_up is set_up and cell.counts]
            asked = meter_watch(given, set_up.top_rate, set_up.top_rate_unit, case.trace.clauses.meter)
            watch(case.notes, asked, together([case.forward_in(cell) for cell in cells]), legal=True)


def _watched_windows(case: Case, during: tuple[FlowState, ...], classes: tuple[str, ...] | None) -> Windows:
    """Where a channel is looked at. Where each known state counts, one that nobody knows counts too."""
    states = set(during)
    if states >= {FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED}:
        states.add(FlowState.UNKNOWN)
    forward = case.forward if FlowState.FORWARD in states else Windows(*(np.zeros(0, np.int64),) * 2)
    others = case.steps.windows(*(states - {FlowState.FORWARD}))
    found: list[Windows] = []
    for cell in case.cells:
        named = set(cell.classes or ())
        if not cell.counts or (classes is not None and named and not named & set(classes)):
            continue
        found.append(forward.cut(cell.start, cell.end))
        if cell.classes:
            found.append(others.cut(cell.start, cell.end))
    return together(found)
