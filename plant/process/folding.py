"""The fold behind `contents`: every fact once, in order of time.

At one moment the order is: movements that end, washes that end, movements that start (or take no time),
levels seen, washes that start. So a vessel filled at the minute in which its wash ended was clean, and a
level seen at the minute of a transfer was seen after it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from itertools import groupby

from plant.process.contents import (
    MICROSECOND,
    Batch,
    Book,
    Discrepancy,
    Held,
    Level,
    Move,
    Service,
    Snapshot,
    VesselBook,
    Wash,
)
from plant.process.properties import between, crosses
from plant.process.units import UnitError, exact

ZERO = Fraction(0)
ENDS, WASH_ENDS, SERVICE, STARTS, LEVELS, WASH_STARTS = range(6)
Fact = Move | Wash | Level | Service
Step = tuple[datetime, int, tuple[object, ...], Fact]


def fold(
    moves: Iterable[Move],
    washes: Iterable[Wash] = (),
    levels: Iterable[Level] = (),
    services: Iterable[Service] = (),
    units: Mapping[str, str] | None = None,
    lb_per_gal: Decimal | None = None,
) -> Book:
    """Fold all facts into each vessel's history.

    `units` names each vessel's unit; a vessel not named takes the first unit seen with it. `lb_per_gal`
    converts between pounds and gallons (and kilograms and liters) what has no density of its own; without it a
    quantity in the other kind of unit is unknown. The doubt of a movement's density joins its uncertainty. Work
    grows with the number of facts (sorting apart). Raises ValueError for a movement or
    wash that ends before it starts.
    """
    keeper = _Keeper(dict(units or {}), lb_per_gal)
    steps = sorted(_steps(moves, washes, levels, services), key=lambda step: step[:3])
    for at, facts in groupby(steps, key=lambda step: step[0]):
        for phase, same in groupby(facts, key=lambda step: step[1]):
            for _, _, _, fact in same:
                keeper.take(fact, phase, at)
            keeper.settle(at)
        keeper.note(at)
    return Book({name: keeper.vessels[name].book() for name in sorted(keeper.vessels)})


def _steps(
    moves: Iterable[Move], washes: Iterable[Wash], levels: Iterable[Level], services: Iterable[Service]
) -> Iterable[Step]:
    for move in moves:
        if move.ended_at is not None and move.ended_at < move.started_at:
            raise ValueError(f"movement {move.number} ends before it starts")
        yield move.started_at, STARTS, (move.number,), move
        if move.ended_at is not None and move.ended_at > move.started_at:
            yield move.ended_at, ENDS, (move.number,), move
    for wash in washes:
        if wash.ended_at < wash.started_at:
            raise ValueError(f"a wash of {wash.vessel} ends before it starts")
        # Washed before sanitized where both end at once.
        yield wash.started_at, WASH_STARTS, (wash.kind == "sanitized", wash.vessel, wash.ended_at), wash
        yield wash.ended_at, WASH_ENDS, (wash.kind == "sanitized", wash.vessel, wash.started_at), wash
    for level in levels:
        yield level.at, LEVELS, (level.vessel, level.quantity, level.unit), level
    for service in services:
        yield service.at, SERVICE, (service.vessel, service.out), service


class _Keeper:
    """All vessels during the fold, and which of them the present moment touched."""

    def __init__(self, units: dict[str, str], lb_per_gal: Decimal | None) -> None:
        self.vessels: dict[str, _Vessel] = {}
        self.units = units
        self.lb_per_gal = lb_per_gal
        self.touched: dict[str, _Vessel] = {}

    def vessel(self, name: str, unit: str, at: datetime) -> "_Vessel":
        vessel = self.vessels.get(name)
        if vessel is None:
            vessel = self.vessels[name] = _Vessel(name, self.units.get(name, ""), at)
        vessel.unit = vessel.unit or unit
        vessel.advance(at)
        self.touched[name] = vessel
        return vessel

    def take(self, fact: Fact, phase: int, at: datetime) -> None:
        if isinstance(fact, Move):
            self._start(fact, at) if phase == STARTS else self._end(fact, at)
        elif isinstance(fact, Level):
            vessel = self.vessel(fact.vessel, fact.unit, at)
            vessel.seen(self._quantity(vessel, fact.quantity, fact.unit, at, vessel.lb_per_gal), at)
        elif isinstance(fact, Service):
            self.vessel(fact.vessel, "", at).out = fact.out
        elif phase == WASH_STARTS:
            self.vessel(fact.vessel, "", at).wash_starts(fact, at)
        else:
            self.vessel(fact.vessel, "", at).wash_ends(fact, at)

    def settle(self, at: datetime) -> None:
        for vessel in self.touched.values():
            vessel.settle(at)

    def note(self, at: datetime) -> None:
        for vessel in self.touched.values():
            vessel.note(at)
        self.touched = {}

    def _start(self, move: Move, at: datetime) -> None:
        source = self.vessel(move.source, move.unit, at) if move.source else None
        target = self.vessel(move.target, move.unit, at) if move.target else None
        origin = at if source is None or source.oldest_at is None or move.renews_age else source.oldest_at
        for vessel, sign in ((source, -1), (target, 1)):
            if vessel is not None:
                quantity = self._quantity(vessel, move.quantity, move.unit, at, move.lb_per_gal)
                flow = _Flow(sign, quantity, self._doubt(vessel, move, quantity))
                if sign > 0:
                    vessel.lb_per_gal = move.lb_per_gal
                vessel.flow_starts(flow, move, at, origin)

    def _end(self, move: Move, at: datetime) -> None:
        source = self.vessel(move.source, move.unit, at) if move.source else None
        target = self.vessel(move.target, move.unit, at) if move.target else None
        if source and target and source.oldest_at and target.oldest_at and not move.renews_age:
            target.oldest_at = min(target.oldest_at, source.oldest_at)
        for vessel, sign in ((source, -1), (target, 1)):
            if vessel is not None:
                vessel.flow_ends((move.number, sign))

    def _quantity(
        self, vessel: "_Vessel", quantity: Decimal | None, unit: str, at: datetime, lb_per_gal: Decimal | None
    ) -> Fraction | None:
        if quantity is None:
            return None
        converted = self._converted(quantity, unit, vessel.unit, lb_per_gal)
        if converted is None:
            vessel.discrepancies.append(Discrepancy(vessel.name, at, "unit"))
        return converted

    def _doubt(self, vessel: "_Vessel", move: Move, quantity: Fraction | None) -> Fraction:
        own = self._converted(move.uncertainty, move.unit, vessel.unit, move.lb_per_gal) or ZERO
        if quantity is None or not crosses(move.unit, vessel.unit):
            return own
        return own + quantity * Fraction(move.density_doubt)

    def _converted(self, quantity: Decimal, unit: str, to: str, lb_per_gal: Decimal | None) -> Fraction | None:
        density = lb_per_gal or self.lb_per_gal
        try:
            return exact(quantity, unit, to) if density is None else between(quantity, unit, to, density)
        except UnitError:
            return None


@dataclass(slots=True)
class _Flow:
    """A movement at one of its ends: +1 into, -1 out of the vessel. `rate` None: its course is unknown."""

    sign: int
    quantity: Fraction | None
    doubt: Fraction
    rate: Fraction | None = None


@dataclass(slots=True)
class _Vessel:
    """One vessel during the fold. `quantity` may run below zero while something is drawn; None is unknown."""

    name: str
    unit: str
    at: datetime
    quantity: Fraction | None = ZERO
    lb_per_gal: Decimal | None = None  # the density of the last fill
    doubt: Fraction = ZERO  # summed uncertainty since the quantity was last certain
    drawn: bool = False  # something was drawn since the last fill, so what is left may be nothing
    flows: dict[tuple[int, int], _Flow] = field(default_factory=dict)
    since: datetime | None = None
    batch: Batch | None = None
    clean: bool = False  # washed since it was emptied
    sanitized: bool = False  # and sanitized after that
    oldest_at: datetime | None = None
    emptied_at: datetime | None = None
    washed_at: datetime | None = None
    sanitized_at: datetime | None = None
    washing: set[Wash] = field(default_factory=set)
    out: bool = False
    snapshots: list[Snapshot] = field(default_factory=list)
    holdings: list[Held] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)
    discrepancies: list[Discrepancy] = field(default_factory=list)

    def rate(self) -> Fraction | None:
        rates = [flow.rate for flow in self.flows.values()]
        return None if None in rates else sum((rate for rate in rates if rate is not None), ZERO)

    def advance(self, at: datetime) -> None:
        """Let the flows run until `at`."""
        if at > self.at and self.flows:
            rate = self.rate()
            if rate is None or self.quantity is None:
                self.quantity = None
            else:
                self.quantity += rate * ((at - self.at) // MICROSECOND)
        self.at = at

    def flow_starts(self, flow: _Flow, move: Move, at: datetime, origin: datetime) -> None:
        self.doubt += flow.doubt
        if flow.sign > 0:
            self.drawn = False
            self.oldest_at = origin if self.oldest_at is None else min(self.oldest_at, origin)
        if self.since is None:
            self._begins(at, move.number if flow.sign > 0 else None, move.target_lot if flow.sign > 0 else "")
        if move.ended_at is None or move.ended_at > at:
            if flow.quantity is not None and move.ended_at is not None:
                flow.rate = flow.sign * flow.quantity / ((move.ended_at - at) // MICROSECOND)
            self.flows[move.number, flow.sign] = flow
        else:
            self._passed(flow)

    def flow_ends(self, key: tuple[int, int]) -> None:
        flow = self.flows.pop(key)
        if flow.quantity is None:
            self.quantity = None
        self.drawn = self.drawn or flow.sign < 0

    def _passed(self, flow: _Flow) -> None:
        """A movement that took no time."""
        self.drawn = self.drawn or flow.sign < 0
        if self.quantity is None or flow.quantity is None:
            self.quantity = None
        else:
            self.quantity += flow.sign * flow.quantity

    def seen(self, level: Fraction | None, at: datetime) -> None:
        if level is None:
            return
        if self.since is None:
            if level > 0:
                self.discrepancies.append(Discrepancy(self.name, at, "found", level))
                self._begins(at, None, "")
                self.oldest_at = at
        elif self.quantity is not None and level != self.quantity:
            self.discrepancies.append(Discrepancy(self.name, at, "level", level - self.quantity))
        self.quantity, self.doubt = level, ZERO

    def wash_starts(self, wash: Wash, at: datetime) -> None:
        self._shown_empty(at)
        if wash.ended_at > at:
            self.washing.add(wash)

    def wash_ends(self, wash: Wash, at: datetime) -> None:
        self.washing.discard(wash)
        self._shown_empty(at)
        if self.since is not None:
            self.discrepancies.append(Discrepancy(self.name, at, "washed while holding", self._minus_book()))
        elif wash.kind == "washed":
            self.washed_at, self.clean, self.sanitized, self.batch = at, True, False, None
        else:
            self.sanitized_at, self.sanitized = at, self.clean

    def settle(self, at: datetime) -> None:
        """End a holding that has run out, and say where more was drawn than the book held."""
        if any(flow.sign < 0 for flow in self.flows.values()):
            return
        if self.quantity is not None and self.quantity < 0:
            self.discrepancies.append(Discrepancy(self.name, at, "below zero", -self.quantity))
            self.quantity = ZERO
        if self.quantity == 0 and not self.flows and self.since is not None:
            self._emptied(at)

    def note(self, at: datetime) -> None:
        """Keep the vessel as it is now."""
        self.snapshots.append(
            Snapshot(
                at=at,
                quantity=self.quantity,
                rate=self.rate(),
                holding=self.since is not None,
                since=self.since,
                batch=self.batch,
                oldest_at=self.oldest_at,
                emptied_at=self.emptied_at,
                washed_at=self.washed_at,
                sanitized_at=self.sanitized_at,
                clean=self.clean,
                sanitized=self.sanitized,
                washing=bool(self.washing),
                out=self.out,
            )
        )

    def book(self) -> VesselBook:
        held = [*self.holdings] + ([Held(self.since, None)] if self.since is not None else [])
        return VesselBook(
            self.name,
            self.unit,
            tuple(self.snapshots),
            tuple(held),
            tuple(self.batches),
            tuple(self.discrepancies),
            tuple(one.at for one in self.snapshots),
        )

    def _begins(self, at: datetime, move: int | None, lot: str) -> None:
        """Product is in the vessel from now on; after a clean break it is a new lot."""
        self.since = at
        if self.holdings and self.holdings[-1].until == at:
            self.since = self.holdings.pop().since
        if self.batch is None:
            self.batch = Batch(at, move, lot)
            self.batches.append(self.batch)
        self.clean = self.sanitized = False

    def _emptied(self, at: datetime) -> None:
        if self.since is not None and self.since < at:
            self.holdings.append(Held(self.since, at))
        self.since, self.oldest_at, self.emptied_at = None, None, at
        self.quantity, self.doubt, self.drawn = ZERO, ZERO, False

    def _shown_empty(self, at: datetime) -> None:
        """A wash shows that a vessel is empty when the book does not deny it.

        Unknown after a draw, or within doubt.
        """
        if self.since is None or self.flows or not self.drawn:
            return
        if self.quantity is None or self.quantity <= self.doubt:
            self.discrepancies.append(Discrepancy(self.name, at, "taken as empty", self._minus_book()))
            self._emptied(at)

    def _minus_book(self) -> Fraction | None:
        return None if self.quantity is None else -self.quantity
