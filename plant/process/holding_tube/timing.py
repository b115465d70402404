"""The timing pump's fastest flow, and what a holding-time test made with water says of product."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from plant.process.errors import CalculationError, Infeasible, within
from plant.process.holding_tube.flow import FLOW_M3_PER_S, HOLD_S
from plant.process.said import Said
from plant.process.said import say as _

FILL_S = (1.0, 3600.0)
_DICKERSON = (
    "Dickerson et al., J. Dairy Sci. 51(11):1731, 1968, abstract (https://doi.org/10.3168/jds.S0022-0302(68)87267-4)"
)


@dataclass(frozen=True, slots=True)
class SaltTest:
    """One published pair: a tube sized by the salt test on water for `sized_s` [s], and the product's fastest particle
    measured in it, `measured_s` [s]."""

    key: str
    product: Said
    sized_s: float
    measured_s: float
    source: str = _DICKERSON

    @property
    def ratio(self) -> float:
        """Measured over sized [-]; below 1, water flatters the product."""
        return self.measured_s / self.sized_s


SALT_TESTS: Mapping[str, SaltTest] = MappingProxyType(
    {
        one.key: one
        for one in (
            SaltTest("mix-16.5", _("ice cream mix, 16.5 % fat"), 26, 21.9),
            SaltTest("mix-10", _("ice cream mix, 10 % fat"), 26, 23.5),
            SaltTest("cream-40", _("cream, 40 % fat"), 26, 22.7),
            SaltTest("condensed-40", _("condensed skim milk, 40 % solids"), 26, 17.2),
            SaltTest("milk", _("milk"), 16, 15.8),
            SaltTest("chocolate-milk", _("chocolate milk"), 16, 15.5),
        )
    }
)


@dataclass(frozen=True, slots=True)
class SaltEstimate:
    """What a salt test may be worth for a product: `estimate_s` [s], its published pair, and the caution."""

    salt_hold_s: float
    estimate_s: float
    test: SaltTest
    caution: Said


@dataclass(frozen=True, slots=True)
class PumpReading:
    """One measured flow of a timing pump at its sealed top speed: homogenizing `pressure_kpa` [kPa, gauge] and flow."""

    pressure_kpa: float
    flow_m3_per_s: float


@dataclass(frozen=True, slots=True)
class GoverningFlow:
    """The fastest flow of a timing pump: `pressure_kpa` [kPa] at which it was seen, `flow_m3_per_s` [m3/s], `fall` from
    it to the slowest reading as a share of it [-], sentences that belong to it."""

    pressure_kpa: float
    flow_m3_per_s: float
    fall: float
    sentences: tuple[Said, ...]


def product_hold_by_volume_s(water_hold_s: float, product_fill_s: float, water_fill_s: float) -> float:
    """Holding time of product [s] from a test on water, corrected by the times to deliver one equal volume.

    `water_hold_s` measured on water [s]; `product_fill_s` and `water_fill_s` times to fill the same measure at the same
    pump setting [s]. Corrects the pump's rate only: what a viscous product's velocity profile does is not in it.

    Range: 0.005 <= water_hold_s <= 3600, fills 1 to 3600 s, one at most twice the other.
    Raises: OutsideRange outside it.
    Source: PMO Appendix I, test 11 (from memory).

    >>> round(product_hold_by_volume_s(16.2, 62.5, 60.0), 3)
    16.875
    """
    return within(_("holding time"), water_hold_s, *HOLD_S, unit="s") * _fills(product_fill_s, water_fill_s)


def product_hold_by_weight_s(
    water_hold_s: float, product_fill_s: float, water_fill_s: float, specific_gravity: float = 1.032
) -> float:
    """Holding time of product [s] from a test on water, corrected by the times to deliver one equal weight.

    As product_hold_by_volume_s; `specific_gravity` of the product against water [-], 1.032 for milk. Equal weights of
    the denser product fill less volume, so its fill is seen too short by that much.

    Range: as by volume; 0.9 <= specific_gravity <= 1.4.
    Raises: OutsideRange outside it.
    Source: PMO Appendix I, test 11, with 1.032 for milk (from memory); other products by the same algebra.

    >>> round(product_hold_by_weight_s(16.2, 61.0, 62.0), 3)
    16.449
    """
    within(_("specific gravity"), specific_gravity, 0.9, 1.4)
    return specific_gravity * product_hold_by_volume_s(water_hold_s, product_fill_s, water_fill_s)


def hold_at_rate_s(hold_s: float, rate: float, new_rate: float) -> float:
    """Holding time [s] at another rate of the pump, from one measured: hold x rate / new rate.

    `hold_s` measured [s] at `rate`; both rates in one unit (flow, or speed of a pump without slip). An estimate that
    plans a new test, never in its place, and only while the flow stays turbulent or stays laminar.

    Range: 0.005 <= hold_s <= 3600; rates above 0, the new one between a half and twice the old.
    Raises: OutsideRange outside it.
    Source: by definition, for one volume and one ratio of fastest to mean velocity.

    >>> hold_at_rate_s(16.0, 1000.0, 1250.0)
    12.8
    """
    within(_("holding time"), hold_s, *HOLD_S, unit="s")
    within(_("rate"), rate, 1e-12)
    within(_("new rate"), new_rate, rate / 2, rate * 2)
    return hold_s * rate / new_rate


def governing_flow(readings: Sequence[PumpReading]) -> GoverningFlow:
    """The flow that the holding time has to be met at: the fastest seen at sealed top speed, whatever the pressure.

    `readings` flows [m3/s] at homogenizing pressures [kPa, gauge], one of them with no homogenizing pressure: there a
    homogenizer as timing pump slips least, so its fastest legal flow is expected there.

    Range: pressures 0 to 60,000 kPa, flows 1e-7 to 0.1 m3/s.
    Raises: OutsideRange outside it; Infeasible without a reading at no homogenizing pressure.
    Source: common practice, no source.

    >>> governing_flow([PumpReading(0, 0.0011), PumpReading(13_800, 0.00106)]).flow_m3_per_s
    0.0011
    """
    for one in readings:
        within(_("homogenizing pressure"), one.pressure_kpa, 0, 60_000, "kPa")
        within(_("flow"), one.flow_m3_per_s, *FLOW_M3_PER_S, unit="m3/s")
    if not any(one.pressure_kpa == 0 for one in readings):
        raise Infeasible(
            _(
                "no flow was measured with no homogenizing pressure, where a homogenizer as timing pump is fastest: "
                "measure it there at sealed top speed"
            ),
            "flow",
        )
    fastest = max(readings, key=lambda one: (one.flow_m3_per_s, -one.pressure_kpa))
    slowest = min(one.flow_m3_per_s for one in readings)
    sentences = []
    if fastest.pressure_kpa > 0:
        sentences.append(
            _(
                "The flow is fastest at %(pressure)s kPa, not with no homogenizing pressure as is usual: "
                "look at the valves and measure again.",
                pressure=f"{fastest.pressure_kpa:.10g}",
            )
        )
    return GoverningFlow(
        fastest.pressure_kpa, fastest.flow_m3_per_s, 1 - slowest / fastest.flow_m3_per_s, tuple(sentences)
    )


def salt_test_estimate(salt_hold_s: float, product: str) -> SaltEstimate:
    """What a holding time measured with salt in water may be worth for a product: an estimate that warns.

    `salt_hold_s` measured [s]; `product` a key of SALT_TESTS. The published tubes were sized for 16 s and 26 s, one
    each; another tube, flow or composition has another ratio.

    Range: 10 <= salt_hold_s <= 40.
    Raises: OutsideRange outside it, CalculationError for a product that was not measured.
    Source: Dickerson et al., J. Dairy Sci. 51(11):1731, 1968 (abstract consulted); ratios computed from it.

    >>> round(salt_test_estimate(26, "mix-16.5").estimate_s, 1)
    21.9
    """
    within(_("holding time by salt test"), salt_hold_s, 10, 40, "s")
    if product not in SALT_TESTS:
        raise CalculationError(
            _(
                "%(product)s was not measured; measured were %(known)s",
                product=product[:40],
                known=", ".join(SALT_TESTS),
            )
        )
    test = SALT_TESTS[product]
    caution = _(
        "A salt test on water flatters the product: in a tube sized for %(sized)s s by salt, the fastest particle of "
        "%(product)s took %(measured)s s. Size the tube for a viscous product by the laminar formula.",
        sized=f"{test.sized_s:g}",
        measured=f"{test.measured_s:g}",
        product=test.product,
    )
    return SaltEstimate(salt_hold_s, salt_hold_s * test.ratio, test, caution)


def _fills(product_fill_s: float, water_fill_s: float) -> float:
    within(_("time to fill with water"), water_fill_s, *FILL_S, unit="s")
    within(_("time to fill with product"), product_fill_s, *FILL_S, unit="s")
    return within(_("ratio of the fill times"), product_fill_s / water_fill_s, 0.5, 2)
