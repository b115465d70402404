"""What is due, in what state, and what answered it: computed from the plan, the facts and a moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, QuerySet

from plant.hazard_plan.content import ControlPointDef, MonitoringDef
from plant.process.schedule import Due, Facts, Holding, Planned, State, expand, state, walk_sort
from records.checks import outages
from records.checks.models import Reading
from records.checks.rechecks import PREFIX, rechecks
from records.flow.queries import facts_between
from records.people.plans import InForce, plan_in_force, versions_between

# A check is looked for this long after its due time, unless its own 'missed after' reaches further.
ORDINARY_REACH = timedelta(days=2)
# Facts are asked for from so long before: what began then may still make something due.
LOOK_BACK = timedelta(days=8)


@dataclass(frozen=True, slots=True)
class DueCheck:
    """One due check with its answer (the governing amendment of the first reading in its window) and state."""

    due: Due
    monitoring: MonitoringDef
    in_force: InForce
    state: State
    reading: Reading | None = None
    more: tuple[Reading, ...] = ()  # later readings of the same check, and amended ones
    answered_at: datetime | None = None

    @property
    def control_point(self) -> ControlPointDef:
        return self.in_force.plan.control_point_by_key(self.monitoring.control_point)

    @property
    def is_ccp(self) -> bool:
        return self.control_point.kind == "ccp"

    @property
    def subject_name(self) -> str:
        return self.in_force.names.get(self.due.subject, self.due.subject)

    @property
    def key(self) -> str:
        return due_key(self.due)


def due_key(due: Due) -> str:
    """monitoring|subject|event|due time in UTC: the name of a due check everywhere."""
    return f"{due.key}|{due.subject}|{due.event}|{due.due_at:%Y-%m-%dT%H:%M:%S.%fZ}"


def places_to_walk(in_force: InForce) -> list[str]:
    """The codes of every place, in the order one walks the plant."""
    vessels = [(one.walk_order, one.code) for one in in_force.plan.vessels]
    return [code for _, code in sorted([*vessels, *((one.walk_order, one.code) for one in in_force.plan.equipment)])]


@dataclass(slots=True)
class _Answers:
    """Readings of one monitoring key and subject: governing rows by their due time, and those without one."""

    by_due: dict[tuple[str, datetime], list[Reading]] = field(default_factory=lambda: defaultdict(list))
    loose: list[Reading] = field(default_factory=list)


def reach_of(planned: Planned) -> timedelta:
    """How long after its due time a check can still become missed."""
    kind, _, number = planned.timing.missed_after.partition(":")
    own = timedelta(**{kind: int(number)}) if number else timedelta()
    return max(ORDINARY_REACH, own + timedelta(minutes=planned.timing.grace_min) + timedelta(days=1))


def due_between(start: datetime, end: datetime, now: datetime, *, keys: Iterable[str] | None = None) -> list[DueCheck]:
    """Every check due in [start, end), judged by the version in force at its due time, with its state at `now`."""
    wanted = None if keys is None else frozenset(keys)
    dues, parts, facts = _expanded(start, end, wanted)
    found = _with_answers(dues, start, end, now) + _rechecks(parts, facts.holdings, wanted, now)
    return found + _after_outages(parts, facts, wanted, now)


Parts = Sequence[tuple[InForce, datetime, datetime]]


def _expanded(
    start: datetime, end: datetime, wanted: Collection[str] | None
) -> tuple[list[tuple[InForce, Due]], Parts, Facts]:
    parts = versions_between(start, end)
    facts = facts_between(start - LOOK_BACK, end) if parts else Facts()
    dues: list[tuple[InForce, Due]] = []
    for in_force, since, until in parts:
        planned = [one for one in in_force.planned if wanted is None or one.key in wanted]
        dues += [(in_force, due) for due in expand(planned, in_force.calendar, facts, since, until)]
    return dues, parts, facts


def _rechecks(
    parts: Parts,
    holdings: Sequence[Holding],
    wanted: frozenset[str] | None,
    now: datetime,
) -> list[DueCheck]:
    asked = {key for part, _, _ in parts for key in (one.key for one in part.plan.monitoring if one.recheck_min)}
    asked = asked if wanted is None else asked & wanted
    if not asked or not parts:
        return []
    since, until = parts[0][1] - ORDINARY_REACH, parts[-1][2]
    rows = governing(Reading.objects.filter(monitoring_key__in=asked, observed_at__gte=since, observed_at__lt=until))
    found = []
    for in_force, start, end in parts:
        for due, answered, reading in rechecks(rows, in_force, holdings, start, end, asked):
            monitoring = in_force.plan.monitoring_by_key(due.key)
            assert monitoring is not None  # rechecks come from this plan
            found.append(DueCheck(due, monitoring, in_force, state(due, answered, now), reading, (), answered))
    return found


def _after_outages(
    parts: Parts, facts: Facts, wanted: Collection[str] | None, now: datetime
) -> list[DueCheck]:
    asked = [
        (in_force, monitoring, due)
        for in_force, start, end in parts
        for monitoring, due in outages.asked_after(in_force, facts, start, end, wanted)
    ]
    if not asked:
        return []
    since, keys = min(due.opens_at for _, _, due in asked), {due.key for _, _, due in asked}
    rows = governing(Reading.objects.filter(monitoring_key__in=keys, observed_at__gte=since))
    found = []
    for in_force, monitoring, due in asked:
        reading = outages.answer_of(due, rows)
        answered = reading.observed_at if reading else None
        found.append(DueCheck(due, monitoring, in_force, state(due, answered, now), reading, (), answered))
    return found


def unsettled(now: datetime) -> list[DueCheck]:
    """Every check that could be due, late or newly missed at `now`, however long its own patience is."""
    in_force = plan_in_force(now)
    if in_force is None:
        return []
    groups: dict[timedelta, list[str]] = defaultdict(list)
    ahead = max((timedelta(minutes=one.timing.early_min) for one in in_force.planned), default=timedelta())
    for one in in_force.planned:
        groups[reach_of(one)].append(one.key)
    found: list[DueCheck] = []
    for reach, keys in groups.items():
        found += due_between(now - reach, now + ahead + timedelta(minutes=1), now, keys=set(keys))
    return found


def round_at(now: datetime) -> list[DueCheck]:
    """What an operator can answer now, in walking order; a critical check near the end of its grace comes first."""
    waiting = [one for one in unsettled(now) if one.state in ("due", "late")]
    return in_walking_order(waiting, now)


def in_walking_order(checks: Sequence[DueCheck], now: datetime) -> list[DueCheck]:
    """The order in which one walks the plant."""
    in_force = plan_in_force(now)
    if in_force is None:
        return list(checks)
    critical = {one.monitoring.key for one in checks if one.is_ccp}
    by_due = {one.due: one for one in checks}
    return [by_due[due] for due in walk_sort(by_due, places_to_walk(in_force), critical, now)]


def _with_answers(
    dues: list[tuple[InForce, Due]], start: datetime, end: datetime, now: datetime
) -> list[DueCheck]:
    if not dues:
        return []
    opens = min(due.opens_at for _, due in dues)
    answers = _answers(opens, min(start, opens), {due.key for _, due in dues})
    exact = {due: answers[due.key, due.subject].by_due.get((due.event, due.due_at), []) for _, due in dues}
    loose = _loose_readings(exact, answers, start, end)
    checks = []
    for in_force, due in dues:
        readings = exact[due] or _take_loose(due, loose[due.key, due.subject])
        monitoring = in_force.plan.monitoring_by_key(due.key)
        assert monitoring is not None  # the due check was expanded from this plan
        timed = [one for one in readings if one.observed_at >= due.opens_at]
        first = min(timed, key=lambda one: (one.observed_at, one.number), default=None)
        answered = first.observed_at if first else None
        more = tuple(one for one in readings if one is not first)
        checks.append(DueCheck(due, monitoring, in_force, state(due, answered, now), first, more, answered))
    return checks


def _take_loose(due: Due, waiting: list[Reading]) -> list[Reading]:
    """A reading taken for no due check, or for one that the facts have since moved, answers the check it falls into."""
    for reading in waiting:
        if due.opens_at <= reading.observed_at < due.missed_at:
            waiting.remove(reading)
            return [reading]
    return []


def _loose_readings(
    exact: dict[Due, list[Reading]], answers: dict[tuple[str, str], _Answers], start: datetime, end: datetime
) -> dict[tuple[str, str], list[Reading]]:
    """By key and subject, oldest first: what names no due check, or one that is due no more; re-checks are none."""
    used = {one.number for rows in exact.values() for one in rows}
    moved: list[Reading] = []
    elsewhere: list[Reading] = []
    for mine in answers.values():
        for (event, due_at), rows in mine.by_due.items():
            if event.startswith((PREFIX, outages.PREFIX)) or rows[0].number in used:
                continue
            (moved if start <= due_at < end else elsewhere).extend(rows)
    open_at = [due for due, rows in exact.items() if not rows]
    near = [one for one in elsewhere if any(_falls_into(one, due) for due in open_at)]
    moved += [one for one in near if one.number not in _still_due(near)] if near else []
    found: dict[tuple[str, str], list[Reading]] = defaultdict(list)
    for place, mine in answers.items():
        found[place] += mine.loose
    for one in moved:
        found[one.monitoring_key, one.subject].append(one)
    for waiting in found.values():
        waiting.sort(key=lambda one: (one.observed_at, one.number))
    return found


def _falls_into(reading: Reading, due: Due) -> bool:
    same = (reading.monitoring_key, reading.subject) == (due.key, due.subject)
    return same and due.opens_at <= reading.observed_at < due.missed_at


def _still_due(readings: Sequence[Reading]) -> set[int]:
    """The readings whose own check, outside the window asked for, is due as ever."""
    moments = [one.due_at for one in readings if one.due_at is not None]
    start, end = min(moments), max(moments) + timedelta(microseconds=1)
    keys = {one.monitoring_key for one in readings}
    due = {(one.key, one.subject, one.event, one.due_at) for _, one in _expanded(start, end, keys)[0]}
    return {one.number for one in readings if (one.monitoring_key, one.subject, one.event, one.due_at) in due}


def _answers(
    observed_from: datetime, due_from: datetime, keys: Collection[str]
) -> dict[tuple[str, str], _Answers]:
    of_keys = Reading.objects.filter(monitoring_key__in=keys)
    rows = governing(of_keys.filter(observed_at__gte=observed_from).order_by("number"))
    late = governing(of_keys.filter(due_at__gte=due_from, observed_at__lt=observed_from).order_by("number"))
    found: dict[tuple[str, str], _Answers] = defaultdict(_Answers)
    for reading in (*rows, *late):
        mine = found[reading.monitoring_key, reading.subject]
        if reading.due_at is None:
            mine.loose.append(reading)
        else:
            mine.by_due[reading.event, reading.due_at].append(reading)
    return found


def governing(readings: QuerySet[Reading]) -> list[Reading]:
    """Only the last of each line of amendments, in the order given (by time when none is)."""
    ordered = readings if readings.query.order_by else readings.order_by("observed_at", "number")
    return list(ordered.exclude(Exists(Reading.objects.filter(amends=OuterRef("number")))))


def last_readings(monitoring_key: str, subject: str, before: datetime, count: int = 3) -> list[Reading]:
    """The last governing readings of a check with a value, newest first."""
    rows = Reading.objects.filter(monitoring_key=monitoring_key, subject=subject, observed_at__lt=before)
    kept = rows.exclude(value=None).exclude(Exists(Reading.objects.filter(amends=OuterRef("number"))))
    return list(kept.order_by("-observed_at", "-number")[:count])


def superseded(reading: Reading) -> Reading | None:
    """The amendment that stands in a reading's place, if any: the last of its line."""
    newest = None
    following = Reading.objects.filter(amends=reading.number).first()
    while following is not None:
        newest, following = following, Reading.objects.filter(amends=following.number).first()
    return newest
