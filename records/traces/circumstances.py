"""What a trace is judged by, from the records and the plan then in force, as the pure calculation takes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from plant.hazard_plan.check_traces import clock_checks
from plant.hazard_plan.content import TracedDef
from plant.process.limits import Limit
from plant.process.trace_blocks import Samples
from plant.process.trace_judging import (
    Band,
    Bound,
    Channel,
    Cited,
    ClockCheck,
    CoolingAfter,
    FaultRules,
    Fill,
    FlowState,
    Indicated,
    Kind,
    PasteurizerTrace,
    Run,
    Signal,
    TankTrace,
    TimedLimit,
    WashSign,
    Watched,
)
from plant.process.units import exact, exact_difference
from plant.rules.pasteurization import rows_by_class
from records.checks.models import Reading
from records.checks.queries import governing
from records.flow.held_spans import Held, HeldSpan, held_between
from records.judging.judge import as_limit
from records.people.plans import InForce
from records.runs.queries import starts_recorded
from records.traces.models import TraceBlock
from records.traces.moments import to_moment, to_ms
from records.traces.off import errors_of, lowered
from records.traces.set_ups import set_up_windows
from records.traces.sources import samples_of
from records.workshop.doubt import OffTime

SECOND = "s"
CLOCK_NEAR = timedelta(days=7)  # a clock that nobody compared for longer than this counts as not compared
MARGIN = timedelta(hours=1)  # samples read on both sides of a window: at least one step of the slowest recorder
FOREVER_MS = 7_258_118_400_000  # 2200: what still goes on ends there
Span = tuple[datetime, datetime | None]
# Which states of flow a trace is held against its limits in. The regenerator's pressures hold at all times, 3 CCR 584.1
# and PMO 16p(D) (from memory); a cooler's outflow counts while product flows forward.
DURING = {
    "pressure difference": (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED),
    "cooled product": (FlowState.FORWARD,),
    "other": (FlowState.FORWARD, FlowState.DIVERTED, FlowState.STOPPED),
}
KINDS = {"pressure difference": Kind.PRESSURE, "cooled product": Kind.COOLING, "other": Kind.LIMIT}


@dataclass(frozen=True, slots=True)
class Case:
    """A trace with what it is judged by, and the plan's row of each of its channels."""

    trace: PasteurizerTrace | TankTrace
    rows: dict[str, TracedDef]
    off: tuple[OffTime, ...] = ()


def traced_at(place: str, in_force: InForce) -> list[TracedDef]:
    """What the plan says is traced at a place."""
    return [one for one in in_force.plan.traced if one.place == place]


def pasteurizer_case(
    press: str, start: datetime, end: datetime, in_force: InForce, off: Sequence[OffTime] = ()
) -> Case:
    """A pasteurizer's trace of [start, end]; `off`: instruments that may have been off then."""
    rows = {one.what: one for one in traced_at(press, in_force)}
    held = held_between(press, start, end, in_force)
    runs = runs_of(held)
    bands = _press_bands(held)
    classes = {one.product_class for one in bands if one.product_class}
    hot = rows.get("hold temperature")
    recorded = _recorded(traced_at(press, in_force), start, end)
    return Case(
        PasteurizerTrace(
            start_ms=to_ms(start),
            end_ms=to_ms(end),
            temperature=_channel(hot, recorded, in_force, off),
            forward=_signal(rows.get("forward flow"), recorded),
            running=_signal(rows.get("pump running"), recorded),
            flow=_channel(rows.get("flow"), recorded, in_force, off),
            bands=bands,
            set_ups=set_up_windows(press, apart(runs, end + MARGIN), held.spans, in_force),
            runs=_runs(press, runs, end, off),
            rows=rows_by_class(in_force.plan.plant.rule_set, classes),
            watched=tuple(_watched(press, recorded, in_force, off)),
            tolerance=_tolerance(hot, in_force),
            clock_ms=hot.clock_s * 1000 if hot is not None and hot.clock_s else None,
            clock_checks=_clock_checks(hot, start, end, in_force),
        ),
        {one.key: one for one in rows.values()} | {one.key: one for one in traced_at(press, in_force)},
        tuple(off),
    )


def tank_cases(
    place: str, start: datetime, end: datetime, in_force: InForce, off: Sequence[OffTime] = ()
) -> list[Case]:
    """Each trace of a vessel that the plan holds against limits, of [start, end]."""
    held = held_between(place, start, end, in_force)
    bands = tuple(_band(one) for one in held.spans)
    recorded = _recorded(traced_at(place, in_force), start, end)
    found = []
    for one in traced_at(place, in_force):
        limits = tuple(
            TimedLimit(limit, classes=classes or None, waits=limit.key == one.cool_limit)
            for limit, classes in _limits(one, in_force)
            if limit.numeric
        )
        if not limits:
            continue
        trace = TankTrace(
            start_ms=to_ms(start),
            end_ms=to_ms(end),
            temperature=_channel(one, recorded, in_force, off),
            bands=bands,
            limits=limits,
            fills=_cooled_fills(one, held, start, end, in_force),
            washes=tuple((to_ms(since), to_ms(until)) for since, until in held.washed),
            wash=WashSign(Decimal(one.wash_at), one.unit, one.wash_min * 60) if one.wash_min else None,
            clock_ms=one.clock_s * 1000 if one.clock_s else None,
            clock_checks=_clock_checks(one, start, end, in_force),
        )
        found.append(Case(trace, {one.key: one}, tuple(off)))
    return found


def _cooled_fills(
    one: TracedDef, held: Held, start: datetime, end: datetime, in_force: InForce
) -> tuple[Fill, ...]:
    """The fills of a tank whose cooling the plan gives a time; one that still goes on has all of it before it."""
    if not one.cool_min:
        return ()
    limit = as_limit(in_force.plan.limit_by_key(one.cool_limit))
    blend = as_limit(in_force.plan.limit_by_key(one.blend_limit)).high if one.blend_limit else None
    if limit.high is None:
        return ()
    cited = Cited(limit.rule, limit.clause, limit.basis)
    found = []
    for fill in held.fills:
        done = min(fill.end, end) if fill.end is not None else end
        if fill.start <= end and done + timedelta(minutes=one.cool_min) >= start:
            never_above = None if fill.first or blend is None else exact(blend, one.unit, limit.unit)
            rule = CoolingAfter(limit.high, limit.unit, one.cool_min * 60, never_above, cited)
            found.append(Fill(to_ms(done), rule, to_ms(fill.start)))
    return tuple(found)


# --- channels


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is recorded at a place: the samples of each trace and those that contradict them, and its unit."""

    samples: Mapping[str, tuple[Samples, Samples]]
    units: Mapping[str, str]


def _recorded(rows: Sequence[TracedDef], start: datetime, end: datetime) -> Recorded:
    keys = [one.key for one in rows]
    return Recorded(samples_of(keys, start - MARGIN, end + MARGIN), units_of(rows, start, end))


def _channel(
    one: TracedDef | None, recorded: Recorded, in_force: InForce, off: Sequence[OffTime]
) -> Channel | None:
    """A recorded channel with the plan's doubts about its sensor; None where the plan has none or nothing is kept."""
    if one is None:
        return None
    samples, beside = recorded.samples[one.key]
    if not len(samples):
        return None
    unit = recorded.units.get(one.key, one.unit)
    tool = next((tool for tool in in_force.plan.instruments if tool.code == one.key), None)
    correction = Fraction(0) if tool is None else exact_difference(Decimal(tool.correction), tool.unit, unit)
    rules = FaultRules(
        flat_ms=one.flat_min * 60_000 or None,
        fastest_per_s=exact_difference(Decimal(one.fastest_per_s), one.unit, unit) if one.fastest_per_s else None,
        spike_ms=int(Decimal(one.spike_s) * 1000),
        lowest=None if tool is None else exact(Decimal(tool.low), tool.unit, unit),
        highest=None if tool is None else exact(Decimal(tool.high), tool.unit, unit),
    )
    return Channel(
        one.key, unit, samples, slowest_ms(one), beside if len(beside) else None, rules, correction,
        errors=errors_of(one.key, unit, off),
    )  # fmt: skip


def _signal(one: TracedDef | None, recorded: Recorded) -> Signal | None:
    if one is None:
        return None
    samples, beside = recorded.samples[one.key]
    if not len(samples):
        return None
    return Signal(one.key, _whole(samples), slowest_ms(one), _whole(beside) if len(beside) else None)


def _whole(samples: Samples) -> Samples:
    """A signal without decimals: "1.0" is 1. What is neither 1 nor 0 nobody can read: it counts as failed."""
    scale = 10**samples.places
    values = samples.values // scale
    odd = (samples.values % scale != 0) | (values < 0) | (values > 1)
    values[odd] = 0
    return Samples(samples.times_ms, values, samples.failed | odd, 0)


def units_of(rows: Iterable[TracedDef], start: datetime, end: datetime) -> dict[str, str]:
    """The unit in which each trace of a time was kept, which may be another than the plan's. One query."""
    kept = TraceBlock.objects.filter(
        instrument__in=[one.key for one in rows], hour__gte=start - MARGIN, hour__lte=end + MARGIN
    )
    return dict(kept.order_by("instrument").values_list("instrument", "unit").distinct())


def slowest_ms(one: TracedDef) -> int:
    """The longest step that the plan allows [ms]."""
    return int(Decimal(one.slowest_s) * 1000)


def _clock_checks(
    one: TracedDef | None, start: datetime, end: datetime, in_force: InForce
) -> tuple[ClockCheck, ...]:
    """How far ahead the recorder's clock was: each reading in the window, and the nearest on both sides of it."""
    if one is None or not one.clock_s:
        return ()
    rows = Reading.objects.filter(
        subject=one.place, monitoring_key__in=clock_checks(in_force.plan, one.place), value__isnull=False, not_taken=""
    )
    near = governing(rows.filter(observed_at__gte=start - CLOCK_NEAR, observed_at__lte=end + CLOCK_NEAR))
    by_moment: dict[int, int] = {}
    for each in near:
        assert each.value is not None  # as filtered
        at_ms, ahead = to_ms(each.observed_at), int(exact(each.value, each.unit, SECOND) * 1000)
        by_moment[at_ms] = max(ahead, by_moment.get(at_ms, ahead), key=abs)
    return tuple(ClockCheck(at_ms, ahead) for at_ms, ahead in sorted(by_moment.items()))


# --- products, set-ups, runs


def runs_of(held: Held) -> list[Span]:
    """The runs of a line, as the movements through it say: those that touch are one."""
    return together((one.start, one.end) for one in held.spans)


def _press_bands(held: Held) -> tuple[Band, ...]:
    """Product by the movements through it; a wash without any is no product."""
    bands = [_band(one) for one in held.spans]
    for since, until in held.washes:
        if not any(one.start_ms < to_ms(until) and to_ms(since) < one.end_ms for one in bands):
            bands.append(Band(to_ms(since), to_ms(until), ""))
    return tuple(sorted(bands, key=lambda one: (one.start_ms, one.end_ms)))


def _band(one: HeldSpan) -> Band:
    until = FOREVER_MS if one.end is None else to_ms(one.end)
    return Band(to_ms(one.start), until, one.product_class or one.product or "?", one.label)


def _runs(press: str, runs: list[Span], end: datetime, off: Sequence[OffTime]) -> tuple[Run, ...]:
    """Each run with the readings of its indicating thermometer, those on the water before its product too."""
    found, before = [], None
    spans = apart(runs, end + MARGIN)
    begun = starts_recorded(press, spans[0][0], spans[-1][1]) if spans else []
    for since, until in spans:
        start = next((at for at, ended in reversed(begun) if at <= since and (ended is None or ended >= since)), since)
        read_from = start if before is None else max(start, before)
        found.append(Run(to_ms(since), to_ms(until), _indicated(press, min(since, read_from), until, off)))
        before = until
    return tuple(found)


def _indicated(
    press: str, since: datetime, until: datetime, off: Sequence[OffTime]
) -> tuple[Indicated, ...]:
    """The pairs read in a run: indicating and recording at one moment. Of what is read alone the trace may differ.

    An indicating thermometer that was found off shows the least that it may have meant.
    """
    rows = governing(
        Reading.objects.filter(
            subject=press,
            observed_at__gte=since,
            observed_at__lte=until,
            answer_kind="pair",
            not_taken="",
            value__isnull=False,
            value_second__isnull=False,
        )
    )
    return tuple(
        Indicated(
            to_ms(one.observed_at),
            lowered(Fraction(one.value), one.unit, one.instrument, one.observed_at, off),
            one.unit,
            Fraction(one.value_second),
        )
        for one in rows
        if one.value is not None and one.value_second is not None
    )


def together(spans: Iterable[Span]) -> list[Span]:
    """Spans that touch or overlap as one; None: still."""
    found: list[Span] = []
    for since, until in sorted(spans, key=lambda one: one[0]):
        last = found[-1] if found else None
        if last is not None and (last[1] is None or since <= last[1]):
            later = None if last[1] is None or until is None else max(last[1], until)
            found[-1] = (last[0], later)
        else:
            found.append((since, until))
    return found


def apart(spans: list[Span], end: datetime) -> list[tuple[datetime, datetime]]:
    """Spans of which none overlaps the next: one that does ends where the next begins."""
    ordered = sorted(spans, key=lambda one: one[0])
    found = []
    for at, (since, until) in enumerate(ordered):
        last = until if until is not None else end
        if at + 1 < len(ordered):
            last = min(last, ordered[at + 1][0])
        if last > since:
            found.append((since, last))
    return found


# --- limits


def _watched(
    press: str, recorded: Recorded, in_force: InForce, off: Sequence[OffTime]
) -> Iterable[Watched]:
    for one in traced_at(press, in_force):
        if one.what not in DURING or not one.limits:
            continue
        channel = _channel(one, recorded, in_force, off)
        for limit, classes in _limits(one, in_force):
            strict = limit.rule == "regenerator" and limit.low == 0
            yield Watched(KINDS[one.what], channel, limit, DURING[one.what], classes or None, strict)


def _limits(one: TracedDef, in_force: InForce) -> list[tuple[Limit, tuple[str, ...]]]:
    found = [in_force.plan.limit_by_key(key) for key in one.limits]
    return [(as_limit(limit), limit.products) for limit in found]


def _tolerance(hot: TracedDef | None, in_force: InForce) -> Bound | None:
    """How far below the indicating thermometer the recorder may read: its accuracy, as the plan says."""
    tool = next((tool for tool in in_force.plan.instruments if hot is not None and tool.code == hot.key), None)
    return Bound(Decimal(tool.accuracy), tool.unit) if tool is not None else None


__all__ = ["Case", "pasteurizer_case", "runs_of", "tank_cases", "to_moment", "to_ms", "traced_at"]
