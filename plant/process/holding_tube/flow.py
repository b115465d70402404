"""Flow in the tube: volume, velocity, the fastest particle's time, and the length or the rate for a wanted time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, Infeasible, OutsideRange, within
from plant.process.holding_tube.guides import HIGHEST_REYNOLDS, LAMINAR_RATIO, guide_of
from plant.process.said import say as _

# What is taken for a holding tube of a plant: our own bounds, wide of anything in use.
BORE_M = (0.003, 0.3)
LENGTH_M = (0.01, 1000.0)
FLOW_M3_PER_S = (1e-7, 0.1)
DENSITY_KG_PER_M3 = (700.0, 1500.0)
VISCOSITY_PA_S = (1e-4, 10.0)
HOLD_S = (0.005, 3600.0)
GALLON_M3, INCH_M = 0.003785411784, 0.0254  # exact by definition


@dataclass(frozen=True, slots=True)
class Residence:
    """How long product stays in a tube.

    `volume_m3` [m3], `velocity_m_per_s` the mean velocity [m/s], `reynolds` [-], `laminar` whether Re is below 4000 (or
    the guide takes every flow as laminar), `ratio` fastest over mean velocity [-], `mean_s` volume over flow [s],
    `fastest_s` the time of the fastest particle [s], which is the holding time.
    """

    volume_m3: float
    velocity_m_per_s: float
    reynolds: float
    laminar: bool
    ratio: float
    mean_s: float
    fastest_s: float
    guide: str


@dataclass(frozen=True, slots=True)
class Lengths:
    """Lengths [m] of a tube for a wanted time.

    `mean_m` if all went at mean velocity (never enough), `guide_m` by the guide, `laminar_m` if the flow is laminar.
    """

    mean_m: float
    guide_m: float
    laminar_m: float
    velocity_m_per_s: float
    reynolds: float
    ratio: float
    guide: str


def bore_area_m2(bore_m: float) -> float:
    """Cross-section of the bore [m2], from its inner diameter `bore_m` [m].

    Range: 0.003 <= bore_m <= 0.3.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> round(bore_area_m2(0.034), 7)
    0.0009079
    """
    return math.pi / 4 * within(_("bore"), bore_m, *BORE_M, unit="m") ** 2


def volume_m3(bore_m: float, length_m: float) -> float:
    """Volume of a full tube [m3]: inner diameter `bore_m` [m], length along the center line `length_m` [m].

    Range: 0.003 <= bore_m <= 0.3, 0.01 <= length_m <= 1000.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> round(volume_m3(0.047498, 11.757) * 1000, 2)
    20.83
    """
    return bore_area_m2(bore_m) * within(_("length"), length_m, *LENGTH_M, unit="m")


def bulk_velocity_m_per_s(flow_m3_per_s: float, bore_m: float) -> float:
    """Mean velocity [m/s] of `flow_m3_per_s` [m3/s] in a full tube of inner diameter `bore_m` [m].

    Range: 1e-7 <= flow_m3_per_s <= 0.1, 0.003 <= bore_m <= 0.3.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> round(bulk_velocity_m_per_s(5.0 / 3600, 0.047498), 4)
    0.7838
    """
    return within(_("flow"), flow_m3_per_s, *FLOW_M3_PER_S, unit="m3/s") / bore_area_m2(bore_m)


def reynolds_number(flow_m3_per_s: float, bore_m: float, density_kg_per_m3: float, viscosity_pa_s: float) -> float:
    """Reynolds number density x velocity x bore / viscosity [-].

    `flow_m3_per_s` [m3/s], `bore_m` inner diameter [m], `density_kg_per_m3` [kg/m3] and `viscosity_pa_s` [Pa s] of the
    product at the temperature of the hold. A product that thins or thickens with shear has no one viscosity: give the
    highest that it may have.

    Range: flow and bore as above, 700 <= density_kg_per_m3 <= 1500, 0.0001 <= viscosity_pa_s <= 10.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> round(reynolds_number(1.666e-4, 0.034, 1009, 0.005))
    1259
    """
    within(_("density"), density_kg_per_m3, *DENSITY_KG_PER_M3, unit="kg/m3")
    within(_("viscosity"), viscosity_pa_s, *VISCOSITY_PA_S, unit="Pa s")
    return density_kg_per_m3 * bulk_velocity_m_per_s(flow_m3_per_s, bore_m) * bore_m / viscosity_pa_s


def residence(
    length_m: float,
    bore_m: float,
    flow_m3_per_s: float,
    density_kg_per_m3: float,
    viscosity_pa_s: float,
    guide: str,
) -> Residence:
    """How long product stays in the tube, above all its fastest particle.

    `length_m` along the center line [m], `bore_m` inner diameter [m], `flow_m3_per_s` the fastest legal flow [m3/s],
    `density_kg_per_m3` [kg/m3], `viscosity_pa_s` [Pa s], `guide` a key of GUIDES.

    Range: as for reynolds_number, 0.01 <= length_m <= 1000, Re <= 1,000,000.
    Raises: OutsideRange outside it, CalculationError for an unknown guide.
    Source: hold = length over fastest velocity; the ratio from the guide (see GUIDES), laminar 2.0 by definition.

    >>> round(residence(18, 0.047498, 6.0 / 3600, 1012, 0.00055, "toledo").fastest_s, 2)
    15.83
    """
    chosen = guide_of(guide)
    volume = volume_m3(bore_m, length_m)
    velocity = bulk_velocity_m_per_s(flow_m3_per_s, bore_m)
    reynolds = _reynolds(flow_m3_per_s, bore_m, density_kg_per_m3, viscosity_pa_s)
    ratio = chosen.ratio(reynolds)
    mean = volume / flow_m3_per_s
    return Residence(volume, velocity, reynolds, ratio == LAMINAR_RATIO, ratio, mean, mean / ratio, guide)


def lengths_for(
    hold_s: float, bore_m: float, flow_m3_per_s: float, density_kg_per_m3: float, viscosity_pa_s: float, guide: str
) -> Lengths:
    """Length of tube in which the fastest particle stays `hold_s` [s].

    `bore_m` inner diameter [m], `flow_m3_per_s` the fastest legal flow [m3/s], `density_kg_per_m3` [kg/m3],
    `viscosity_pa_s` [Pa s], `guide` a key of GUIDES.

    Range: as for residence, 0.005 <= hold_s <= 3600.
    Raises: OutsideRange outside it, CalculationError for an unknown guide.
    Source: length = hold x fastest velocity; the ratio from the guide (see GUIDES).

    >>> found = lengths_for(15, 0.047498, 5.0 / 3600, 1011, 0.0006, "toledo")
    >>> round(found.mean_m, 2), round(found.guide_m, 2), round(found.laminar_m, 2)
    (11.76, 14.28, 23.52)
    """
    within(_("holding time"), hold_s, *HOLD_S, unit="s")
    chosen = guide_of(guide)
    velocity = bulk_velocity_m_per_s(flow_m3_per_s, bore_m)
    reynolds = _reynolds(flow_m3_per_s, bore_m, density_kg_per_m3, viscosity_pa_s)
    ratio, mean = chosen.ratio(reynolds), hold_s * velocity
    return Lengths(mean, mean * ratio, mean * LAMINAR_RATIO, velocity, reynolds, ratio, guide)


def hold_against_rate(
    length_m: float,
    bore_m: float,
    flows_m3_per_s: ArrayLike,
    density_kg_per_m3: float,
    viscosity_pa_s: float,
    guide: str,
) -> FloatArray:
    """Time of the fastest particle [s] at each of many flows: what the pump's rate does to the hold.

    `flows_m3_per_s` [m3/s], one dimension; the rest as for residence. The hold is not always shorter at the faster of
    two flows: where the flow ceases to count as laminar, the ratio falls and the hold jumps up.

    Range: as for residence, at every flow.
    Raises: OutsideRange outside it, CalculationError for an unknown guide or another shape.
    Source: as residence.

    >>> hold_against_rate(12.19, 0.047498, [0.001, 0.0005], 1010, 0.0005, "flat-1.2").round(1)
    array([18., 36.])
    """
    flows = np.asarray(flows_m3_per_s, dtype=np.float64)
    if flows.ndim != 1:
        raise CalculationError(_("the flows must be a list of numbers"))
    liquid = (density_kg_per_m3, viscosity_pa_s, guide)
    return np.array([residence(length_m, bore_m, float(one), *liquid).fastest_s for one in flows], dtype=np.float64)


def largest_flow_m3_per_s(
    hold_s: float, length_m: float, bore_m: float, density_kg_per_m3: float, viscosity_pa_s: float, guide: str
) -> float:
    """The largest flow [m3/s] at which, and below which everywhere, the fastest particle stays `hold_s` [s].

    The rest as for residence. A faster flow that also met the time, beyond a stretch of laminar flow that does not, is
    no answer: a pump slows down as it wears and starts.

    Range: as for residence, 0.005 <= hold_s <= 3600.
    Raises: OutsideRange outside it; Infeasible when even the slowest flow of the range is too fast, or when the time
    is met at every flow of the range.
    Source: inverse of residence.

    >>> round(largest_flow_m3_per_s(15, 14.28, 0.047498, 1011, 0.0006, "toledo") * 3600, 2)
    5.0
    """
    within(_("holding time"), hold_s, *HOLD_S, unit="s")
    chosen, volume = guide_of(guide), volume_m3(bore_m, length_m)
    per_flow = reynolds_number(1e-3, bore_m, density_kg_per_m3, viscosity_pa_s) / 1e-3
    top = min(FLOW_M3_PER_S[1], HIGHEST_REYNOLDS / per_flow)
    starts = [start / per_flow for start, _ratio in chosen.pieces if start / per_flow < top]
    for (_reynolds_from, ratio), start, end in zip(chosen.pieces, starts, [*starts[1:], top], strict=False):
        # Within a piece the hold falls as the flow rises; just before its end it is shortest.
        ended = math.nextafter(end, 0.0)

        def spare(flow: float) -> float:
            return volume / (flow * chosen.ratio(flow * per_flow)) - hold_s

        if spare(ended) >= 0:
            continue
        found = volume / (hold_s * ratio) if ratio is not None else float(brentq(spare, start, ended, xtol=1e-15))
        if found < FLOW_M3_PER_S[0]:
            break
        return found
    else:
        raise Infeasible(
            _("the time is met at every flow up to %(flow)s m3/s, where the guide ends", flow=f"{top:.4g}"),
            "flow", hold_s, unit="s",
        )  # fmt: skip
    raise Infeasible(_("no flow is slow enough for the wanted time in this tube"), "holding time", hold_s, unit="s")


def pmo_length_in(flow_gal_per_s: float, hold_s: float, bore_in: float) -> float:
    """Length of tube [in] by the model ordinance's formula for fully laminar flow, 588 Q t / D^2.

    `flow_gal_per_s` Q [US gal/s], `hold_s` t [s], `bore_in` D, inner diameter [in]. The constant is the printed 588;
    2 x 231/(pi/4) is 588.24, so the exact length is 0.04 % longer. Printed tables are rounded to half an inch.

    Range: 1e-7 to 0.1 m3/s, 0.005 <= hold_s <= 3600, bore 0.003 to 0.3 m.
    Raises: OutsideRange outside it.
    Source: PMO Appendix I, holding time of HHST tubes (from memory); constant recomputed.

    >>> round(pmo_length_in(1, 1, 1.870), 1)
    168.1
    """
    within(_("flow"), flow_gal_per_s * GALLON_M3, *FLOW_M3_PER_S, unit="m3/s")
    within(_("holding time"), hold_s, *HOLD_S, unit="s")
    within(_("bore"), bore_in * INCH_M, *BORE_M, unit="m")
    return 588 * flow_gal_per_s * hold_s / bore_in**2


def _reynolds(flow_m3_per_s: float, bore_m: float, density_kg_per_m3: float, viscosity_pa_s: float) -> float:
    reynolds = reynolds_number(flow_m3_per_s, bore_m, density_kg_per_m3, viscosity_pa_s)
    if reynolds > HIGHEST_REYNOLDS:
        raise OutsideRange(_("Reynolds number"), reynolds, None, HIGHEST_REYNOLDS)
    return reynolds
