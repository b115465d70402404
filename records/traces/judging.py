"""Traces judged by the plan in force at their time: computed from what is kept, written once, safe to run again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Max, Min

from plant.hazard_plan.content import TracedDef, VesselDef
from plant.process.errors import CalculationError
from plant.process.limits import SEVERITY, Outcome
from plant.process.said import say
from plant.process.trace_judging import (
    Cause,
    Finding,
    Judgement,
    Kind,
    PasteurizerTrace,
    TankJudgement,
    grouped,
    judge_pasteurizer,
    judge_tank,
)
from plant.process.trace_judging.findings import in_seconds
from plant.process.units import UnitError
from records.flow.held_spans import held_between
from records.ledger.actions import WATCH, Act, act
from records.ledger.models import Entry
from records.people.plans import InForce, versions_between
from records.traces import findings, sources
from records.traces.circumstances import Case, pasteurizer_case, runs_of, tank_cases, traced_at
from records.traces.findings import Found, control_point_of
from records.traces.models import TraceBlock, TraceJudged
from records.traces.off import off_at, parts
from records.workshop.doubt import OffTime

PASTEURIZER = "pasteurizer"
MOMENT = timedelta(milliseconds=1)


@dataclass(frozen=True, slots=True)
class Came:
    """What a judgement of one place came to: findings, and seconds by verdict."""

    found: list[Found]
    counted: dict[str, str]


def judge_instruments(instruments: Sequence[str], start: datetime, end: datetime) -> None:
    """Judge every place that these instruments are traced at, from start until end."""
    for in_force, since, until in versions_between(start, end + MOMENT):
        for place in places_of(instruments, in_force):
            _judge(place, since, min(until, end), in_force)


def judge_place(place: str, start: datetime, end: datetime) -> None:
    """Judge all traces of a place in [start, end] by the plan then in force; open or extend deviations, once.

    Safe to run again, and at the same time in two processes: what stands adds nothing. Only what samples reach is
    judged: before the first and after the last of a place nothing is said here.
    """
    for in_force, since, until in versions_between(start, end + MOMENT):
        _judge(place, since, min(until, end), in_force)


def places_of(instruments: Iterable[str], in_force: InForce) -> list[str]:
    """The places that the plan traces with these instruments."""
    wanted = set(instruments)
    return list(dict.fromkeys(one.place for one in in_force.plan.traced if one.key in wanted))


def _judge(place: str, start: datetime, end: datetime, in_force: InForce) -> None:
    rows = traced_at(place, in_force)
    window = _window(place, rows, start, end, in_force)
    if window is None:
        return
    start, end, sealed = window
    vessel = next((one for one in in_force.plan.vessels if one.code == place), None)
    knew = _newest()
    came = came_of(place, vessel, start, end, in_force)
    with act(WATCH) as a, in_force.speaking():
        # Judged from what was read before the lock; what came since is an entry of its own, and judged after it. Unless
        # somebody judged the place meanwhile: then theirs may know more, and it is judged again under the lock.
        if TraceJudged.objects.filter(place=place, number__gt=knew).exists():
            knew = _newest()
            came = came_of(place, vessel, start, end, in_force)
        written = findings.keep(a, place, came.found, start, end, in_force, live=not sealed)
        if sealed:
            _note(a, place, start, end, in_force, came, written.stand, knew)


def _newest() -> int:
    """The number of the ledger's newest entry."""
    return Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0


def came_of(place: str, vessel: VesselDef | None, start: datetime, end: datetime, in_force: InForce) -> Came:
    """What the traces of a place come to in [start, end]; writes nothing."""
    rows = traced_at(place, in_force)
    off = off_at(place, rows, start, end, in_force)
    found: list[Found] = []
    seconds: dict[str, Decimal] = {}
    for case in _cases(place, vessel, start, end, off, in_force):
        fallback = _main(case, rows)
        try:
            judged = _judged(case)
        except (CalculationError, UnitError) as error:
            found.append(Found(_not_judged(case, error), fallback))
            continue
        for one in grouped(judged.findings):
            found.append(Found(_with_calibration(one, case), control_point_of(one, case.rows, fallback)))
        for name, count in _seconds(judged).items():
            seconds[name] = seconds.get(name, Decimal(0)) + count
    return Came(found, {name: f"{count:f}" for name, count in seconds.items() if count})


def _cases(
    place: str,
    vessel: VesselDef | None,
    start: datetime,
    end: datetime,
    off: Sequence[OffTime],
    in_force: InForce,
) -> Iterator[Case]:
    """The traces of a place, in parts where an instrument was found off: each part with the errors of its own time."""
    is_press = vessel is not None and vessel.kind == PASTEURIZER
    if is_press and not _has_press_rows(traced_at(place, in_force)):
        return
    for since, until in parts(off, start, end):
        then = [one for one in off if one.touches(since, until)]
        if is_press:
            yield pasteurizer_case(place, since, until, in_force, then)
        else:
            yield from tank_cases(place, since, until, in_force, then)


def _with_calibration(one: Finding, case: Case) -> Finding:
    """What is not met says that its instrument was found off, so that a stranger can follow the number."""
    off = [off for off in case.off if off.instrument == one.channel]
    if not off or one.outcome is not Outcome.NOT_MET:
        return one
    sentence = say(
        "%(sentence)s The calibration in entry %(entry)s found the instrument off; the worst of as recorded and "
        "corrected counts.",
        sentence=one.sentence,
        entry=", ".join(str(one.number) for one in off),
    )
    return replace(one, sentence=sentence)


def _not_judged(case: Case, error: CalculationError | UnitError) -> Finding:
    """What cannot be judged as it is recorded is not proven, with the reason, and never passed over."""
    why = error.sentence if isinstance(error, CalculationError) else str(error)
    return Finding(
        kind=Kind.LIMIT,
        cause=Cause.NOT_CHECKED,
        outcome=Outcome.NOT_PROVEN,
        start_ms=case.trace.start_ms,
        end_ms=case.trace.end_ms,
        seconds=in_seconds(case.trace.end_ms - case.trace.start_ms),
        channel="",
        extreme=None,
        unit="",
        rule="",
        clause="",
        basis="",
        sentence=say("It cannot be judged as it is recorded: %(why)s.", why=why),
        lots=tuple(dict.fromkeys(one.lot for one in case.trace.bands if one.lot)),
    )


def _judged(case: Case) -> Judgement | TankJudgement:
    if isinstance(case.trace, PasteurizerTrace):
        return judge_pasteurizer(case.trace)
    return judge_tank(case.trace)


def _seconds(judged: Judgement | TankJudgement) -> dict[str, Decimal]:
    """Seconds that were judged, by verdict, the best first."""
    if isinstance(judged, Judgement):
        return {one.value: judged.seconds(one) for one in reversed(SEVERITY)}
    return {Outcome.MET.value: judged.met_s, "not met or not proven": judged.held_s - judged.met_s}


def _has_press_rows(rows: Sequence[TracedDef]) -> bool:
    return any(one.what in ("hold temperature", "forward flow") for one in rows)


def _main(case: Case, rows: Sequence[TracedDef]) -> str:
    named = {one.what: one for one in case.rows.values()}
    one = named.get("hold temperature") or named.get("forward flow") or rows[0]
    return one.control_point


def _window(
    place: str, rows: Sequence[TracedDef], start: datetime, end: datetime, in_force: InForce
) -> tuple[datetime, datetime, bool] | None:
    """What is judged when [start, end] changed: whole runs and whole findings, as far as samples reach.

    The last says whether all of it lies in blocks. None where nothing is recorded.
    """
    keys = [one.key for one in rows]
    for one in findings.standing_rows(start, end, [place]):
        start, end = min(start, one.start_at), max(end, one.end_at)
    start, end = _with_cooling(place, rows, start, end, in_force)
    for since, until in runs_of(held_between(place, start, end, in_force)) if _has_press_rows(rows) else []:
        start, end = min(start, since), max(end, until or end)
    held = TraceBlock.objects.filter(instrument__in=keys, first_at__lte=end, last_at__gte=start).aggregate(
        first=Min("first_at"), last=Max("last_at")
    )
    first, last, sealed = held["first"], held["last"], True
    staged = sources.staged_span(keys, start, end)
    if staged is not None:
        sealed = False
        first = staged[0] if first is None else min(first, staged[0])
        last = staged[1] if last is None else max(last, staged[1])
    if first is None or last is None:
        return None
    since, until = max(start, first), min(end, last)
    # A run may go on under the next version: each judges its own part.
    mine = [
        (one, other)
        for version, one, other in versions_between(since, until + MOMENT)
        if version.number == in_force.number
    ]
    if not mine:
        return None
    return max(since, mine[0][0]), min(until, mine[-1][1]), sealed


def _with_cooling(
    place: str, rows: Sequence[TracedDef], start: datetime, end: datetime, in_force: InForce
) -> tuple[datetime, datetime]:
    """What was poured in has its time to cool: all of it is judged, however little of it changed."""
    cooling = timedelta(minutes=max((one.cool_min for one in rows), default=0))
    if not cooling:
        return start, end
    since, until = start, end
    for fill in held_between(place, start - cooling, end, in_force).fills:
        done = end if fill.end is None else fill.end
        if fill.start <= end and done + cooling >= start:
            since, until = min(since, fill.start), max(until, done + cooling)
    return since, until


def _note(
    a: Act,
    place: str,
    start: datetime,
    end: datetime,
    in_force: InForce,
    came: Came,
    stand: list[int],
    knew: int,
) -> None:
    """The record that this was judged, unless the last one of the same time says the same."""
    last = (
        TraceJudged.objects.filter(place=place, start_at__lte=end, end_at__gte=start).order_by("-number").first()
    )
    same = last is not None and (last.start_at, last.end_at, last.plan_number, last.counted, last.found) == (
        start, end, in_force.number, came.counted, sorted(stand)
    )  # fmt: skip
    if same:
        return
    a.write(
        TraceJudged(
            place=place,
            place_name=in_force.names.get(place, place),
            start_at=start,
            end_at=end,
            plan_number=in_force.number,
            plan_hash=in_force.content_hash,
            knew=knew,
            counted=came.counted,
            found=sorted(stand),
        ),
        observed_at=end,
    )


__all__ = ["came_of", "judge_instruments", "judge_place", "places_of"]
