"""The mass balance of a plant day: the network out of the day's movements and levels, and the pure call.

It reads the history that the day chart has loaded and the day's readings; the tests of blends and what was weighed into
them, for the densities, are its only queries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext
from django.utils.translation import gettext as _

from plant.process.contents import MICROSECOND
from plant.process.errors import CalculationError
from plant.process.mass_balance.plant_day import (
    DayBalance,
    DayMove,
    DayStock,
    Loss,
    Measured,
    balance_of_day,
    loss_of_day,
    part_amount,
    part_within,
    streams_of_day,
)
from plant.process.properties import MILK_LB_PER_GAL, UsualDensity, between, crosses
from plant.process.said import again
from plant.process.units import UnitError
from plant.rework_places import is_rework
from records.checks.models import Reading
from records.flow import densities
from records.flow.densities import Densities
from records.flow.exits import FOR_PEOPLE, exit_of
from records.flow.history import History, Told
from records.flow.models import LevelSeen
from records.people.plans import InForce
from records.reports.values import Data

# Standard deviations where nobody gave one, as shares of the quantity: common practice, no source.
SHARES = {"mass": 0.002, "meter": 0.005, "count": 0.005, "level": 0.01, "unknown": 0.01}
# A level on a gauge: of the vessel's capacity. Common practice, no source.
LEVEL_SHARE = 0.005
FAT_SD = 0.05  # percent fat, a routine tester: common practice, no source
FAT_OF = "fat of "
LEAST_KG = 0.1  # no measurement in a plant is better
COVERAGE = 2  # 'give or take' is read as two standard deviations (JCGM 100:2008, 6.2.1, from memory)
MOST_STREAMS = 400
UNKNOWN: Measured = (None, None)


def balance(story: History, readings: Iterable[Reading], in_force: InForce, start: datetime, until: datetime) -> Data:
    """The section of the day sheet, as plain values in the plant's language; empty where nothing moved.

    Of a movement over a bound of the day the part by time counts, with the doubt of that; one that has not ended is not
    measured. `over` says each in words, with the stocks at that bound. `sentence` is the finding; `why_not` says why
    there is none.
    """
    told = [
        one
        for one in story.moves
        if one.row.started_at < until and (one.row.started_at >= start or (one.ended_at or until) > start)
    ]
    told = _without_containers(told)
    told.sort(key=lambda one: (one.row.started_at, one.row.number))
    if not told:
        return {}
    known = densities.of(story)
    moves = [_move(one, start, until, in_force, known.of_move(one)) for one in told]
    moves = _with_fats(moves, told, list(readings), in_force)
    vessels = {place for one in moves for place in (one.source, one.target) if place is not None}
    codes = {in_force.names.get(one.code, one.code): one.code for one in in_force.plan.vessels}
    found_stocks = [
        _stock(name, codes.get(name, name), story, told, in_force, start, until, known) for name in sorted(vessels)
    ]
    stocks = [one.stock for one in found_stocks]
    unit = in_force.plan.plant.volume_unit
    base: Data = {
        "unit": unit, "density": str(MILK_LB_PER_GAL), "streams": [], "sentence": "", "why_not": "", "over": [],
    }  # fmt: skip
    if 2 * len(moves) + 2 * len(stocks) > MOST_STREAMS:
        return {**base, "why_not": _("Too many movements for a balance of one day.")}
    try:
        found = balance_of_day(streams_of_day(moves, stocks))
    except CalculationError as error:
        return {**base, "why_not": again(error.sentence, gettext)}
    by_name = _by_name(moves, told, stocks, known, codes, start, until)
    # For the loss, not for the fit: an end that is worked out of the movements cannot check them.
    ends = [replace(one.stock, end=one.worked_out) if one.worked_out != UNKNOWN else one.stock for one in found_stocks]
    worked_out = {one.stock.vessel for one in found_stocks if one.worked_out != UNKNOWN and not one.since_seen}
    loss = _loss(loss_of_day(moves, ends, worked_out), unit)
    over = [*_over(told, moves, start, until, unit, by_name), *_bounds(found_stocks, in_force, unit, by_name)]
    return {**base, **_told(found, unit, by_name), "loss": loss, "over": over}


def _without_containers(told: Sequence[Told]) -> list[Told]:
    """Rework kept stands outside the network: set aside, it leaves what it was drawn into; used, it comes from outside.

    What was thrown away had left before.
    """
    drawn = {
        (one.row.source, one.row.via, one.row.started_at): one.row for one in told if not is_rework(one.row.target)
    }
    found = []
    for one in told:
        row = copy(one.row)
        if is_rework(row.target):
            draw = drawn.get((row.source, row.via, row.started_at))
            if draw is None or not draw.target:
                continue
            row.source, row.source_name, row.target, row.via, row.via_name = draw.target, draw.target_name, "", "", ""
        elif is_rework(row.source):
            if not row.target:
                continue
            row.source = ""
        found.append(replace(one, row=row))
    return found


def _move(one: Told, start: datetime, until: datetime, in_force: InForce, density: UsualDensity) -> DayMove:
    row = one.row
    source = in_force.names.get(row.source, row.source) if row.source else None
    target = in_force.names.get(row.target, row.target) if row.target else None
    via = in_force.names.get(row.via, row.via) if row.via else ""
    words = _("%(source)s to %(target)s")  # no arrow: the sheet's typeface has none
    ends = words % {"source": source or row.source_name, "target": target or row.target_name}
    part = 1.0 if one.ended_at is None else part_within(row.started_at, one.ended_at, start, until)
    name = _("entry %(number)s: %(ends)s") if part == 1 else _("entry %(number)s: %(ends)s, this day's part by time")
    exit_name = exit_of(row.target, row.target_name)
    return DayMove(
        name=name % {"number": row.number, "ends": ends},
        source=source,
        target=target,
        via="" if via in (source, target) else via,
        amount=UNKNOWN if one.ended_at is None else part_amount(_amount(one, density), part),
        feed=words % {"source": source or row.source_name, "target": via} if via else "",
        loss=bool(exit_name) and exit_name not in FOR_PEOPLE,
    )


def _amount(one: Told, density: UsualDensity) -> Measured:
    kg = _kg(one.quantity, one.unit, density)
    if kg is None:
        return UNKNOWN
    given = _kg(one.uncertainty, one.unit, density) if one.uncertainty else None
    sd = given / COVERAGE if given else kg * SHARES.get(one.row.measured_by, SHARES["unknown"])
    return kg, max(math.hypot(sd, _density_sd(kg, one.unit, density)), LEAST_KG)


def _density_sd(kg: float, unit: str, density: UsualDensity) -> float:
    """What the density adds where a volume was measured."""
    return kg * float(density.doubt) / COVERAGE if crosses(unit, "kg") else 0.0


def _kg(quantity: Decimal | Fraction | None, unit: str, density: UsualDensity) -> float | None:
    if quantity is None or not unit:
        return None
    try:
        return float(between(quantity, unit, "kg", density.lb_per_gal))
    except UnitError:
        return None


@dataclass(frozen=True, slots=True)
class _Stock:
    """A vessel's stock with how its bounds came about.

    `started`, `ended`: what ran over the start and the end of the day there. `seen`: the level that the end goes back
    to. `worked_out`: the end by the book where no level was seen that tells it, and something ran over the end.
    `since_seen`: whether that goes back to a level of the day.
    """

    stock: DayStock
    started: tuple[Told, ...] = ()
    ended: tuple[Told, ...] = ()
    seen: LevelSeen | None = None
    worked_out: Measured = UNKNOWN
    since_seen: bool = False


def _stock(
    name: str, code: str, story: History, told: Sequence[Told], in_force: InForce, start: datetime, until: datetime,
    known: Densities,
) -> _Stock:  # fmt: skip
    """What was seen, not what the book works out from the same movements; the book only at a bound of the day.

    Where something runs over a bound, the level seen last counts with what ran since, by time; the day before ends
    with what the next one begins with.
    """
    mine = [one for one in told if code in (one.row.source, one.row.target)]
    first = min(max(one.row.started_at, start) for one in mine)
    over = tuple(one for one in mine if one.ended_at is None or one.ended_at > until)
    last = max((one.ended_at for one in mine if one.ended_at is not None and one.ended_at <= until), default=start)
    levels = sorted((one for one in story.levels if one.vessel == code), key=lambda one: (one.observed_at, one.number))
    before = [one for one in levels if start <= one.observed_at <= first]
    after = [one for one in levels if last <= one.observed_at <= until]
    capacity = next((one for one in in_force.plan.vessels if one.code == code), None)
    then, now = known.of_vessel(code, start), known.of_vessel(code, until)

    def most(density: UsualDensity) -> float | None:
        full = capacity is not None and capacity.capacity
        return _kg(Decimal(capacity.capacity), capacity.unit, density) if capacity is not None and full else None

    def by_book(moment: datetime, density: UsualDensity) -> Measured:
        return _by_book(story, code, moment, most(density), density, known)

    opening = _level(before[-1], most(then), then) if before else by_book(start, then)
    closing = worked_out = UNKNOWN
    if after and not over:
        closing = _level(after[-1], most(now), now)
    elif after:
        closing = by_book(until, now)
    elif over:
        worked_out = by_book(until, now)
    names = {"vessel": name}
    stock = DayStock(name, _("%(vessel)s at the start") % names, _("%(vessel)s at the end") % names, opening, closing)
    begun = tuple(one for one in mine if one.row.started_at < start and not before)
    since_seen = any(start <= one.observed_at <= until for one in levels)
    return _Stock(stock, begun, over, after[-1] if after else None, worked_out, since_seen)


def _level(one: LevelSeen, most: float | None, density: UsualDensity) -> Measured:
    kg = _kg(one.quantity, one.unit, density)
    if kg is None:
        return UNKNOWN
    return kg, math.hypot(_level_sd(kg, most), _density_sd(kg, one.unit, density))


def _level_sd(kg: float, most: float | None) -> float:
    """Seen empty is exact; else a share of the capacity."""
    return 0.0 if kg == 0 else max((most or kg) * LEVEL_SHARE, LEAST_KG)


def _by_book(
    story: History, code: str, moment: datetime, most: float | None, density: UsualDensity, known: Densities
) -> Measured:
    """By the book at a bound of the day: the level seen last and what moved since; of what runs, a part by time."""
    contents = story.book.vessels.get(code)
    if contents is None:
        return 0.0, 0.0
    here = [one for one in story.moves if code in (one.row.source, one.row.target)]
    # What took no time at the bound belongs to the day that begins there.
    at_once = any(one.row.started_at == moment == one.ended_at for one in here)
    bound = moment - MICROSECOND if at_once else moment
    quantity, snapshot = contents.quantity_at(bound), contents.snapshot(bound)
    if quantity is None or (snapshot is not None and snapshot.overdrawn_at(bound)):
        return UNKNOWN  # of a vessel from which more came than the book held, nobody knows what it holds
    running = [
        one for one in here if one.row.started_at < moment and one.ended_at is not None and one.ended_at > moment
    ]
    kg = _kg(quantity, contents.unit, density)
    if kg is None:
        return UNKNOWN
    if quantity == 0 and not running:
        return 0.0, 0.0
    seen = [one for one in story.levels if one.vessel == code and one.observed_at <= moment]
    at = max((one.observed_at for one in seen), default=None)
    ends = [one.ended_at for one in here if one.ended_at is not None and one.ended_at <= moment]
    moved = any(at is None or at < one for one in ends)
    # What others moved since the last level was seen is in it.
    doubts = [(2 if moved or at is None else 1) * _level_sd(kg, most), _density_sd(kg, contents.unit, density)]
    for one in running:
        assert one.ended_at is not None
        since = one.row.started_at if at is None else max(at, one.row.started_at)
        part = part_within(one.row.started_at, one.ended_at, since, moment)
        doubts.append(part_amount(_amount(one, known.of_move(one)), part)[1] or 0.0)
    return kg, math.hypot(*doubts)


def _with_fats(
    moves: list[DayMove], told: Sequence[Told], readings: Sequence[Reading], in_force: InForce
) -> list[DayMove]:
    """The fat that was tested belongs to the one movement it tells of, and to none where it may tell of several.

    A test in a vessel: what came into it. A test at a line, of the plan's limit 'fat of cream': the cream through it.
    """
    about = {one.key: one.quantity.removeprefix(FAT_OF) for one in in_force.plan.limits if FAT_OF in one.quantity}
    replaced = {one.amends for one in readings if one.amends is not None}
    fats: dict[int, float] = {}
    for one in readings:
        check = in_force.plan.monitoring_by_key(one.monitoring_key)
        words = [about[key] for key in check.limits if key in about] if check is not None else []
        if not words or one.value is None or one.number in replaced or not 0 <= one.value <= 100:
            continue
        of = [
            place
            for place, each in enumerate(told)
            if each.row.target == one.subject
            or (each.row.via == one.subject and words[0] in f"{each.row.product} {each.row.product_name}".lower())
        ]
        if len(of) == 1:
            fats[of[0]] = float(one.value)
    return [_with_fat(one, fats[at]) if at in fats else one for at, one in enumerate(moves)]


def _with_fat(move: DayMove, fat: float) -> DayMove:
    return DayMove(move.name, move.source, move.target, move.via, move.amount, (fat, FAT_SD), move.feed, move.loss)


# --- what runs over a bound of the day, in words


def _over(
    told: Sequence[Told], moves: Sequence[DayMove], start: datetime, until: datetime, unit: str,
    by_name: dict[str, Decimal],
) -> list[str]:  # fmt: skip
    """A sentence for each movement over a bound of the day: which part of it counts here."""
    found = []
    for one, move in zip(told, moves, strict=True):
        words = {"number": one.row.number, "unit": unit}
        if one.ended_at is None:
            found.append(
                _("Entry %(number)d has no end yet: its quantity is not known, nor what its vessels hold at the end.")
                % words
            )
            continue
        part = part_within(one.row.started_at, one.ended_at, start, until)
        kg, sd = move.amount
        if part == 1:
            continue
        bound = _("the start of the day") if one.row.started_at < start else _("the end of the day")
        if one.row.started_at < start and one.ended_at > until:
            bound = _("the start and the end of the day")
        words |= {"bound": bound, "percent": _number(100 * part, 0)}
        if kg is None or sd is None:
            found.append(
                _("Entry %(number)d ran over %(bound)s and its quantity is not known.") % words
            )
            continue
        weight = by_name.get(move.name, MILK_LB_PER_GAL)
        words |= {"quantity": _shown(kg, unit, weight), "doubt": _shown(COVERAGE * sd, unit, weight)}
        found.append(
            _(
                "Entry %(number)d ran over %(bound)s: %(percent)s %% of its time were in it, so "
                "%(quantity)s %(unit)s count here, give or take %(doubt)s, and the rest in the other day."
            )
            % words
        )
    return found


def _bounds(
    stocks: Sequence[_Stock], in_force: InForce, unit: str, by_name: dict[str, Decimal]
) -> list[str]:
    """A sentence for each vessel's stock at a bound of the day over which something ran there."""
    found = []
    for one in stocks:
        start, end = one.stock.start, one.stock.end if one.worked_out == UNKNOWN else one.worked_out

        def words(name: str, amount: Measured) -> dict[str, object]:
            weight = by_name.get(name, MILK_LB_PER_GAL)
            return {
                "name": name, "unit": unit, "quantity": _shown(amount[0] or 0.0, unit, weight),
                "doubt": _shown(COVERAGE * (amount[1] or 0.0), unit, weight),
            }  # fmt: skip

        if one.started and start[0] is not None:
            found.append(
                _("%(name)s: %(quantity)s %(unit)s, give or take %(doubt)s, as the day before ended: something ran.")
                % words(one.stock.start_name, start)
            )
        if not one.ended:
            continue
        if end[0] is None:
            if all(each.ended_at is not None and each.quantity is not None for each in one.ended):
                found.append(
                    _("%(name)s: not known. By then more had been drawn than the book held.")
                    % {"name": one.stock.end_name}
                )
            continue
        said = words(one.stock.end_name, end)
        if one.seen is not None:
            said["clock"] = in_force.calendar.local(one.seen.observed_at).strftime("%H:%M")
            found.append(
                _(
                    "%(name)s: %(quantity)s %(unit)s, give or take %(doubt)s, by the level seen at %(clock)s and by "
                    "time what ran after it. The next day begins with the same."
                )
                % said
            )
        else:
            found.append(
                _(
                    "%(name)s: %(quantity)s %(unit)s, give or take %(doubt)s, worked out by time: no level was seen "
                    "while it ran. The next day begins with the same. A loss in this vessel would not show."
                )
                % said
            )
    return found


# --- as plain values: texts, so that the sheet's bytes are the same everywhere


def _by_name(
    moves: Sequence[DayMove], told: Sequence[Told], stocks: Sequence[DayStock], known: Densities,
    codes: dict[str, str], start: datetime, until: datetime,
) -> dict[str, Decimal]:  # fmt: skip
    """The density [lb/gal] by which each stream is shown in the plant's unit of volume."""
    found = {}
    for move, one in zip(moves, told, strict=True):
        found[move.name] = known.of_move(one).lb_per_gal
        found.setdefault(move.feed, found[move.name])
    for stock in stocks:
        code = codes.get(stock.vessel, stock.vessel)
        found[stock.start_name] = known.of_vessel(code, start).lb_per_gal
        found[stock.end_name] = known.of_vessel(code, until).lb_per_gal
    return found


def _told(found: DayBalance, unit: str, by_name: dict[str, Decimal]) -> Data:
    result, fat = found.found, found.fat
    rows = []
    for place, one in enumerate(found.streams):
        weight = by_name.get(str(one.name), MILK_LB_PER_GAL)
        rows.append(
            {
                "name": str(one.name),
                "from": one.source or "",
                "to": one.target or "",
                "lb_per_gal": str(weight),
                "measured": _shown(result.measured[place], unit, weight),
                "give_or_take": _shown(COVERAGE * result.sd[place], unit, weight),
                "fitted": _shown(result.values[place], unit, weight),
                "z": _number(result.z[place], 2),
                "state": result.states[place],
                "fat": "" if fat is None else _number(fat.fat_pct[place], 2),
            }
        )
    finding = result.finding
    suspects = [
        {"name": name, "z": _number(result.z[result.place(name)], 2)} for name in (*finding.suspects, *finding.rivals)
    ]
    below = [row["name"] for row, kg in zip(rows, result.values, strict=True) if kg < -LEAST_KG]
    return {
        "streams": rows,
        "kind": finding.kind,
        "sentence": again(finding.sentence, gettext),
        "suspects": suspects,
        "z_limit": "" if result.z_limit is None else _number(result.z_limit, 2),
        "statistic": "" if result.limit is None else _number(result.statistic, 2),
        "limit": "" if result.limit is None else _number(result.limit, 2),
        "degrees": result.degrees,
        "below_zero": below,
        "fat_sentence": "" if fat is None else again(fat.both.finding.sentence, gettext),
    }


def _loss(found: Loss | None, unit: str) -> Data | None:
    if found is None:
        return None
    names = ("came", "started", "product", "lost_known", "ended", "lost")
    return {
        **{name: _shown(getattr(found, name), unit) for name in names},
        "give_or_take": _shown(COVERAGE * found.lost_sd, unit),
        "yield_pct": "" if found.yield_pct is None else _number(found.yield_pct, 1),
        "loss_pct": "" if found.loss_pct is None else _number(found.loss_pct, 1),
    }


def _shown(kg: float, unit: str, lb_per_gal: Decimal = MILK_LB_PER_GAL) -> str:
    """A mass in the plant's unit of volume, by a density; empty for what is not known."""
    if math.isnan(kg):
        return ""
    return _number(float(between(Decimal(repr(float(kg))), "kg", unit, lb_per_gal)), 1)


def _number(value: float, places: int) -> str:
    return "" if math.isnan(value) else f"{round(float(value), places) + 0.0:.{places}f}"
