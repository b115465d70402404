"""Traces as arrays: a value at each of so many moments."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plant.process.errors import CalculationError, OutsideRange
from plant.process.said import say as _

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def trace(times_s: ArrayLike, values: ArrayLike, quantity: str = "temperature") -> tuple[FloatArray, FloatArray]:
    """Both as float arrays of one length n >= 2: `times_s` [s] strictly rising, all finite.

    Raises CalculationError for a wrong shape, OutsideRange for what is not finite or goes back in time.
    """
    if np.ma.is_masked(times_s) or np.ma.is_masked(values):
        raise CalculationError(_("leave out masked samples of a trace: they make a gap"))
    times, levels = np.asarray(times_s, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if times.ndim != 1 or times.shape != levels.shape or len(times) < 2:
        raise CalculationError(_("a trace needs at least two moments, and one value for each"))
    if not np.isfinite(levels).all():
        raise OutsideRange(quantity, float(levels[~np.isfinite(levels)][0]), None, None)
    steps = np.diff(times)
    if not np.isfinite(times).all() or (steps <= 0).any():
        raise CalculationError(_("the moments of a trace must rise"))
    return times, levels
