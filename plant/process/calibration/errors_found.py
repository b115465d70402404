"""The error that a calibration found, with its uncertainty, and whether it lies within a tolerance."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtr, stdtr

from plant.process.errors import CalculationError, within
from plant.process.limits import Outcome
from plant.process.said import say as _

COVERAGE_K = 2.0


@dataclass(frozen=True, slots=True)
class AsFound:
    """An as-found error: `error` is mean reading minus reference; everything in the unit of the readings.

    `reference_u`, `resolution_u` and `repeatability_u` are standard uncertainties, `combined_u` their root sum of
    squares, `expanded` = `coverage_k` x combined. `degrees`: effective degrees of freedom (inf: as good as known).
    `confidence`: the level that the expanded uncertainty really has with so many degrees (0.954 for many).
    """

    error: float
    reference_u: float
    resolution_u: float
    repeatability_u: float
    combined_u: float
    expanded: float
    coverage_k: float
    degrees: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Conformity:
    """An error against its tolerance. `outcome` takes the uncertainty into account, `simple` does not.

    `margin`: tolerance minus the size of the error (below zero: outside by so much).
    """

    outcome: Outcome
    simple: bool
    margin: float


def as_found_error(
    readings: Sequence[float],
    reference: float,
    *,
    reference_expanded: float,
    resolution: float,
    reference_k: float = 2.0,
    repeatability: float | None = None,
) -> AsFound:
    """The error at one point: mean of the readings minus the reference, with its uncertainty (coverage factor k = 2).

    `readings` of the instrument and `reference`, the true value by certificate [one unit]; `reference_expanded`, the
    reference's uncertainty at its `reference_k` (k of its certificate), bath and reading included; `resolution`, the
    instrument's smallest step; `repeatability`, the standard deviation of one reading where it is known from before.
    The larger of that and the scatter of these readings counts, over the root of their number.

    Range: at least one reading, at least two without `repeatability`; uncertainties >= 0, resolution > 0, k 1 to 4.
    Raises: OutsideRange, CalculationError.
    Source: GUM, JCGM 100:2008: 4.2.3 (mean), F.2.2.1 (resolution, a/sqrt(12)), 5.1.2 (root sum of squares), 6.2.1
    (expanded), G.4.1 (effective degrees of freedom); from memory.

    >>> found = as_found_error([72.3, 72.2, 72.3], 72.0, reference_expanded=0.1, resolution=0.1)
    >>> round(found.error, 3), round(found.expanded, 3)
    (0.267, 0.133)
    """
    values = [within(_("reading"), one) for one in readings]
    if not values:
        raise CalculationError(_("No reading was given."))
    true = within(_("reference"), reference)
    reference_u = within(_("uncertainty of the reference"), reference_expanded, 0) / within("k", reference_k, 1, 4)
    resolution_u = within(_("resolution"), resolution, math.ulp(0.0)) / math.sqrt(12)
    repeatability_u, own_degrees = _repeatability(values, repeatability)
    combined = math.sqrt(reference_u**2 + resolution_u**2 + repeatability_u**2)
    degrees = own_degrees * (combined / repeatability_u) ** 4 if repeatability_u else math.inf
    covered = ndtr(COVERAGE_K) if math.isinf(degrees) else stdtr(degrees, COVERAGE_K)
    return AsFound(
        error=math.fsum(values) / len(values) - true,
        reference_u=reference_u,
        resolution_u=resolution_u,
        repeatability_u=repeatability_u,
        combined_u=combined,
        expanded=COVERAGE_K * combined,
        coverage_k=COVERAGE_K,
        degrees=degrees,
        confidence=2 * float(covered) - 1,
    )


def judge_tolerance(found: AsFound, tolerance: float) -> Conformity:
    """Whether an as-found error lies within `tolerance`, plus or minus [unit of the error].

    Met: within it even with the expanded uncertainty. Not met: outside it even so. Else not proven: the check is too
    coarse to tell. `simple` compares the error alone, as most rules on dairy thermometers are read; its bound belongs
    to it.

    Range: tolerance > 0.
    Raises: OutsideRange.
    Source: JCGM 106:2012, 8.3.2 (guarded acceptance, guard band U) and 8.3.3 (guarded rejection); from memory.

    >>> found = as_found_error([72.2], 72.0, reference_expanded=0.05, resolution=0.1, repeatability=0.03)
    >>> judge_tolerance(found, 0.25).outcome.value, judge_tolerance(found, 0.25).simple
    ('not proven', True)
    """
    allowed = within(_("tolerance"), tolerance, math.ulp(0.0))
    # The error is a difference of decimals: a hair of rounding must not decide at the bound itself.
    size = abs(found.error) - 1e-9 * allowed
    if size + found.expanded <= allowed:
        outcome = Outcome.MET
    elif size - found.expanded > allowed:
        outcome = Outcome.NOT_MET
    else:
        outcome = Outcome.NOT_PROVEN
    return Conformity(outcome, size <= allowed, allowed - abs(found.error))


def _repeatability(values: Sequence[float], known: float | None) -> tuple[float, float]:
    """The standard uncertainty of the mean, and its degrees of freedom."""
    if known is None and len(values) < 2:
        raise CalculationError(_("One reading shows no scatter: read again, or give the repeatability known before."))
    before = 0.0 if known is None else within(_("repeatability"), known, 0)
    own = statistics.stdev(values) if len(values) > 1 else 0.0
    degrees = math.inf if before >= own else float(len(values) - 1)
    return max(before, own) / math.sqrt(len(values)), degrees
