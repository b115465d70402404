"""Several streams blended to several targets, at least cost or with the least of a named stream."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError
from plant.process.said import say as _
from plant.process.standardizing import program as lp
from plant.process.standardizing.reach import cannot_blend
from plant.process.standardizing.streams import Proof, Stream, Target, prove

NONE_OF_IT = 1e-9  # a share of the blend that is only rounding of the solver


@dataclass(frozen=True, slots=True)
class Blend:
    """A blend that meets its targets.

    `masses_kg` [kg] in the order of the streams; `total_kg` [kg]; `cost` [money], None without prices; `proof`;
    `spread_kg`: for each stream the least and greatest mass [kg] among the answers that are as good as this one, the
    same twice where there is no other.
    """

    masses_kg: tuple[float, ...]
    total_kg: float
    cost: float | None
    proof: Proof
    spread_kg: tuple[tuple[float, float], ...]

    @property
    def only_answer(self) -> bool:
        """Whether no other blend is as good."""
        return all(high - low <= 1e-6 * self.total_kg for low, high in self.spread_kg)


def blend(
    streams: Sequence[Stream],
    targets: Sequence[Target],
    total_kg: float | None = None,
    least_of: str | None = None,
) -> Blend:
    """The masses of the streams that meet every target.

    Of all such blends the one with the least of the stream named `least_of`, then the cheapest where prices are
    given, then (whole free) the smallest; of equals, the one with most of the streams in their order. So of two
    streams that are alike the first is used first.

    Parameters: `streams` with contents [% by mass], quantities [kg], prices [money/kg, for all or for none];
    `targets` [% by mass]; `total_kg` [kg] to be made, or None: then what must be used of the streams sets it.
    Model: sum m = M; low M <= sum m x <= high M for each component.

    Range: at most 40 streams and 20 targets; a whole of 1e-6 to 1e9 kg, or a stream with a least quantity.
    Raises: OutsideRange; CannotBlend when no blend meets the targets, Infeasible when the quantities cannot make the
    whole, CalculationError for wishes that are not clear.
    Source: conservation of mass, by definition; solved as a linear program (HiGHS through scipy.optimize.linprog).

    >>> milk, powder = Stream("milk", {"fat": 5, "SNF": 9}), Stream("skim powder", {"fat": 0.5, "SNF": 96})
    >>> wanted = [Target.exactly("fat", 3.0), Target.exactly("SNF", 8.5)]
    >>> found = blend([milk, powder, Stream("water")], wanted, total_kg=500)
    >>> [round(mass, 2) for mass in found.masses_kg], found.proof.holds()
    ([298.37, 16.3, 185.33], True)
    """
    lp.check_wishes(streams, targets, total_kg)
    prices = _prices(streams, least_of)
    program = lp.masses(streams, targets, total_kg)
    solved: lp.Solved | None = None
    for goal in _goals(streams, prices, total_kg, least_of):
        solved = lp.least(program, goal)
        if solved is None:
            raise cannot_blend(streams, targets, total_kg)
        program = lp.face(program, solved)
    assert solved is not None  # there is always a goal
    point, spread = _chosen(program, solved.point)
    one = lp.scale(streams, total_kg)
    masses = tuple(
        0.0 if share < NONE_OF_IT and not stream.least_kg else float(share) * one
        for share, stream in zip(point, streams, strict=True)
    )
    return Blend(
        masses,
        math.fsum(masses),
        None if prices is None else math.fsum(mass * price for mass, price in zip(masses, prices, strict=True)),
        prove(streams, masses, targets, total_kg),
        tuple((low * one, high * one) for low, high in spread),
    )


def _prices(streams: Sequence[Stream], least_of: str | None) -> list[float] | None:
    if least_of is not None and least_of not in [stream.name for stream in streams]:
        known = ", ".join(stream.name for stream in streams)
        raise CalculationError(_("%(name)s is not one of the streams: %(known)s.", name=least_of, known=known))
    prices = [stream.price for stream in streams if stream.price is not None]
    if len(prices) == len(streams):
        return prices
    if prices and least_of is None:
        bare = next(stream.name for stream in streams if stream.price is None)
        raise CalculationError(_("%(stream)s has no price: give one to every stream, or to none.", stream=bare))
    return None


def _goals(
    streams: Sequence[Stream], prices: list[float] | None, total_kg: float | None, least_of: str | None
) -> list[FloatArray]:
    goals = []
    if least_of is not None:
        goals.append(np.array([1.0 if stream.name == least_of else 0.0 for stream in streams]))
    if prices is not None and max(prices) > 0:
        goals.append(np.array(prices) / max(prices))
    if total_kg is None:
        goals.append(np.ones(len(streams)))
    return goals or [np.zeros(len(streams))]


def _chosen(program: lp.Program, point: FloatArray) -> tuple[FloatArray, list[tuple[float, float]]]:
    """Among equally good points the one with most of the streams in their order, and each stream's room there."""
    count = len(point)
    spread = []
    for place in range(count):
        unit = np.eye(count)[place]
        ends = lp.least(program, unit), lp.least(program, -unit)
        low, high = (float(point[place]) if end is None else float(end.point[place]) for end in ends)
        spread.append((low, high) if high - low > lp.NOTHING else (float(point[place]),) * 2)
    for place, (low, high) in enumerate(spread):
        if high > low:
            solved = lp.least(program, -np.eye(count)[place])
            if solved is None:  # only rounding can bring this about: the point at hand is as good
                break
            point, program = solved.point, lp.face(program, solved)
    return point, spread
