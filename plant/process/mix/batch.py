"""The lines of a batch sheet, and what the batch came to when it was weighed and tested."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from plant.process.errors import CalculationError, within
from plant.process.mix.formula import Mix, compose
from plant.process.mix.ingredients import Ingredient
from plant.process.mix.weighing import Missed, missed
from plant.process.said import say as _
from plant.process.standardizing import Target


@dataclass(frozen=True, slots=True)
class BatchLine:
    """One ingredient of a batch: what to weigh, and what was.

    `target_kg` [kg]; the scale's step is the ingredient's `step_kg`. To be filled in: `lot`, the code of what was
    used; `tare_kg` [kg], the empty container; `actual_kg` [kg], net; `tests`: part -> content of that lot
    [% by mass], a fat test above all. Two lots of one ingredient are two lines.
    """

    ingredient: Ingredient
    target_kg: float
    lot: str = ""
    tare_kg: float | None = None
    actual_kg: float | None = None
    tests: Mapping[str, float] = field(default_factory=dict)

    @property
    def target_l(self) -> float | None:
        """The target as a volume [L], None where the ingredient's density is not known."""
        density = self.ingredient.density_kg_l
        return None if density is None else self.target_kg / density

    @property
    def difference_kg(self) -> float | None:
        """Weighed less target [kg], None before it is weighed."""
        return None if self.actual_kg is None else self.actual_kg - self.target_kg


@dataclass(frozen=True, slots=True)
class Recomputed:
    """A batch as it was made: `mix` from the weighed masses and the tests, `differences_kg` [kg] for each line.

    The mix's proof compares with the targets of the recipe; `missed` are the required contents it does not meet.
    """

    mix: Mix
    differences_kg: tuple[float, ...]
    missed: tuple[Missed, ...]


def batch_lines(mix: Mix) -> tuple[BatchLine, ...]:
    """A line for each ingredient of which there is some in the mix.

    Range: any mix.
    Raises: nothing.
    Source: by definition.

    >>> [line.target_kg for line in batch_lines(compose([Ingredient("milk"), Ingredient("water")], [90, 0]))]
    [90.0]
    """
    return tuple(BatchLine(one, mass) for one, mass in zip(mix.ingredients, mix.masses_kg, strict=True) if mass > 0)


def weighed(
    line: BatchLine, gross_kg: float, tare_kg: float, lot: str, tests: Mapping[str, float] | None = None
) -> BatchLine:
    """The line filled in: net = gross - tare.

    Parameters: `gross_kg` and `tare_kg` [kg]; `lot` the code of what was used; `tests` [% by mass].
    Range: tare from 0, gross not below the tare.
    Raises: OutsideRange; CalculationError without a lot.
    Source: by definition.

    >>> weighed(BatchLine(Ingredient("sugar", {"sucrose": 100}), 15), 16.5, 1.5, "S-104").actual_kg
    15.0
    """
    within(_("tare"), tare_kg, 0, unit="kg")
    within(_("gross mass"), gross_kg, tare_kg, unit="kg")
    if not lot.strip():
        raise CalculationError(_("Write the lot of %(ingredient)s.", ingredient=line.ingredient.name))
    return replace(line, lot=lot, tare_kg=tare_kg, actual_kg=gross_kg - tare_kg, tests=tests or line.tests)


def recomputed(
    lines: Sequence[BatchLine],
    targets: Sequence[Target] = (),
    required: Sequence[Target] = (),
    density_form: str = "short",
) -> Recomputed:
    """What the batch came to, from the weighed masses and the tests of the lots used.

    A fat test alone moves the other parts of that ingredient with its fat-free part.

    Parameters: `lines`, all weighed; `targets` and `required` contents [% by mass]; `density_form` as in
    `mix_density`.
    Range: masses from 0, tests 0 to 100 %.
    Raises: OutsideRange; CalculationError when a line is not weighed yet: its target never stands in for it.
    Source: conservation of mass, by definition.

    >>> cream = Ingredient("cream", {"fat": 40, "MSNF": 5.4})
    >>> line = weighed(BatchLine(cream, 30), 40.5, 10, "C-17", {"fat": 39.2})
    >>> round(recomputed([line]).mix.composition["fat"], 2)
    39.2
    """
    for line in lines:
        if line.actual_kg is None:
            raise CalculationError(_("%(ingredient)s is not weighed yet.", ingredient=line.ingredient.name))
    used = [line.ingredient.tested(line.tests) for line in lines]
    actual = [line.actual_kg or 0.0 for line in lines]
    mix = compose(used, actual, targets, sum(line.target_kg for line in lines), density_form)
    return Recomputed(
        mix,
        tuple(mass - line.target_kg for mass, line in zip(actual, lines, strict=True)),
        missed(mix, required),
    )
