"""What is due, and in what state: (frequency, facts, plant calendar, window) to due checks."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from plant.process.facts import Event, Facts, Holding, NoProduction, Run
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
from plant.process.occurrences import History, Moment, moments
from plant.process.plant_calendar import (
    Closure,
    PlantCalendar,
    RepeatedClosure,
    Shift,
    ShiftInstance,
    shift_at,
)

__all__ = [
    "AfterEvent",
    "BeforeUse",
    "Calendar",
    "Closure",
    "Due",
    "DuringRun",
    "EachEvent",
    "EachShift",
    "Event",
    "Facts",
    "Frequency",
    "Holding",
    "NoProduction",
    "Planned",
    "PlantCalendar",
    "RepeatedClosure",
    "Run",
    "RunEnds",
    "Shift",
    "ShiftInstance",
    "State",
    "Timing",
    "WhileHolding",
    "expand",
    "first_answer",
    "state",
    "walk_sort",
]

State = Literal["not yet", "due", "late", "missed", "on time", "answered late", "answered after missed"]

MISSED_AFTER = ("next due or shift end", "next due", "shift end", "day end", "run end", "use")
MISSED_AFTER_LENGTHS = ("minutes", "hours", "days")


@dataclass(frozen=True, slots=True)
class Timing:
    """How early and how late a reading still answers in time, and when the check counts as missed.

    `missed_after` is one of "next due or shift end" (whichever is first), "next due", "shift end", "day end",
    "run end", "use", or "minutes:N", "hours:N", "days:N" after the due time. A gate is always missed at the
    use. Where no next due time is known the shift's end stands in for it; outside every shift the plant day's
    end stands in for the shift's; a run that is still on is missed at the plant day's end. Missed is never
    before the grace ends.
    """

    early_min: int = 0
    grace_min: int = 0
    missed_after: str = "next due or shift end"

    def __post_init__(self) -> None:
        if self.early_min < 0 or self.grace_min < 0:
            raise ValueError("early_min and grace_min must not be below zero")
        kind, _, number = self.missed_after.partition(":")
        if self.missed_after not in MISSED_AFTER and not (
            kind in MISSED_AFTER_LENGTHS and number.isascii() and number.isdigit()
        ):
            known = ", ".join((*MISSED_AFTER, *(f"{kind}:N" for kind in MISSED_AFTER_LENGTHS)))
            raise ValueError(f"missed after '{self.missed_after}' is not known; use one of {known}")


@dataclass(frozen=True, slots=True)
class Planned:
    """One check of the plan at one subject (a vessel, a line, an instrument; "" for the whole plant).

    `key` is the monitoring key that stays the same across plan versions. `vessel_check` marks a check that is
    due only while the vessel holds product, and then also on closed days.
    """

    key: str
    subject: str
    frequency: Frequency
    timing: Timing = Timing()
    vessel_check: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """One due check.

    Key, subject, event and due time identify it; the rest are the moments that decide its state.
    """

    key: str
    subject: str
    event: str
    due_at: datetime
    opens_at: datetime
    late_after: datetime
    missed_at: datetime
    shift: str | None


def expand(
    planned: Iterable[Planned],
    calendar: PlantCalendar,
    facts: Facts,
    window_start: datetime,
    window_end: datetime,
) -> list[Due]:
    """Every check that falls due in [window_start, window_end), sorted by due time, key, subject and event.

    The same facts give the same list however the window is cut: joining the lists of adjoining windows gives
    that of the whole. A vessel check is due only while its vessel holds product, on closed days too.
    """
    if window_end <= window_start:
        return []
    history = History(calendar, facts)
    shifts = calendar.shift_instances(window_start, window_end)
    found: dict[tuple[datetime, str, str, str], Due] = {}
    for one in planned:
        for moment in moments(one.frequency, one.subject, one.vessel_check, history, window_start, window_end):
            due = _due(one, moment, calendar, shifts)
            found.setdefault((due.due_at, due.key, due.subject, due.event), due)
    return [found[identity] for identity in sorted(found)]


def state(due: Due, answered_at: datetime | None, now: datetime) -> State:
    """The state of a due check at `now`.

    `answered_at` is the observed time of the first reading that answers it.

    A reading before the window opens answers nothing. The grace's last moment is still on time, and the
    moment of missing itself is missed.
    """
    if answered_at is not None and answered_at >= due.opens_at:
        if answered_at <= due.late_after:
            return "on time"
        return "answered late" if answered_at < due.missed_at else "answered after missed"
    if now < due.opens_at:
        return "not yet"
    if now >= due.missed_at:
        return "missed"
    return "due" if now <= due.late_after else "late"


def first_answer(due: Due, observed: Iterable[datetime]) -> datetime | None:
    """The earliest of the observed times that can answer a due check: the first since its window opened."""
    return min((at for at in observed if at >= due.opens_at), default=None)


def walk_sort(
    dues: Iterable[Due],
    walk_order: Sequence[str],
    critical_keys: Collection[str],
    now: datetime,
    near_min: int = 10,
) -> list[Due]:
    """Due checks in the order to walk them: by `walk_order` of their subjects, unknown subjects last.

    A critical check whose grace ends within `near_min` minutes, or has ended, comes before all others.
    """
    place = {subject: number for number, subject in enumerate(walk_order)}
    near = now + timedelta(minutes=near_min)

    def rank(due: Due) -> tuple[bool, datetime, int, datetime, str, str]:
        urgent = due.key in critical_keys and due.late_after <= near
        walk = place.get(due.subject, len(place))
        return not urgent, due.late_after if urgent else now, walk, due.due_at, due.key, due.event

    return sorted(dues, key=rank)


def _due(one: Planned, moment: Moment, calendar: PlantCalendar, shifts: Sequence[ShiftInstance]) -> Due:
    shift = shift_at(shifts, moment.at)
    shift_key = moment.shift or (shift.key if shift else None)
    if isinstance(one.frequency, BeforeUse):
        opens_at = moment.at - timedelta(minutes=one.frequency.valid_min)
        return Due(one.key, moment.subject, moment.event, moment.at, opens_at, moment.at, moment.at, shift_key)
    opens_at = moment.at - timedelta(minutes=one.timing.early_min)
    late_after = moment.at + timedelta(minutes=one.timing.grace_min)
    missed_at = max(late_after, _missed_at(one.timing.missed_after, moment, calendar, shift))
    return Due(one.key, moment.subject, moment.event, moment.at, opens_at, late_after, missed_at, shift_key)


def _missed_at(rule: str, moment: Moment, calendar: PlantCalendar, shift: ShiftInstance | None) -> datetime:
    kind, _, number = rule.partition(":")
    if number:
        return moment.at + timedelta(**{kind: int(number)})
    day_end = calendar.day_bounds(calendar.plant_day(moment.at))[1]
    shift_end = shift.end_at if shift else day_end
    if rule == "next due or shift end":
        return min(shift_end, moment.next_at or shift_end)
    if rule == "next due":
        return moment.next_at or shift_end
    if rule == "shift end":
        return shift_end
    if rule == "run end":
        return min(day_end, moment.run_end or day_end)
    return moment.at if rule == "use" else day_end
