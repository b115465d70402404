"""The limits of a plan by themselves: numbers, their order, units, and whether anything uses them. Pure."""

from __future__ import annotations

from decimal import Decimal

from plant.hazard_plan.content import LimitDef, Plan, PlanError
from plant.hazard_plan.problem import Findings
from plant.hazard_plan.tidy import number
from plant.rules import BASES

PLANT_RULE = "plant rule"
# Judged with each load of raw milk, by no check of their own.
OF_A_FARM = ("farm-2h", "farm-4h", "farm-blend", "farm-daily", "farm")
BOUNDS = ("low", "operating_low", "operating_high", "high")


def check_limits(plan: Plan, found: Findings) -> None:
    """Refuse limits that bound nothing or cannot be read; warn of those that no check uses."""
    used = {key for one in plan.monitoring for key in one.limits} | {key for one in plan.traced for key in one.limits}
    used |= {key for one in plan.sampled for key in one.limits}
    classes = {one.product_class for one in plan.products}
    for at, limit in enumerate(plan.limits):
        path = f"limits[{at}]"
        found.one_of(f"{path}.basis", limit.basis, (*BASES, PLANT_RULE), "basis")
        if not limit.clause.strip():
            found.refuse(f"{path}.clause", "must not be empty: say the clause, or 'plant rule'")
        _bounds(limit, path, found)
        for product_class in limit.products:
            if product_class not in classes:
                found.warn(f"{path}.products", f"no product of this plan has the class {product_class!r}")
        if limit.key not in used and limit.rule not in OF_A_FARM:
            found.warn(path, f"no check uses the limit {limit.key}")


def numbers_of(limit: LimitDef) -> dict[str, Decimal]:
    """The bounds of a limit that can be read, by name."""
    read = {}
    for name in BOUNDS:
        try:
            if getattr(limit, name):
                read[name] = number(getattr(limit, name), name)
        except PlanError:
            continue
    return read


def _bounds(limit: LimitDef, path: str, found: Findings) -> None:
    for name in BOUNDS:
        try:
            if getattr(limit, name):
                number(getattr(limit, name), f"{path}.{name}")
        except PlanError as error:
            found.refuse(error.path, error.sentence)
    read = numbers_of(limit)
    if not read and not limit.wanted:
        found.refuse(path, f"{limit.key} bounds nothing: give it low, high or wanted answers")
    if read and limit.wanted:
        found.refuse(path, f"{limit.key} has both numbers and wanted answers; make two limits of it")
    if read and not limit.unit and limit.quantity != "count":
        found.refuse(f"{path}.unit", "a number needs its unit")
    ordered = [(name, read[name]) for name in BOUNDS if name in read]
    for (before, low), (after, high) in zip(ordered, ordered[1:], strict=False):
        if low > high:
            words = f"{after.replace('_', ' ')} {high} is below {before.replace('_', ' ')} {low}"
            found.refuse(f"{path}.{after}", words)
