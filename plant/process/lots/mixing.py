"""Perfect mixing while product flows evenly: how a vessel's composition changes between two events.

Between events every flow is constant, so a vessel's quantity V is a straight line of time and its composition c obeys
V dc/dt = sum of q (c_in - c) over what comes in. With inlets of constant composition the answer is closed: a power of
V, or an exponential where V stays. Inlets whose composition changes, and vessels that feed each other in a ring, are
solved together by a collocation method of order 15 on steps that shrink towards the moments where a vessel is empty.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from scipy import linalg, special

from plant.process.arrays import FloatArray
from plant.process.errors import within

__all__ = ["coupled", "mixed_closed", "washed_out"]

_STAGES: Final = 8
_GROWTH: Final = 0.5


def washed_out(quantity: float, inflow: float, outflow: float, seconds: float) -> tuple[float, float]:
    """What is left of a vessel's first contents while others flow in and out, in perfect mixing.

    Gives two shares [-]: of the contents at the end, and of all that left (where nothing leaves: of what might).
    quantity: at the start [unit]. inflow, outflow: [unit/s]. seconds: [s].

    exp(-inflow L) and quantity (1 - exp(-outflow L))/(outflow seconds), L = ln(V_end/V_start)/(inflow - outflow): a
    power of V_end/V_start; L = seconds/quantity where inflow and outflow are equal.

    Range: quantity, flows and time from 0 to 1e15; the vessel must not run empty before the end.
    Raises: OutsideRange.
    Source: perfectly mixed vessel: Danckwerts, Chem. Eng. Sci. 2:1, 1953; Levenspiel, Chemical Reaction Engineering,
    3rd ed., ch. 11 (both from memory); with changing volume by separation of variables, by definition.

    >>> left, gone = washed_out(100.0, 1.0, 1.0, 100.0)
    >>> round(left, 6), round(gone, 6)
    (0.367879, 0.632121)
    """
    within("quantity", quantity, 0, 1e15)
    within("inflow", inflow, 0, 1e15)
    within("outflow", outflow, 0, 1e15)
    within("time", seconds, 0, 1e15, "s")
    net = inflow - outflow
    within("quantity at the end", quantity + net * seconds, -1e-9 * max(quantity, 1e-300))
    if inflow == 0 or seconds == 0:
        return 1.0, 1.0
    if quantity == 0:
        return 0.0, 0.0
    turn = _turn(quantity, net, seconds)
    left, drawn = math.exp(-inflow * turn), outflow * turn
    if math.isinf(turn):
        return left, min(quantity / (outflow * seconds), 1.0)
    share = -math.expm1(-drawn) / drawn if drawn > 1e-300 else 1.0
    return left, min(quantity * turn / seconds * share, 1.0)


def _turn(quantity: float, net: float, seconds: float) -> float:
    """The integral of dt/V [s/unit]."""
    share = net * seconds / quantity
    if share <= -1:
        return math.inf
    return seconds / quantity * (math.log1p(share) / share if abs(share) > 1e-300 else 1.0)


@dataclass(frozen=True, slots=True)
class Course:
    """One vessel during an interval: composition at the end, mean composition of what leaves, and at any time [s].

    `quick`: the time in which it takes in its own quantity [s]; `empty_at`: when it runs empty [s].
    """

    end: FloatArray
    mean: FloatArray
    at: Callable[[float], FloatArray]
    constant: bool
    quick: float = math.inf
    empty_at: float = math.inf


def steady(composition: FloatArray) -> Course:
    """A composition that does not change."""
    return Course(composition, composition, lambda _seconds: composition, True)


def mixed_closed(
    quantity: float, start: FloatArray, inflow: float, inlet: FloatArray, outflow: float, seconds: float
) -> Course:
    """A vessel whose inlets together have one constant composition, in closed form; see washed_out.

    quantity: [unit]. start, inlet: compositions, arrays of one shape [-]. inflow (above 0), outflow: [unit/s].
    seconds: [s].

    Range: as washed_out.
    Raises: OutsideRange.
    Source: as washed_out; linear in the compositions.

    >>> course = mixed_closed(50.0, np.array([1.0, 0.0]), 2.0, np.array([0.0, 1.0]), 1.0, 50.0)
    >>> course.end.tolist()  # (50/100)^2 of the first contents is left
    [0.25, 0.75]
    """
    if quantity == 0:
        return steady(inlet)
    left, gone = washed_out(quantity, inflow, outflow, seconds)
    away = start - inlet

    def at(moment: float) -> FloatArray:
        return inlet + away * washed_out(quantity, inflow, outflow, min(moment, seconds))[0]

    empty_at = quantity / (outflow - inflow) if outflow > inflow else math.inf
    return Course(inlet + away * left, inlet + away * gone, at, False, quantity / inflow, empty_at)


@dataclass(frozen=True, slots=True)
class Tank:
    """A vessel in a coupled system: quantity [unit], composition, and outflow [unit/s]."""

    quantity: float
    start: FloatArray
    outflow: float


def coupled(
    tanks: Mapping[str, Tank],
    links: Mapping[tuple[str, str], float],
    feeds: Sequence[tuple[str, float, Course]],
    seconds: float,
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Vessels whose inlets change while they flow, rings included, solved together.

    tanks: by name, each with an outflow. links: flow from one of them to another [unit/s]. feeds: flow into one of them
    [unit/s] with the course of its composition. seconds: [s]. A vessel of no quantity passes on what comes in. Gives
    for each its composition at the end, and the mean composition of what leaves.

    Radau IIA collocation with 8 stages on geometric steps; relative error below 1e-9 in tests.

    Range: quantities and flows from 0 to 1e15; no vessel empty before the end; at most 200 vessels.
    Raises: OutsideRange; numpy.linalg.LinAlgError for a ring of vessels without quantity that nothing comes into.
    Source: Hairer and Wanner, Solving Ordinary Differential Equations II, IV.5 (from memory).

    >>> water = np.array([0.0])
    >>> pair = {"A": Tank(50.0, np.array([0.5]), 4.0), "B": Tank(50.0, water, 4.0)}
    >>> feeds = [("A", 3.0, steady(water))]
    >>> found = coupled(pair, {("A", "B"): 4.0, ("B", "A"): 1.0}, feeds, 25.0)
    >>> round(50 * float(found["A"][0][0]), 6)  # 12.5 (exp(-1) + exp(-3))
    5.220831
    """
    within("number of vessels", len(tanks), 1, 200)
    within("time", seconds, 0, 1e15, "s")
    system = _System.of(tanks, links, feeds)
    for quantity, net in zip(system.quantity.tolist(), system.net.tolist(), strict=True):
        within("quantity", quantity, 0, 1e15)
        within("quantity at the end", quantity + net * seconds, -1e-9 * max(quantity, 1e-300))
    state = system.begin()
    total = np.zeros_like(state)
    moment = 0.0
    first = system.first_step(seconds)
    while moment < seconds:
        step = min(first + _GROWTH * moment, _GROWTH * system.until_empty(moment))
        step = max(step, 1e-13 * seconds)
        if moment + step > seconds * (1 - 1e-13):
            step = seconds - moment
        state, mean = system.stepped(state, moment, step)
        total += mean * step
        moment = moment + step if step < seconds - moment else seconds
    shape = next(iter(tanks.values())).start.shape
    if seconds > 0:
        total /= seconds
    return {name: (state[place].reshape(shape), total[place].reshape(shape)) for place, name in enumerate(system.names)}


@dataclass(frozen=True, slots=True)
class _System:
    names: tuple[str, ...]
    quantity: FloatArray
    net: FloatArray
    inflow: FloatArray
    start: FloatArray  # vessels x columns
    matrix: FloatArray  # what comes into each, less what it takes in all [unit/s]
    feeds: list[tuple[int, float, Course]]

    @classmethod
    def of(
        cls,
        tanks: Mapping[str, Tank],
        links: Mapping[tuple[str, str], float],
        feeds: Sequence[tuple[str, float, Course]],
    ) -> _System:
        names = tuple(tanks)
        place = {name: one for one, name in enumerate(names)}
        matrix = np.zeros((len(names), len(names)))
        inflow = np.zeros(len(names))
        for (giver, taker), flow in links.items():
            matrix[place[taker], place[giver]] += flow
            inflow[place[taker]] += flow
        for taker, flow, _course in feeds:
            inflow[place[taker]] += flow
        matrix -= np.diag(inflow)
        quantity = np.array([tanks[name].quantity for name in names])
        net = inflow - np.array([tanks[name].outflow for name in names])
        # An empty vessel from which more is drawn than comes in stays empty.
        net = np.where((quantity == 0) & (net < 0), 0.0, net)
        start = np.array([tanks[name].start.ravel() for name in names])
        return cls(names, quantity, net, inflow, start, matrix, [(place[a], b, c) for a, b, c in feeds])

    def fed(self, moment: float) -> FloatArray:
        """What the feeds bring at a moment [unit/s], vessels x columns."""
        brought = np.zeros_like(self.start)
        for place, flow, course in self.feeds:
            brought[place] += flow * course.at(moment).ravel()
        return brought

    def begin(self) -> FloatArray:
        """The compositions at the start: an empty vessel has that of what comes in."""
        state = self.start.copy()
        empty = self.quantity == 0
        if empty.any():
            right = self.fed(0.0) + self.matrix[:, ~empty] @ state[~empty]
            state[empty] = np.linalg.solve(-self.matrix[np.ix_(empty, empty)], right[empty])
        return state

    def first_step(self, seconds: float) -> float:
        """Half the time in which the quickest vessel, here or before it, takes in its own quantity."""
        full = (self.quantity > 0) & (self.inflow > 0)
        quick = (self.quantity[full] / self.inflow[full]).min(initial=seconds)
        return _GROWTH * min(float(quick), *(course.quick for _place, _flow, course in self.feeds), seconds)

    def until_empty(self, moment: float) -> float:
        """The time to the next vessel's end [s], inf where none runs empty."""
        falling = self.net < 0
        left = self.quantity[falling] + self.net[falling] * moment
        soonest = float((left / -self.net[falling]).min(initial=math.inf))
        return min(soonest, *(course.empty_at - moment for _place, _flow, course in self.feeds), math.inf)

    def stepped(self, state: FloatArray, moment: float, step: float) -> tuple[FloatArray, FloatArray]:
        """The compositions after one step, and their mean during it."""
        nodes, slopes, weights = _radau()
        count, columns = state.shape
        volumes = np.maximum(self.quantity[None, :] + self.net[None, :] * (moment + step * nodes[:, None]), 0.0)
        # Unknown: stages x vessels. V dc/dt - matrix c = what is fed.
        left = np.einsum("nl,ni,ij->nilj", slopes[:, 1:] / step, volumes, np.eye(count))
        left -= np.einsum("nl,ij->nilj", np.eye(_STAGES), self.matrix)
        right = np.array([self.fed(moment + step * node) for node in nodes])
        right -= (slopes[:, 0] / step)[:, None, None] * volumes[:, :, None] * state[None]
        size = _STAGES * count
        found = np.linalg.solve(left.reshape(size, size), right.reshape(size, columns))
        stages = found.reshape(_STAGES, count, columns)
        return stages[-1], np.einsum("n,nic->ic", weights, stages)


@cache
def _radau() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes in (0, 1], slopes at the nodes of the polynomial through 0 and the nodes, and weights of the integral."""
    inner, _weights = special.roots_jacobi(_STAGES - 1, 1.0, 0.0)
    nodes = np.r_[(inner + 1) / 2, 1.0]
    points = np.r_[0.0, nodes]
    gaps = points[:, None] - points[None, :] + np.eye(len(points))
    bary = 1 / gaps.prod(axis=1)
    slopes = (bary[None, :] / bary[:, None]) / gaps
    np.fill_diagonal(slopes, 0.0)
    np.fill_diagonal(slopes, -slopes.sum(axis=1))
    legendre = np.polynomial.legendre.legvander(2 * nodes - 1, _STAGES - 1)
    weights = linalg.solve(legendre.T, np.r_[1.0, np.zeros(_STAGES - 1)])
    return nodes, slopes[1:], np.asarray(weights, dtype=np.float64)
