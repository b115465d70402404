"""A pasteurizer's set-ups: which of those that its regulator sealed covers a product, on a given day."""

from __future__ import annotations

import calendar
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from plant.process.errors import CalculationError, within
from plant.process.holding_tube.guides import HIGHEST_REYNOLDS, fastest_ratio
from plant.process.pasteurization.areas import general_missed
from plant.process.pasteurization.classes import ProductClass
from plant.process.pasteurization.numbers import Number, exactly, hold, said_temperature, said_time
from plant.process.pasteurization.rows import CONTINUOUS, Method, Row, rows_for
from plant.process.pasteurization.verdict import Verdict, judge_by
from plant.process.said import Said
from plant.process.said import say as _


class Homogenizer(StrEnum):
    """What the homogenizer did while the set-up was tested."""

    NONE = "none"
    TIMING = "timing pump"
    RUNNING = "running"
    BYPASSED = "bypassed"


# Classes whose fastest particle leaves a tube before a test with water says: Dickerson and others, J. Dairy Sci.
# 51(11):1731, 1968 (abstract): mix 21.9 s, cream 22.7 s and condensed skim 17.2 s in a tube that water called 26 s.
VISCOUS = (ProductClass.MIX, ProductClass.EGGNOG, ProductClass.RAISED, ProductClass.RAISED_INGREDIENT)
# The longest share of the mean time that a guide gives the fastest particle: the correlation's, at the highest flow.
LONGEST_SHARE = 1 / fastest_ratio(HIGHEST_REYNOLDS, "toledo")
_ROUNDING = 1e-9  # of a mean time computed in floats


@dataclass(frozen=True, slots=True)
class SetUp:
    """One state of a continuous pasteurizer that was tested and sealed.

    `set_point` in `unit`: below it flow diverts. `hold_s` [s] of the last holding-time test, made on `tested_on`;
    `seals_unbroken` since then. `classes` that the regulator accepted it for. `method` HTST or HHST, None for either.
    The tube's `length_m` [m] and `bore_m` [m], or its `volume_l` [L], and the sealed `top_rate_l_per_h` [L/h] serve to
    doubt a wrong test; None where unknown.
    """

    name: str
    set_point: Number
    unit: str
    hold_s: Number
    tested_on: date
    seals_unbroken: bool
    classes: tuple[ProductClass, ...]
    method: Method | None = None
    homogenizer: Homogenizer = Homogenizer.NONE
    volume_l: float | None = None
    length_m: float | None = None
    bore_m: float | None = None
    top_rate_l_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class Coverage:
    """Whether a set-up covers a product: the verdict of its set point and tested hold, and every fault.

    `valid_until`: the last day on which its test counts. `cautions` hold for a covered product too.
    """

    set_up: SetUp
    product_class: ProductClass
    verdict: Verdict
    valid_until: date
    faults: tuple[Said, ...]
    cautions: tuple[Said, ...]

    @property
    def covers(self) -> bool:
        """Whether there is no fault."""
        return not self.faults


def last_valid_day(tested_on: date, months: int = 6) -> date:
    """The last day on which a holding-time test counts: the same day so many months on, or that month's last day.

    A state may let it run through the end of the month due; the stricter day is taken.

    Range: 1 to 60 months; dates within the calendar of years 1 to 9999.
    Raises: OutsideRange outside it.
    Source: La. 51 VII-313; ATCP 65.68(3): at least every 6 months, grade B systems 12 (text consulted).

    >>> last_valid_day(date(2025, 8, 31)).isoformat()
    '2026-02-28'
    """
    count = int(within(_("months between tests"), months, 1, 60))
    year, month = divmod(tested_on.year * 12 + tested_on.month - 1 + count, 12)
    within(_("year"), year, 1, 9999)
    return date(year, month + 1, min(tested_on.day, calendar.monthrange(year, month + 1)[1]))


def mean_hold_s(set_up: SetUp) -> float | None:
    """Mean time in the holding tube at the sealed top rate [s]: its volume over the rate; None where one is unknown.

    No tested hold can be as long: the test times the fastest particle, which is ahead of the mean.

    Range: volume 0.001 to 10,000 L (or length 0.01 to 1000 m and bore 0.003 to 0.3 m), rate 1 to 400,000 L/h.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> mean_hold_s(SetUp("A", 161, "°F", 16, date(2026, 1, 5), True, (), volume_l=25, top_rate_l_per_h=5000))
    18.0
    """
    if set_up.top_rate_l_per_h is None:
        return None
    rate = within(_("sealed top rate"), set_up.top_rate_l_per_h, 1, 400000, "L/h")
    if set_up.volume_l is not None:
        return within(_("volume of the holding tube"), set_up.volume_l, 0.001, 10000, "L") * 3600 / rate
    if set_up.length_m is None or set_up.bore_m is None:
        return None
    length = within(_("length of the holding tube"), set_up.length_m, 0.01, 1000, "m")
    bore = within(_("bore of the holding tube"), set_up.bore_m, 0.003, 0.3, "m")
    return math.pi / 4 * bore**2 * length * 1000 * 3600 / rate


def covering(
    set_ups: Sequence[SetUp],
    product_class: ProductClass,
    rows: Iterable[Row],
    on: date,
    *,
    homogenizer: Homogenizer | None = None,
    months: int = 6,
    area: str = "",
) -> tuple[Coverage, ...]:
    """Each set-up of a pasteurizer with whether it covers a class of product on a day; those that do come first.

    A set-up covers a product when the class is one that it was accepted for, its set point and its tested hold meet a
    row of the class (judge), its test still counts on that day (`months`), and its seals are unbroken. `homogenizer`:
    its state for this product, which has to be the one that was tested; None, nobody said: then only a set-up that was
    tested without a homogenizer covers. A tested hold as long as the mean time in the tube, or longer, is no hold of
    the fastest particle and covers nothing; one longer than any guide gives is said. No set-up, none covering: nothing
    may run.

    Range: as judge, last_valid_day and mean_hold_s; set-ups of continuous flow.
    Raises: OutsideRange outside it; CalculationError for a set-up that is a vat's.
    Source: ATCP 65.68(1), (3), (5), seals and tests (text consulted); La. 51 VII-313 (text consulted); rows as in each.

    >>> covering([], ProductClass.MILK, [], date(2026, 3, 3))
    ()
    """
    every = tuple(rows)
    found = [_coverage(one, product_class, every, on, homogenizer, months, area) for one in set_ups]
    return tuple(sorted(found, key=lambda one: not one.covers))


def _coverage(
    one: SetUp,
    product_class: ProductClass,
    rows: Sequence[Row],
    on: date,
    wanted: Homogenizer | None,
    months: int,
    area: str,
) -> Coverage:
    if one.method is Method.VAT:
        raise CalculationError(_("%(name)s: a vat has no set-up of this kind", name=one.name))
    methods = CONTINUOUS if one.method is None else (one.method,)
    verdict = judge_by(methods, one.set_point, one.unit, one.hold_s, rows_for(product_class, rows, area))
    due = last_valid_day(one.tested_on, months)
    faults: list[Said] = []
    if product_class not in one.classes:
        faults.append(_("It was not accepted for the class %(class)s.", **{"class": _(product_class.value)}))
    if not verdict.met:
        faults.append(
            _(
                "It diverts below %(set_point)s and holds %(hold)s: %(verdict)s",
                set_point=said_temperature(exactly(_("set point"), one.set_point), one.unit),
                hold=said_time(hold(one.hold_s)),
                verdict=verdict.words,
            )
        )
    if one.tested_on > on:
        faults.append(_("Its holding-time test is dated %(day)s, in the future.", day=one.tested_on.isoformat()))
    elif due < on:
        faults.append(_("Its holding-time test counted until %(day)s.", day=due.isoformat()))
    if one.seals_unbroken is not True:
        faults.append(_("Its seals are not unbroken since the test: no forward flow until the regulator has resealed."))
    faults += _homogenizer_faults(one, wanted)
    faults += _tube_faults(one)
    cautions = [*_viscous_cautions(product_class), *_tube_cautions(one)]
    missed = general_missed(verdict, product_class, rows, area)
    cautions += [missed] if missed is not None else []
    return Coverage(one, product_class, verdict, due, tuple(faults), tuple(cautions))


def _homogenizer_faults(one: SetUp, wanted: Homogenizer | None) -> list[Said]:
    if wanted is one.homogenizer or (wanted is None and one.homogenizer is Homogenizer.NONE):
        return []
    tested = _(one.homogenizer.value)
    if wanted is None:
        return [_("It was tested with the homogenizer %(tested)s; what it does now is not said.", tested=tested)]
    return [_("It was tested with the homogenizer %(tested)s, not %(wanted)s.", tested=tested, wanted=_(wanted.value))]


def _tube_faults(one: SetUp) -> list[Said]:
    mean = mean_hold_s(one)
    if mean is None or float(hold(one.hold_s)) < mean * (1 - _ROUNDING):
        return []
    return [
        _(
            "Its tested hold of %(hold)s is no shorter than the mean time in its tube, %(mean)s s at the sealed rate: "
            "the fastest particle is ahead of the mean, so the test or the tube is not as written.",
            hold=said_time(hold(one.hold_s)),
            mean=f"{mean:.2f}",
        )
    ]


def _tube_cautions(one: SetUp) -> list[Said]:
    mean = mean_hold_s(one)
    if mean is None or float(hold(one.hold_s)) <= mean * LONGEST_SHARE:
        return []
    return [
        _(
            "Its tested hold of %(hold)s is more than %(percent)s %% of the mean time in its tube, %(mean)s s: no "
            "guide gives the fastest particle so long. Check the test, the rate and the tube.",
            hold=said_time(hold(one.hold_s)),
            percent=f"{100 * LONGEST_SHARE:.0f}",
            mean=f"{mean:.2f}",
        )
    ]


def _viscous_cautions(product_class: ProductClass) -> tuple[Said, ...]:
    if product_class not in VISCOUS:
        return ()
    return (
        _(
            "A holding-time test with water can overstate the hold of a viscous product (mix, cream, condensed): "
            "settle with the regulator how this tube was sized."
        ),
    )
