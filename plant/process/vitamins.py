"""Vitamins added to milk: what a quantity of concentrate comes to in international units a quart."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from plant.process.errors import CalculationError, within
from plant.process.said import say as _
from plant.process.units import exact

QUARTS_A_GALLON = 4
# Least and most, IU a quart: never below what is labeled; far above it is no good manufacturing practice.
CLAUSE = (
    "21 CFR 131.110(b): vitamin A not less than 2000 IU, D 400 IU per quart, within good manufacturing practice"
    " (from memory)"
)
UPPER = "upper limit 150 % of it: Grade \"A\" PMO Appendix O (from memory)"


@dataclass(frozen=True, slots=True)
class VitaminRow:
    """What milk with an added vitamin shall hold [IU per US quart], and where that is written."""

    vitamin: str
    low: Decimal
    high: Decimal
    clause: str


__all__ = ["fault", "iu_per_quart"]

ROWS = {
    "A": VitaminRow("A", Decimal(2000), Decimal(3000), f"{CLAUSE}; {UPPER}"),
    "D": VitaminRow("D", Decimal(400), Decimal(600), f"{CLAUSE}; {UPPER}"),
}


def iu_per_quart(strength_iu_ml: Decimal, amount_ml: Decimal, milk: Decimal, unit: str) -> Fraction:
    """International units of a vitamin that a concentrate adds to each US quart of milk, exactly.

    Parameters: `strength_iu_ml` [IU/mL] as the concentrate's certificate says; `amount_ml` [mL] used; `milk`: the
    volume it went into, in `unit` ("gal" or "L"). What the milk had of its own is not in it.

    Range: strength above 0 to 1e7 IU/mL; amount 0 to 1e7 mL; milk above 0.
    Raises: OutsideRange; CalculationError for another unit or no milk.
    Source: by definition; a quart is a quarter of 231 cubic inches (NIST Handbook 44, appendix C, from memory).

    >>> float(iu_per_quart(Decimal(200000), Decimal(40), Decimal(1000), "gal"))
    2000.0
    """
    within(_("strength"), strength_iu_ml, 0, 1e7, "IU/mL")
    within(_("amount"), amount_ml, 0, 1e7, "mL")
    if unit not in ("gal", "L"):
        raise CalculationError(_("The milk has to be a volume: gallons or liters."))
    if strength_iu_ml == 0:
        raise CalculationError(_("The strength must be more than nothing."))
    if milk <= 0:
        raise CalculationError(_("There is no milk for the vitamin to go into."))
    quarts = exact(milk, unit, "gal") * QUARTS_A_GALLON
    return Fraction(strength_iu_ml) * Fraction(amount_ml) / quarts


def fault(iu: Fraction, low: Decimal | None, high: Decimal | None) -> str:
    """'low', 'high' or '' for IU a quart beside its limits, each compared exactly; None is no limit on that side.

    Range: any.
    Raises: nothing.
    Source: 21 CFR 131.110(b) (vitamin A not less than 2000 IU, vitamin D 400 IU a quart), from memory; see ROWS.

    >>> fault(Fraction(1999), Decimal(2000), Decimal(3000)), fault(Fraction(2000), Decimal(2000), Decimal(3000))
    ('low', '')
    """
    if low is not None and iu < Fraction(low):
        return "low"
    return "high" if high is not None and iu > Fraction(high) else ""
