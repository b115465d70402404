"""Values of a chart as arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, OutsideRange
from plant.process.said import say as _


def finite(values: ArrayLike) -> FloatArray:
    """As an array of finite numbers. Raises CalculationError, OutsideRange."""
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise CalculationError(_("The values are not numbers in rows of one length.")) from error
    if not np.isfinite(array).all():
        raise OutsideRange(_("value"), float(array[~np.isfinite(array)].ravel()[0]), None, None)
    return array


def one_row(values: ArrayLike) -> FloatArray:
    """As one row (n,), n >= 1, of finite numbers. Raises CalculationError, OutsideRange."""
    array = finite(values)
    if array.ndim != 1 or not len(array):
        raise CalculationError(_("The values must be one row of at least one number."))
    return array
