"""One interval between two events: even flows between vessels, each composition between its bounds."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.lots.mixing import Course, Tank, coupled, mixed_closed, steady

NEARLY = 1e-12  # of all that went through a vessel: less is nothing


@dataclass(slots=True)
class Pool:
    """What is in a vessel: quantity (nan: unknown) and composition; what went through it, and what it fell short of."""

    quantity: float
    mix: FloatArray
    through: float = 0.0
    short: float = 0.0
    used: bool = False

    def receive(self, quantity: float, mix: FloatArray) -> None:
        """Take in a quantity at once."""
        if quantity == 0:
            return
        if self.quantity == 0:
            self.mix = mix
        elif math.isnan(self.quantity + quantity):
            self.mix = hull([self.mix, mix])
        else:
            self.mix = (self.quantity * self.mix + quantity * mix) / (self.quantity + quantity)
        self.quantity += quantity
        self.through += quantity if quantity == quantity else 0.0


@dataclass(frozen=True, slots=True)
class Flow:
    """A movement: `rate` [unit/s], or its quantity where it takes no time; nan unknown. `mix`: unless its source's."""

    ident: Hashable
    source: str | None
    target: str | None
    started_at: float
    ended_at: float
    rate: float
    mix: FloatArray | None

    def with_mix(self, mix: FloatArray) -> Flow:
        """The same with another composition."""
        return replace(self, mix=mix)


def unknown(size: int) -> FloatArray:
    """Any share from nothing to all."""
    return np.array([np.zeros(size), np.ones(size)])


def hull(mixes: Sequence[FloatArray]) -> FloatArray:
    """Bounds that hold all of these."""
    stacked = np.array(mixes)
    return np.array([stacked[:, 0].min(axis=0), stacked[:, 1].max(axis=0)])


@dataclass(slots=True)
class _Net:
    """The flows of an interval by vessel; flows of no quantity left out."""

    pools: Mapping[str, Pool]
    ins: dict[str, list[Flow]]
    outs: dict[str, list[Flow]]
    courses: dict[str, Course]

    def course(self, flow: Flow) -> Course | None:
        """The course of what a flow carries; None while it is not known."""
        if flow.mix is not None:
            return steady(flow.mix)
        return self.courses.get(flow.source or "")

    def inflow(self, vessel: str) -> float:
        return sum(flow.rate for flow in self.ins[vessel])

    def outflow(self, vessel: str) -> float:
        return sum(flow.rate for flow in self.outs[vessel])

    def vague(self, vessel: str) -> bool:
        """Whether only bounds can be given: something comes in, and a quantity is unknown."""
        numbers = self.pools[vessel].quantity + self.inflow(vessel) + self.outflow(vessel)
        return bool(self.ins[vessel]) and math.isnan(numbers)


def after(
    pools: Mapping[str, Pool], flows: Sequence[Flow], forced: frozenset[str], seconds: float
) -> list[tuple[Flow, FloatArray]]:
    """Carry the vessels over the interval; give each flow with the mean composition of what it carried.

    A vessel that is `forced` keeps its composition. None may run empty before the end.
    """
    ins, outs = defaultdict(list), defaultdict(list)
    for flow in flows:
        if flow.rate != 0:
            if flow.target is not None:
                ins[flow.target].append(flow)
            if flow.source is not None:
                outs[flow.source].append(flow)
    still = {one.source for one in flows if one.rate == 0 and one.source is not None}
    net = _Net(pools, ins, outs, {})
    touched = sorted({*ins, *outs, *still})
    vague = [vessel for vessel in touched if vessel not in forced and net.vague(vessel)]
    spans = _spans(net, touched, forced) if vague else {}
    for vessel in touched:
        if vessel in spans and vessel in vague:
            net.courses[vessel] = steady(spans[vessel])
        elif vessel in forced or not ins[vessel]:
            net.courses[vessel] = steady(pools[vessel].mix)
    rest = [vessel for vessel in touched if vessel not in net.courses]
    rest = _closed(net, rest, seconds)
    _together(net, [vessel for vessel in rest if outs[vessel]], seconds)
    for vessel in rest:
        if not outs[vessel]:
            net.courses[vessel] = _filled(net, vessel, seconds)
    for vessel in touched:
        _carry_over(net, vessel, seconds)
    return [(flow, _mean(net, flow)) for flow in flows]


def _mean(net: _Net, flow: Flow) -> FloatArray:
    course = net.course(flow)
    assert course is not None
    return course.mean


def _spans(net: _Net, touched: Iterable[str], forced: frozenset[str]) -> dict[str, FloatArray]:
    """For each vessel bounds that hold during the whole interval: its own contents and all that can come into it."""
    spans: dict[str, FloatArray] = {}
    for vessel in touched:
        pool = net.pools[vessel]
        if vessel in forced or not net.ins[vessel] or pool.quantity != 0:
            spans[vessel] = pool.mix
    changed = True
    while changed:
        changed = False
        for vessel in touched:
            if vessel in forced or not net.ins[vessel]:
                continue
            given = [flow.mix if flow.mix is not None else spans.get(flow.source or "") for flow in net.ins[vessel]]
            mixes = [one for one in (spans.get(vessel), *given) if one is not None]
            if mixes:
                wider = hull(mixes)
                if vessel not in spans or (wider != spans[vessel]).any():
                    spans[vessel], changed = wider, True
    return {vessel: spans.get(vessel, net.pools[vessel].mix) for vessel in touched}


def _closed(net: _Net, vessels: Sequence[str], seconds: float) -> list[str]:
    """Solve all vessels whose inlets are constant, as long as there are any; return the others."""
    rest, before = list(vessels), -1
    while rest and len(rest) != before:
        before = len(rest)
        for vessel in list(rest):
            given = [(flow.rate, net.course(flow)) for flow in net.ins[vessel]]
            if all(course is not None and course.constant for _rate, course in given):
                inflow = net.inflow(vessel)
                inlet = sum((rate * course.end for rate, course in given if course), np.zeros(1)) / inflow
                pool = net.pools[vessel]
                net.courses[vessel] = mixed_closed(
                    pool.quantity, pool.mix, inflow, np.asarray(inlet), net.outflow(vessel), seconds
                )
                rest.remove(vessel)
    return rest


def _together(net: _Net, vessels: Sequence[str], seconds: float) -> None:
    """Solve the vessels whose inlets change and from which something leaves."""
    if not vessels:
        return
    links: dict[tuple[str, str], float] = defaultdict(float)
    feeds: list[tuple[str, float, Course]] = []
    for vessel in vessels:
        for flow in net.ins[vessel]:
            course = net.course(flow)
            if course is not None:
                feeds.append((vessel, flow.rate, course))
            else:
                links[flow.source or "", vessel] += flow.rate
    tanks = {name: Tank(net.pools[name].quantity, net.pools[name].mix, net.outflow(name)) for name in vessels}
    try:
        found = coupled(tanks, links, feeds, seconds)
    except np.linalg.LinAlgError:
        # A ring of vessels that hold nothing and get nothing: what goes round in it is not known.
        vague = unknown(net.pools[vessels[0]].mix.shape[1])
        found = dict.fromkeys(vessels, (vague, vague))
    for name, (end, mean) in found.items():
        net.courses[name] = replace(steady(end), mean=mean, constant=False)


def _filled(net: _Net, vessel: str, seconds: float) -> Course:
    """A vessel from which nothing leaves: it holds what it held and what came in."""
    pool = net.pools[vessel]
    parts = pool.quantity * pool.mix
    for flow in net.ins[vessel]:
        parts = parts + flow.rate * seconds * _mean(net, flow)
    return steady(parts / (pool.quantity + net.inflow(vessel) * seconds))


def _carry_over(net: _Net, vessel: str, seconds: float) -> None:
    pool, inflow, outflow = net.pools[vessel], net.inflow(vessel), net.outflow(vessel)
    quantity = pool.quantity + (inflow - outflow) * seconds
    brought = inflow * seconds
    pool.through += brought if brought == brought else 0.0
    # A vessel that runs empty at the end of the interval is empty, not nearly so.
    pool.quantity = 0.0 if quantity <= NEARLY * pool.through else quantity
    pool.mix = net.courses[vessel].end
