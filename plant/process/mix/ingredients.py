"""What a mix is made from: ingredients with their solids in % by mass, the rest of each being water."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from plant.process.errors import CalculationError, within
from plant.process.said import say as _
from plant.process.standardizing import Stream, msnf_by_rule, with_fat

FAT, OTHER_FAT, MSNF, WHEY_SOLIDS = "fat", "other fat", "MSNF", "whey solids"
SUCROSE, CORN_SYRUP_SOLIDS = "sucrose", "corn syrup solids"
STABILIZER, EMULSIFIER, EGG_SOLIDS, OTHER_SOLIDS = "stabilizer", "emulsifier", "egg solids", "other solids"
# The sweeteners; the lactose of the milk counts in MSNF.
SUGARS = (SUCROSE, CORN_SYRUP_SOLIDS, "dextrose", "fructose", "glucose", "invert sugar", "maltodextrin", "honey solids")
PARTS = (FAT, OTHER_FAT, MSNF, WHEY_SOLIDS, *SUGARS, STABILIZER, EMULSIFIER, EGG_SOLIDS, OTHER_SOLIDS)

TOTAL_SUGARS, MILK_SOLIDS, TOTAL_SOLIDS, WATER = "sugars", "milk solids", "total solids", "water"
GROUPS = (TOTAL_SUGARS, MILK_SOLIDS, TOTAL_SOLIDS, WATER)


@dataclass(frozen=True, slots=True)
class Ingredient:
    """An ingredient of a mix.

    `parts`: solids -> content [% by mass]; no two may count the same solids, and together they are at most 100; the
    rest is water. A part "total solids" stands for their sum: what the others leave of it becomes "other solids".
    `price` [money/kg]; `least_kg`, `most_kg` [kg] as in Stream; `step_kg` [kg]: the resolution of the scale on which
    it is weighed, None where any mass can be had; `density_kg_l` [kg/L], for those who meter it.

    Raises OutsideRange; CalculationError for parts that come to more than 100 %, or more than the total solids.

    >>> Ingredient("liquid sucrose", {"sucrose": 66}).percent("water")
    34.0
    """

    name: str
    parts: Mapping[str, float] = field(default_factory=dict)
    price: float | None = None
    least_kg: float = 0.0
    most_kg: float | None = None
    step_kg: float | None = None
    density_kg_l: float | None = None

    def __post_init__(self) -> None:
        for part, percent in self.parts.items():
            within(_("%(component)s of %(stream)s", component=part, stream=self.name), percent, 0, 100, "%")
            if part in GROUPS and part != TOTAL_SOLIDS:
                raise CalculationError(_("%(part)s follows from the other parts and cannot be given.", part=part))
        object.__setattr__(self, "parts", self._disjoint())
        if self.step_kg is not None:
            within(_("scale resolution for %(stream)s", stream=self.name), self.step_kg, 1e-6, 1e4, "kg")
        if self.density_kg_l is not None:
            within(_("density of %(stream)s", stream=self.name), self.density_kg_l, 0.4, 3, "kg/L")
        self.stream()  # its own checks: name, price, quantities

    def _disjoint(self) -> dict[str, float]:
        parts = {name: float(percent) for name, percent in self.parts.items() if name != TOTAL_SOLIDS}
        named = math.fsum(parts.values())
        most = self.parts.get(TOTAL_SOLIDS, 100.0)
        if named > most * (1 + 1e-9):
            raise CalculationError(
                _(
                    "The parts of %(stream)s come to %(sum)s %%, more than %(most)s %%.",
                    stream=self.name,
                    sum=f"{named:.6g}",
                    most=f"{most:.6g}",
                )
            )
        if TOTAL_SOLIDS in self.parts and most > named:
            parts[OTHER_SOLIDS] = parts.get(OTHER_SOLIDS, 0.0) + most - named
        return parts

    def percent(self, component: str) -> float:
        """The content [% by mass] of a part, or of a group: sugars, milk solids, total solids, water."""
        match component:
            case "sugars":
                return math.fsum(self.parts.get(name, 0.0) for name in SUGARS)
            case "milk solids":
                return math.fsum(self.parts.get(name, 0.0) for name in (FAT, MSNF, WHEY_SOLIDS))
            case "total solids":
                return min(100.0, math.fsum(self.parts.values()))
            case "water":
                return 100 - self.percent(TOTAL_SOLIDS)
        return float(self.parts.get(component, 0.0))

    @property
    def dairy(self) -> bool:
        """Whether it brings milk fat or milk solids-not-fat."""
        return self.percent(MILK_SOLIDS) > 0

    def stream(self) -> Stream:
        """It as a stream to blend, with its parts and groups."""
        groups = {group: self.percent(group) for group in GROUPS}
        return Stream(self.name, {**self.parts, **groups}, self.price, self.least_kg, self.most_kg)

    def tested(self, tests: Mapping[str, float]) -> Ingredient:
        """It with tested contents [% by mass] in place of the stated ones.

        A fat test alone moves the other parts with the fat-free part, as fat differs between lots of one cream; parts
        that are tested too are taken as tested.

        Raises OutsideRange; CalculationError for the test of a group, which does not say what it is made of.
        """
        parts = {FAT: 0.0, **self.parts} if FAT in tests else dict(self.parts)
        for part in tests:
            if part in GROUPS:
                raise CalculationError(_("%(part)s follows from the other parts and cannot be given.", part=part))
        if FAT in tests:
            within(_("fat of %(stream)s", stream=self.name), tests[FAT], 0, 99.9, "%")
            parts = with_fat(parts, tests[FAT], FAT)
        return replace(self, parts={**parts, **tests})


def cream_or_milk(
    name: str, fat_percent: float, price: float | None = None, step_kg: float | None = None
) -> Ingredient:
    """Milk or cream of a fat content [% by mass], its MSNF by the 9 % rule.

    Parameters: `price` [money/kg], `step_kg` [kg] as in Ingredient.
    Range: 0 to 80 % fat.
    Raises: OutsideRange.
    Source: University of Guelph, ice cream mix calculations,
    https://www.uoguelph.ca/foodscience/book/export/html/1712.

    >>> round(cream_or_milk("milk", 3.5).percent("MSNF"), 3)
    8.685
    """
    return Ingredient(name, {FAT: fat_percent, MSNF: msnf_by_rule(fat_percent)}, price, step_kg=step_kg)


def msnf_balance(fat_percent: float, sugars_percent: float, stabilizer_percent: float = 0.0) -> float:
    """The MSNF [% by mass] that balances a mix: 0.15 (100 - fat - sugars - stabilizer and emulsifier).

    More may crystallize as lactose (sandiness) on long storage. A rule for a first draft of a mix.

    Parameters: `fat_percent`, `sugars_percent`, `stabilizer_percent` (with emulsifier) [% by mass].
    Range: each 0 to 100 %, together at most 100 %.
    Raises: OutsideRange.
    Source: rule of ice cream makers, https://th4.ilovetranslation.com/lpEmzJCCHZr=d (read in a copy).

    >>> msnf_balance(10, 15, 0.5)
    11.174999999999999
    """
    for name, percent in ((FAT, fat_percent), (TOTAL_SUGARS, sugars_percent), (STABILIZER, stabilizer_percent)):
        within(name, percent, 0, 100, "%")
    taken = within(_("solids together"), fat_percent + sugars_percent + stabilizer_percent, 0, 100, "%")
    return 0.15 * (100 - taken)
