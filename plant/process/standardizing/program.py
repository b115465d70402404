"""Blends as linear programs: the unknowns are the masses, or their shares where the whole is free."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linprog

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, Infeasible, within
from plant.process.said import say as _
from plant.process.standardizing.streams import GREATEST_KG, SMALLEST_KG, Stream, Target
from plant.process.standardizing.words import digits

MOST_STREAMS, MOST_TARGETS = 40, 20
# A multiplier or a difference of shares smaller than this is rounding of the solver, which works to 1e-9.
NOTHING = 1e-8
_SOLVER = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}


@dataclass(frozen=True, slots=True)
class Program:
    """Unknowns between `lower` and `upper`; `above` rows times unknowns <= `above_of`; `equal` rows = `equal_of`."""

    lower: FloatArray
    upper: FloatArray
    above: FloatArray
    above_of: FloatArray
    equal: FloatArray
    equal_of: FloatArray

    def also_above(self, rows: FloatArray, limits: FloatArray) -> Program:
        """With more rows <= limits."""
        return replace(self, above=np.vstack([self.above, rows]), above_of=np.concatenate([self.above_of, limits]))


@dataclass(frozen=True, slots=True)
class Solved:
    """The unknowns at the least of a goal, that least, and the multipliers of rows and bounds."""

    point: FloatArray
    value: float
    above: FloatArray
    lower: FloatArray
    upper: FloatArray


def least(program: Program, goal: FloatArray) -> Solved | None:
    """The point at which goal times unknowns is least, None when nothing meets the program."""
    for presolve in (True, False):  # presolve alone may leave open whether a program has no point or no end
        found = linprog(
            goal,
            A_ub=program.above,
            b_ub=program.above_of,
            A_eq=program.equal,
            b_eq=program.equal_of,
            bounds=np.column_stack([program.lower, program.upper]),
            method="highs",
            options={**_SOLVER, "presolve": presolve},
        )
        if found.status in (0, 2):
            break
    if found.status == 0:
        point = np.clip(np.asarray(found.x, dtype=np.float64), program.lower, program.upper)
        return Solved(point, float(found.fun), found.ineqlin.marginals, found.lower.marginals, found.upper.marginals)
    if found.status == 2:
        return None
    raise CalculationError(_("The blend could not be worked out: the numbers lie too far apart."))


def face(program: Program, solved: Solved) -> Program:
    """The program of all points that are as good as the solved one.

    Complementary slackness: an unknown or a row with a multiplier stays at its bound in every best point.
    """
    lower, upper = program.lower.copy(), program.upper.copy()
    at_lower, at_upper = np.abs(solved.lower) > NOTHING, np.abs(solved.upper) > NOTHING
    upper[at_lower] = lower[at_lower]
    lower[at_upper] = upper[at_upper]
    tight = np.abs(solved.above) > NOTHING
    return Program(
        lower,
        upper,
        program.above[~tight],
        program.above_of[~tight],
        np.vstack([program.equal, program.above[tight]]),
        np.concatenate([program.equal_of, program.above_of[tight]]),
    )


def scale(streams: Sequence[Stream], total_kg: float | None) -> float:
    """The mass [kg] that the unknowns are counted in."""
    return total_kg if total_kg is not None else math.fsum(stream.least_kg for stream in streams)


def masses(streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None) -> Program:
    """Unknowns: each stream's mass over `scale`. Homogeneous rows sum m (x - t) serve a given and a free whole."""
    one = scale(streams, total_kg)
    rows = [
        sign * (_contents(streams, target.component) - bound) / 100
        for target in targets
        for sign, bound in ((1, target.high), (-1, target.low))
        if bound is not None
    ]
    count = len(streams)
    return Program(
        lower=np.array([stream.least_kg / one for stream in streams]),
        upper=np.array([np.inf if stream.most_kg is None else stream.most_kg / one for stream in streams]),
        above=np.array(rows).reshape(-1, count),
        above_of=np.zeros(len(rows)),
        equal=np.ones((0 if total_kg is None else 1, count)),
        equal_of=np.ones(0 if total_kg is None else 1),
    )


def shares(streams: Sequence[Stream], total_kg: float | None) -> Program:
    """Unknowns: each stream's share of the blend, then `scale` over the blend's mass (Charnes and Cooper 1962).

    So contents stay linear when the mass of the blend is free. Of the rows, the first for each stream keeps it at or
    above its least quantity, the second at or below its greatest.
    """
    count, one = len(streams), scale(streams, total_kg)
    keep, limits = np.zeros((2 * count, count + 1)), np.zeros(2 * count)
    for place, stream in enumerate(streams):
        keep[2 * place, place], keep[2 * place, count] = -1, stream.least_kg / one
        most = np.inf if stream.most_kg is None else stream.most_kg / one
        if most == np.inf or (total_kg is not None and most >= 1):  # a share is never more than the whole
            keep[2 * place + 1, place], limits[2 * place + 1] = 1, 1
        else:  # coefficients of one size, for the solver
            size = max(1.0, most)
            keep[2 * place + 1, place], keep[2 * place + 1, count] = 1 / size, -most / size
    whole = np.append(np.ones(count), 0.0)
    inverse = (0.0, np.inf) if total_kg is None else (1.0, 1.0)
    return Program(
        lower=np.append(np.zeros(count), inverse[0]),
        upper=np.append(np.ones(count), inverse[1]),
        above=keep,
        above_of=limits,
        equal=whole.reshape(1, -1),
        equal_of=np.ones(1),
    )


def share_rows(streams: Sequence[Stream], targets: Sequence[Target]) -> tuple[FloatArray, FloatArray]:
    """The rows and limits that hold shares to the targets, in fractions."""
    rows, limits = [], []
    for target in targets:
        row = np.append(_contents(streams, target.component), 0.0) / 100
        for sign, bound in ((1, target.high), (-1, target.low)):
            if bound is not None:
                rows.append(sign * row)
                limits.append(sign * bound / 100)
    return np.array(rows).reshape(-1, len(streams) + 1), np.array(limits)


def _contents(streams: Sequence[Stream], component: str) -> FloatArray:
    return np.array([stream.percent(component) for stream in streams])


def check_wishes(streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None) -> None:
    """Raise CalculationError for wishes that say nothing, Infeasible where the quantities cannot make the whole."""
    if not streams:
        raise CalculationError(_("Give at least one stream."))
    if len(streams) > MOST_STREAMS or len(targets) > MOST_TARGETS:
        raise CalculationError(
            _(
                "At most %(streams)s streams and %(targets)s targets are taken.",
                streams=str(MOST_STREAMS),
                targets=str(MOST_TARGETS),
            )
        )
    for double in (_double([one.name for one in streams]), _double([one.component for one in targets])):
        if double:
            raise CalculationError(_("%(name)s is there twice.", name=double))
    for target in targets:
        # Nothing of what no stream has: an upper bound on a name written wrongly would always be met.
        if not target.low and not any(target.component in one.composition for one in streams):
            raise CalculationError(_("No stream has %(component)s: is the name right?", component=target.component))
    smallest = math.fsum(stream.least_kg for stream in streams)
    if total_kg is None:
        if smallest < SMALLEST_KG:
            raise CalculationError(_("Say how much is to be made, or how much of a stream is to be used."))
        return
    within(_("quantity to be made"), total_kg, SMALLEST_KG, GREATEST_KG, "kg")
    _quantities(streams, total_kg, smallest)


def _quantities(streams: Sequence[Stream], total_kg: float, smallest: float) -> None:
    room = total_kg * (1 + 1e-12)
    if smallest > room:
        raise Infeasible(
            _(
                "The quantities to be used come to %(sum)s kg, more than the %(total)s kg to be made.",
                sum=digits(smallest),
                total=digits(total_kg),
            ),
            _("total"),
            total_kg,
            lowest=smallest,
            unit="kg",
        )
    if any(stream.most_kg is None for stream in streams):
        return
    greatest = math.fsum(stream.most_kg or 0.0 for stream in streams)
    if greatest * (1 + 1e-12) < total_kg:
        raise Infeasible(
            _(
                "All the streams together are %(sum)s kg, less than the %(total)s kg to be made.",
                sum=digits(greatest),
                total=digits(total_kg),
            ),
            _("total"),
            total_kg,
            highest=greatest,
            unit="kg",
        )


def _double(names: Sequence[str]) -> str:
    return next((name for place, name in enumerate(names) if name in names[:place]), "")
