"""The rolling geometric mean of counts of raw milk, held against a limit without rounding."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from dateutil.relativedelta import relativedelta

from plant.process.laboratory import Result
from plant.process.limits import Judged, Limit, Outcome, not_proven
from plant.process.said import say as _
from plant.process.units import plain


@dataclass(frozen=True, slots=True)
class Mean:
    """`value` [unit of the counts] of `used` counts in `months`; None where a count has no number or none is there.

    `least` and `most`: whether a "<" or a ">" is among them, each taken at its number. `thin`: in some month of the
    window there are fewer counts than asked for.
    """

    value: float | None
    used: int
    least: bool
    most: bool
    thin: bool


def window(counts: Sequence[tuple[date, Result]], day: date, months: int) -> list[tuple[date, Result]]:
    """The counts of the `months` that end with `day`, in order of days."""
    start = day - relativedelta(months=months)
    return sorted((one for one in counts if start < one[0] <= day), key=lambda one: one[0])


def rolling_mean(counts: Sequence[tuple[date, Result]], day: date, months: int, each_month: int) -> Mean:
    """The geometric mean of the counts of the months that end with `day`; a count of 0 is taken as 1.

    Range: months and each_month 1 and above. Source: Regulation (EC) No 853/2004, Annex III, Section IX, Chapter I,
    Part III: geometric mean over two months with two samples a month or more (plate count), over three with one or more
    (somatic cells); read where plant/rules/eu.toml says (R76). That a count below what can be seen is taken at that
    number is on the side of caution: common practice, no source.

    >>> from plant.process.laboratory import TESTS, read_result
    >>> test, typed = TESTS["bacteria"], {2: "10000", 9: "40000"}
    >>> read = [(date(2026, 3, day), read_result(test, text)) for day, text in typed.items()]
    >>> rolling_mean(read, date(2026, 3, 9), 1, 2).value
    20000.0
    """
    there = window(counts, day, months)
    numbers = [max(one.count.value, Decimal(1)) if one.count is not None else None for _day, one in there]
    known = [one for one in numbers if one is not None]
    ends = [day - relativedelta(months=at) for at in range(months + 1)]
    thin = any(
        sum(start < taken <= end for taken, _one in there) < each_month
        for end, start in zip(ends, ends[1:], strict=False)
    )
    value = None
    if known and len(known) == len(numbers):
        value = float(f"{math.exp(sum(math.log(one) for one in known) / len(known)):.12g}")
    signs = {one.count.sign for _day, one in there if one.count is not None}
    return Mean(value, len(there), "<" in signs, ">" in signs or None in numbers, thin)


def judge_mean(
    counts: Sequence[tuple[date, Result]], day: date, limit: Limit, months: int, each_month: int, unit: str
) -> Judged:
    """The mean against the limit's high. Too few counts, or one without a number, prove nothing in limits.

    Over the limit is over it however thin the months are. Compared exactly: the product of n counts with the limit to
    the power of n.
    """
    assert limit.high is not None  # a limit on a mean has a number: the plan's check asks for it
    there = window(counts, day, months)
    mean = rolling_mean(counts, day, months, each_month)
    known = [max(one.count.value, Decimal(1)) for _day, one in there if one.count is not None]
    if mean.value is None:
        return not_proven(_("A count without a number has no geometric mean."), limit)
    over = math.prod(map(Fraction, known)) > Fraction(limit.high) ** len(known)
    words = {"mean": f"{mean.value:.0f}", "unit": unit, "used": str(mean.used), "months": str(months),
             "bound": plain(limit.high)}  # fmt: skip
    said = _("Geometric mean of %(used)s counts in %(months)s months: %(mean)s %(unit)s, limit %(bound)s.", **words)
    if over and not mean.least:
        return Judged(Outcome.NOT_MET, (said,), limit)
    if over or mean.most:
        return Judged(Outcome.NOT_PROVEN, (said, _("A count below or above what can be seen leaves it open.")), limit)
    if mean.thin:
        asked = _("At least %(each)s counts a month are asked for.", each=str(each_month))
        return Judged(Outcome.NOT_PROVEN, (said, asked), limit)
    return Judged(Outcome.MET, (said,), limit)
