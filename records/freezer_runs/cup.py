"""A cup weighed: overrun and pounds per gallon as numbers that a limit can be held against. No database."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from plant.process.overrun import overrun_by_cup

# The least weight of a gallon of ice cream, 21 CFR 135.110(a)(2) (text consulted).
LEAST_LB_GAL = Decimal("4.5")
LEAST_CLAUSE = "21 CFR 135.110(a)(2)"
_NOISE = Decimal("1e-9")  # of binary arithmetic, far below what a scale shows


@dataclass(frozen=True, slots=True)
class Cup:
    """The overrun [%] and, where the weight of the mix is known, that of the product [lb/gal]."""

    overrun: Decimal
    lb_gal: Decimal | None


def weighed(
    mix: Decimal, product: Decimal, empty: Decimal, mix_lb_gal: Decimal | None = None, low: Decimal | None = None
) -> Cup:
    """A level cup: gross mass of mix and of product, tare [one unit of mass each]; `mix_lb_gal` of the mix [lb/gal].

    Rounded toward the side that is worse: overrun up (down below `low` [%], its limit from below) to hundredths, weight
    down to thousandths, so that no rounding brings a value into its limits. Without particulates.

    Raises: OutsideRange as overrun_by_cup.
    Source: plant.process.overrun.overrun_by_cup; weight = mix/(1 + overrun/100), by definition.

    >>> cup = weighed(Decimal("140"), Decimal("134.8"), Decimal("30"))
    >>> cup.overrun
    Decimal('4.97')
    >>> weighed(Decimal("200"), Decimal("100"), Decimal("0"), Decimal("9.15")).lb_gal
    Decimal('4.575')
    """
    exact = Decimal(overrun_by_cup(float(mix), float(product), float(empty))).quantize(_NOISE, ROUND_HALF_EVEN)
    below = low is not None and exact < low
    overrun = exact.quantize(Decimal("0.01"), ROUND_FLOOR if below else ROUND_CEILING)
    if mix_lb_gal is None:
        return Cup(overrun, None)
    weight = (mix_lb_gal * (product - empty) / (mix - empty)).quantize(_NOISE, ROUND_HALF_EVEN)
    return Cup(overrun, weight.quantize(Decimal("0.001"), ROUND_FLOOR))
