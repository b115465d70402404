"""What a reconciliation is given, checked before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import BoolArray, FloatArray
from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import say as _

MOST: Final = 2000


@dataclass(frozen=True, slots=True)
class Problem:
    """The balances and what is known of each quantity, checked: measured with a doubt, exact, or unknown."""

    names: tuple[str, ...]
    balances: FloatArray
    totals: FloatArray
    measured: FloatArray
    variance: FloatArray  # n x n, nothing where unmeasured
    sd: FloatArray
    free: BoolArray  # measured with a doubt
    exact: BoolArray
    unknown: BoolArray

    @classmethod
    def of(
        cls,
        balances: ArrayLike,
        measured: ArrayLike,
        sd: ArrayLike,
        totals: ArrayLike | None,
        covariance: ArrayLike | None,
        names: Sequence[str],
    ) -> Problem:
        """As `reconcile` describes them. Raises OutsideRange, CalculationError."""
        matrix, values, doubts = _numbers(balances), _numbers(measured), _numbers(sd)
        if matrix.ndim != 2 or not (1 <= matrix.shape[0] <= MOST and 1 <= matrix.shape[1] <= MOST):
            raise CalculationError(
                _("balances are a table of 1 to %(most)s rows and 1 to %(most)s columns", most=str(MOST))
            )
        if isinstance(names, str):  # it would be taken letter by letter
            raise CalculationError(_("names are given as a list, not as one text"))
        rows, columns = matrix.shape
        right = np.zeros(rows) if totals is None else _numbers(totals)
        called = tuple(names) or tuple(str(one) for one in range(1, columns + 1))
        if values.shape != (columns,) or doubts.shape != (columns,) or len(called) != columns:
            raise CalculationError(_("there must be one measurement, one uncertainty and one name for each column"))
        if right.shape != (rows,):
            raise CalculationError(_("there must be one total for each balance"))
        if len(set(called)) != columns:
            raise CalculationError(_("two quantities have the same name"))
        for coefficients in (matrix, right):
            wrong = ~(np.abs(coefficients) <= 1e12)
            if wrong.any():
                raise OutsideRange("coefficient", float(coefficients[wrong][0]), -1e12, 1e12)
        unknown = np.isnan(values)
        for name, value, doubt, missing in zip(called, values, doubts, unknown, strict=True):
            if not missing:
                within(name, value, -1e15, 1e15)
                if covariance is None:
                    within(str(_("uncertainty of %(name)s", name=name)), doubt, 0, 1e15)
        doubts = np.where(unknown, np.nan, doubts)
        variance = np.diag(np.where(unknown, 0.0, doubts**2))
        if covariance is not None:
            variance = _covariance(covariance, unknown)
            doubts = np.where(unknown, np.nan, np.sqrt(np.diag(variance)))
        exact = ~unknown & (doubts == 0)
        return cls(called, matrix, right, values, variance, doubts, ~unknown & ~exact, exact, unknown)


def _numbers(given: ArrayLike) -> FloatArray:
    try:
        return np.array(given, dtype=np.float64)
    except (TypeError, ValueError) as error:
        sentence = _("balances, measurements and uncertainties are numbers, in rows of one length")
        raise CalculationError(sentence) from error


def _covariance(given: ArrayLike, unknown: BoolArray) -> FloatArray:
    variance = _numbers(given)
    if variance.shape != (len(unknown), len(unknown)):
        raise CalculationError(_("the covariance must have a row and a column for each quantity"))
    variance[unknown, :] = 0.0
    variance[:, unknown] = 0.0
    if not np.isfinite(variance).all() or not np.allclose(variance, variance.T, rtol=1e-9, atol=0):
        raise CalculationError(_("the covariance is not symmetric, or not finite"))
    if (np.diag(variance) < 0).any() or variance[np.diag(variance) == 0].any():
        raise CalculationError(_("the covariance has a variance that cannot be"))
    return (variance + variance.T) / 2


def lengths_of(columns: FloatArray, of_nothing: float = 1.0) -> FloatArray:
    """The length of each column, `of_nothing` for a column of zeros."""
    lengths = np.sqrt((columns**2).sum(axis=0))
    return np.where(lengths > 0, lengths, of_nothing)
