"""The Pearson square: two streams blended to one content."""

from __future__ import annotations

from dataclasses import dataclass

from plant.process.errors import CalculationError, Infeasible, within
from plant.process.said import say as _
from plant.process.standardizing.streams import GREATEST_KG
from plant.process.standardizing.words import digits


@dataclass(frozen=True, slots=True)
class Square:
    """Parts by mass of the rich and the lean stream; their masses and the blend's [kg] where a quantity was given."""

    rich_parts: float
    lean_parts: float
    rich_kg: float | None = None
    lean_kg: float | None = None
    total_kg: float | None = None


def pearson_square(
    rich_percent: float,
    lean_percent: float,
    wanted_percent: float,
    *,
    rich_kg: float | None = None,
    lean_kg: float | None = None,
    total_kg: float | None = None,
) -> Square:
    """How much of a rich and a lean stream makes a blend of the wanted content.

    Crosswise differences: wanted - lean parts of the rich stream to rich - wanted parts of the lean one, by mass.
    Parameters: contents of one component [% by mass]; at most one quantity [kg]: of the rich stream, of the lean
    stream, or of the blend.

    Range: contents 0 to 100 %, rich above lean, wanted from lean to rich; quantities above 0, to 1e9 kg.
    Raises: OutsideRange; Infeasible when the wanted content is not between the two, or needs none of the stream
    whose quantity was given; CalculationError for two quantities or two equal streams.
    Source: University of Guelph, standardization problems,
    https://www.uoguelph.ca/foodscience/book-page/standardization-problems.

    >>> pearson_square(35, 4, 10, lean_kg=500)
    Square(rich_parts=6, lean_parts=25, rich_kg=120.0, lean_kg=500, total_kg=620.0)
    """
    within(_("content of the rich stream"), rich_percent, 0, 100, "%")
    within(_("content of the lean stream"), lean_percent, 0, 100, "%")
    within(_("wanted content"), wanted_percent, 0, 100, "%")
    if rich_percent <= lean_percent:
        raise CalculationError(_("The rich stream must hold more than the lean one."))
    _between(rich_percent, lean_percent, wanted_percent)
    rich, lean = wanted_percent - lean_percent, rich_percent - wanted_percent
    given = [(kg, parts) for kg, parts in ((rich_kg, rich), (lean_kg, lean), (total_kg, rich + lean)) if kg is not None]
    if not given:
        return Square(rich, lean)
    if len(given) > 1:
        raise CalculationError(_("Give one quantity: the rich stream, the lean stream or the blend."))
    kg, parts = given[0]
    within(_("quantity"), kg, 0, GREATEST_KG, "kg")
    if kg == 0:
        raise CalculationError(_("The quantity must be more than nothing."))
    if parts == 0:
        raise Infeasible(
            _("The blend needs none of that stream, so its quantity cannot be used up."),
            wanted=wanted_percent,
            lowest=lean_percent,
            highest=rich_percent,
            unit="%",
        )
    total = kg * (rich + lean) / parts
    return Square(
        rich,
        lean,
        rich_kg if rich_kg is not None else kg * rich / parts,
        lean_kg if lean_kg is not None else kg * lean / parts,
        total_kg if total_kg is not None else total,
    )


def _between(rich: float, lean: float, wanted: float) -> None:
    if wanted > rich:
        sentence = _(
            "%(wanted)s %% cannot be reached: the richest of the streams has %(rich)s %%.",
            wanted=digits(wanted),
            rich=digits(rich),
        )
    elif wanted < lean:
        sentence = _(
            "%(wanted)s %% cannot be reached: the leanest of the streams has %(lean)s %%.",
            wanted=digits(wanted),
            lean=digits(lean),
        )
    else:
        return
    raise Infeasible(sentence, wanted=wanted, lowest=lean, highest=rich, unit="%")
