"""Weighted least squares under linear balances, with unmeasured quantities, whatever the ranks.

Unmeasured quantities are projected out: the balances are multiplied by the left null space of their columns. What is
left is scaled by the standard deviations and solved by an orthogonal factorization, so no normal equations are formed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import linalg, special

from plant.process.arrays import BoolArray, FloatArray
from plant.process.errors import CalculationError, Infeasible, within
from plant.process.mass_balance.problem import Problem, lengths_of
from plant.process.mass_balance.suspects import Finding, chi_square_limit, judged, measurement_test_limit
from plant.process.said import say as _

__all__ = ["Reconciliation", "reconcile"]

State = Literal["checked", "unchecked", "exact", "computed", "unobservable"]
# Columns are scaled to length one first; what is smaller is rounding.
_RANK: Final = 1e-10
_NOTHING: Final = 1e-9
_PARALLEL: Final = 1e-10


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """Measurements made to fit, n quantities in the order given, each in its own unit. nan: there is none.

    `values`, `values_sd`: reconciled or computed, with new standard deviations (nan: not observable).
    `adjustments`: measured less reconciled. `z`: normalized adjustments, standard normal when nothing is wrong (nan:
    not checked). `redundancy`: 0 to 1, the share of a measurement that the others control; their sum is `degrees`.
    `error_sd`: standard deviation of a measurement less `by_others`, what the others say it should be.
    `states`: "checked"; "unchecked" (no other measurement controls it); "exact"; "computed" (not measured, observable);
    "unobservable". `covariance`: n x n, of the values. `alike`: groups whose tests are one and the same test.
    `statistic` is chi-square with `degrees`, `limit` its limit and `probability` the chance of a larger one when
    nothing is wrong; `z_limit` is for `tests` different tests together. `finding` says it in words.
    """

    names: tuple[str, ...]
    measured: FloatArray
    sd: FloatArray
    values: FloatArray
    values_sd: FloatArray
    adjustments: FloatArray
    z: FloatArray
    redundancy: FloatArray
    by_others: FloatArray
    error_sd: FloatArray
    states: tuple[State, ...]
    statistic: float
    degrees: int
    limit: float | None
    probability: float | None
    tests: int
    z_limit: float | None
    confidence: float
    multiplicity: str
    alike: tuple[tuple[str, ...], ...]
    finding: Finding
    covariance: FloatArray = field(repr=False, compare=False)

    @property
    def fits(self) -> bool:
        """Whether the balances as a whole are within the chi-square limit; without redundancy nothing denies it."""
        return self.limit is None or self.statistic <= self.limit

    def place(self, name: str) -> int:
        """Where a quantity stands in the arrays. Raises CalculationError for a name that is not there."""
        if name not in self.names:
            raise CalculationError(_("there is no quantity called %(name)s", name=name))
        return self.names.index(name)

    def those(self, state: State) -> tuple[str, ...]:
        """The names of the quantities in a state."""
        return tuple(name for name, one in zip(self.names, self.states, strict=True) if one == state)


def reconcile(
    balances: ArrayLike,
    measured: ArrayLike,
    sd: ArrayLike,
    *,
    totals: ArrayLike | None = None,
    covariance: ArrayLike | None = None,
    names: Sequence[str] = (),
    confidence: float = 0.95,
    multiplicity: str = "sidak",
) -> Reconciliation:
    """The values nearest to the measurements, each weighed by its variance, that meet balances @ values = totals.

    balances: m x n coefficients. measured: n values, nan where unmeasured. sd: n standard deviations in the same units,
    0 where a value is exact; nan or anything where unmeasured. totals: m right-hand sides, zero when left out.
    covariance: n x n of the measurements instead of sd, for errors that go together; the test of each measurement is
    then the one with the highest power, which for independent errors is the normalized adjustment itself.
    names: n different names; numbers from 1 when left out. confidence: of the tests [-].
    multiplicity: "sidak", "bonferroni" or "none", see measurement_test_limit.

    Range: m and n 1 to 2000; sd at least 0; confidence 0.5 to 0.999999.
    Raises: OutsideRange; CalculationError for wrong shapes or a covariance that is none; Infeasible where exact values
    and totals contradict each other.
    Source: Kuehn and Davidson, Chem. Eng. Prog. 57(6):44, 1961; Crowe, Garcia Campos and Hrymak, AIChE J. 29:881, 1983
    (projection); Narasimhan and Jordache, Data Reconciliation and Gross Error Detection, 2000, ch. 1, 3 and 7 (all from
    memory); Bagajewicz and Rollins, chapter 22 (archive.org).

    >>> day = reconcile([[1, -1, -1]], [10000, 9020, 1060], [50, 45, 10], names=["milk", "skim", "cream"])
    >>> day.values.round(1).tolist(), round(day.statistic, 2), day.finding.kind
    ([10043.2, 8985.0, 1058.3], 1.38, 'fits')
    """
    problem = Problem.of(balances, measured, sd, totals, covariance, names)
    limit = within("confidence", confidence, 0.5, 0.999999)
    return _solved(problem, limit, multiplicity)


@dataclass(frozen=True, slots=True)
class _Fit:
    """The measured part, with a doubt: reconciled values and what the tests need."""

    values: FloatArray
    covariance: FloatArray
    adjustments: FloatArray
    slopes: FloatArray  # d = M (y - x), M the matrix of the tests
    weights: FloatArray  # its diagonal
    redundancy: FloatArray
    checked: BoolArray
    directions: FloatArray  # columns that tell the measurements apart
    statistic: float
    degrees: int


def _solved(problem: Problem, confidence: float, multiplicity: str) -> Reconciliation:
    count = len(problem.names)
    right = problem.totals - problem.balances[:, problem.exact] @ problem.measured[problem.exact]
    left = problem.balances[:, problem.free]
    kernel = _Kernel.of(problem.balances[:, problem.unknown])
    fit = _fitted(problem, kernel.closed(left), kernel.closed(right), np.abs(right).max(initial=0.0))
    values, covariance = problem.measured.copy(), np.zeros((count, count))
    values[problem.free] = fit.values
    computed = kernel.solved(right - left @ fit.values)
    values[problem.unknown] = np.where(kernel.observable, computed, np.nan)
    # Everything depends linearly on the values with a doubt: their covariance is carried over.
    spread = np.zeros((count, len(fit.values)))
    spread[problem.free] = np.eye(len(fit.values))
    spread[problem.unknown] = -kernel.solved(left)
    covariance = spread @ fit.covariance @ spread.T
    dark = np.zeros(count, dtype=np.bool_)
    dark[problem.unknown] = ~kernel.observable
    covariance[dark, :] = np.nan
    covariance[:, dark] = np.nan
    return _told(problem, fit, values, covariance, dark, confidence, multiplicity)


@dataclass(frozen=True, slots=True)
class _Kernel:
    """The columns of the unmeasured quantities: how to be rid of them, and how to get the quantities back."""

    left_null: FloatArray
    pseudo_inverse: FloatArray
    observable: BoolArray

    @classmethod
    def of(cls, columns: FloatArray) -> _Kernel:
        rows, count = columns.shape
        if not count:
            return cls(np.eye(rows), np.zeros((0, rows)), np.zeros(0, dtype=np.bool_))
        lengths = lengths_of(columns)
        left, sizes, right = linalg.svd(columns / lengths)
        rank = _rank(sizes)
        null = right[rank:].T
        inverse = (right[:rank].T / sizes[:rank]) @ left[:, :rank].T / lengths[:, None]
        return cls(left[:, rank:], inverse, np.sqrt((null**2).sum(axis=1)) < 1e-7)

    def closed(self, columns: FloatArray) -> FloatArray:
        """The balances in which no unmeasured quantity stands."""
        return np.asarray(self.left_null.T @ columns, dtype=np.float64)

    def solved(self, right: FloatArray) -> FloatArray:
        """The unmeasured quantities for these right-hand sides; the shortest answer where there are many."""
        return np.asarray(self.pseudo_inverse @ right, dtype=np.float64)


def _fitted(problem: Problem, columns: FloatArray, right: FloatArray, size: float) -> _Fit:
    measured = problem.measured[problem.free]
    variance = problem.variance[np.ix_(problem.free, problem.free)]
    kept = lengths_of(problem.balances[:, problem.free])
    checked = lengths_of(columns, 0.0) > _NOTHING * kept
    columns = np.where(checked, columns, 0.0)
    base, sizes, _other = linalg.svd(columns / kept) if columns.size else (np.eye(len(right)), np.zeros(0), None)
    rank = _rank(sizes)
    if (np.abs(base[:, rank:].T @ right) > _NOTHING * max(size, 1e-300)).any():
        raise Infeasible(_("the exact values and the totals contradict each other: no values meet all balances"))
    rows, totals = base[:, :rank].T @ columns, base[:, :rank].T @ right
    try:
        scale = linalg.cholesky(variance, lower=True) if len(measured) else variance
    except linalg.LinAlgError as error:
        raise CalculationError(_("the covariance is not positive definite")) from error
    turned, triangle = linalg.qr((rows @ scale).T, mode="economic")
    imbalance = linalg.solve_triangular(triangle, rows @ measured - totals, trans="T") if rank else np.zeros(0)
    pull = turned @ imbalance
    weighed = linalg.solve_triangular(scale, turned, lower=True, trans="T") if len(measured) else turned
    lost = scale @ turned
    return _Fit(
        values=measured - scale @ pull,
        covariance=variance - lost @ lost.T,
        adjustments=scale @ pull,
        slopes=weighed @ imbalance,
        weights=(weighed**2).sum(axis=1),
        redundancy=np.where(checked, (lost * weighed).sum(axis=1), 0.0),
        checked=checked,
        directions=rows,
        statistic=float(imbalance @ imbalance),
        degrees=rank,
    )


def _told(
    problem: Problem,
    fit: _Fit,
    values: FloatArray,
    covariance: FloatArray,
    dark: BoolArray,
    confidence: float,
    multiplicity: str,
) -> Reconciliation:
    count = len(problem.names)
    places = np.flatnonzero(problem.free)
    tested = places[fit.checked]
    slopes, weights = fit.slopes[fit.checked], fit.weights[fit.checked]
    z, error_sd, by_others = (np.full(count, np.nan) for _ in range(3))
    z[tested], error_sd[tested] = slopes / np.sqrt(weights), 1 / np.sqrt(weights)
    by_others[tested] = problem.measured[tested] - slopes / weights
    adjustments, redundancy = np.full(count, np.nan), np.full(count, np.nan)
    adjustments[~problem.unknown] = 0.0
    redundancy[~problem.unknown] = 0.0
    adjustments[places], redundancy[places] = fit.adjustments, fit.redundancy
    groups = [[int(tested[one]) for one in group] for group in _parallel(fit.directions[:, fit.checked])]
    checked = bool(fit.degrees)
    return Reconciliation(
        names=problem.names,
        measured=problem.measured,
        sd=problem.sd,
        values=values,
        values_sd=np.sqrt(np.maximum(np.diag(covariance), 0.0)),
        adjustments=adjustments,
        z=z,
        redundancy=redundancy,
        by_others=by_others,
        error_sd=error_sd,
        states=tuple(_states(problem, dark, set(tested.tolist()))),
        statistic=fit.statistic,
        degrees=fit.degrees,
        limit=chi_square_limit(fit.degrees, confidence) if checked else None,
        probability=float(special.gammaincc(fit.degrees / 2, fit.statistic / 2)) if checked else None,
        tests=len(groups),
        z_limit=measurement_test_limit(max(len(groups), 1), confidence, multiplicity) if checked else None,
        confidence=confidence,
        multiplicity=multiplicity,
        alike=tuple(tuple(problem.names[one] for one in group) for group in groups if len(group) > 1),
        finding=judged(problem.names, z, groups, fit.statistic, fit.degrees, confidence, multiplicity),
        covariance=covariance,
    )


def _states(problem: Problem, dark: BoolArray, tested: set[int]) -> list[State]:
    found: list[State] = []
    for place in range(len(problem.names)):
        if problem.unknown[place]:
            found.append("unobservable" if dark[place] else "computed")
        elif problem.exact[place]:
            found.append("exact")
        else:
            found.append("checked" if place in tested else "unchecked")
    return found


def _parallel(columns: FloatArray) -> list[list[int]]:
    """Places of the columns that are multiples of each other, in groups."""
    if not columns.shape[1]:
        return []
    units = columns / lengths_of(columns)
    groups: list[list[int]] = []
    for place, column in enumerate(units.T):
        for group in groups:
            if abs(float(units[:, group[0]] @ column)) >= 1 - _PARALLEL:
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def _rank(sizes: FloatArray) -> int:
    if not len(sizes) or sizes[0] == 0:
        return 0
    # Columns have length one, so the largest size is at least one where there is any column.
    return int((sizes > _RANK * max(sizes[0], 1.0)).sum())
