"""The probability that a lot passes a two- or three-class plan, and the plan that a wanted protection needs."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtr, betaincinv, gammaln, ndtr

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, Infeasible, OutsideRange, within
from plant.process.said import say as _

MOST_SAMPLES = 10_000
MOST_NEEDED = 1_000_000


def accept_two_class(n: int, c: int, defective: float) -> float:
    """Probability [-] that at most `c` of `n` samples are defective, when a share `defective` of the lot is [0 to 1].

    Range: n 1 to 10,000; c 0 to n; defective 0 to 1.
    Raises: OutsideRange, CalculationError.
    Source: binomial, ICMSF, Microorganisms in Foods 7, chapter 7 (from memory); c = 0: (1 - p)^n.

    >>> round(accept_two_class(5, 2, 0.20), 3)
    0.942
    """
    size, most = _plan(n, c)
    return float(bdtr(most, size, within(_("share defective"), defective, 0, 1)))


def accept_three_class(n: int, c: int, marginal: float, defective: float) -> float:
    """Probability [-] that none of `n` samples lies above M and at most `c` lie between m and M.

    `marginal` and `defective`: the shares [0 to 1] of the lot between m and M, and above M.

    Range: n 1 to 10,000; c 0 to n; the shares 0 to 1, together at most 1.
    Raises: OutsideRange, CalculationError.
    Source: sum over i <= c of C(n, i) pm^i (1 - pm - pd)^(n - i); ICMSF, Microorganisms in Foods 7, chapter 7 (from
    memory).

    >>> round(accept_three_class(5, 2, 0.30, 0.05), 3)
    0.631
    """
    size, most = _plan(n, c)
    between = within(_("share between m and M"), marginal, 0, 1)
    above = within(_("share above M"), defective, 0, 1)
    within(_("share above m"), between + above, 0, 1 + 1e-12)
    passing = 1 - above
    if passing <= 0:
        return 0.0
    # None above M, and then the rest as a two-class plan among what is not above M.
    return float(passing**size * bdtr(most, size, min(1.0, between / passing)))


def accept_lognormal(n: int, c: int, log_m: float, log_big_m: float | None, mean_log: float, sd_log: float) -> float:
    """Probability [-] of passing when log10 counts in the lot are normal with mean `mean_log` and sd `sd_log`.

    `log_m` and `log_big_m`: log10 of m and M [log10 of the unit of the counts]; `log_big_m` None: a two-class plan.
    The spread within a lot is 0.8 in many examples; a plant takes its own.

    Range: n 1 to 10,000; c 0 to n; sd > 0; log_m <= log_big_m; logs -10 to 20.
    Raises: OutsideRange, CalculationError.
    Source: ICMSF, Microorganisms in Foods 7, chapter 7 (log-normal lots; sd 0.8; from memory).

    >>> round(accept_lognormal(5, 2, 1.0, 2.0, 1.0, 0.8), 3)
    0.349
    """
    low = within(_("log of m"), log_m, -10, 20)
    mean, sd = within(_("mean log count"), mean_log, -10, 20), within(_("standard deviation"), sd_log, 1e-6, 10)
    above_m = float(ndtr((mean - low) / sd))
    if log_big_m is None:
        return accept_two_class(n, c, above_m)
    high = within(_("log of M"), log_big_m, low, 20)
    above = float(ndtr((mean - high) / sd))
    return accept_three_class(n, c, max(0.0, above_m - above), above)


def oc_curve(n: int, c: int, defective: ArrayLike) -> FloatArray:
    """Operating characteristic of a two-class plan: the probability of passing (k,) at each share `defective` (k,) [-].

    Range: n 1 to 10,000; c 0 to n; shares 0 to 1.
    Raises: OutsideRange, CalculationError.
    Source: binomial, as accept_two_class.

    >>> [round(float(one), 3) for one in oc_curve(5, 0, [0.05, 0.10, 0.50])]
    [0.774, 0.59, 0.031]
    """
    size, most = _plan(n, c)
    shares = np.asarray(defective, dtype=np.float64)
    wrong = ~((shares >= 0) & (shares <= 1))
    if shares.ndim != 1 or not len(shares):
        raise CalculationError(_("The shares must be one row of at least one number."))
    if wrong.any():
        raise OutsideRange(_("share defective"), float(shares[wrong][0]), 0, 1)
    return np.asarray(bdtr(most, size, shares), dtype=np.float64)


def defective_at(n: int, c: int, probability: float) -> float:
    """The share defective [0 to 1] at which a two-class plan passes a lot with this `probability` [-].

    At 0.95 the quality that is nearly always accepted, at 0.05 that which is nearly always rejected.

    Range: n 1 to 10,000; c 0 to n - 1; probability 0.000001 to 0.999999.
    Raises: OutsideRange, CalculationError.
    Source: the binomial solved through the incomplete beta function (Clopper and Pearson 1934; from memory).

    >>> round(defective_at(59, 0, 0.05), 4)
    0.0495
    """
    size, most = _plan(n, c)
    within("c", most, 0, size - 1)
    chance = within(_("probability"), probability, 1e-6, 1 - 1e-6)
    return float(betaincinv(most + 1, size - most, 1 - chance))


def sample_size_c0(defective: float, confidence: float, lot_size: int | None = None) -> int:
    """Smallest n with c = 0 that rejects a lot with a share `defective` [0 to 1] with probability `confidence` [-].

    `lot_size` units in the lot, of which `defective` x lot_size, rounded up to a whole unit, are bad; None: so many
    that drawing does not change the lot (binomial).

    Range: defective 0.000001 to 1; confidence 0.000001 to 0.999999; lot size 1 to 1,000,000.
    Raises: OutsideRange, CalculationError; Infeasible when more than 1,000,000 samples would be needed.
    Source: (1 - p)^n <= 1 - confidence; for a counted lot the hypergeometric distribution (by definition).

    >>> sample_size_c0(0.05, 0.95), sample_size_c0(0.01, 0.95), sample_size_c0(0.05, 0.95, lot_size=100)
    (59, 299, 45)
    """
    share = within(_("share defective"), defective, 1e-6, 1)
    escape = 1 - within(_("confidence"), confidence, 1e-6, 1 - 1e-6)
    bound = escape * (1 + 1e-12)  # 1 - 0.9 is a hair below 0.1
    if lot_size is not None:
        return _counted(share, bound, whole(_("lot size"), lot_size, 1, 1_000_000))
    if share == 1:
        return 1
    n = max(1, math.ceil(math.log(bound) / math.log1p(-share)) - 1)
    while n <= MOST_NEEDED and (1 - share) ** n > bound:
        n += 1
    if n > MOST_NEEDED:
        raise Infeasible(_("More than a million samples would be needed."), "n", float(n), 1, float(MOST_NEEDED))
    return n


def protection_c0(n: int, confidence: float) -> float:
    """The share defective [0 to 1] that `n` samples with c = 0 reject with probability `confidence` [-].

    Range: n 1 to 10,000; confidence 0.000001 to 0.999999.
    Raises: OutsideRange, CalculationError.
    Source: 1 - (1 - confidence)^(1/n), the binomial with c = 0 solved (by definition).

    >>> round(protection_c0(5, 0.95), 3)
    0.451
    """
    size, _none = _plan(n, 0)
    escape = 1 - within(_("confidence"), confidence, 1e-6, 1 - 1e-6)
    return -math.expm1(math.log(escape) / size)


def _counted(share: float, bound: float, lot: int) -> int:
    """The smallest n for a lot of so many units, by halving: the probability falls with n."""
    bad = max(1, math.ceil(share * lot - 1e-9))
    low, high = 1, lot - bad + 1  # with one more than the good units a bad one must be among them
    while low < high:
        middle = (low + high) // 2
        none = gammaln(lot - bad + 1) - gammaln(lot - bad - middle + 1) - gammaln(lot + 1) + gammaln(lot - middle + 1)
        if math.exp(float(none)) <= bound:
            high = middle
        else:
            low = middle + 1
    return low


def _plan(n: int, c: int) -> tuple[int, int]:
    size = whole("n", n, 1, MOST_SAMPLES)
    return size, whole("c", c, 0, size)


def whole(name: str, value: float, low: int, high: int) -> int:
    """The value, when it is a whole number from low to high. Raises OutsideRange, CalculationError."""
    if within(name, value, low, high) != int(value):
        raise CalculationError(_("%(name)s must be a whole number.", name=name))
    return int(value)
