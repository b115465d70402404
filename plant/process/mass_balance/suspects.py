"""Does it fit as a whole, and which measurement does not: the chi-square test and the test of each measurement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy import special

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, within
from plant.process.said import Said
from plant.process.said import say as _

__all__ = ["Finding", "chi_square_limit", "judged", "measurement_test_limit", "smallest_noticed"]

Kind = Literal["not checked", "fits", "named", "not separable", "equal", "none stands out"]
MULTIPLICITY: Final = ("sidak", "bonferroni", "none")
# Two statistics that agree so closely are equal: what is left is rounding.
_EQUAL: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Finding:
    """What the tests say.

    `kind`: "not checked" (no redundancy at all), "fits", "named" (one measurement stands out), "not separable" (the
    one that stands out cannot be told from others by these balances, whatever the data), "equal" (the largest
    statistics are equal by chance), "none stands out" (the whole does not fit, yet no single measurement is far off).
    `suspects` are the measurements meant. `rivals` are others that would also explain it: the rest fits without them
    just as it does without the suspect. `resolved`: without the suspect the rest fits (None where none is named).
    """

    kind: Kind
    sentence: Said
    suspects: tuple[str, ...] = ()
    rivals: tuple[str, ...] = ()
    resolved: bool | None = None


def chi_square_limit(degrees: int, confidence: float = 0.95) -> float:
    """The value of chi-square that is exceeded with probability 1 - confidence when nothing is wrong.

    degrees: degrees of freedom, the number of independent balances left [-].
    confidence: [-].

    Range: degrees 1 to 100,000; confidence 0.5 to 0.999999.
    Raises: OutsideRange.
    Source: inverse of the chi-square distribution; NIST/SEMATECH e-Handbook, 1.3.6.7.4 (table, from memory).

    >>> round(chi_square_limit(4), 3)
    9.488
    """
    within("degrees of freedom", degrees, 1, 100_000)
    within("confidence", confidence, 0.5, 0.999999)
    return float(2 * special.gammainccinv(degrees / 2, 1 - confidence))


def measurement_test_limit(tests: int, confidence: float = 0.95, multiplicity: str = "sidak") -> float:
    """How large a normalized adjustment may be, in standard deviations, when so many are looked at together.

    tests: number of different tests [-].
    confidence: of all together [-].
    multiplicity: "sidak": each test at 1 - confidence^(1/tests); "bonferroni": at (1 - confidence)/tests; "none": each
    at 1 - confidence, so that with many tests a false alarm is likely.

    Range: tests 1 to 100,000; confidence 0.5 to 0.999999.
    Raises: OutsideRange; CalculationError for another multiplicity.
    Source: Mah and Tamhane, AIChE J. 28:828, 1982 (from memory); Sidak, J. Am. Stat. Assoc. 62:626, 1967 (from memory).

    >>> round(measurement_test_limit(6), 3), round(measurement_test_limit(1), 3)
    (2.631, 1.96)
    """
    within("number of tests", tests, 1, 100_000)
    within("confidence", confidence, 0.5, 0.999999)
    if multiplicity not in MULTIPLICITY:
        raise CalculationError(_("the control for many tests is one of: %(known)s", known=", ".join(MULTIPLICITY)))
    alpha = 1 - confidence
    if multiplicity == "sidak":
        alpha = -float(np.expm1(np.log(confidence) / tests))
    elif multiplicity == "bonferroni":
        alpha /= tests
    return -float(special.ndtri(alpha / 2))


def smallest_noticed(error_sd: float, z_limit: float, power: float = 0.9) -> float:
    """The error of one measurement that its test would notice with a chance of `power` [unit of error_sd].

    Smaller errors pass more often than that: a balance that fits does not say that they are not there.
    error_sd: standard deviation of the measurement less what the others say (Reconciliation.error_sd).
    z_limit: limit of the normalized adjustments [-]. power: [-].

    Range: error_sd above 0; z_limit 0.5 to 20; power 0.5 to 0.9999.
    Raises: OutsideRange.
    Source: Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (from memory): limit and power quantile
    added, the far tail left out.

    >>> round(smallest_noticed(68.0, 1.96, 0.8), 1)
    190.5
    """
    within("standard deviation", error_sd, 1e-300)
    within("limit", z_limit, 0.5, 20)
    within("power", power, 0.5, 0.9999)
    return error_sd * (z_limit + float(special.ndtri(power)))


def judged(
    names: Sequence[str],
    z: FloatArray,
    groups: Sequence[Sequence[int]],
    statistic: float,
    degrees: int,
    confidence: float,
    multiplicity: str,
) -> Finding:
    """What the statistics say in words. `groups` are the places of tests that are the same test, one or more each."""
    if not degrees:
        return Finding("not checked", _("Nothing is measured twice over: no measurement is checked by the others."))
    limit = measurement_test_limit(len(groups), confidence, multiplicity)
    fits = statistic <= chi_square_limit(degrees, confidence)
    heights = [abs(float(z[group[0]])) for group in groups]
    top = max(heights)
    if top <= limit:
        if fits:
            return Finding("fits", _("The measurements agree within their uncertainties."))
        sentence = _("The measurements do not agree, and none of them stands out: several may be wrong.")
        return Finding("none stands out", sentence)
    highest = [group for group, height in zip(groups, heights, strict=True) if height >= top * (1 - _EQUAL)]
    suspects = tuple(names[one] for group in highest for one in group)
    resolved = _rest_fits(statistic, degrees, top, confidence)
    rivals = tuple(
        names[one]
        for group, height in zip(groups, heights, strict=True)
        if group not in highest and height > limit and resolved and _rest_fits(statistic, degrees, height, confidence)
        for one in group
    )
    kind, sentence = _said(suspects, len(highest))
    if not resolved:
        sentence = _("%(first)s Without it the rest still does not fit: more is wrong.", first=sentence)
    elif rivals:
        sentence = _("%(first)s This would also explain it: %(names)s.", first=sentence, names=", ".join(rivals))
    return Finding(kind, sentence, suspects, rivals, resolved)


def _said(suspects: tuple[str, ...], groups: int) -> tuple[Kind, Said]:
    listed = ", ".join(suspects)
    if len(suspects) == 1:
        return "named", _("%(name)s does not fit the others.", name=listed)
    if groups == 1:
        return "not separable", _(
            "One of these does not fit; these balances cannot tell which: %(names)s.", names=listed
        )
    return "equal", _(
        "One of these does not fit; their tests are equal, so none can be named: %(names)s.", names=listed
    )


def _rest_fits(statistic: float, degrees: int, z: float, confidence: float) -> bool:
    """Whether the balances fit without a measurement: its removal takes z squared and one degree of freedom."""
    rest = statistic - z**2
    return rest <= (chi_square_limit(degrees - 1, confidence) if degrees > 1 else _EQUAL * max(statistic, 1.0))
