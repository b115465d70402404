"""The balance of a plant day: what moved and what stood in the vessels, as streams, made to fit, with its loss."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from plant.process.errors import CalculationError
from plant.process.mass_balance.fat import FatReconciliation, reconcile_fat
from plant.process.mass_balance.linear import Reconciliation
from plant.process.mass_balance.streams import Stream, reconcile_streams
from plant.process.said import say as _

__all__ = ["DayBalance", "DayMove", "DayStock", "Loss", "balance_of_day", "loss_of_day", "streams_of_day"]

Measured = tuple[float | None, float | None]
UNKNOWN: Measured = (None, None)


@dataclass(frozen=True, slots=True)
class DayMove:
    """A movement of the day. `source`, `target`: vessels by name, None outside; `via`: the line it ran through.

    `amount`: mass and standard deviation [kg]; `fat`: content and standard deviation [%]; None: not measured. `loss`:
    what leaves the plant here is for nobody to drink (drain, feed, samples). `feed`: what the line takes, by its name.
    """

    name: str
    source: str | None
    target: str | None
    via: str = ""
    amount: Measured = UNKNOWN
    fat: Measured = UNKNOWN
    feed: str = ""
    loss: bool = False


@dataclass(frozen=True, slots=True)
class DayStock:
    """What a vessel held at the start and at the end of the day: mass and its standard deviation [kg], fat [%]."""

    vessel: str
    start_name: str
    end_name: str
    start: Measured = UNKNOWN
    end: Measured = UNKNOWN
    fat_end: Measured = UNKNOWN


@dataclass(frozen=True, slots=True)
class DayBalance:
    """The streams of the day and what they came to; `fat` where any fat content was measured."""

    streams: tuple[Stream, ...]
    found: Reconciliation
    fat: FatReconciliation | None


@dataclass(frozen=True, slots=True)
class Loss:
    """Masses [kg] with the day's signs: `came` and `started` in, `product`, `lost_known` and `ended` out.

    `lost`: all that did not become product or stock, `lost_sd` its standard deviation; `loss_pct` of what was there to
    use (came + started - ended), `yield_pct` the product of it. None where not all was measured or there was nothing.
    """

    came: float
    started: float
    product: float
    lost_known: float
    ended: float
    lost: float
    lost_sd: float
    yield_pct: float | None
    loss_pct: float | None


def part_within(started: datetime, ended: datetime, start: datetime, until: datetime) -> float:
    """The part [0 to 1] of what moved from `started` to `ended` that belongs to a day [start, until), by time.

    As if it had moved evenly. What took no time belongs whole to the day of its moment, so that the parts of days that
    follow each other add up to one.

    Range: ended not before started. Raises: nothing. Source: by definition.

    >>> day = datetime(2026, 3, 2), datetime(2026, 3, 3)
    >>> part_within(datetime(2026, 3, 2, 22), datetime(2026, 3, 3, 2), *day)
    0.5
    """
    if ended <= started:
        return 1.0 if start <= started < until else 0.0
    within = (min(ended, until) - max(started, start)).total_seconds()
    return max(within, 0.0) / (ended - started).total_seconds()


def part_amount(amount: Measured, part: float) -> Measured:
    """The mass of a part by time with its standard deviation [kg]: nobody measured how evenly it moved.

    The part's own doubt is part x (1 - part) of the whole: none for the whole, a quarter of it where the day's bound
    cuts it in half, which is nearly that of anything between nothing and all.

    Range: part 0 to 1. Raises: nothing. Source: common practice, no source; added in quadrature, JCGM 100, 5.1.2.

    >>> part_amount((100.0, 0.0), 0.5)
    (50.0, 25.0)
    """
    kg, sd = amount
    if kg is None or sd is None:
        return UNKNOWN
    return kg * part, math.hypot(sd * part, kg * part * (1 - part))


def streams_of_day(moves: Sequence[DayMove], stocks: Sequence[DayStock]) -> tuple[Stream, ...]:
    """The network of a day: each movement a stream; through a line it leaves that line, which takes from its sources.

    What a source gives to a line is one stream for the two, not measured: a movement is measured once.
    A vessel without a stock here is one that nobody can say anything of: it gets both, not measured.

    Range: names different. Raises: CalculationError for two streams of a name (balances_of).
    Source: by definition.

    >>> [one.name for one in streams_of_day([DayMove("cream", "Silo", "Tank", "Separator")], [])][:2]
    ['Silo to Separator', 'cream']
    """
    streams: list[Stream] = []
    fed: set[tuple[str | None, str]] = set()
    for one in moves:
        if one.via and (one.source, one.via) not in fed:
            fed.add((one.source, one.via))
            streams.append(Stream(one.feed or f"{one.source or ''} to {one.via}".strip(), one.source, one.via))
        streams.append(Stream(one.name, one.via or one.source, one.target, *one.amount, *one.fat))
    vessels = {place for one in moves for place in (one.source, one.target) if place is not None}
    known = {one.vessel: one for one in stocks}
    for vessel in sorted(vessels):
        names = (_("%(vessel)s at the start", vessel=vessel), _("%(vessel)s at the end", vessel=vessel))
        stock = known.get(vessel) or DayStock(vessel, str(names[0]), str(names[1]))
        streams.append(Stream(stock.start_name, None, vessel, *stock.start))
        streams.append(Stream(stock.end_name, vessel, None, *stock.end, *stock.fat_end))
    return tuple(streams)


def balance_of_day(streams: Sequence[Stream], confidence: float = 0.95) -> DayBalance:
    """The streams made to fit, with fat where any content was measured; a fat that cannot be fitted leaves the masses.

    streams: as in balances_of. confidence: as in reconcile.

    Range: as reconcile_streams. Raises: as reconcile_streams.
    Source: as reconcile_streams and reconcile_fat.

    >>> round(balance_of_day([Stream("in", None, "Silo", 100, 3), Stream("out", "Silo", None, 94, 3)]).found.values[0])
    97
    """
    fat = None
    if any(one.fat_pct is not None for one in streams):
        try:
            fat = reconcile_fat(streams, confidence)
        except CalculationError:
            fat = None
    return DayBalance(tuple(streams), reconcile_streams(streams, confidence), fat)


def loss_of_day(
    moves: Sequence[DayMove], stocks: Sequence[DayStock], worked_out: Collection[str] = ()
) -> Loss | None:
    """Yield and loss as measured; None where a quantity that enters, leaves or stays was not measured.

    As measured, not as fitted: the fit has no loss but what was recorded as one. `worked_out`: vessels whose end is not
    measured but what they held and what moved; no loss shows there, and the doubts of what only passed them cancel.

    Range: as streams. Raises: nothing. Source: by definition; uncertainties added in quadrature, JCGM 100, 5.1.2.

    >>> moves = [DayMove("in", None, "Silo", amount=(100, 1)), DayMove("out", "Silo", None, amount=(97, 1))]
    >>> loss_of_day(moves, [DayStock("Silo", "a", "b", (0, 0), (2, 0))]).lost
    1.0
    """
    known = {one.vessel: one for one in stocks}
    vessels = {place for one in moves for place in (one.source, one.target) if place is not None}
    if not vessels <= set(known):
        return None
    # Each with its sign in what was lost, and what an end that is worked out of it takes back of that.
    parts: list[tuple[str, Measured, float]] = []
    for one in moves:
        back = sum((one.source in worked_out, -(one.target in worked_out)))
        if one.source is None:
            parts.append(("came", one.amount, 1 + back))
        elif one.target is None:
            # What is known to be lost is no product, so its doubt is in the loss only where an end is worked out of it.
            parts.append(("lost_known" if one.loss else "product", one.amount, back if one.loss else back - 1))
        elif back:
            parts.append(("", one.amount, back))
    for vessel in vessels:
        own = vessel in worked_out
        parts.append(("started", known[vessel].start, 0 if own else 1))
        parts.append(("ended", known[vessel].end, 0 if own else -1))
    sums = dict.fromkeys(("came", "started", "product", "lost_known", "ended"), 0.0)
    squares = 0.0
    for name, (kg, sd), sign in parts:
        if kg is None or sd is None:
            return None
        if name:
            sums[name] += kg
        squares += (sign * sd) ** 2
    used = sums["came"] + sums["started"] - sums["ended"]
    lost = used - sums["product"]
    share = (100 / used) if used > 0 else None
    return Loss(
        **sums,
        lost=lost,
        lost_sd=math.sqrt(squares),
        yield_pct=sums["product"] * share if share else None,
        loss_pct=lost * share if share else None,
    )
