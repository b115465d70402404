"""The time axis of a strip chart: even in elapsed time, named by the wall clock, right over both clock changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from plant.pictures.hours import clock_change, hours

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SECOND, MINUTE, HOUR, DAY = 1_000, 60_000, 3_600_000, 86_400_000
STEPS = (
    *(one * SECOND for one in (1, 2, 5, 10, 15, 30)),
    *(one * MINUTE for one in (1, 2, 5, 10, 15, 30)),
    *(one * HOUR for one in (1, 2, 3, 6, 12)),
    *(one * DAY for one in (1, 2, 7, 14, 28, 91, 182, 364)),
)
SECONDS_ROOM, MINUTES_ROOM, DAYS_ROOM = 76.0, 54.0, 88.0  # least distance between two names
CHUNK = timedelta(days=20)  # two clock changes never lie so close


@dataclass(frozen=True, slots=True)
class Tick:
    """A named moment of the axis. ``day``: its date, at the first tick and at each that begins a new one.
    ``zone``: the zone's abbreviation where this time of the wall clock comes twice.
    """

    at_ms: int
    name: str
    day: str = ""
    zone: str = ""


def moment(at_ms: int) -> datetime:
    """The moment as an aware datetime in UTC."""
    return EPOCH + timedelta(milliseconds=at_ms)


def milliseconds(at: datetime) -> int:
    """A moment as whole milliseconds since 1970 UTC. Raises ValueError for one without a zone."""
    if at.tzinfo is None:
        raise ValueError("a chart's moments must carry their zone")
    return (at - EPOCH) // timedelta(milliseconds=1)


def ticks(start_ms: int, end_ms: int, zone: str, room: float) -> list[Tick]:
    """The named moments from start to end, both included, as many as find ``room`` [units of the drawing]."""
    return _ticks(start_ms, end_ms, zone, _step(end_ms - start_ms, room))


def ticks_beside(start_ms: int, end_ms: int, zone: str, room: float) -> list[Tick]:
    """The named moments of the windows before and after, in the same steps."""
    length, step = end_ms - start_ms, _step(end_ms - start_ms, room)
    return _ticks(start_ms - length, start_ms - 1, zone, step) + _ticks(end_ms + 1, end_ms + length, zone, step)


def _ticks(start_ms: int, end_ms: int, zone: str, step: int) -> list[Tick]:
    place = ZoneInfo(zone)
    if step >= DAY:
        moments = _midnights(start_ms, end_ms, step // DAY, place)
    elif step >= HOUR:
        ticked = hours(moment(start_ms), moment(end_ms), zone)
        moments = [milliseconds(one.at) for one in ticked if one.local_hour % (step // HOUR) == 0]
    else:
        # Offsets of today's zones are whole quarters of an hour, and a change moves by half an hour at least.
        offset = _offset_ms(moment(start_ms), place)
        first = -(-(start_ms + offset) // step) * step - offset
        moments = list(range(first, end_ms + 1, step))
    return _named(moments, step, place)


def clock_changes(start_ms: int, end_ms: int, zone: str) -> list[tuple[int, int]]:
    """When the wall clock jumps within the window, and by how much [ms]."""
    found = []
    at, end = moment(start_ms), moment(end_ms)
    while at < end:
        until = min(at + CHUNK, end)
        change = clock_change(at, until, zone)
        if change is not None:
            found.append((milliseconds(change[0]), change[1] // timedelta(milliseconds=1)))
        at = until
    return found


@lru_cache(maxsize=4096)
def said(at_ms: int, zone: str, *, seconds: bool = True) -> str:
    """A moment on the wall clock: '2026-03-03 03:12:05', with the zone where that time comes twice."""
    local = moment(at_ms).astimezone(ZoneInfo(zone))
    twice = f" {local:%Z}" if _twice(local) else ""
    return f"{local:%Y-%m-%d %H:%M:%S}{twice}" if seconds else f"{local:%Y-%m-%d %H:%M}{twice}"


def _step(length_ms: int, room: float) -> int:
    for step in STEPS:
        each = SECONDS_ROOM if step < MINUTE else MINUTES_ROOM if step < DAY else DAYS_ROOM
        if length_ms / step * each <= room:
            return step
    return STEPS[-1]


def _midnights(start_ms: int, end_ms: int, every: int, place: ZoneInfo) -> list[int]:
    """Each local midnight, or the first moment of a day that has none; one in ``every``, counted from a fixed day."""
    day = moment(start_ms).astimezone(place).date()
    last = moment(end_ms).astimezone(place).date()
    found = []
    while day <= last:
        at = milliseconds(datetime(day.year, day.month, day.day, tzinfo=place).astimezone(UTC))
        if start_ms <= at <= end_ms and (day - date(2000, 1, 3)).days % every == 0:
            found.append(at)
        day += timedelta(days=1)
    return found


def _named(moments: list[int], step: int, place: ZoneInfo) -> list[Tick]:
    found: list[Tick] = []
    last: date | None = None
    for at in moments:
        local = moment(at).astimezone(place)
        zone = f"{local:%Z}" if _twice(local) else ""
        if step >= DAY:
            found.append(Tick(at, f"{local:%Y-%m-%d}"))
            continue
        name = f"{local:%H:%M:%S}" if step < MINUTE else f"{local:%H:%M}"
        found.append(Tick(at, name, f"{local:%Y-%m-%d}" if local.date() != last else "", zone))
        last = local.date()
    return found


def _offset_ms(at: datetime, place: ZoneInfo) -> int:
    return (at.astimezone(place).utcoffset() or timedelta()) // timedelta(milliseconds=1)


def _twice(local: datetime) -> bool:
    """Whether a clock change makes this time of the wall clock come twice (PEP 495: the first pass has fold 0)."""
    first, second = local.replace(fold=0).utcoffset(), local.replace(fold=1).utcoffset()
    return first is not None and second is not None and first > second
