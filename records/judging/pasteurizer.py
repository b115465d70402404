"""A pasteurizer's temperature with the holding time of record, against the rows of its product's class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from plant.hazard_plan.content import LimitDef, MonitoringDef
from plant.process import pasteurization
from plant.process.limits import Judged, Limit, Outcome
from plant.process.units import CELSIUS, FAHRENHEIT
from plant.rules.pasteurization import USES, rows_by_class, rows_of
from records.people.plans import InForce

TEMPERATURES = (CELSIUS, FAHRENHEIT)
CLASSES = frozenset(one.value for one in pasteurization.ProductClass)


@dataclass(frozen=True, slots=True)
class Held:
    """The holding time of record [s], and the number of the reading that says so."""

    seconds: Decimal
    reading: int


def by_rows(monitoring: MonitoringDef, in_force: InForce) -> bool:
    """Whether this check reads a temperature that a row of the tables goes with."""
    limits = (in_force.plan.limit_by_key(key) for key in monitoring.limits)
    return any(one.unit in TEMPERATURES and _is_row(one, in_force) for one in limits)


def holding_checks(in_force: InForce) -> list[str]:
    """The checks that state the holding time of record: their limits are the times of rows."""
    return [
        one.key
        for one in in_force.plan.monitoring
        if any(limit.unit == "s" and _is_row(limit, in_force) for limit in map(in_force.plan.limit_by_key, one.limits))
    ]


def with_the_rows(
    judged: Judged,
    values: Sequence[Decimal | Fraction],
    unit: str,
    product_class: str,
    limits: Sequence[Limit],
    held: Held,
    in_force: InForce,
) -> tuple[Judged, str]:
    """The judgement with the row that temperature and time meet together, and that row in words.

    The coolest of `values` [unit] counts. A row that is missed makes it not met, whatever the temperature alone says;
    one that is met makes nothing better. What has no row here stays as it was, with no row.
    """
    uses = USES.get(in_force.plan.plant.rule_set, {})
    found = next((one for one in limits if one.unit in TEMPERATURES and one.rule in uses), None)
    if found is None or product_class not in CLASSES or not values:
        return judged, ""
    _classes, method, area = uses[found.rule]
    rows = rows_by_class(in_force.plan.plant.rule_set, [product_class], area)[product_class]
    verdict = pasteurization.judge(min(values), unit, held.seconds, rows, method)
    if verdict.row is None:
        return judged, ""
    said: tuple[str, ...] = (verdict.words,)
    if verdict.met:
        # The state's table governs here; whoever reads the verdict has to know where the general rows ask for more.
        every = rows_of(in_force.plan.plant.rule_set)
        general = pasteurization.general_missed(verdict, pasteurization.ProductClass(product_class), every, area)
        said += (general,) if general is not None else ()
        return replace(judged, reasons=(*judged.reasons, *said)), str(verdict.row.words)
    if judged.outcome is Outcome.NOT_MET:
        return replace(judged, reasons=(*judged.reasons, *said)), str(verdict.row.words)
    missed = replace(judged, outcome=Outcome.NOT_MET, reasons=(*said, *judged.reasons), limit=judged.limit or found)
    return missed, str(verdict.row.words)


def _is_row(limit: LimitDef, in_force: InForce) -> bool:
    return limit.rule in USES.get(in_force.plan.plant.rule_set, {})
