"""The moments at which one planned check falls due, kind by kind; `schedule` adds their windows."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from typing import TypeVar

from plant.process.facts import Event, Facts, Holding, Run
from plant.process.frequencies import (
    AfterEvent,
    BeforeUse,
    Calendar,
    DuringRun,
    EachEvent,
    EachShift,
    Frequency,
    RunEnds,
    WhileHolding,
)
from plant.process.plant_calendar import (
    DAY,
    PlantCalendar,
    ShiftInstance,
    clock,
    elapsed,
    parse_rule,
)

# Looking further ahead for "the next due time" than this would make one answer depend on a far future.
LOOK_AHEAD = timedelta(days=8)
FAR = datetime.max.replace(tzinfo=UTC)
OCCURRENCES_TRIED = 400  # of a calendar rule whose next dates all fall on closed days


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """A due time and what it belongs to.

    `next_at` is the next due time of the same run, fill or rule, if known.
    """

    at: datetime
    subject: str
    event: str
    shift: str | None = None
    next_at: datetime | None = field(default=None, compare=False)
    run_end: datetime | None = field(default=None, compare=False)


def offset_in_shift(text: str, shift: ShiftInstance, calendar: PlantCalendar) -> datetime | None:
    """The moment that one entry of `EachShift.at` names in a shift; None if its clock time is outside.

    On the night that a clock change makes an hour shorter, an offset beyond the shift stays at its edge: a
    check never vanishes for that.
    """
    if text.startswith("+"):
        return min(shift.start_at + elapsed(text[1:]), shift.end_at)
    if text.startswith("-"):
        return max(shift.end_at - elapsed(text[1:]), shift.start_at)
    day = calendar.local(shift.start_at).date()
    both = [calendar.utc(day, clock(text)), calendar.utc(day + DAY, clock(text))]
    return next((one for one in both if shift.start_at <= one < shift.end_at), None)


class History:
    """Facts arranged for look-up: holdings, runs and events by subject, and the plant's shifts day by day."""

    def __init__(self, calendar: PlantCalendar, facts: Facts) -> None:
        self.calendar = calendar
        self.holdings = _by_subject(facts.holdings)
        self.runs = _by_subject(facts.runs)
        self.events = facts.events
        self._signed_off = {(one.shift, one.plant_day) for one in facts.no_production}
        self._since = {key: [one.since for one in ordered] for key, ordered in self.holdings.items()}
        self._until = {key: list(accumulate(map(_until, ordered), max)) for key, ordered in self.holdings.items()}

    def holding_at(self, subject: str, moment: datetime) -> bool:
        """Whether the vessel held product at a moment; a holding includes its start and not its end."""
        begun = bisect_right(self._since.get(subject, []), moment)
        return begun > 0 and moment < self._until[subject][begun - 1]

    def idle(self, shift: ShiftInstance) -> bool:
        """Whether a shift is closed by the plan or signed as without production."""
        day = shift.plant_day
        return shift.closed or (None, day) in self._signed_off or (shift.key, day) in self._signed_off

    def idle_on(self, moment: datetime) -> bool:
        """Whether the plant day of a moment has no shift with production."""
        return all(self.idle(one) for one in self.calendar.day_shifts(self.calendar.plant_day(moment)))


def moments(
    frequency: Frequency, subject: str, vessel_check: bool, history: History, start: datetime, end: datetime
) -> list[Moment]:
    """The due moments in [start, end), sorted and without duplicates."""
    if isinstance(frequency, EachShift):
        found = _each_shift(frequency, subject, vessel_check, history, start, end)
    elif isinstance(frequency, WhileHolding):
        found = _while_holding(frequency, history.holdings.get(subject, []), start, end)
    elif isinstance(frequency, BeforeUse):
        found = _before_use(subject, history)
    elif isinstance(frequency, DuringRun):
        found = _during_run(frequency, history.runs.get(subject, []), start, end)
    elif isinstance(frequency, RunEnds):
        found = _run_ends(frequency, history.runs.get(subject, []))
    elif isinstance(frequency, AfterEvent):
        found = _events(frequency.event, timedelta(minutes=frequency.minutes), subject, history.events)
    elif isinstance(frequency, EachEvent):
        found = _events(frequency.event, timedelta(0), subject, history.events)
    else:
        found = _calendar(frequency, subject, vessel_check, history, start, end)
    unique = {(one.at, one.subject, one.event): one for one in found if start <= one.at < end}
    return sorted(unique.values())


def _each_shift(
    frequency: EachShift, subject: str, vessel_check: bool, history: History, start: datetime, end: datetime
) -> Iterator[Moment]:
    found: dict[datetime, str] = {}
    # The end offset "-00:00" falls on the shift's end itself, so a shift that ends at `start` counts too.
    for shift in history.calendar.shift_instances(start - timedelta(minutes=1), end + LOOK_AHEAD):
        if frequency.shifts and shift.key not in frequency.shifts:
            continue
        if not vessel_check and history.idle(shift):
            continue
        for text in frequency.at:
            at = offset_in_shift(text, shift, history.calendar)
            if at is not None and (not vessel_check or history.holding_at(subject, at)):
                found.setdefault(at, shift.key)
    times = sorted(found)
    for at, following in zip(times, [*times[1:], None], strict=False):
        near = following if following is not None and following - at <= LOOK_AHEAD else None
        yield Moment(at, subject, "", found[at], near)


def _while_holding(
    frequency: WhileHolding, holdings: list[Holding], start: datetime, end: datetime
) -> Iterator[Moment]:
    for holding in holdings:
        first = holding.since + timedelta(minutes=frequency.first_min)
        step = timedelta(minutes=frequency.every_min)
        for at, following in _steps(first, step, holding.until, start, end):
            yield Moment(at, holding.subject, "", None, following)


def _before_use(subject: str, history: History) -> Iterator[Moment]:
    for holding in history.holdings.get(subject, []):
        yield Moment(holding.since, subject, "")
    for run in history.runs.get(subject, []):
        yield Moment(run.started_at, subject, run.id, run_end=run.ended_at)


def _during_run(frequency: DuringRun, runs: list[Run], start: datetime, end: datetime) -> Iterator[Moment]:
    for run in runs:
        counted = _unit_moments(run, frequency)
        step = timedelta(minutes=frequency.every_min) if frequency.every_min else None
        timed = _steps(run.started_at + step, step, run.ended_at, start, end) if step else ()
        for at in {*counted, *(at for at, _ in timed)}:
            later = counted[bisect_right(counted, at) :][:1]
            if step:
                following = run.started_at + ((at - run.started_at) // step + 1) * step
                later += [following] if run.ended_at is None or following < run.ended_at else []
            yield Moment(at, run.subject, run.id, None, min(later, default=None), run.ended_at)


def _unit_moments(run: Run, frequency: DuringRun) -> list[datetime]:
    """When a count first reached each multiple.

    Several multiples passed between two counts make one check due.
    """
    if frequency.every_units is None:
        return []
    reached, found = 0, []
    for at, count in sorted(run.units):
        multiple = int(count // frequency.every_units)
        if multiple > reached and (run.ended_at is None or at <= run.ended_at):
            reached = multiple
            found.append(at)
    return found


def _run_ends(frequency: RunEnds, runs: list[Run]) -> Iterator[Moment]:
    for run in runs:
        if frequency.first:
            yield Moment(run.started_at, run.subject, run.id, run_end=run.ended_at)
        if frequency.last and run.ended_at is not None:
            yield Moment(run.ended_at, run.subject, run.id, run_end=run.ended_at)


def _events(kind: str, delay: timedelta, subject: str, events: tuple[Event, ...]) -> Iterator[Moment]:
    for event in events:
        if event.kind == kind and subject in ("", event.subject):
            yield Moment(event.at + delay, event.subject, event.id)


def _calendar(
    frequency: Calendar, subject: str, vessel_check: bool, history: History, start: datetime, end: datetime
) -> Iterator[Moment]:
    calendar = history.calendar
    rule = parse_rule(frequency.rrule, datetime.combine(frequency.start, clock(frequency.at)))

    def counts(local: datetime) -> datetime | None:
        at = calendar.utc(local.date(), local.time())
        if vessel_check and not history.holding_at(subject, at):
            return None
        # A tank that holds milk is due on a closed day too.
        return None if frequency.closed == "skip" and not vessel_check and history.idle_on(at) else at

    # A day's margin on either side: local order and UTC order differ around clock changes.
    low = calendar.local(start).replace(tzinfo=None) - DAY
    high = calendar.local(end).replace(tzinfo=None) + DAY
    times = sorted({at for local in rule.between(low, high, inc=True) if (at := counts(local)) is not None})
    after = next((at for local in rule.xafter(high, count=OCCURRENCES_TRIED) if (at := counts(local))), None)
    for at, following in zip(times, [*times[1:], after], strict=False):
        yield Moment(at, subject, "", None, following)


def _steps(
    first: datetime, step: timedelta, until: datetime | None, start: datetime, end: datetime
) -> Iterator[tuple[datetime, datetime | None]]:
    """(moment, next moment or None) of an even series in [start, end), ended by `until`, which is not part of
    it.
    """
    number = max(0, -((first - start) // step))
    at = first + number * step
    while at < end and (until is None or at < until):
        following = at + step
        yield at, following if until is None or following < until else None
        at = following


def _until(holding: Holding) -> datetime:
    return FAR if holding.until is None else holding.until


Placed = TypeVar("Placed", Holding, Run)


def _by_subject(facts: tuple[Placed, ...]) -> dict[str, list[Placed]]:
    found: dict[str, list[Placed]] = {}
    for one in sorted(facts, key=_begun):
        found.setdefault(one.subject, []).append(one)
    return found


def _begun(fact: Holding | Run) -> tuple[datetime, datetime, str]:
    if isinstance(fact, Holding):
        return fact.since, _until(fact), ""
    return fact.started_at, fact.ended_at or FAR, fact.id
