"""The hours across a day's chart: even in elapsed time, named by the wall clock, right over a clock change."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Hour:
    """One full hour of the wall clock: the moment, its name, its zone, and whether it happens twice that
    day.
    """

    at: datetime
    name: str
    zone: str
    local_hour: int
    twice: bool


@dataclass(frozen=True, slots=True)
class Axis:
    """Moments to places across."""

    start: datetime
    end: datetime
    left: float
    right: float

    def __post_init__(self) -> None:
        """Refuse moments without a zone and a day without length (ValueError)."""
        if self.start.tzinfo is None or self.end.tzinfo is None:
            raise ValueError("a chart's moments must carry their zone")
        if self.end.astimezone(UTC) <= self.start.astimezone(UTC):
            raise ValueError("a chart's day must end after it starts")

    def x(self, at: datetime) -> float:
        """Return the place of a moment, held within the day. By elapsed time, as timestamps count it.

        Raises ValueError for a moment without a zone.
        """
        if at.tzinfo is None:
            raise ValueError("a chart's moments must carry their zone")
        start, end = self.start.timestamp(), self.end.timestamp()
        share = (at.timestamp() - start) / (end - start)
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    def meets(self, start: datetime, end: datetime) -> bool:
        """Say whether a span of time has a part within the day."""
        return start.timestamp() <= self.end.timestamp() and end.timestamp() >= self.start.timestamp()


def hours(start: datetime, end: datetime, zone: str) -> list[Hour]:
    """Return each full hour of the wall clock from start to end, both included. A skipped hour is not there,
    a repeated hour is there twice, told apart by its zone's abbreviation."""
    place = ZoneInfo(zone)
    at = start.astimezone(UTC)
    last = end.astimezone(UTC)
    # To the first moment whose wall clock shows a full hour (zones off by 30 or 45 minutes included).
    local = at.astimezone(place)
    past = timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
    at = at if not past else at + timedelta(hours=1) - past
    found: list[tuple[datetime, datetime]] = []
    while at <= last:
        local = at.astimezone(place)
        if local.minute:  # a change by half an hour (Lord Howe Island)
            at -= timedelta(minutes=local.minute)
            local = at.astimezone(place)
            if local.minute or (found and at <= found[-1][0]):
                at += timedelta(hours=1)
                continue
        found.append((at, local))
        at += timedelta(hours=1)
    walls = [(local.date(), local.hour) for _at, local in found]
    out = []
    for (moment, local), wall in zip(found, walls, strict=True):
        twice = walls.count(wall) > 1
        out.append(Hour(moment, f"{local:%H:%M}", f"{local:%Z}", local.hour, twice))
    return out


def clock_change(start: datetime, end: datetime, zone: str) -> tuple[datetime, timedelta] | None:
    """Return when the wall clock jumps between start and end, and by how much, or None."""
    place = ZoneInfo(zone)
    low, high = start.astimezone(UTC), end.astimezone(UTC)

    def offset(at: datetime) -> timedelta:
        return at.astimezone(place).utcoffset() or timedelta()

    before, after = offset(low), offset(high)
    if before == after:
        return None
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) / 2
        if offset(middle) == before:
            low = middle
        else:
            high = middle
    return high.replace(microsecond=0), after - before
