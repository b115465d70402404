"""The most probable number: a concentration from tubes that are positive or negative at several dilutions."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaln, ndtri

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, within
from plant.process.said import Said
from plant.process.said import say as _

# More outcomes than this take too long to list; the interval then comes from the likelihood.
MOST_OUTCOMES = 20_000
METHODS = ("exact", "likelihood ratio", "log-normal")


@dataclass(frozen=True, slots=True)
class Dilution:
    """One step: `portion` of the sample in each tube [g or mL], how many `tubes`, how many of them `positive`."""

    portion: float
    tubes: int
    positive: int


@dataclass(frozen=True, slots=True)
class ProbableNumber:
    """A most probable number, per unit of the portions (per g, per mL).

    `mpn`: 0 when no tube is positive, inf when all are. Then `bound` is the lowest number above 0 that these dilutions
    can give, or the highest below inf, where there is one; else it is None. `low` to `high`: the interval by `method`,
    at `confidence`. `rarity` [0 to 1]: how likely this outcome is beside the likeliest one at that concentration; below
    0.05 unlikely, below 0.01 very unlikely, so look for a mistake in the dilutions or the tubes.
    """

    mpn: float
    low: float
    high: float
    confidence: float
    method: str
    method_words: Said
    rarity: float
    bound: float | None = None

    @property
    def text(self) -> str:
        """To two significant digits, as tables print it: "43", "< 3.0", "> 1100"."""
        if self.mpn == 0:
            return f"< {two_digits(self.high if self.bound is None else self.bound)}"
        if math.isinf(self.mpn):
            return f"> {two_digits(self.low if self.bound is None else self.bound)}"
        return two_digits(self.mpn)


def two_digits(value: float) -> str:
    """A number above zero to two significant digits, without an exponent: "3.0", "43", "1100"."""
    places = 1 - math.floor(math.log10(float(f"{value:.1e}")))
    return f"{float(f'{value:.1e}'):.{max(0, places)}f}"


def most_probable_number(
    dilutions: Sequence[Dilution], confidence: float = 0.95, method: str | None = None
) -> ProbableNumber:
    """The concentration [per unit of the portions] that makes the outcome most likely, and its interval.

    "exact": the concentrations at which outcomes with an estimate at least as high, or at most as high, have half of
    1 - confidence; it covers at least as often as it says. "likelihood ratio": those whose likelihood is not too far
    below the greatest (chi-square, 1 degree of freedom). "log-normal": normal in the logarithm with the standard
    deviation of the Fisher information; none without both a positive and a negative tube. None: exact where the
    outcomes are few enough to list (20,000), else likelihood ratio.

    Range: 1 to 20 dilutions of different portions, 1e-12 to 1e6; 1 to 1000 tubes each, positive ones no more;
    confidence 0.5 to 0.999.
    Raises: OutsideRange, CalculationError.
    Source: maximum likelihood, sum of positive x portion/(1 - exp(-portion x MPN)) = sum of tubes x portion (FDA BAM,
    appendix 2; from memory). Intervals: exact as Clopper and Pearson 1934 over the outcomes in order of their estimate;
    likelihood ratio, Wilks 1938; log-normal and rarity, Jarvis, Wilrich and Wilrich, J. Appl. Microbiol. 109:1660, 2010
    (all from memory).

    >>> three = most_probable_number([Dilution(0.1, 3, 3), Dilution(0.01, 3, 1), Dilution(0.001, 3, 0)])
    >>> round(three.mpn, 1), three.method
    (42.7, 'exact')
    """
    steps = _checked(dilutions)
    level = within(_("confidence"), confidence, 0.5, 0.999)
    if method is not None and method not in METHODS:
        raise CalculationError(_("The methods of the interval are: %(known)s.", known=", ".join(METHODS)))
    portions = np.array([one.portion for one in steps])
    tubes = np.array([one.tubes for one in steps], dtype=np.float64)
    positive = np.array([one.positive for one in steps], dtype=np.float64)
    few = math.prod(one.tubes + 1 for one in steps) <= MOST_OUTCOMES
    used = method or ("exact" if few else "likelihood ratio")
    if used == "exact" and not few:
        raise CalculationError(_("There are too many outcomes for the exact method."))
    mpn = float(_estimates(portions, tubes, positive[None, :])[0])
    interval = {"exact": _exact, "likelihood ratio": _likelihood_ratio, "log-normal": _log_normal}[used]
    low, high = interval(portions, tubes, positive, mpn, level)
    bound = None
    if mpn == 0 or math.isinf(mpn):
        # One tube more, or one fewer, of the smallest portion: the nearest outcome with a number of its own.
        nearest = positive + np.where(portions == portions.min(), 1.0 if mpn == 0 else -1.0, 0.0)
        estimate = float(_estimates(portions, tubes, nearest[None, :])[0])
        bound = estimate if 0 < estimate < math.inf else None  # a single tube has no number between the two
    rarity = _rarity(portions, tubes, positive, mpn)
    return ProbableNumber(mpn, low, high, level, used, _WORDS[used], rarity, bound)


_WORDS: dict[str, Said] = {
    "exact": _("exact, from the probabilities of all outcomes (after Clopper and Pearson)"),
    "likelihood ratio": _("likelihood ratio (Wilks)"),
    "log-normal": _("log-normal approximation (Jarvis and others 2010)"),
}


def _checked(dilutions: Sequence[Dilution]) -> list[Dilution]:
    within(_("number of dilutions"), len(dilutions), 1, 20)
    for one in dilutions:
        within(_("portion"), one.portion, 1e-12, 1e6)
        within(_("number of tubes"), one.tubes, 1, 1000)
        within(_("number of positive tubes"), one.positive, 0, one.tubes)
        if int(one.tubes) != one.tubes or int(one.positive) != one.positive:
            raise CalculationError(_("Tubes are counted in whole numbers."))
    if len({one.portion for one in dilutions}) < len(dilutions):
        raise CalculationError(_("The same portion stands there twice: write its tubes on one line."))
    return sorted(dilutions, key=lambda one: -one.portion)


def _estimates(portions: FloatArray, tubes: FloatArray, outcomes: FloatArray) -> FloatArray:
    """The maximum-likelihood estimates (k,) of outcomes (k, steps), by halving in the logarithm; 0 or inf at the ends.

    The score, sum of positive x portion/(exp(portion x mpn) - 1) less sum of negative x portion, falls with the mpn.
    """
    total = float((tubes * portions).sum())
    none, every = outcomes.sum(axis=1) == 0, (outcomes == tubes).all(axis=1)
    # Between these two the score changes its sign, whatever the outcome.
    low = np.full(len(outcomes), math.log(1e-3 / total))
    high = np.full(len(outcomes), math.log(60 / float(portions.min())))
    for _halving in range(80):
        middle = (low + high) / 2
        grown = np.expm1(np.minimum(portions * np.exp(middle)[:, None], 700.0))
        rising = (outcomes * portions / grown).sum(axis=1) > ((tubes - outcomes) * portions).sum(axis=1)
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    return np.where(none, 0.0, np.where(every, np.inf, np.exp((low + high) / 2)))


def _log_likelihood(portions: FloatArray, tubes: FloatArray, positive: FloatArray, mpn: float) -> float:
    """Up to the binomial coefficients, which do not depend on the mpn; 0 in the limits of no and of all tubes."""
    if mpn == 0 or math.isinf(mpn):
        return 0.0
    grown = positive * np.log(-np.expm1(-portions * mpn))
    return float(np.where(positive > 0, grown, 0.0).sum() - ((tubes - positive) * portions * mpn).sum())


def _ends(portions: FloatArray) -> tuple[float, float]:
    """Logarithms of concentrations that are certainly below and above every end of an interval."""
    return math.log(1e-8 / float(portions.max())), math.log(1e4 / float(portions.min()))


def _exact(
    portions: FloatArray, tubes: FloatArray, positive: FloatArray, mpn: float, confidence: float
) -> tuple[float, float]:
    grids = np.meshgrid(*(np.arange(int(count) + 1) for count in tubes), indexing="ij")
    outcomes = np.stack([grid.ravel() for grid in grids], axis=1).astype(np.float64)
    estimates = _estimates(portions, tubes, outcomes)
    ways = (gammaln(tubes + 1) - gammaln(outcomes + 1) - gammaln(tubes - outcomes + 1)).sum(axis=1)
    at_most = estimates <= mpn * (1 + 1e-9)
    at_least = estimates >= mpn * (1 - 1e-9)

    def chance(which: np.ndarray, log_mpn: float) -> float:
        expected = portions * math.exp(log_mpn)
        grown = outcomes[which] * np.log(-np.expm1(-expected))
        return float(np.exp(ways[which] + (grown - (tubes - outcomes[which]) * expected).sum(axis=1)).sum())

    tail, (start, end) = (1 - confidence) / 2, _ends(portions)
    low = 0.0 if mpn == 0 else _root(lambda log_mpn: chance(at_least, log_mpn) - tail, start, end)
    high = math.inf if math.isinf(mpn) else _root(lambda log_mpn: chance(at_most, log_mpn) - tail, start, end)
    # An outcome that hardly ever comes can have its estimate outside both: the interval is widened to hold it.
    return min(low, mpn), max(high, mpn)


def _likelihood_ratio(
    portions: FloatArray, tubes: FloatArray, positive: FloatArray, mpn: float, confidence: float
) -> tuple[float, float]:
    greatest = _log_likelihood(portions, tubes, positive, mpn)
    allowed = float(ndtri((1 + confidence) / 2)) ** 2 / 2

    def short(log_mpn: float) -> float:
        return greatest - _log_likelihood(portions, tubes, positive, math.exp(log_mpn)) - allowed

    start, end = _ends(portions)
    top = math.log(mpn) if 0 < mpn < math.inf else start if mpn == 0 else end
    low = 0.0 if mpn == 0 else _root(short, start, top)
    high = math.inf if math.isinf(mpn) else _root(short, top, end)
    return low, high


def _log_normal(
    portions: FloatArray, tubes: FloatArray, positive: FloatArray, mpn: float, confidence: float
) -> tuple[float, float]:
    if mpn == 0 or math.isinf(mpn):
        raise CalculationError(_("This method needs both a positive and a negative tube."))
    expected = portions * mpn
    information = float((tubes * expected**2 / np.expm1(np.minimum(expected, 700))).sum())
    sides = float(ndtri((1 + confidence) / 2)) / math.sqrt(max(information, 1e-300))
    if sides > 100:
        raise CalculationError(_("This method says nothing of an outcome as unlikely as this one."))
    return mpn * math.exp(-sides), mpn * math.exp(sides)


def _root(function: Callable[[float], float], start: float, end: float) -> float:
    return math.exp(float(brentq(function, start, end, xtol=1e-12)))


def _rarity(portions: FloatArray, tubes: FloatArray, positive: FloatArray, mpn: float) -> float:
    if mpn == 0 or math.isinf(mpn):
        return 1.0
    share = -np.expm1(-portions * mpn)
    likeliest = np.minimum(np.floor((tubes + 1) * share), tubes)

    def log_chance(counts: FloatArray) -> float:
        ways = gammaln(tubes + 1) - gammaln(counts + 1) - gammaln(tubes - counts + 1)
        grown = np.where(counts > 0, counts * np.log(share), 0.0)
        return float((ways + grown - (tubes - counts) * portions * mpn).sum())

    return min(1.0, math.exp(log_chance(positive) - log_chance(likeliest)))
