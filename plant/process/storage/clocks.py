"""The clocks that run while vessels and lines are in use."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from plant.process.errors import CalculationError, within
from plant.process.plant_calendar import PlantCalendar
from plant.process.said import say as _
from plant.process.storage.warming import HOUR


@dataclass(frozen=True, slots=True)
class ClockLimit:
    """A clock that runs on a vessel or line.

    `limit_at` None: it does not run now; `left` is what it still allows.
    """

    name: str
    limit_at: datetime | None
    left: timedelta
    clause: str
    basis: str

    def past(self, now: datetime) -> bool:
        """Whether more time has gone than the rule allows; the limit's own moment still counts as in time."""
        return self.left < timedelta(0) or (self.limit_at is not None and now > self.limit_at)


def _utc(moment: datetime) -> datetime:
    """Hours that pass, not the clock on the wall: two moments of one zone differ by the wall's hours."""
    return moment if moment.tzinfo is None else moment.astimezone(UTC)


def _begun(first_product_at: datetime, now: datetime) -> datetime:
    """The first product's moment. A clock that begins only later would seem to allow more than its rule."""
    first = _utc(first_product_at)
    if first > _utc(now):
        raise CalculationError(_("the first product cannot come after the moment that is asked about"))
    return first


def raw_storage_clock(first_product_at: datetime, now: datetime, hours: int = 72) -> ClockLimit:
    """The clock of a raw storage tank: emptied and cleaned every 72 hours at least, from the first product on.

    first_product_at, now: moments, both with their zone; the first product after a wash.
    hours: a plan may set fewer [h].

    Range: hours 1 to 72; more than the rule is refused. first_product_at no later than now.
    Raises: OutsideRange; CalculationError for a first product that is still to come.
    Source: 7 Pa. Code 59.212(a), a state rule that mirrors the model ordinance
        (http://www.pacode.com/secure/data/007/chapter59/s59.212.html).

    >>> raw_storage_clock(datetime(2026, 6, 8, 6), datetime(2026, 6, 11, 4)).left
    datetime.timedelta(seconds=7200)
    """
    within("hours of raw storage", hours, 1, 72, "h")
    limit_at = _begun(first_product_at, now) + hours * HOUR
    now = _utc(now)
    basis = "text consulted (state mirror)" if hours == 72 else "plant rule"
    return ClockLimit("raw storage", limit_at, limit_at - now, "7 Pa. Code 59.212(a)", basis)


def daily_wash_clock(first_product_at: datetime, now: datetime, calendar: PlantCalendar) -> ClockLimit:
    """The clock of other equipment: cleaned at least once each day used, by the end of the plant day of first product.

    first_product_at, now: moments, both with their zone.
    calendar: the plant's days.

    Range: first_product_at no later than now; the calendar's.
    Raises: CalculationError for a first product that is still to come; what the calendar raises for a moment without a
        zone.
    Source: 7 Pa. Code 59.212(a), a state rule that mirrors the model ordinance
        (http://www.pacode.com/secure/data/007/chapter59/s59.212.html).

    >>> from datetime import UTC
    >>> used, now = datetime(2026, 6, 8, 11, tzinfo=UTC), datetime(2026, 6, 9, 9, tzinfo=UTC)
    >>> daily_wash_clock(used, now, PlantCalendar("America/Chicago", (), "06:00")).left
    datetime.timedelta(seconds=7200)
    """
    limit_at = calendar.day_bounds(calendar.plant_day(first_product_at))[1]
    _begun(first_product_at, now)
    return ClockLimit("daily wash", limit_at, limit_at - now, "7 Pa. Code 59.212(a)", "text consulted (state mirror)")


def run_hours_clock(
    runs: Iterable[tuple[datetime, datetime | None]], washed_at: datetime | None, now: datetime, hours: Decimal
) -> ClockLimit:
    """The clock of hours run since the last full wash, by the plant's own rule; it stands still while the line does.

    runs: (started, ended or None for still on); what ran at once counts once.
    washed_at: end of the last full wash, None for none.
    now: the moment.
    hours: what the plant's rule allows [h].

    Range: hours 0 and more; no run ends before it starts.
    Raises: OutsideRange; CalculationError for a run that does.
    Source: plant rule; common practice, no source.

    >>> at = datetime(2026, 6, 8, 6)
    >>> run_hours_clock([(at, at + 4 * HOUR)], at, at + 5 * HOUR, Decimal(10)).left == 6 * HOUR
    True
    """
    within("hours run", float(hours), 0, None, "h")
    allowed, now = timedelta(seconds=float(hours * 3600)), _utc(now)
    # A wash that is still to come frees nothing.
    washed = None if washed_at is None or _utc(washed_at) > now else _utc(washed_at)
    spent, reached, running = timedelta(0), washed, False
    every = [(_utc(started), None if ended is None else _utc(ended)) for started, ended in runs]
    for started, ended in sorted(every, key=lambda run: run[0]):
        if ended is not None and ended < started:  # its hours are not known: they would count as none
            raise CalculationError(_("a run ends before it starts, so the hours run are not known"))
        begin = started if reached is None else max(started, reached)
        end = min(now if ended is None else ended, now)
        running = running or (started <= now and (ended is None or ended > now))
        if end > begin:
            spent += end - begin
            reached = end
    left = allowed - spent
    return ClockLimit("hours run", now + left if running else None, left, "", "plant rule")
