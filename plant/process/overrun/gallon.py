"""What a gallon of ice cream weighs and holds in food solids, against 21 CFR 135.110(a)(2), and the overrun that keeps
both.

21 CFR 135.110(a)(2), first part read at http://www.grokfood.com/regulations/135.110.htm; the whole in a state copy,
https://www.law.cornell.edu/regulations/connecticut/Regs-Conn-State-Agencies-SS-21a-58-15. States may ask for more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from plant.process.errors import Infeasible, within
from plant.process.overrun.volumes import HIGHEST_PERCENT, Inclusion, mix_overrun_in_package, package
from plant.process.properties import density_of_pounds_per_gallon_kg_m3, pounds_per_gallon
from plant.process.said import say as _

LEAST_WEIGHT_LB_GAL: Final = 4.5
LEAST_SOLIDS_LB_GAL: Final = 1.6
WEIGHT_CLAUSE: Final = "21 CFR 135.110(a)(2)"
CELLULOSE_CLAUSE: Final = "7 CFR 58.2825(b)"
READ: Final = "text consulted"
# What a quotient's last digits leave off is arithmetic, not product.
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Finding:
    """One requirement held against a value.

    `low` the least, `below` what it must stay under, `high` the most (None: no such bound), all in `unit`; `margin` is
    the distance to the bound, negative when it is not met.
    """

    name: str
    value: float
    unit: str
    met: bool
    margin: float
    clause: str
    basis: str
    low: float | None = None
    high: float | None = None
    below: float | None = None


def at_least(name: str, value: float, low: float, unit: str, clause: str, basis: str = READ) -> Finding:
    """A finding against a least value; what is missing in the tenth digit is not missing."""
    return Finding(name, value, unit, value >= low * (1 - _ROUNDING), value - low, clause, basis, low=low)


def food_solids_lb_gal(product_lb_gal: float, total_solids_percent: float, cellulose_percent: float = 0.0) -> float:
    """The food solids in a gallon of finished product [lb/gal].

    product_lb_gal: weight of a gallon of finished product [lb/gal].
    total_solids_percent: of the finished product, particulates with it [% by mass].
    cellulose_percent: microcrystalline cellulose in it, which does not count [% by mass].

    Range: weight 1 to 25 lb/gal, solids 0 to 100 %, cellulose 0 to 5 % and not above the solids.
    Raises: OutsideRange.
    Source: by definition; cellulose 7 CFR 58.2825(b) (https://www.ams.usda.gov/grades-standards/ice-cream).

    >>> round(food_solids_lb_gal(4.577, 38.3), 3)
    1.753
    """
    weight = within("weight of a gallon", product_lb_gal, 1, 25, "lb/gal")
    solids = within("total solids", total_solids_percent, 0, 100, "%")
    return weight * (solids - _cellulose(cellulose_percent, solids)) / 100


def judge_gallon(
    product_lb_gal: float, total_solids_percent: float, cellulose_percent: float = 0.0
) -> tuple[Finding, Finding]:
    """Weight and food solids of a gallon of finished product, each against its least: 4.5 and 1.6 lb/gal.

    product_lb_gal: weight of a gallon of finished product, particulates with it [lb/gal].
    total_solids_percent: of the finished product [% by mass].
    cellulose_percent: microcrystalline cellulose, left out of both [% by mass].

    Range: as food_solids_lb_gal.
    Raises: OutsideRange.
    Source: 21 CFR 135.110(a)(2) (see the module); cellulose 7 CFR 58.2825(b).

    >>> [one.met for one in judge_gallon(4.577, 38.3)]
    [True, True]
    """
    solids = food_solids_lb_gal(product_lb_gal, total_solids_percent, cellulose_percent)
    weight = product_lb_gal * (1 - cellulose_percent / 100)
    return (
        at_least(_("weight of a gallon"), weight, LEAST_WEIGHT_LB_GAL, "lb/gal", WEIGHT_CLAUSE),
        at_least(_("food solids in a gallon"), solids, LEAST_SOLIDS_LB_GAL, "lb/gal", WEIGHT_CLAUSE),
    )


@dataclass(frozen=True, slots=True)
class LawfulOverrun:
    """The largest overrun that keeps both limits [%], what each alone would allow, and which of them binds.

    Any of the three is cut at 300 %, where this calculation ends. `binding` is "weight" or "solids".
    """

    overrun_percent: float
    by_weight_percent: float
    by_solids_percent: float
    binding: str


def largest_lawful_overrun(
    mix_density_kg_m3: float,
    mix_solids_percent: float,
    cellulose_percent: float = 0.0,
    inclusion: Inclusion | None = None,
) -> LawfulOverrun:
    """The largest overrun of the mix at which a gallon still weighs 4.5 lb and holds 1.6 lb of food solids.

    Without inclusions min(w/4.5, w TS/1.6) - 1, w the weight of a gallon of mix. It is a ceiling, not a target: aim
    below it by what the freezer and the scale scatter.

    mix_density_kg_m3: mix without air [kg/m3].
    mix_solids_percent: total solids of the mix [% by mass].
    cellulose_percent: microcrystalline cellulose in the mix, which does not count [% by mass].
    inclusion: particulates; the limits are those of the finished product, they with it.

    Range: mix 500 to 2000 kg/m3, solids 0 to 100 %, cellulose 0 to 5 % and not above the solids.
    Raises: OutsideRange; Infeasible when not even the product without air keeps both.
    Source: 21 CFR 135.110(a)(2) (see the module); cellulose 7 CFR 58.2825(b).

    >>> found = largest_lawful_overrun(density_of_pounds_per_gallon_kg_m3(9.15), 38.3)
    >>> round(found.overrun_percent, 1), round(found.by_solids_percent, 1), found.binding
    (103.3, 119.0, 'weight')
    """
    density = within("density of the mix", mix_density_kg_m3, 500, 2000, "kg/m3")
    solids = within("total solids", mix_solids_percent, 0, 100, "%")
    counted = solids - _cellulose(cellulose_percent, solids)
    added = inclusion or Inclusion(0.0, density)
    of_mix = 1 - added.share_percent / 100
    # Per pound of finished product: what counts as weight, and what counts as solids.
    weight_share = 1 - of_mix * cellulose_percent / 100
    solids_share = of_mix * counted / 100 + added.share_percent * added.solids_percent / 10_000
    by_weight = _overrun_at(LEAST_WEIGHT_LB_GAL, weight_share, density, added)
    by_solids = _overrun_at(LEAST_SOLIDS_LB_GAL, solids_share, density, added)
    binding = "weight" if by_weight <= by_solids else "solids"
    return LawfulOverrun(min(by_weight, by_solids), by_weight, by_solids, binding)


def _overrun_at(least_lb_gal: float, share: float, density: float, added: Inclusion) -> float:
    """The overrun at which a gallon holds just the least of what makes up this share of its weight."""
    full = pounds_per_gallon(package(density, 0, added).density_kg_m3) * share
    if full < least_lb_gal * (1 - _ROUNDING):
        raise Infeasible(
            _(
                "even without air a gallon has %(have)s lb of the %(wanted)s lb wanted",
                have=f"{full:.3f}",
                wanted=f"{least_lb_gal:g}",
            ),
            "overrun",
            least_lb_gal,
            highest=full,
            unit="lb/gal",
        )
    wanted = density_of_pounds_per_gallon_kg_m3(min(least_lb_gal, full) / share)
    if pounds_per_gallon(package(density, HIGHEST_PERCENT, added).density_kg_m3) * share > least_lb_gal:
        return HIGHEST_PERCENT
    return mix_overrun_in_package(density, wanted, added)


def _cellulose(percent: float, solids: float) -> float:
    return within("microcrystalline cellulose", percent, 0, min(5.0, solids), "%")
