"""The plant's shifts, days and closures, turned into UTC moments across clock changes.

A local time that a clock change skips moves forward by the length of the gap (02:30 on 8 March 2026 in
Chicago becomes 03:30); one that happens twice means its first pass. This is what RFC 5545 section 3.3.5 asks
for.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from dateutil.rrule import rrule, rrulestr
from dateutil.tz import datetime_exists

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
DAY = timedelta(days=1)
HOURS_MINUTES = re.compile("([0-9]{2}):([0-5][0-9])")
SHORTER_THAN_A_DAY = re.compile("FREQ=(HOURLY|MINUTELY|SECONDLY)", re.IGNORECASE)


def clock(text: str) -> time:
    """Read "HH:MM" (24 hours). Raises ValueError naming the text when it is none."""
    found = HOURS_MINUTES.fullmatch(text)
    if found is None or int(found[1]) > 23:
        raise ValueError(f"'{text}' is no time of day; write it as HH:MM, for example 06:30")
    return time(int(found[1]), int(found[2]))


def elapsed(text: str) -> timedelta:
    """Read "HH:MM" as a length of time, up to 99:59."""
    found = HOURS_MINUTES.fullmatch(text)
    if found is None:
        raise ValueError(f"'{text}' is no length of time; write it as HH:MM, for example 00:30")
    return timedelta(hours=int(found[1]), minutes=int(found[2]))


def to_utc(local: datetime, zone: ZoneInfo) -> datetime:
    """The UTC moment of a naive local time; skipped times move forward, repeated ones mean the first pass."""
    aware = local.replace(tzinfo=zone, fold=0)
    # With fold=0 a skipped time takes the offset from before the gap, so its UTC moment already lies
    # the gap's length further on.
    return aware.astimezone(UTC)


def skipped(local: datetime, zone: ZoneInfo) -> bool:
    """Whether a clock change leaves this naive local time out."""
    return not datetime_exists(local, zone)


@lru_cache(maxsize=512)
def parse_rule(text: str, start: datetime) -> rrule:
    """Parse one RFC 5545 RRULE counted from a naive local start. Raises ValueError with a sentence."""
    try:
        rule = rrulestr(text, dtstart=start, cache=True)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise ValueError(f"'{text}' is no recurrence rule of RFC 5545: {error}") from error
    if not isinstance(rule, rrule) or "DTSTART" in text.upper():
        raise ValueError(f"'{text}' must be one RRULE alone; its start is given beside it")
    if SHORTER_THAN_A_DAY.search(text):
        raise ValueError(f"'{text}' must repeat by day, week, month or year")
    return rule


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift in local clock times; one that ends at or before its start ends on the next date.

    `weekdays` are those of the plant day that the shift belongs to.
    """

    key: str
    name: str
    starts: str
    ends: str
    weekdays: tuple[str, ...] = WEEKDAYS

    def __post_init__(self) -> None:
        clock(self.starts)
        clock(self.ends)
        if unknown := [day for day in self.weekdays if day not in WEEKDAYS]:
            raise ValueError(f"shift {self.key}: '{unknown[0]}' is no weekday; use {', '.join(WEEKDAYS)}")


@dataclass(frozen=True, slots=True)
class Closure:
    """Plant days without production, from `first` to `last`, both included."""

    name: str
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class RepeatedClosure:
    """Plant days without production by an RFC 5545 RRULE counted from `start`."""

    name: str
    rrule: str
    start: date


@dataclass(frozen=True, slots=True)
class ShiftInstance:
    """One shift on one plant day.

    `closed`: the plan expects no production then, vessel checks still stand.
    """

    shift: Shift
    plant_day: date
    start_at: datetime
    end_at: datetime
    closed: bool = False

    @property
    def key(self) -> str:
        return self.shift.key


@dataclass(frozen=True, slots=True)
class PlantCalendar:
    """Zone, shifts, the local time at which a plant day starts, and closures."""

    zone: str
    shifts: tuple[Shift, ...]
    day_starts: str
    closures: tuple[Closure | RepeatedClosure, ...] = ()
    tz: ZoneInfo = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        clock(self.day_starts)
        try:
            object.__setattr__(self, "tz", ZoneInfo(self.zone))
        except (KeyError, ValueError, OSError) as error:
            raise ValueError(f"'{self.zone}' is no time zone of the IANA database") from error

    def local(self, moment: datetime) -> datetime:
        """The moment on the plant's clocks."""
        return moment.astimezone(self.tz)

    def utc(self, day: date, at: time) -> datetime:
        """The UTC moment of a local date and clock time."""
        return to_utc(datetime.combine(day, at), self.tz)

    def day_bounds(self, day: date) -> tuple[datetime, datetime]:
        """Start and end (UTC) of a plant day; the end is the next day's start."""
        at = clock(self.day_starts)
        return self.utc(day, at), self.utc(day + DAY, at)

    def plant_day(self, moment: datetime) -> date:
        """The plant day that a moment belongs to."""
        day = self.local(moment).date()
        return day if moment >= self.day_bounds(day)[0] else day - DAY

    def closure(self, day: date) -> str | None:
        """The name of the closure that covers a plant day, if any."""
        for closure in self.closures:
            if isinstance(closure, Closure):
                if closure.first <= day <= closure.last:
                    return closure.name
            elif _falls_on(closure, day):
                return closure.name
        return None

    def is_closed(self, day: date) -> bool:
        """Whether the plan expects no production on a plant day: a closure, or no shift on that weekday."""
        return self.closure(day) is not None or not any(_runs_on(shift, day) for shift in self.shifts)

    def day_shifts(self, day: date) -> tuple[ShiftInstance, ...]:
        """The shifts of one plant day in order of start, those without production flagged closed."""
        return _day_shifts(self, day)

    def shift_instances(self, window_start: datetime, window_end: datetime) -> list[ShiftInstance]:
        """All shifts, closed ones flagged, that overlap [window_start, window_end), in order of start."""
        day, last = self.plant_day(window_start) - DAY, self.plant_day(window_end)
        found: list[ShiftInstance] = []
        while day <= last:
            found += [one for one in _day_shifts(self, day) if one.start_at < window_end and window_start < one.end_at]
            day += DAY
        return sorted(found, key=_in_order)

    def _instance(self, shift: Shift, day: date, closed: bool) -> ShiftInstance:
        starts, ends = clock(shift.starts), clock(shift.ends)
        start_date = day if starts >= clock(self.day_starts) else day + DAY
        end_date = start_date if ends > starts else start_date + DAY
        return ShiftInstance(shift, day, self.utc(start_date, starts), self.utc(end_date, ends), closed)


def shift_at(instances: Sequence[ShiftInstance], moment: datetime) -> ShiftInstance | None:
    """The shift that covers a moment, one with production before a closed one.

    Of several the latest to start.
    """
    covering = [one for one in instances if one.start_at <= moment < one.end_at]
    return max(covering, key=lambda one: (not one.closed, one.start_at, one.key), default=None)


@lru_cache(maxsize=4096)
def _day_shifts(calendar: PlantCalendar, day: date) -> tuple[ShiftInstance, ...]:
    closed_day = calendar.closure(day) is not None
    found = [calendar._instance(shift, day, closed_day) for shift in calendar.shifts if _runs_on(shift, day)]
    # A shift without this weekday still gives its times for vessel checks, unless another covers them.
    for shift in calendar.shifts:
        if not _runs_on(shift, day):
            extra = calendar._instance(shift, day, True)
            if not any(extra.start_at < one.end_at and one.start_at < extra.end_at for one in found):
                found.append(extra)
    return tuple(sorted(found, key=_in_order))


def _in_order(instance: ShiftInstance) -> tuple[datetime, str]:
    return instance.start_at, instance.key


def _runs_on(shift: Shift, day: date) -> bool:
    return WEEKDAYS[day.weekday()] in shift.weekdays


def _falls_on(closure: RepeatedClosure, day: date) -> bool:
    rule = parse_rule(closure.rrule, datetime.combine(closure.start, time()))
    begin = datetime.combine(day, time())
    return bool(rule.between(begin, begin + DAY - timedelta(microseconds=1), inc=True))
