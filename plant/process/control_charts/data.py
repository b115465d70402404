"""Values of a chart as arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, OutsideRange
from plant.process.said import say as _

LARGEST = 1e150  # the square of a larger number is none that a computer can hold


def finite(values: ArrayLike) -> FloatArray:
    """As an array of numbers from -1e150 to 1e150. Raises CalculationError, OutsideRange."""
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise CalculationError(_("The values are not numbers in rows of one length.")) from error
    fitting = np.abs(array) <= LARGEST  # not so for nan
    if not fitting.all():
        raise OutsideRange(_("value"), float(array[~fitting].ravel()[0]), -LARGEST, LARGEST)
    return array


def one_row(values: ArrayLike) -> FloatArray:
    """As one row (n,), n >= 1, of finite numbers. Raises CalculationError, OutsideRange."""
    array = finite(values)
    if array.ndim != 1 or not len(array):
        raise CalculationError(_("The values must be one row of at least one number."))
    return array
