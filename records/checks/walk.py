"""The walk of a round: this shift's checks in walking order, done, due, late and missed, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.process.plant_calendar import ShiftInstance, shift_at
from records.checks import queries, saying
from records.checks.asking import of_check, what_words
from records.checks.models import Reading
from records.checks.queries import DueCheck
from records.checks.rechecks import PREFIX
from records.judging import queries as verdicts
from records.judging.models import Verdict
from records.people.plans import InForce

DONE = ("on time", "answered late")
OPEN = ("due", "late")
MISSED = ("missed", "answered after missed")
URGENT = timedelta(minutes=10)
# A re-check is asked for when the plan's minutes have passed, not in the same round; it may be read before.
AGAIN_BEFORE = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop: `state` is due, done, late or missed, as its square; `outcome` the verdict of what was read."""

    name: str
    what: str
    note: str
    state: str
    url: str
    outcome: str
    check: DueCheck


@dataclass(frozen=True, slots=True)
class Walk:
    """What the round's page shows at its left, and which checks wait."""

    shift: ShiftInstance | None
    stops: list[Stop]
    waiting: list[DueCheck]  # in walking order, an urgent one first
    others: int  # waiting checks that are another role's
    coming: list[DueCheck]

    @property
    def done(self) -> int:
        return sum(one.state == "done" for one in self.stops)

    @property
    def late(self) -> int:
        return sum(one.state == "late" for one in self.stops)

    @property
    def missed(self) -> int:
        return sum(one.state == "missed" for one in self.stops)


def shift_of(in_force: InForce, now: datetime) -> ShiftInstance | None:
    """The shift at work at a moment, if any."""
    around = in_force.calendar.shift_instances(now - timedelta(minutes=1), now + timedelta(minutes=1))
    return shift_at(around, now)


def walk_at(now: datetime, in_force: InForce, roles: frozenset[str]) -> Walk:
    """The walk for people of these roles. A supervisor walks everything; others what the plan gives their role."""
    shift = shift_of(in_force, now)
    since = shift.start_at if shift else in_force.calendar.day_bounds(in_force.calendar.plant_day(now))[0]
    every = queries.unsettled(now)
    mine = [one for one in every if is_for(one, roles)]
    shown = [one for one in mine if _is_of_now(one, since)]
    ordered = _by_place(shown, in_force)
    judged = verdicts.governing(Reading.KIND, [one.reading.number for one in ordered if one.reading])
    stops = [_stop(one, now, _outcome(one, judged)) for one in ordered]
    waiting = queries.in_walking_order([one for one in ordered if _waits(one, now)], now)
    others = sum(_waits(one, now) for one in every) - len(waiting)
    coming = sorted(
        (one for one in mine if one.state in ("not yet", *OPEN) and not _waits(one, now)),
        key=lambda one: one.due.due_at,
    )
    return Walk(shift, stops, waiting, others, coming[:4])


def is_for(check: DueCheck, roles: frozenset[str]) -> bool:
    """Whether a check is on these people's walk."""
    return bool({"supervisor", "qualified individual", check.monitoring.role} & roles)


def next_check(walk: Walk, after: Reading | None, now: datetime) -> DueCheck | None:
    """The check to ask now: an urgent one, else the next one on the way after the last reading, else the first."""
    if not walk.waiting:
        return None
    first = walk.waiting[0]
    if after is None or (first.is_ccp and first.due.late_after <= now + URGENT):
        return first
    here = [at for at, one in enumerate(walk.stops) if one.check.reading and one.check.reading.number == after.number]
    onward = walk.stops[here[-1] + 1 :] if here else []
    return next((one.check for one in onward if _waits(one.check, now)), first)


def _is_again(check: DueCheck) -> bool:
    return check.due.event.startswith(PREFIX)


def _waits(check: DueCheck, now: datetime) -> bool:
    """Whether the round asks for it now."""
    return check.state in OPEN and not (_is_again(check) and check.due.due_at - now > AGAIN_BEFORE)


def _by_place(checks: list[DueCheck], in_force: InForce) -> list[DueCheck]:
    place = {code: at for at, code in enumerate(queries.places_to_walk(in_force))}
    return sorted(
        checks, key=lambda one: (place.get(one.due.subject, len(place)), one.due.due_at, one.due.key, one.due.event)
    )


def _is_of_now(check: DueCheck, since: datetime) -> bool:
    if check.state in OPEN:
        return True
    if check.reading is not None and check.reading.observed_at >= since:
        return True
    return check.state in MISSED and check.due.missed_at >= since


def _outcome(check: DueCheck, judged: dict[int, Verdict]) -> str:
    verdict = judged.get(check.reading.number) if check.reading else None
    return verdict.outcome if verdict else ""


def _stop(check: DueCheck, now: datetime, outcome: str) -> Stop:
    asking, reading = of_check(check), check.reading
    local = check.in_force.calendar.local
    state = "missed" if check.state in MISSED else ("done" if check.state in DONE else check.state)
    if reading is not None:
        note = _("%(value)s at %(time)s") % {
            "value": saying.value_words(reading),
            "time": saying.clock_words(local(reading.observed_at), local(now)),
        }
        if check.state == "answered late":
            note = _("%(note)s, late") % {"note": note}
        if state == "missed":
            note = _("missed, due %(due)s; then %(note)s") % {"due": f"{local(check.due.due_at):%H:%M}", "note": note}
        url = reverse("records:reading", args=[reading.number])
    else:
        note = saying.since_due(asking, now)
        if _is_again(check):
            note = _("again, %(due)s") % {"due": note}
        if state == "missed":
            note = _("missed, due %(due)s") % {"due": saying.clock_words(local(check.due.due_at), local(now))}
        url = reverse("records:round-check", args=[check.key])
    return Stop(asking.subject_name, what_words(check.monitoring), note, state, url, outcome, check)
