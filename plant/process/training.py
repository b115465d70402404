"""Until when a training counts. Days alone: a training is dated by its day (21 CFR 117.180(d), from memory)."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum

from dateutil.relativedelta import relativedelta

from plant.process.errors import within

__all__ = ["last_day", "standing"]

SOON = timedelta(days=30)
LONGEST_MONTHS = 120


class Standing(StrEnum):
    """How a training stands on a day. MISSING: none is recorded."""

    IN_DATE = "in date"
    SOON = "due soon"
    OVERDUE = "overdue"
    MISSING = "nothing recorded"


def last_day(trained_on: date, every_months: int, ends_on: date | None = None) -> date | None:
    """The last day on which a training counts: `every_months` after its day, or `ends_on` where that is earlier.

    None: it has no end (0 months, and the certificate names no day). A month without that day ends on its own last
    one, so 31 January and one month is 28 or 29 February. Range: months 0 to 120. Raises: OutsideRange.

    Source: months of the calendar, clipped to the month's end; common practice, no source.

    >>> last_day(date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    within("months", every_months, 0, LONGEST_MONTHS)
    planned = trained_on + relativedelta(months=every_months) if every_months else None
    return min((one for one in (planned, ends_on) if one is not None), default=None)


def standing(last: date | None, today: date) -> Standing:
    """How a training that counts until `last` (its last day included; None: without end) stands today.

    Due soon from 30 days before its last day; overdue from the day after it.

    Source: the 30 days are our own; common practice, no source.

    >>> str(standing(date(2026, 3, 3), date(2026, 3, 4)))
    'overdue'
    """
    if last is None:
        return Standing.IN_DATE
    if today > last:
        return Standing.OVERDUE
    return Standing.SOON if last - today <= SOON else Standing.IN_DATE
