"""The plan and the record of a wash, as people type them: one limit or one value a line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from plant.calculators.words import shown_word
from plant.calculators.working import decimal_of
from plant.process.errors import CalculationError
from plant.process.limits import Limit
from plant.process.said import say
from plant.process.units import CELSIUS, FAHRENHEIT
from plant.process.washing import Measured, PlannedStep, WashedStep

QUANTITIES = {
    "time": ("min", "s", "h"),
    "temperature": (FAHRENHEIT, CELSIUS),
    "conductivity": ("mS/cm",),
    "concentration": ("%", "mg/L"),
    "flow": ("gal/min", "gal/h", "L/min", "L/h"),
}
ALIASES = {"c": CELSIUS, "f": FAHRENHEIT, "ppm": "mg/L", "sec": "s", "gpm": "gal/min"}


def plan_of(rows: Sequence[tuple[str, ...]]) -> list[PlannedStep]:
    """Rows of step, quantity, at least, at most, unit. Raises CalculationError.

    A step ends where another name follows, or the same quantity stands there again.
    """
    steps: list[tuple[str, list[Limit]]] = []
    for place, (name, quantity, low, high, unit) in enumerate(rows, 1):
        limit = Limit(
            key=f"{name} {quantity}",
            quantity=_quantity(quantity, place),
            unit=_unit(unit, quantity, place),
            low=_number(low, place),
            high=_number(high, place),
        )
        if limit.low is None and limit.high is None:
            raise CalculationError(say("Line %(line)s of the plan sets no limit.", line=str(place)))
        if limit.low is not None and limit.high is not None and limit.low > limit.high:
            raise CalculationError(say("Line %(line)s of the plan: at least lies above at most.", line=str(place)))
        if not steps or steps[-1][0] != name or any(one.quantity == limit.quantity for one in steps[-1][1]):
            steps.append((name, []))
        steps[-1][1].append(limit)
    return [PlannedStep(name, tuple(limits)) for name, limits in steps]


def record_of(rows: Sequence[tuple[str, ...]]) -> list[WashedStep]:
    """Rows of step, quantity, measured, unit, in the order of the wash. Raises CalculationError."""
    steps: list[tuple[str, dict[str, Measured | None]]] = []
    for place, (name, quantity, value, unit) in enumerate(rows, 1):
        kind = _quantity(quantity, place)
        if not steps or steps[-1][0] != name or kind in steps[-1][1]:
            steps.append((name, {}))
        number = _number(value, place)
        steps[-1][1][kind] = None if number is None else Measured(number, _unit(unit, quantity, place))
    return [WashedStep(name, measured) for name, measured in steps]


def _quantity(text: str, place: int) -> str:
    if text.casefold() in QUANTITIES:
        return text.casefold()
    raise _unknown(text, map(shown_word, QUANTITIES), place)


def _unit(text: str, quantity: str, place: int) -> str:
    wanted, known = ALIASES.get(text.casefold(), text).casefold(), QUANTITIES[_quantity(quantity, place)]
    for unit in known:
        if unit.casefold() == wanted:
            return unit
    raise _unknown(text, known, place)


def _unknown(text: str, known: Iterable[str], place: int) -> CalculationError:
    words = {"line": str(place), "text": text[:40], "known": ", ".join(known)}
    return CalculationError(say("Line %(line)s: %(text)s is not one of %(known)s.", **words))


def _number(text: str, place: int) -> Decimal | None:
    if not text:
        return None
    return decimal_of(text, lambda fault: say("Line %(line)s: %(fault)s", line=str(place), fault=fault))
