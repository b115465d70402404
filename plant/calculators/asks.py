"""What the asks of several calculators share: units, choices, and asks that are alike but for name and words."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _

from plant.calculators.working import Ask
from plant.process.units import CELSIUS, FAHRENHEIT

# The bounds of an ask are in the first of its units.
FAHRENHEIT_FIRST = (FAHRENHEIT, CELSIUS)
CELSIUS_FIRST = (CELSIUS, FAHRENHEIT)
FLOWS = ("gal/h", "gal/min", "gal/s", "L/h", "L/min", "L/s")
TIMES = ("min", "h", "s")
YES_NO = (("yes", _("yes")), ("no", _("no")))


def degrees_ask(label: Any, example: str = FAHRENHEIT) -> Ask:
    """The ask `unit`: in which degrees temperatures are."""
    return Ask(
        name="unit",
        label=label,
        kind="choice",
        choices=((FAHRENHEIT, _("degrees Fahrenheit (°F)")), (CELSIUS, _("degrees Celsius (°C)"))),
        example=example,
    )


def optional_ask(
    name: str,
    label: Any,
    units: tuple[str, ...] = ("",),
    low: float | None = None,
    high: float | None = None,
    example: str = "",
    help_: Any = "",
) -> Ask:
    """An ask for a quantity that may be left empty; `low` and `high` in the first unit."""
    return Ask(
        name=name, label=label, units=units, low=low, high=high, example=example, help=help_, required=False
    )  # fmt: skip


def percent_ask(
    name: str, label: Any, example: str = "", help_: Any = "", high: float = 100, *, optional: bool = False
) -> Ask:
    """An ask for a percentage; without an example, or `optional`, it may be left out."""
    needed = bool(example) and not optional
    return Ask(name=name, label=label, units=("%",), low=0, high=high, example=example, help=help_, required=needed)
