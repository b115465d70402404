"""Refusals of the calculations: a value outside the range in which a formula holds, and a wish that cannot be met."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from plant.process.said import Said
from plant.process.said import say as _


class CalculationError(ValueError):
    """A calculation that gives no answer. `sentence` says why, in words that can be said again in another language."""

    def __init__(self, sentence: Said) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


class OutsideRange(CalculationError):
    """A quantity lies outside the range in which the formula holds.

    `value`, `low` and `high` in `unit`; None means no bound on that side. A value that is not a number (nan, inf)
    is outside every range.
    """

    def __init__(self, quantity: str, value: float, low: float | None, high: float | None, unit: str = "") -> None:
        named = {"quantity": quantity, "value": _plain(value), "unit": f" {unit}" if unit else ""}
        finite = math.isfinite(value)  # infinity lies neither below nor above: it is no quantity
        if finite and low is not None and high is not None:
            sentence = _(
                "%(quantity)s %(value)s%(unit)s is outside the range %(low)s to %(high)s%(unit)s",
                low=_plain(low),
                high=_plain(high),
                **named,
            )
        elif finite and low is not None:
            sentence = _("%(quantity)s %(value)s%(unit)s is below %(low)s%(unit)s", low=_plain(low), **named)
        elif finite and high is not None:
            sentence = _("%(quantity)s %(value)s%(unit)s is above %(high)s%(unit)s", high=_plain(high), **named)
        else:
            sentence = _("%(quantity)s %(value)s%(unit)s is not a number", **named)
        super().__init__(sentence)
        self.quantity, self.value, self.low, self.high, self.unit = quantity, value, low, high, unit


class Infeasible(CalculationError):
    """What was asked cannot be had from what is given.

    `target` names the wish that fails, `wanted`, `lowest` and `highest` are numbers in `unit` where there are any.
    """

    def __init__(
        self,
        sentence: Said,
        target: str = "",
        wanted: float | None = None,
        lowest: float | None = None,
        highest: float | None = None,
        unit: str = "",
    ) -> None:
        super().__init__(sentence)
        self.target, self.wanted, self.lowest, self.highest, self.unit = target, wanted, lowest, highest, unit


def within(
    quantity: str,
    value: float | Decimal | Fraction,
    low: float | None = None,
    high: float | None = None,
    unit: str = "",
) -> float:
    """The value when low <= value <= high, else OutsideRange; so too for what cannot be taken as one number.

    >>> within("fat", 3.5, 0, 100, "%")
    3.5
    """
    try:
        number = float(value)
    except OverflowError:
        number = math.inf if value > 0 else -math.inf  # a whole number of more than 308 digits
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number) or (low is not None and number < low) or (high is not None and number > high):
        raise OutsideRange(quantity, number, low, high, unit)
    return number


def _plain(value: float) -> str:
    return f"{value:.10g}"
