"""A mix in masses that the scales can show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_UP, Decimal

from plant.process.errors import CalculationError
from plant.process.mix.formula import Mix, compose
from plant.process.mix.ingredients import PARTS, Ingredient
from plant.process.said import say as _
from plant.process.standardizing import Target
from plant.process.units import quantized


@dataclass(frozen=True, slots=True)
class Missed:
    """A required content that is not met: the requirement, what there is [% by mass], how far off [points, signed]."""

    required: Target
    percent: float
    difference: float


@dataclass(frozen=True, slots=True)
class Weighable:
    """A mix in steps of the scales.

    `mix` is what the stepped masses come to; `changes_kg` [kg] each stepped mass less the exact one;
    `corrected_with` the dairy ingredient that took up the difference in the whole ("" for none); `missed` the
    required contents that the stepped masses do not meet.
    """

    mix: Mix
    changes_kg: tuple[float, ...]
    corrected_with: str
    missed: tuple[Missed, ...]


def missed(mix: Mix, required: Sequence[Target]) -> tuple[Missed, ...]:
    """Which required contents [% by mass] a mix does not meet. Rounding is not forgiven, only floating-point noise.

    Range: any mix.
    Raises: CalculationError for a content that a mix does not have: a name written wrongly is never met.
    Source: by definition.

    >>> from plant.process.mix import Ingredient
    >>> mix = compose([Ingredient("cream", {"fat": 40}), Ingredient("water")], [24, 76])
    >>> [(one.percent, round(one.difference, 6)) for one in missed(mix, [Target("fat", 10)])]
    [(9.6, -0.4)]
    """
    found = []
    for one in required:
        if one.component not in mix.composition and one.component not in PARTS:
            raise CalculationError(_("No stream has %(component)s: is the name right?", component=one.component))
        percent = mix.composition.get(one.component, 0.0)
        difference = one.miss(percent)
        if abs(difference) > 1e-9:
            found.append(Missed(one, percent, difference))
    return tuple(found)


def to_steps(mix: Mix, required: Sequence[Target] = (), density_form: str = "short") -> Weighable:
    """Each mass to the nearest step of its scale, and the whole kept by the largest dairy ingredient.

    Half a step goes up. Nothing goes beyond an ingredient's least or greatest quantity: there the step inside is
    taken. The largest dairy ingredient that has room takes up what the others lost or gained, in its own steps; so
    the whole is off by half such a step at most. Without one the whole is what the steps make it.

    Parameters: `required` contents [% by mass] that the stepped mix is held to; `density_form` as in `mix_density`.
    Range: masses and steps as in Mix and Ingredient.
    Raises: CalculationError for an ingredient that its scale cannot weigh: less than half a step, or no step between
    its least and greatest quantity.
    Source: common practice, no source.

    >>> from plant.process.mix import Ingredient
    >>> milk, sugar = Ingredient("milk", {"fat": 4}, step_kg=0.5), Ingredient("sugar", {"sucrose": 100}, step_kg=0.1)
    >>> to_steps(compose([milk, sugar], [84.96, 15.04], wanted_kg=100)).mix.masses_kg
    (85.0, 15.0)
    """
    exact = [_decimal(mass) for mass in mix.masses_kg]
    stepped = [_stepped(one, mass) for one, mass in zip(mix.ingredients, exact, strict=True)]
    whole = sum(exact, Decimal(0))
    corrected = ""
    for place in sorted(range(len(exact)), key=lambda at: (-exact[at], at)):
        one = mix.ingredients[place]
        others = sum((mass for at, mass in enumerate(stepped) if at != place), Decimal(0))
        if one.dairy and _has_room(one, whole - others):
            stepped[place], corrected = _nearest(one, whole - others), one.name
            break
    masses = [float(mass) for mass in stepped]
    made = compose(mix.ingredients, masses, mix.targets, mix.proof.wanted_kg, density_form, mix.only_answer)
    changes = tuple(float(after - before) for after, before in zip(stepped, exact, strict=True))
    return Weighable(made, changes, corrected, missed(made, required))


def _decimal(mass: float) -> Decimal:
    """The decimal that the number prints, a number of numpy too."""
    return Decimal(repr(float(mass)))


def _nearest(one: Ingredient, mass: Decimal) -> Decimal:
    return mass if one.step_kg is None else quantized(mass, _decimal(one.step_kg))


def _has_room(one: Ingredient, mass: Decimal) -> bool:
    return mass > 0 and _inside(one, _nearest(one, mass))


def _inside(one: Ingredient, mass: Decimal) -> bool:
    room = mass * Decimal("1e-9")  # a bound in other units of mass is not met to the last digit
    most = None if one.most_kg is None else _decimal(one.most_kg)
    return mass > 0 and mass + room >= _decimal(one.least_kg) and (most is None or mass - room <= most)


def _stepped(one: Ingredient, mass: Decimal) -> Decimal:
    if one.step_kg is None or mass == 0:
        return mass
    step = _decimal(one.step_kg)
    down, up = (((mass / step).quantize(Decimal(1), way) * step) for way in (ROUND_DOWN, ROUND_UP))
    nearest = _nearest(one, mass)
    for choice in (nearest, down, up):
        if nearest > 0 and _inside(one, choice):
            return choice
    return _too_small(one, mass)


def _too_small(one: Ingredient, mass: Decimal) -> Decimal:
    raise CalculationError(
        _(
            "%(mass)s kg of %(ingredient)s cannot be weighed in steps of %(step)s kg. Use a finer scale.",
            mass=f"{mass:.6g}",
            ingredient=one.name,
            step=f"{one.step_kg:g}",
        )
    )
