"""The mix itself: masses of ingredients, what they come to, and the search for masses that meet targets."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plant.process.errors import OutsideRange
from plant.process.mix.density import mix_density, pounds_per_gallon
from plant.process.mix.ingredients import (
    FAT,
    GROUPS,
    MSNF,
    OTHER_FAT,
    TOTAL_SOLIDS,
    TOTAL_SUGARS,
    Ingredient,
)
from plant.process.standardizing import Proof, Target, blend, prove


@dataclass(frozen=True, slots=True)
class Mix:
    """A mix of ingredients. Masses [kg] in the order of the ingredients.

    `composition`: every part and group -> content [% by mass]; `cost` [money], None where a used ingredient has no
    price; `density_kg_l` [kg/L] by `mix_density`, None outside the range of its formula; `proof`; `only_answer` False
    where other masses would do as well.
    """

    ingredients: tuple[Ingredient, ...]
    masses_kg: tuple[float, ...]
    total_kg: float
    composition: Mapping[str, float]
    cost: float | None
    density_kg_l: float | None
    proof: Proof
    only_answer: bool = True

    @property
    def lb_per_gal(self) -> float | None:
        """Weight of a US gallon [lb/gal]."""
        return None if self.density_kg_l is None else pounds_per_gallon(self.density_kg_l)

    @property
    def targets(self) -> tuple[Target, ...]:
        """The targets that its proof shows."""
        return tuple(one for one in self.proof.targets if one is not None)


def compose(
    ingredients: Sequence[Ingredient],
    masses_kg: Sequence[float],
    targets: Sequence[Target] = (),
    wanted_kg: float | None = None,
    density_form: str = "short",
    only_answer: bool = True,
) -> Mix:
    """What any masses of ingredients come to: composition, density, cost and proof.

    Parameters: `masses_kg` [kg], one for each ingredient; `targets` [% by mass] and `wanted_kg` [kg] for the proof;
    `density_form` as in `mix_density`.

    Range: masses 0 to 1e9 kg, one of them above 0.
    Raises: OutsideRange; CalculationError.
    Source: conservation of mass, by definition.

    >>> mix = compose([Ingredient("cream", {"fat": 40, "MSNF": 5.4}), Ingredient("water")], [25, 75])
    >>> round(mix.composition["fat"], 6), round(mix.composition["total solids"], 6)
    (10.0, 11.35)
    """
    streams = [one.stream() for one in ingredients]
    whole = prove(streams, masses_kg, wanted_kg=wanted_kg)
    contents = dict(zip(whole.components, whole.percents, strict=True))
    shown = dict.fromkeys([*(one.component for one in targets), FAT, MSNF, TOTAL_SUGARS, TOTAL_SOLIDS])
    return Mix(
        tuple(ingredients),
        tuple(float(mass) for mass in masses_kg),
        whole.total_kg,
        {part: contents[part] for part in [*(one for one in contents if one not in GROUPS), *GROUPS]},
        _cost(ingredients, masses_kg),
        _density(contents, density_form),
        prove(streams, masses_kg, targets, wanted_kg, tuple(shown)),
        only_answer,
    )


def formulate(
    ingredients: Sequence[Ingredient],
    targets: Sequence[Target],
    total_kg: float | None = None,
    least_of: str | None = None,
    density_form: str = "short",
) -> Mix:
    """The masses of ingredients that make a mix with the wanted contents.

    Water that an ingredient brings belongs to the mix. Of several answers it takes the one that `blend` takes: the
    least of a named ingredient, then the cheapest, then most of the ingredients in their order.

    Parameters: `targets` [% by mass] of parts or of groups (sugars, milk solids, total solids, water); `total_kg`
    [kg]; `least_of` the name of an ingredient; `density_form` as in `mix_density`.

    Range: at most 40 ingredients and 20 targets; a whole of 1e-6 to 1e9 kg.
    Raises: OutsideRange; CannotBlend when no masses meet the targets, Infeasible when the quantities cannot make the
    whole, CalculationError for wishes that are not clear.
    Source: simultaneous balances of mass (University of Guelph, ice cream mix calculations,
    https://www.uoguelph.ca/foodscience/book/export/html/1712), solved as a linear program.

    >>> from plant.process.mix import cream_or_milk
    >>> things = [cream_or_milk("cream", 30), cream_or_milk("milk", 4), Ingredient("sugar", {"sucrose": 100})]
    >>> mix = formulate(things, [Target.exactly("fat", 12), Target.exactly("sucrose", 15)], 100)
    >>> [round(mass, 2) for mass in mix.masses_kg]
    [33.08, 51.92, 15.0]
    """
    found = blend([one.stream() for one in ingredients], targets, total_kg, least_of)
    return compose(ingredients, found.masses_kg, targets, total_kg, density_form, found.only_answer)


def _cost(ingredients: Sequence[Ingredient], masses_kg: Sequence[float]) -> float | None:
    used = [(one.price, mass) for one, mass in zip(ingredients, masses_kg, strict=True) if mass > 0]
    if any(price is None for price, _mass in used):
        return None
    return math.fsum((price or 0.0) * mass for price, mass in used)


def _density(contents: Mapping[str, float], form: str) -> float | None:
    fat = math.fsum(contents.get(name, 0.0) for name in (FAT, OTHER_FAT))
    try:
        return mix_density(fat, contents[TOTAL_SOLIDS], form)
    except OutsideRange:
        return None
