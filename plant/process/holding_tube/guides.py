"""How much faster the fastest particle is than the mean, by the guide that a plant's regulator goes by."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import Said
from plant.process.said import say as _

LAMINAR_RATIO = 2.0
LAMINAR_BELOW = 4000.0  # every guide here takes the laminar ratio below this Reynolds number
HIGHEST_REYNOLDS = 1e6  # beyond what plants run and the correlation was made for; our own bound


@dataclass(frozen=True, slots=True)
class Guide:
    """One named way to get from the mean to the fastest velocity.

    `pieces` are (Reynolds number from which it holds, ratio of fastest to mean velocity) in rising order; a ratio of
    None is the correlation 1/(0.0336 log10 Re + 0.662). `source` and `basis` say where the guide stands.
    """

    key: str
    name: Said
    pieces: tuple[tuple[float, float | None], ...]
    source: str
    basis: str

    def ratio(self, reynolds: float) -> float:
        """Ratio of fastest to mean velocity [-] at a Reynolds number [-], which is not checked here."""
        given = next(ratio for start, ratio in reversed(self.pieces) if reynolds >= start)
        return _correlated(reynolds) if given is None else given


def _correlated(reynolds: float) -> float:
    return 1 / (0.0336 * math.log10(reynolds) + 0.662)


# "1.25 above 20,000": at 20,000 itself the more cautious 1.33 still holds.
_ABOVE_20000 = math.nextafter(20_000.0, math.inf)

GUIDES: Mapping[str, Guide] = MappingProxyType(
    {
        "laminar": Guide(
            "laminar",
            _("Fully laminar: 2.0 at every flow"),
            ((0.0, LAMINAR_RATIO),),
            "parabolic profile of Hagen and Poiseuille; PMO Appendix I for HHST tubes",
            "by definition; its use in the PMO from memory",
        ),
        "toledo": Guide(
            "toledo",
            _("Correlation 1/(0.0336 log Re + 0.662)"),
            ((0.0, LAMINAR_RATIO), (LAMINAR_BELOW, None)),
            "Toledo, Fundamentals of Food Process Engineering, ch. 9, after Edgerton and Jones",
            "from memory",
        ),
        "uk": Guide(
            "uk",
            _("United Kingdom guide: 1.33, and 1.25 above Re 20,000"),
            ((0.0, LAMINAR_RATIO), (LAMINAR_BELOW, 1.33), (_ABOVE_20000, 1.25)),
            "Pasteuriser holding section, holding time calculation (https://ru.scribd.com/doc/43150024)",
            "text consulted; between Re 4000 and 20,000 the larger of its two ratios is taken",
        ),
        "flat-1.2": Guide(
            "flat-1.2",
            _("Flat 1.2"),
            ((0.0, LAMINAR_RATIO), (LAMINAR_BELOW, 1.2)),
            "the least cautious of these up to Re 125,000",
            "common practice, no source",
        ),
    }
)


def guide_of(key: str) -> Guide:
    """The guide of that key. Raises CalculationError for one that is not known."""
    if key not in GUIDES:
        raise CalculationError(
            _("%(key)s is not a known guide; known are %(known)s", key=key[:40], known=", ".join(GUIDES))
        )
    return GUIDES[key]


def fastest_ratio(reynolds: float, guide: str) -> float:
    """Ratio of the fastest particle's velocity to the mean velocity [-].

    `reynolds` Reynolds number of the full tube [-]; `guide` a key of GUIDES. Below Re 4000 the ratio is 2.0 whatever
    the guide: flow there may turn laminar.

    Range: 0 < Re <= 1,000,000.
    Raises: OutsideRange outside it, CalculationError for an unknown guide.
    Source: each guide names its own; 2.0 for laminar flow by definition (Hagen and Poiseuille).

    >>> round(fastest_ratio(50_000, "toledo"), 3), fastest_ratio(3_999, "toledo"), fastest_ratio(50_000, "uk")
    (1.22, 2.0, 1.25)
    """
    within(_("Reynolds number"), reynolds, math.ulp(0.0), HIGHEST_REYNOLDS)
    return guide_of(guide).ratio(float(reynolds))


def velocity_profile(ratio: float, radius_shares: ArrayLike) -> FloatArray:
    """Velocity over mean velocity [-] across the tube, for drawing it.

    `ratio` fastest over mean velocity [-]; `radius_shares` distance from the center line over the radius [-], any
    shape. At 2.0 the parabola; below, the power law (1 - r/R)^(1/m) whose center has that ratio (m is 7 at 1.2245).

    Range: 1.05 <= ratio <= 2; shares 0 to 1.
    Raises: OutsideRange outside it.
    Source: parabola by definition; power law: Bird, Stewart and Lightfoot, Transport Phenomena, ch. 5 (from memory).

    >>> velocity_profile(2.0, [0.0, 0.5, 1.0])
    array([2. , 1.5, 0. ])
    """
    within(_("ratio of fastest to mean velocity"), ratio, 1.05, LAMINAR_RATIO)
    shares = np.asarray(radius_shares, dtype=np.float64)
    if not ((shares >= 0) & (shares <= 1)).all():
        raise OutsideRange(_("share of the radius"), float(shares[~((shares >= 0) & (shares <= 1))][0]), 0, 1)
    if ratio == LAMINAR_RATIO:
        return np.asarray(2 * (1 - shares**2), dtype=np.float64)
    # Mean of the power law: 2 m^2/((m + 1)(2 m + 1)) of its center; solved for m.
    excess = ratio - 1
    power = (3 + math.sqrt(9 + 8 * excess)) / (4 * excess)
    return np.asarray(ratio * (1 - shares) ** (1 / power), dtype=np.float64)
