"""Running rules for regular samples: so many of the last so many above a limit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from plant.process.errors import CalculationError, within
from plant.process.said import say as _


@dataclass(frozen=True, slots=True)
class RunningState:
    """Where a running rule stands after the sample of `day`; `value` and the limit in one unit.

    `over_notice` of the last `of_notice` samples above the limit, `notice` when they are enough for a written notice;
    the same with `over_action` for action on the permit. While notice stands, the next sample is taken after
    `resample_after` and not later than `resample_by`, counted from this day where the notice bears no other.
    """

    day: date
    value: Decimal
    over: bool
    over_notice: int
    of_notice: int
    notice: bool
    over_action: int
    of_action: int
    action: bool
    resample_after: date | None
    resample_by: date | None


def running_rule(
    samples: Iterable[tuple[date, Decimal]],
    limit: Decimal,
    notice: tuple[int, int] = (2, 4),
    action: tuple[int, int] = (3, 5),
    resample_days: tuple[int, int] = (3, 21),
) -> tuple[RunningState, ...]:
    """The state of the rule after each sample, in order of days; the last is where it stands now.

    `samples` (day, value) and `limit` in one unit; a value at the limit is not above it. Samples count by separate
    days: of several on one day the highest stands. `notice` (2, 4): two of the last four above; `action` (3, 5): three
    of the last five; with fewer samples, of those there are. `resample_days` [d] after the notice.

    Range: at least one sample; 1 <= wanted <= of, of <= 100; resample days rising.
    Raises: OutsideRange, CalculationError.
    Source: Grade "A" Pasteurized Milk Ordinance, Section 6; two of four and the resample days as Okla. Stat. 2-7-409(B)
    copies them (text consulted: https://getpocketlaw.com/law/state_oklahoma/
    section-2-7-409-sampling-and-testing_059be002eeb6), three of five from memory.

    >>> week = [date(2026, 1, 7 * n) for n in (1, 2, 3, 4)]
    >>> now = running_rule(zip(week, map(Decimal, (15000, 24000, 18000, 31000))), Decimal(20000))[-1]
    >>> now.over_notice, now.notice, now.action
    (2, True, False)
    """
    for wanted, of in (notice, action):
        within(_("number of samples looked back on"), of, 1, 100)
        within(_("number of samples above the limit"), wanted, 1, of)
    within(_("latest day of the next sample"), resample_days[1], within(_("first day"), resample_days[0], 0))
    within(_("limit"), float(limit))
    highest: dict[date, Decimal] = {}
    for day, value in samples:
        within(_("result"), float(value))
        day = day.date() if isinstance(day, datetime) else day  # samples of one day count once
        highest[day] = max(value, highest.get(day, value))
    if not highest:
        raise CalculationError(_("No sample was given."))
    over: list[bool] = []
    states = []
    for day, value in sorted(highest.items()):
        over.append(value > limit)
        noticed, acted = sum(over[-notice[1] :]), sum(over[-action[1] :])
        stands = noticed >= notice[0]
        states.append(
            RunningState(
                day=day,
                value=value,
                over=over[-1],
                over_notice=noticed,
                of_notice=min(len(over), notice[1]),
                notice=stands,
                over_action=acted,
                of_action=min(len(over), action[1]),
                action=acted >= action[0],
                resample_after=_later(day, resample_days[0]) if stands else None,
                resample_by=_later(day, resample_days[1]) if stands else None,
            )
        )
    return tuple(states)


def _later(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError as error:
        raise CalculationError(_("The day lies too far in the future.")) from error
