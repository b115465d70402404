"""Cooling of bodies whose properties do not change: the exact series that numerical conduction is held against.

H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd edition, 1959; F. P. Incropera and others,
Fundamentals of Heat and Mass Transfer, chapter 5 (both from memory). They hold without freezing only.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import erf, j0, j1, jn_zeros

from plant.process.errors import CalculationError, within
from plant.process.hardening.conduction import Shape
from plant.process.said import say as _

LEAST_FOURIER: Final = 0.002
_TERMS: Final = 120


def series_roots(shape: Shape, biot: float, count: int = 1) -> tuple[float, ...]:
    """The first roots of the series [-]: slab x tan x = Bi; cylinder x J1(x)/J0(x) = Bi; sphere 1 - x cot x = Bi.

    shape: slab, cylinder or sphere.
    biot: Bi = h R/k, R half the thickness or the radius [-].
    count: how many.

    Range: Bi 0.0001 to 1,000,000,000; 1 to 200 roots.
    Raises: OutsideRange, CalculationError for a tub.
    Source: Incropera and others, table 5.1 (from memory).

    >>> [round(series_roots(shape, 1.0)[0], 4) for shape in (Shape.SLAB, Shape.CYLINDER, Shape.SPHERE)]
    [0.8603, 1.2558, 1.5708]
    """
    number = within("Biot number", biot, 1e-4, 1e9)
    many = int(within("roots", count, 1, 200))
    # Written without quotients, each has just one root between these bounds.
    if shape is Shape.SLAB:
        bounds = [(n * math.pi, (n + 0.5) * math.pi) for n in range(many)]
        return tuple(brentq(lambda x: x * math.sin(x) - number * math.cos(x), *one) for one in bounds)
    if shape is Shape.CYLINDER:
        ends, starts = jn_zeros(0, many), np.concatenate(([0.0], jn_zeros(1, many)))
        bounds = [(float(starts[n]), float(ends[n])) for n in range(many)]
        return tuple(brentq(lambda x: x * j1(x) - number * j0(x), *one) for one in bounds)
    if shape is Shape.SPHERE:
        bounds = [(n * math.pi + 1e-9, (n + 1) * math.pi) for n in range(many)]
        return tuple(brentq(lambda x: (1 - number) * math.sin(x) - x * math.cos(x), *one) for one in bounds)
    raise CalculationError(_("the series is for a slab, a cylinder or a sphere"))


def cooling_ratio(shape: Shape, biot: float, fourier: float, place: float = 0.0) -> float:
    """How much of the temperature difference to the air is left at a place [0 to 1]: (T - air)/(start - air).

    shape: slab, cylinder or sphere.
    biot: Bi = h R/k, R half the thickness or the radius [-].
    fourier: Fo = a t/R2, a the thermal diffusivity [-].
    place: 0 in the middle, 1 at the surface.

    Range: Bi 0.0001 to 1,000,000,000, Fo 0.002 and more (below, use semi_infinite_ratio), place 0 to 1.
    Raises: OutsideRange, CalculationError for a tub.
    Source: Incropera and others, section 5.5 (from memory).

    >>> round(cooling_ratio(Shape.SLAB, 1.0, 1.0), 4)
    0.5339
    """
    time = within("Fourier number", fourier, LEAST_FOURIER)
    where = within("place", place, 0, 1)
    roots = np.array(series_roots(shape, biot, _TERMS))
    if shape is Shape.SLAB:
        factor, form = 4 * np.sin(roots) / (2 * roots + np.sin(2 * roots)), np.cos(roots * where)
    elif shape is Shape.CYLINDER:
        factor, form = 2 / roots * j1(roots) / (j0(roots) ** 2 + j1(roots) ** 2), j0(roots * where)
    else:
        factor = 4 * (np.sin(roots) - roots * np.cos(roots)) / (2 * roots - np.sin(2 * roots))
        form = np.sinc(roots * where / math.pi)
    return float((factor * np.exp(-(roots**2) * time) * form).sum())


def tub_ratio(
    biot_radius: float, fourier_radius: float, biot_height: float, fourier_height: float
) -> float:  # fmt: skip
    """How much of the temperature difference is left in the middle of a cylinder with ends [0 to 1].

    The product of that of the long cylinder and that of the slab between the ends: exact without freezing.

    biot_radius, fourier_radius: h R/k and a t/R2 with the radius [-].
    biot_height, fourier_height: the same with half the height [-].

    Range: as cooling_ratio.
    Raises: OutsideRange.
    Source: Carslaw and Jaeger, section 1.15; Incropera and others, section 5S.2 (from memory).

    >>> round(tub_ratio(1.0, 0.5, 1.0, 0.5), 4)
    0.4238
    """
    across = cooling_ratio(Shape.CYLINDER, biot_radius, fourier_radius)
    return across * cooling_ratio(Shape.SLAB, biot_height, fourier_height)


def semi_infinite_ratio(depth_m: float, diffusivity_m2_s: float, time_s: float) -> float:
    """How much of the temperature difference to the surface is left at a depth [0 to 1]: erf(x/(2 sqrt(a t))).

    For a surface that takes the temperature of the air at once (Biot without end), as long as the other side has felt
    nothing.

    depth_m: x [m].
    diffusivity_m2_s: a [m2/s].
    time_s: t [s].

    Range: depth 0 and more, diffusivity and time above 0.
    Raises: OutsideRange.
    Source: Carslaw and Jaeger, section 2.4 (from memory).

    >>> round(semi_infinite_ratio(0.01, 1e-6, 100), 4)
    0.5205
    """
    depth = within("depth", depth_m, 0)
    reach = within("diffusivity", diffusivity_m2_s, 1e-12) * within("time", time_s, 1e-9)
    return float(erf(depth / (2 * math.sqrt(reach))))
