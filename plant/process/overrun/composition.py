"""Fat, milk solids, whey and egg yolk of ice cream and frozen custard against the federal standard.

21 CFR 135.110(a)(2): read in state copies,
https://www.law.cornell.edu/regulations/connecticut/Regs-Conn-State-Agencies-SS-21a-58-15 and
https://www.law.cornell.edu/regulations/pennsylvania/7-Pa-Code-SS-39-12. 7 CFR 58.2825: read at
https://www.ams.usda.gov/grades-standards/ice-cream. The least yolk of custard with bulky flavors, 1.12 %, is from
memory. States may ask for more (Vermont: 36 % total solids).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from plant.process.errors import CalculationError, within
from plant.process.overrun.gallon import READ, Finding, at_least
from plant.process.said import say as _

STANDARD, GRADE, GRADE_BULKY = "21 CFR 135.110(a)(2)", "7 CFR 58.2825(a)", "7 CFR 58.2825(b)"
COPY: Final = "text consulted (state copy)"
_TOTAL, _FAT, _STEPS = 20.0, 10.0, (10, 14)
_YOLK, _LEAST_YOLK = 1.4, 1.12
# Sweetener comes with them: their weight counts more. Dried fruit counts with its weight before drying.
BULKY_FACTORS: Final[Mapping[str, float]] = MappingProxyType({"cocoa": 2.5, "fruit or nuts": 1.4, "other": 1.0})


class Named(StrEnum):
    """What the product is called."""

    ICE_CREAM = "ice cream"
    CUSTARD = "frozen custard"


@dataclass(frozen=True, slots=True)
class Bulky:
    """A bulky flavor: `kind` a key of BULKY_FACTORS ("cocoa" counts cocoa or chocolate solids), its share of the
    finished food [% by mass].

    Raises CalculationError for another kind, OutsideRange for a share outside 0 to 60 %.
    """

    kind: str
    percent: float

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.kind not in BULKY_FACTORS:
            known = ", ".join(BULKY_FACTORS)
            raise CalculationError(_("%(name)s is not one of: %(known)s", name=self.kind[:40], known=known))
        within("bulky flavor", self.percent, 0, 60, "%")


def bulky_weight_percent(bulky: Sequence[Bulky], sweetener_allowance: bool = True) -> float:
    """The weight of bulky flavors as it is taken off the finished food [% by mass].

    bulky: the flavors.
    sweetener_allowance: multiply cocoa or chocolate solids by 2.5 and fruit or nuts by 1.4 (7 CFR 58.2825(b), for the
        sweetener that they need); without it, as the food standard's own words go, their plain weight.

    Range: together at most 60 % of the food.
    Raises: OutsideRange.
    Source: 7 CFR 58.2825(b) (see the module).

    >>> round(bulky_weight_percent([Bulky("fruit or nuts", 12)]), 1)
    16.8
    """
    within("bulky flavors together", math.fsum(one.percent for one in bulky), 0, 60, "%")
    return math.fsum(one.percent * (BULKY_FACTORS[one.kind] if sweetener_allowance else 1.0) for one in bulky)


def least_nonfat_milk_solids_percent(fat_percent: float) -> float:
    """The least nonfat milk solids that plain ice cream of this fat must have [% by mass].

    10 at 10 % fat, one less for each whole percent of fat more: 9 at 11, 8 at 12, 7 at 13, 6 at 14 and above. Between
    two steps the lower fat counts (10.9 % fat: 10), the more cautious reading of "1 percent increments".

    fat_percent: milkfat of the finished food [% by mass].

    Range: 0 to 40 %.
    Raises: OutsideRange.
    Source: 21 CFR 135.110(a)(2), table (see the module); never below 6 also 7 CFR 58.2825(a).

    >>> [least_nonfat_milk_solids_percent(fat) for fat in (10, 11, 12.5, 16)]
    [10.0, 9.0, 8.0, 6.0]
    """
    step = math.floor(within("fat", fat_percent, 0, 40, "%") + 1e-9)
    return _TOTAL - min(max(step, _STEPS[0]), _STEPS[1])


def judge_composition(
    fat_percent: float,
    nonfat_milk_solids_percent: float,
    whey_solids_percent: float = 0.0,
    egg_yolk_solids_percent: float = 0.0,
    bulky: Sequence[Bulky] = (),
    named: Named = Named.ICE_CREAM,
    sweetener_allowance: bool = True,
) -> tuple[Finding, ...]:
    """The composition of the finished food, requirement by requirement.

    Without bulky flavors: fat at least 10 %, nonfat milk solids by the table. With them: fat at least 10 % and total
    milk solids at least 20 % of what remains after taking them off, and never below 8 % and 16 % of the food. Always:
    nonfat milk solids at least 6 %, whey solids at most 25 % of them, egg yolk solids below 1.4 % of the food without
    bulky flavors (frozen custard: at least 1.4 %, with bulky flavors less in proportion, never below 1.12 %).

    fat_percent: milkfat [% by mass of the finished food].
    nonfat_milk_solids_percent: whey solids with it [% by mass].
    whey_solids_percent: the part of them that is whey [% by mass of the food].
    egg_yolk_solids_percent: [% by mass].
    bulky: bulky flavors in it.
    named: ice cream or frozen custard.
    sweetener_allowance: see bulky_weight_percent.

    Range: fat 0 to 40 %, nonfat milk solids 0 to 40 %, whey not above them, yolk 0 to 20 %; all together at most 100 %.
    Raises: OutsideRange, CalculationError.
    Source: 21 CFR 135.110(a)(2) and 7 CFR 58.2825 (see the module); the 1.12 % from memory.

    >>> [one.met for one in judge_composition(10, 10)]
    [True, True, True, True, True, True]
    """
    fat = within("fat", fat_percent, 0, 40, "%")
    nonfat = within("nonfat milk solids", nonfat_milk_solids_percent, 0, 40, "%")
    whey = within("whey solids", whey_solids_percent, 0, nonfat, "%")
    yolk = within("egg yolk solids", egg_yolk_solids_percent, 0, 20, "%")
    plain = math.fsum(one.percent for one in bulky)
    counted = bulky_weight_percent(bulky, sweetener_allowance)
    if fat + nonfat + yolk + plain > 100 + 1e-9:
        raise CalculationError(_("the parts add to more than 100 %"))
    found = [*_milk(fat, nonfat, counted, plain > 0, sweetener_allowance)]
    found.append(at_least(_("nonfat milk solids, in any case"), nonfat, 6.0, "%", GRADE))
    found.append(_at_most_whey(whey, nonfat))
    found.append(_yolk(yolk, plain, Named(named)))
    return tuple(found)


def _milk(fat: float, nonfat: float, counted: float, bulky: bool, allowance: bool) -> tuple[Finding, ...]:
    if not bulky:
        least = least_nonfat_milk_solids_percent(fat)
        return (
            at_least(_("milkfat"), fat, _FAT, "%", STANDARD),
            at_least(_("nonfat milk solids at this fat"), nonfat, least, "%", STANDARD, COPY),
            at_least(_("total milk solids"), fat + nonfat, _TOTAL, "%", STANDARD, COPY),
        )
    remainder = max(0.0, 100 - counted)
    clause = f"{STANDARD}; {GRADE_BULKY}" if allowance else STANDARD
    least_fat, least_total = max(8.0, remainder / 10), max(16.0, remainder / 5)
    return (
        at_least(_("milkfat with bulky flavors"), fat, least_fat, "%", clause, COPY),
        at_least(_("total milk solids with bulky flavors"), fat + nonfat, least_total, "%", clause, COPY),
    )


def _at_most_whey(whey: float, nonfat: float) -> Finding:
    share = 100 * whey / nonfat if nonfat else 0.0
    met = share <= 25 * (1 + 1e-9)
    return Finding(_("whey solids in the nonfat milk solids"), share, "%", met, 25 - share, GRADE, READ, high=25.0)


def _yolk(yolk: float, bulky: float, named: Named) -> Finding:
    if named is Named.CUSTARD:
        least = max(_LEAST_YOLK, _YOLK * (100 - bulky) / 100)
        basis = f"{COPY}; reduction from memory" if bulky else COPY
        return at_least(_("egg yolk solids of frozen custard"), yolk, least, "%", STANDARD, basis)
    share = 100 * yolk / (100 - bulky)
    name = _("egg yolk solids of ice cream, without bulky flavors")
    # 1.4 itself is custard: the last digits must not carry it below.
    return Finding(name, share, "%", share < _YOLK * (1 - 1e-9), _YOLK - share, STANDARD, COPY, below=_YOLK)
