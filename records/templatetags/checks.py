"""Numbers of verdicts and instruments in words: {% load checks %}."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.utils.translation import gettext as _

from plant.process.units import plain

register = template.Library()


@register.filter
def plainly(value: Decimal | None) -> str:
    """A number as short as it is exact."""
    return "" if value is None else plain(value)


@register.filter
def number_words(numbers: dict[str, str]) -> list[tuple[str, str]]:
    """The numbers that produced a verdict, each with its name and unit."""
    unit = numbers.get("unit", "")
    said = [
        (_("As read"), numbers.get("as_read"), unit),
        (_("Corrected"), numbers.get("corrected"), unit),
        (_("Distance to the limit"), numbers.get("margin"), unit),
        (_("Instrument"), numbers.get("instrument"), ""),
        (_("Its correction"), numbers.get("correction"), numbers.get("correction_unit", unit)),
    ]
    return [(name, f"{value} {of}".strip()) for name, value, of in said if value is not None]
