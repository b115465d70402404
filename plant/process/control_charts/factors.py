"""The constants of control charts, computed: no table of them is kept, since printed ones carry misprints."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import gammaln, ndtr

from plant.process.errors import CalculationError, within
from plant.process.said import say as _

SMALLEST, LARGEST = 2, 25


@dataclass(frozen=True, slots=True)
class Factors:
    """The constants for samples of `n`, by their usual names; B3 and D3 are 0 where they would fall below."""

    n: int
    A: float
    A2: float
    A3: float
    B3: float
    B4: float
    B5: float
    B6: float
    D1: float
    D2: float
    D3: float
    D4: float
    c4: float
    d2: float
    d3: float


def c4(n: int) -> float:
    """Mean of the standard deviation of samples of `n` [-] from a normal process, in process standard deviations [-].

    Range: n 2 to 25, whole.
    Raises: OutsideRange, CalculationError.
    Source: closed form, sqrt(2/(n - 1)) gamma(n/2)/gamma((n - 1)/2); NIST/SEMATECH e-Handbook 6.3.2 (from memory).

    >>> round(c4(5), 4)
    0.94
    """
    size = _size(n)
    return math.sqrt(2 / (size - 1)) * math.exp(float(gammaln(size / 2) - gammaln((size - 1) / 2)))


def d2(n: int) -> float:
    """Mean of the range of samples of `n` [-] from a normal process, in process standard deviations [-].

    Range: n 2 to 25, whole.
    Raises: OutsideRange, CalculationError.
    Source: numerical integration of the distribution of the range (Tippett, Biometrika 17, 1925; from memory).

    >>> round(d2(5), 3)
    2.326
    """
    return _range_moments(_size(n))[0]


def d3(n: int) -> float:
    """Standard deviation of the range of samples of `n` [-] from a normal process, in process standard deviations [-].

    Range: n 2 to 25, whole.
    Raises: OutsideRange, CalculationError.
    Source: numerical integration of the distribution of the range (Tippett, Biometrika 17, 1925; from memory).

    >>> round(d3(5), 3)
    0.864
    """
    return _range_moments(_size(n))[1]


def factors(n: int) -> Factors:
    """All constants for samples of `n` [-]: A, A2, A3, B3 to B6, D1 to D4, c4, d2, d3 [-].

    Range: n 2 to 25, whole.
    Raises: OutsideRange, CalculationError.
    Source: three standard errors either side; ISO 7870-2:2023 and NIST/SEMATECH e-Handbook 6.3.2 (both from memory).

    >>> five = factors(5)
    >>> round(five.A2, 3), round(five.D4, 3), round(five.B4, 3)
    (0.577, 2.114, 2.089)
    """
    size = _size(n)
    mean_s, (mean_r, sd_r) = c4(size), _range_moments(size)
    sd_s, root = math.sqrt(1 - mean_s**2), math.sqrt(size)
    return Factors(
        n=size,
        A=3 / root,
        A2=3 / (mean_r * root),
        A3=3 / (mean_s * root),
        B3=max(0.0, 1 - 3 * sd_s / mean_s),
        B4=1 + 3 * sd_s / mean_s,
        B5=max(0.0, mean_s - 3 * sd_s),
        B6=mean_s + 3 * sd_s,
        D1=max(0.0, mean_r - 3 * sd_r),
        D2=mean_r + 3 * sd_r,
        D3=max(0.0, 1 - 3 * sd_r / mean_r),
        D4=1 + 3 * sd_r / mean_r,
        c4=mean_s,
        d2=mean_r,
        d3=sd_r,
    )


def _size(n: int) -> int:
    if within(_("sample size"), n, SMALLEST, LARGEST) != int(n):
        raise CalculationError(_("The sample size is a whole number."))
    return int(n)


@lru_cache(maxsize=LARGEST)
def _range_moments(n: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of n standard normal values.

    P(W <= w) = n * integral of phi(x) (Phi(x + w) - Phi(x))^(n - 1) dx; E(W) and E(W^2) are the integrals of 1 - P and
    of 2 w (1 - P). The first integrand dies away on both sides, where equal steps are as good as exact; the others
    begin at w = 0 and take Gauss and Legendre's points.
    """
    x = np.linspace(-12.0, 9.0, 841)
    points, weights = np.polynomial.legendre.leggauss(96)
    w, weights = (points + 1) * 8.0, weights * 8.0  # 0 to 16: a range beyond that is less likely than 1e-20
    density = np.exp(-x * x / 2) / math.sqrt(2 * math.pi) * (x[1] - x[0])
    below = n * (density[:, None] * (ndtr(x[:, None] + w) - ndtr(x[:, None])) ** (n - 1)).sum(axis=0)
    mean = float((weights * (1 - below)).sum())
    square = float((weights * 2 * w * (1 - below)).sum())
    return mean, math.sqrt(square - mean * mean)
