"""The plant in motion: vessels from event to event, with the composition of each between bounds.

A composition is an array of two rows, the least and the largest share of every source. Mixing is monotone in what is
mixed, so each row goes through the same equations. Where a quantity is unknown only this is certain: what is in a
vessel lies between the smallest and the largest shares of what was in it and what came in.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, within
from plant.process.lots.interval import NEARLY, Flow, Pool, after, hull, unknown
from plant.process.lots.reach import Six
from plant.process.lots.records import Lot, Origin, breaks_by_vessel, wrong_times
from plant.process.said import say as _

ROUNDING = 1e-9  # of what goes through a vessel: sums of many quantities are no more exact


@dataclass(slots=True)
class Taken:
    """What came together: the known quantities and their parts, and bounds of what came in unknown quantity."""

    size: int
    known: float = 0.0
    vague: bool = False
    parts: FloatArray = field(init=False)
    bounds: FloatArray | None = None

    def __post_init__(self) -> None:
        self.parts = np.zeros((2, self.size))

    def add(self, quantity: float, mix: FloatArray) -> None:
        if quantity > 0:
            self.known += quantity
            self.parts = self.parts + quantity * mix
            return
        # An unknown quantity, or none at all: then only the composition is of interest.
        self.vague = self.vague or math.isnan(quantity)
        self.bounds = mix.copy() if self.bounds is None else hull([self.bounds, mix])

    def mix(self) -> tuple[float | None, FloatArray, FloatArray]:
        """Quantity, least and largest shares."""
        together = [self.parts / self.known] if self.known > 0 else []
        if self.bounds is not None and (self.vague or not together):
            together.append(self.bounds)
        bounds = hull(together) if together else unknown(self.size)
        return None if self.vague else self.known, bounds[0], bounds[1]


@dataclass(slots=True)
class Plant:
    """The fold of a record into shares; `run` fills the results."""

    movements: Sequence[Six]
    breaks: Sequence[tuple[str, float]]
    origin: Origin | None
    outside: frozenset[str]
    moments: Sequence[float]
    until: float | None
    slack: float
    doubted: frozenset[Lot] = frozenset()
    sources: tuple[Hashable, ...] = ()
    entered: dict[Lot, Taken] = field(default_factory=dict)
    held: dict[Lot, tuple[float, FloatArray]] = field(default_factory=dict)
    carried: dict[Hashable, Taken] = field(default_factory=dict)
    seen: dict[tuple[str, float], tuple[float, FloatArray]] = field(default_factory=dict)
    overdrawn: dict[Lot, float] = field(default_factory=dict)
    doubts: set[Lot] = field(default_factory=set)
    _pools: dict[str, Pool] = field(default_factory=dict)
    _fills: defaultdict[str, int] = field(default_factory=lambda: defaultdict(int))
    _place: dict[Hashable, int] = field(default_factory=dict)
    _washes: dict[str, list[float]] = field(default_factory=dict)
    _horizon: float = 0.0

    def run(self) -> None:
        """Every event in order; at one moment: movements end, vessels are washed, movements start."""
        flows = self._prepared()
        starting, ending = defaultdict(list), defaultdict(list)
        for flow in flows:
            starting[flow.started_at].append(flow)
            ending[flow.ended_at].append(flow)
        washed = defaultdict(list)
        for vessel, moments in self._washes.items():
            for at in moments:
                washed[at].append(vessel)
        window = () if self.origin is None else (self.origin.since, self.origin.until)
        events = {*starting, *ending, *washed, *self.moments, *(one for one in window if math.isfinite(one))}
        events.add(self._horizon)
        asked, going = set(self.moments), dict[Hashable, Flow]()
        times = sorted(one for one in events if one <= self._horizon)
        for at, following in zip(times, [*times[1:], None], strict=True):
            for flow in ending[at]:
                going.pop(flow.ident, None)
            for vessel in washed[at]:
                self._wash(vessel)
            self._force(at, at)
            for flow in starting[at]:
                if flow.ended_at > at:
                    going[flow.ident] = flow
                else:
                    self._at_once(flow)
                    self._force(at, at)
            if at in asked:
                self._look(at)
            if following is not None:
                self._flow(list(going.values()), at, following)
                self._force(at, following)
        for vessel in self._pools:
            self._close(vessel)

    def _prepared(self) -> list[Flow]:
        """The movements checked and named; sources numbered; flows that go on cut at the end of the record."""
        ends = [at for one in self.movements for at in (one[3], one[4]) if at is not None and math.isfinite(at)]
        self._washes = breaks_by_vessel(self.breaks)
        ends += [at for moments in self._washes.values() for at in moments]
        self._horizon = max([*ends, *self.moments]) if self.until is None else self.until
        within("end of the record", self._horizon, None, None, "s")
        idents = [one[0] for one in self.movements]
        if len(set(idents)) != len(idents):
            raise CalculationError(_("two movements have the same name"))
        away = self.outside | {None}
        self.sources = tuple(one[0] for one in self.movements if one[1] in away)
        if self.origin is not None:
            self.sources = ("origin",)
        self._place = {ident: place for place, ident in enumerate(self.sources)}
        return [flow for one in self.movements if (flow := self._flow_of(one, away)) is not None]

    def _flow_of(self, move: Six, away: frozenset[str | None]) -> Flow | None:
        ident, source, target, start, ended, quantity = move
        end = math.inf if ended is None else ended
        if not end >= start or not math.isfinite(start):
            raise wrong_times(ident)
        if quantity is not None:
            within(str(_("quantity of movement %(number)s", number=str(ident))), quantity, 0, 1e12)
        if start > self._horizon:
            return None
        if end == math.inf:
            end, quantity = max(self._horizon, start), None
        rate = math.nan if quantity is None else quantity
        if end > start:
            rate /= end - start
        for vessel in {source, target} - away:
            if vessel not in self._pools:
                self._pools[str(vessel)] = self._clean(str(vessel))
        giver, taker = None if source in away else source, None if target in away else target
        return Flow(ident, giver, taker, start, end, rate, None if giver else self._tag(move))

    def _tag(self, move: Six) -> FloatArray:
        """The composition of what comes from outside; for an origin in its window see `_of_origin`."""
        if self.origin is None:
            share = np.zeros(len(self.sources))
            share[self._place[move[0]]] = 1.0
        else:
            share = np.array([1.0 if move[1] in self.origin.places else 0.0])
        return np.array([share, share])

    def _in_window(self, at: float, until: float) -> bool:
        return self.origin is not None and self.origin.since <= at and until <= self.origin.until

    def _marked(self, flow: Flow, at: float, until: float) -> Flow:
        """A flow with the composition that the origin gives it: all of it, or nothing outside the window."""
        if self.origin is None:
            return flow
        if flow.ident in self.origin.movements:
            return flow.with_mix(np.ones((2, 1)))
        if flow.source is None and not self._in_window(at, until):
            return flow.with_mix(np.zeros((2, 1)))
        return flow

    def _force(self, at: float, until: float) -> None:
        """In the window all that a vessel of the origin holds is of the origin."""
        if self.origin is not None and self._in_window(at, until):
            for vessel in self.origin.places:
                if vessel in self._pools:
                    self._pools[vessel].mix = np.ones((2, 1))

    def _forced(self, at: float, until: float) -> frozenset[str]:
        return frozenset(self.origin.places if self.origin is not None and self._in_window(at, until) else ())

    def _lot(self, vessel: str) -> Lot:
        return vessel, self._fills[vessel]

    def _clean(self, vessel: str) -> Pool:
        """A vessel at the beginning of a fill: empty; of a doubted lot nothing is known."""
        quantity = math.nan if self._lot(vessel) in self.doubted else 0.0
        return Pool(quantity, unknown(len(self.sources)))

    def _moved(self, flow: Flow, quantity: float, mix: FloatArray) -> None:
        size = len(self.sources)
        self.carried.setdefault(flow.ident, Taken(size)).add(quantity, mix)
        if flow.source is not None:
            self._pools[flow.source].used = True
        if flow.target is not None:
            self._pools[flow.target].used = True
            self.entered.setdefault(self._lot(flow.target), Taken(size)).add(quantity, mix)

    def _flow(self, flows: Iterable[Flow], at: float, until: float) -> None:
        """Let the flows run from one event to the next, in parts where a vessel runs empty on the way."""
        marked = [self._marked(flow, at, until) for flow in flows]
        forced, left = self._forced(at, until), until - at
        while marked and left > 0:
            step = self._until_empty(marked, left)
            self._draw_too_much(marked, step)
            for flow, mix in after(self._pools, marked, forced, step):
                self._moved(flow, flow.rate * step, mix)
            left = left - step if step < left else 0.0

    def _nets(self, flows: Iterable[Flow]) -> dict[str, float]:
        """What each vessel gains [unit/s]; what is rounding beside the flows is nothing."""
        nets: dict[str, float] = defaultdict(float)
        gross: dict[str, float] = defaultdict(float)
        for flow in flows:
            for vessel, sign in ((flow.source, -1), (flow.target, 1)):
                if vessel is not None:
                    nets[vessel] += sign * flow.rate
                    gross[vessel] += flow.rate
        return {vessel: 0.0 if abs(net) <= ROUNDING * gross[vessel] else net for vessel, net in nets.items()}

    def _until_empty(self, flows: Iterable[Flow], left: float) -> float:
        step = left
        for vessel, net in self._nets(flows).items():
            quantity = self._pools[vessel].quantity
            if net < 0 and quantity > 0 and quantity / -net < step * (1 - 1e-12):
                step = quantity / -net
        return step

    def _draw_too_much(self, flows: Iterable[Flow], step: float) -> None:
        for vessel, net in self._nets(flows).items():
            if net < 0 and self._pools[vessel].quantity == 0:
                self._short(vessel, -net * step)

    def _short(self, vessel: str, quantity: float) -> None:
        """More is drawn than the vessel holds: within slack it was empty, beyond something is missing in the record."""
        pool, lot = self._pools[vessel], self._lot(vessel)
        pool.short += quantity
        rounding = ROUNDING * pool.through
        if pool.short > rounding:
            self.overdrawn[lot] = pool.short
        if pool.short > self.slack + rounding:
            self.doubts.add(lot)

    def _at_once(self, flow: Flow) -> None:
        """A movement that takes no time."""
        flow = self._marked(flow, flow.started_at, flow.started_at)
        quantity = flow.rate
        if flow.source is not None:
            pool = self._pools[flow.source]
            if quantity > pool.quantity:
                self._short(flow.source, quantity - pool.quantity)
            mix = pool.mix if flow.mix is None else flow.mix
            left = pool.quantity - quantity
            pool.quantity = 0.0 if left <= NEARLY * pool.through else left
        else:
            mix = unknown(len(self.sources)) if flow.mix is None else flow.mix
        self._moved(flow, quantity, mix)
        if flow.target is not None:
            self._pools[flow.target].receive(quantity, mix)

    def _wash(self, vessel: str) -> None:
        if vessel in self._pools:
            self._close(vessel)
        self._fills[vessel] += 1
        if vessel in self._pools:
            self._pools[vessel] = self._clean(vessel)

    def _close(self, vessel: str) -> None:
        pool = self._pools[vessel]
        if pool.used:
            self.held[self._lot(vessel)] = (pool.quantity, pool.mix)

    def _look(self, at: float) -> None:
        for vessel, pool in self._pools.items():
            self.seen[vessel, at] = (pool.quantity, pool.mix)
