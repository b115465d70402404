"""One order and one spelling for the plant in a plan: rows and text then give the same content. Pure."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal, InvalidOperation

from plant.hazard_plan.content import InstrumentDef, Plan, PlanError


def tidy(plan: Plan) -> Plan:
    """The same plan, vessels in flow order, the rest by code, decimals without idle zeros ("3000.0": "3000").

    Raises PlanError naming a decimal that is none, or that has more places than its column keeps.
    """
    vessels = [
        replace(one, capacity=_tidied(one.capacity, f"vessels[{at}].capacity", 3))
        for at, one in enumerate(plan.vessels)
    ]
    instruments = [_instrument(one, f"instruments[{at}]") for at, one in enumerate(plan.instruments)]
    products = [
        replace(one, fat_percent=_tidied(one.fat_percent, f"products[{at}].fat_percent", 2))
        for at, one in enumerate(plan.products)
    ]
    return replace(
        plan,
        vessels=tuple(sorted(vessels, key=lambda one: (one.flow_order, one.code))),
        equipment=tuple(sorted(plan.equipment, key=lambda one: (one.walk_order, one.code))),
        instruments=tuple(sorted(instruments, key=lambda one: one.code)),
        products=tuple(sorted(products, key=lambda one: one.code)),
    )


def decimal_text(value: Decimal) -> str:
    """A decimal as a plan writes it: no exponent, no idle zeros."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def number(text: str, path: str) -> Decimal:
    """A finite decimal written plainly; PlanError names the place."""
    try:
        value = Decimal(text)
    except InvalidOperation as error:
        raise PlanError(path, f'{text!r} is no number; write it plainly, as "38.4"') from error
    if not value.is_finite() or "e" in text.lower() or text != text.strip() or "_" in text:
        raise PlanError(path, f'{text!r} is no number; write it plainly, as "38.4"')
    return value


def _instrument(one: InstrumentDef, path: str) -> InstrumentDef:
    names = ("low", "high", "resolution", "accuracy", "correction")
    return replace(one, **{name: _needed(getattr(one, name), f"{path}.{name}") for name in names})


def _needed(text: str, path: str) -> str:
    if not text:
        raise PlanError(path, "a number is wanted here")
    return _tidied(text, path, 4)


def _tidied(text: str, path: str, places: int) -> str:
    if not text:
        return ""
    value = number(text, path)
    tidied = decimal_text(value)
    if len(tidied.partition(".")[2]) > places:
        raise PlanError(path, f"{text} has more than {places} places after the point")
    if abs(value) >= Decimal(10) ** 8:
        raise PlanError(path, f"{text} is too large")
    return tidied
