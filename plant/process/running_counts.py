"""The running rule of counts over a limit: two of the last four, three of the last five, taken on separate days.

A first excess that stays alone leads to nothing here. What the regulator does is the regulator's to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

NOTICE_OF, NOTICE_AT = 4, 2
DEGRADE_OF, DEGRADE_AT = 5, 3
RESAMPLE_AFTER, RESAMPLE_BY = 3, 21  # days after the written notice
RESAMPLE_CLAUSE = "Okla. Stat. 2-7-409(B), a state mirror; PMO Section 6"
TESTED = ("bacteria", "coliform", "somatic cells")  # whose counts run, of those that the standards bound
CLAUSE = "PMO Section 6; Okla. Stat. 2-7-409(B) (two of four, a state mirror); three of five from memory"


class Standing(StrEnum):
    """Where the last counts stand."""

    NOTHING = "nothing"
    NOTICE = "written notice"
    DEGRADE = "suspension or degrading"


@dataclass(frozen=True, slots=True)
class Running:
    """`standing` after the last day; how many `over` of the last four and five days; the `days` over, of those five."""

    standing: Standing
    over_of_four: int
    over_of_five: int
    days: tuple[date, ...]


def resample_days(day: date) -> tuple[date, date]:
    """(after, by): another sample is taken later than the first and no later than the second, from the notice's `day`.

    Source: Okla. Stat. 2-7-409(B), a state mirror of PMO Section 6: after 3 and within 21 days.

    >>> [one.isoformat() for one in resample_days(date(2026, 3, 2))]
    ['2026-03-05', '2026-03-23']
    """
    return day + timedelta(days=RESAMPLE_AFTER), day + timedelta(days=RESAMPLE_BY)


def running(counts: Sequence[tuple[date, bool]]) -> Running:
    """The rule over counts (day, over the limit) in any order. Several of one day are one: over when any is.

    Source: Grade "A" PMO, Section 6, as mirrored by Okla. Stat. 2-7-409(B) for two of the last four consecutive
    samples on separate days; three of the last five from memory.

    >>> from datetime import date
    >>> running([(date(2026, 3, day), over) for day, over in ((1, True), (8, False), (15, True))]).standing.value
    'written notice'
    """
    by_day: dict[date, bool] = {}
    for day, over in counts:
        by_day[day] = by_day.get(day, False) or over
    last = [(day, by_day[day]) for day in sorted(by_day)][-DEGRADE_OF:]
    five = sum(over for _day, over in last)
    four = sum(over for _day, over in last[-NOTICE_OF:])
    standing = Standing.NOTHING
    if five >= DEGRADE_AT:
        standing = Standing.DEGRADE
    elif four >= NOTICE_AT:
        standing = Standing.NOTICE
    return Running(standing, four, five, tuple(day for day, over in last if over))
