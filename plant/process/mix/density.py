"""How heavy a mix is."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from plant.process.errors import CalculationError, within
from plant.process.said import say as _
from plant.process.units import exact

# Liters that a kilogram of fat and of other solids take up. The long form is a fat density of 0.93 and a solids
# density of 1.58 kg/L; the short form rounds it.
DENSITY_FORMS: Final = {"short": (1.075, 0.63), "long": (1.07527, 0.6329)}


def mix_density(fat_percent: float, total_solids_percent: float, form: str = "short") -> float:
    """Density of a mix [kg/L] from its composition: 1 / (a F + b (TS - F) + W), mass fractions, W = 1 - TS.

    Form "short": a = 1.075, b = 0.63; form "long": a = 1.07527, b = 0.6329. They differ by less than 0.25 %.
    The source states no temperature; water is taken as 1 kg/L. Without air: a mix that holds air is lighter.

    Parameters: `fat_percent` (all fat), `total_solids_percent` [% by mass].
    Range: fat 0 to 30 %, total solids 10 to 60 % and not below the fat.
    Raises: OutsideRange; CalculationError for another form.
    Source: overrun calculations, https://www.scribd.com/document/495662971/Overrun-calculations (short form; it
    prints 1.096 for the example below, cut); the long form is found in other copies.

    >>> round(mix_density(12, 38.3), 4)
    1.0969
    """
    if form not in DENSITY_FORMS:
        raise CalculationError(
            _("%(form)s is not a form of the formula: %(known)s.", form=form, known=", ".join(DENSITY_FORMS))
        )
    solids = within(_("total solids"), total_solids_percent, 10, 60, "%") / 100
    fat = within(_("fat"), fat_percent, 0, min(30.0, total_solids_percent), "%") / 100
    fat_l, solids_l = DENSITY_FORMS[form]
    return 1 / (fat_l * fat + solids_l * (solids - fat) + (1 - solids))


def pounds_per_gallon(density_kg_l: float) -> float:
    """A density [kg/L] in lb per US gallon.

    Range: from 0 up.
    Raises: OutsideRange.
    Source: 231 cubic inches and 0.45359237 kg, exact (NIST Special Publication 811, appendix B, from memory).

    >>> round(pounds_per_gallon(1.0969), 3)
    9.154
    """
    return float(exact(Fraction(within(_("density"), density_kg_l, 0, unit="kg/L")), "kg/L", "lb/gal"))
