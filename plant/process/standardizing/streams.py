"""Streams to blend, what the blend shall hold, and the table that proves it.

Masses in kg, compositions in % by mass. A blend is a balance of masses: volumes do not add up, and a gallon of
cream weighs less than a gallon of milk.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import say as _

SMALLEST_KG, GREATEST_KG = 1e-6, 1e9


@dataclass(frozen=True, slots=True)
class Stream:
    """Something to blend with.

    `composition`: component -> content [% by mass], 0 to 100; what is not named is not in it. Components may
    overlap (fat, total solids). `price` [money/kg], not below 0, None where unknown. At least `least_kg` [kg] is used
    and at most `most_kg` [kg] (None: as much as is wanted), neither above 1e9; both the same: used up exactly.

    Raises OutsideRange; CalculationError without a name.

    >>> Stream("skim milk", {"fat": 0.05, "SNF": 9.0}, most_kg=400).percent("fat")
    0.05
    """

    name: str
    composition: Mapping[str, float] = field(default_factory=dict)
    price: float | None = None
    least_kg: float = 0.0
    most_kg: float | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise CalculationError(_("A stream needs a name."))
        for component, percent in self.composition.items():
            within(_("%(component)s of %(stream)s", component=component, stream=self.name), percent, 0, 100, "%")
        if self.price is not None:
            within(_("price of %(stream)s", stream=self.name), self.price, 0)
        within(_("least quantity of %(stream)s", stream=self.name), self.least_kg, 0, GREATEST_KG, "kg")
        if self.most_kg is not None:
            named = _("greatest quantity of %(stream)s", stream=self.name)
            within(named, self.most_kg, self.least_kg, GREATEST_KG, "kg")

    def percent(self, component: str) -> float:
        """The content of a component [% by mass]."""
        return float(self.composition.get(component, 0.0))


@dataclass(frozen=True, slots=True)
class Target:
    """What a blend shall hold of a component: from `low` to `high` [% by mass], both the same for one value.

    Raises OutsideRange; CalculationError when neither end is given.

    >>> Target("fat", 3.25).miss(3.0)
    -0.25
    """

    component: str
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        named = _("target for %(component)s", component=self.component)
        if self.low is None and self.high is None:
            raise CalculationError(_("The target for %(component)s has no value.", component=self.component))
        if self.low is not None:
            within(named, self.low, 0, 100, "%")
        if self.high is not None:
            within(named, self.high, self.low or 0, 100, "%")

    @classmethod
    def exactly(cls, component: str, percent: float) -> Target:
        """One value [% by mass]."""
        return cls(component, percent, percent)

    @property
    def exact(self) -> bool:
        """Whether one value is wanted."""
        return self.low is not None and self.low == self.high

    def miss(self, percent: float) -> float:
        """How far a content [% by mass] lies outside [percentage points]: below negative, above positive, else 0."""
        if self.low is not None and percent < self.low:
            return percent - self.low
        if self.high is not None and percent > self.high:
            return percent - self.high
        return 0.0


@dataclass(frozen=True, slots=True)
class ProofRow:
    """One stream in the proof: its mass [kg] and the mass of each component in it [kg]."""

    name: str
    mass_kg: float
    parts_kg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """The proof of a blend: each stream's mass and its components' masses, their sums, and what that comes to.

    `sums_kg` [kg], `percents` [% by mass], `targets` and `differences` [percentage points] (percent less target,
    0 inside a range, None without a target) go with `components`. `wanted_kg` [kg] is the mass that was asked for.
    """

    components: tuple[str, ...]
    rows: tuple[ProofRow, ...]
    total_kg: float
    sums_kg: tuple[float, ...]
    percents: tuple[float, ...]
    targets: tuple[Target | None, ...]
    differences: tuple[float | None, ...]
    wanted_kg: float | None = None

    def percent(self, component: str) -> float:
        """The blend's content of a component [% by mass]; KeyError when the proof has no such column."""
        return dict(zip(self.components, self.percents, strict=True))[component]

    def holds(self, tolerance: float = 1e-6) -> bool:
        """Whether every target is met within `tolerance` [percentage points] and the mass is the wanted one.

        The mass may be off by the same share, `tolerance` [%] of it.
        """
        off = 0.0 if self.wanted_kg is None else 100 * abs(self.total_kg - self.wanted_kg) / self.total_kg
        return off <= tolerance and all(abs(one) <= tolerance for one in self.differences if one is not None)


def prove(
    streams: Sequence[Stream],
    masses_kg: Sequence[float],
    targets: Sequence[Target] = (),
    wanted_kg: float | None = None,
    components: Sequence[str] | None = None,
) -> Proof:
    """The proof table of any masses, wherever they come from: it finds a wrong answer by itself.

    `masses_kg` [kg], one for each stream, not below 0; `wanted_kg` [kg]; `components` are the columns, else all that
    a target or a stream names.

    Range: masses 0 to 1e9 kg, one of them above 0.
    Raises: OutsideRange; CalculationError when there is not one mass for each stream, or nothing at all.
    Source: conservation of mass, by definition.

    >>> cream, milk = Stream("cream", {"fat": 35}), Stream("milk", {"fat": 4})
    >>> prove([cream, milk], [120, 500], [Target.exactly("fat", 10)]).differences
    (0.0,)
    """
    if len(streams) != len(masses_kg):
        raise CalculationError(_("A proof needs one mass for each stream."))
    for stream, mass in zip(streams, masses_kg, strict=True):
        within(_("mass of %(stream)s", stream=stream.name), mass, 0, GREATEST_KG, "kg")
    total = math.fsum(masses_kg)
    if total <= 0:
        raise CalculationError(_("There is nothing in the blend."))
    wished = {one.component: one for one in targets}
    named = [name for stream in streams for name in stream.composition]
    columns = tuple(dict.fromkeys([*wished, *named] if components is None else components))
    rows = tuple(
        ProofRow(stream.name, float(mass), tuple(mass * stream.percent(column) / 100 for column in columns))
        for stream, mass in zip(streams, masses_kg, strict=True)
    )
    sums = tuple(math.fsum(row.parts_kg[place] for row in rows) for place in range(len(columns)))
    percents = tuple(100 * one / total for one in sums)
    found = tuple(wished.get(column) for column in columns)
    missed = tuple(
        None if target is None else target.miss(percent) for target, percent in zip(found, percents, strict=True)
    )
    return Proof(columns, rows, total, sums, percents, found, missed, wanted_kg)


def msnf_by_rule(fat_percent: float) -> float:
    """Milk solids-not-fat of milk or cream [% by mass] by the 9 % rule: 0.09 (100 - fat).

    The rule takes 9 % of the fat-free serum as solids; a test of the milk at hand is better.

    Parameters: `fat_percent` [% by mass].
    Range: milk and cream, 0 to 80 % fat; not for concentrates or powders.
    Raises: OutsideRange.
    Source: University of Guelph, ice cream mix calculations,
    https://www.uoguelph.ca/foodscience/book/export/html/1712.

    >>> round(msnf_by_rule(40), 4)
    5.4
    """
    return 0.09 * (100 - within(_("fat"), fat_percent, 0, 80, "%"))


def with_fat(composition: Mapping[str, float], fat_percent: float, fat: str = "fat") -> dict[str, float]:
    """The composition [% by mass] of the same milk after only fat was added or taken away.

    All else keeps its proportions in the fat-free part. Parameters: `composition` [% by mass] with the component
    `fat` in it, `fat_percent` [% by mass] afterwards. A component that itself counts fat (total solids) may not be
    among them.

    Range: fat from 0 to below 100 %, before and after; every other component from 0 to what the fat leaves.
    Raises: OutsideRange; CalculationError without the fat component.
    Source: conservation of mass, by definition (Earle, Unit Operations in Food Processing, chapter 2, works it for
    skim milk; from memory).

    >>> skim = {"water": 90.5, "protein": 3.5, "fat": 0.1}
    >>> {name: round(percent, 1) for name, percent in with_fat(skim, 4.5).items()}
    {'water': 86.5, 'protein': 3.3, 'fat': 4.5}
    """
    if fat not in composition:
        raise CalculationError(_("The composition does not say how much fat there is."))
    before = within(_("fat"), composition[fat], 0, 99.9, "%")
    after = within(_("fat"), fat_percent, 0, 99.9, "%")
    for name, percent in composition.items():
        within(name, percent, 0, 100, "%")
        if name != fat and percent > (100 - before) * (1 + 1e-9):  # it would not fit beside the fat
            raise OutsideRange(name, percent, 0, 100 - before, "%")
    share = (100 - after) / (100 - before)
    return {name: after if name == fat else percent * share for name, percent in composition.items()}
