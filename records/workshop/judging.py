"""A holding-time test against the rows of its set-up's classes, exactly. Writes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.process.limits import SEVERITY, Outcome
from plant.process.pasteurization import Coverage, Homogenizer, Method, ProductClass, Row, SetUp, covering
from plant.process.pasteurization.setups import VISCOUS
from plant.process.said import again
from plant.process.units import plain
from plant.rules.intervals import HOLDING, counts_until
from plant.rules.pasteurization import rows_by_class
from records.judging.judge import Judgement
from records.people.plans import InForce
from records.workshop.keeping import local_day
from records.workshop.models import HoldingTest

KNOWN = {one.value: one for one in ProductClass}


@dataclass(frozen=True, slots=True)
class ForClass:
    """What the test says of one class of product."""

    name: str
    outcome: Outcome
    sentence: str
    coverage: Coverage | None = None


def by_class(test: HoldingTest, in_force: InForce) -> list[ForClass]:
    """The test for each class of its set-up: seconds and set point against the rows, homogenizer as approved."""
    rows = rows_by_class(in_force.plan.plant.rule_set, test.classes)
    return [_of_class(test, name, rows.get(name, ()), in_force) for name in test.classes]


def _of_class(test: HoldingTest, name: str, rows: Sequence[Row], in_force: InForce) -> ForClass:
    if name not in KNOWN or not rows:
        return ForClass(name, Outcome.NOT_PROVEN, _("%(class)s: no row of the tables is for it.") % {"class": name})
    row = next((one for one in in_force.plan.set_ups if one.key == test.set_up), None)
    wanted = Homogenizer(row.homogenizer) if row is not None else None
    day = local_day(in_force, test.observed_at)
    months = counts_until(in_force.plan.plant.rule_set, HOLDING, day).months
    as_tested = SetUp(
        name=test.set_up_name,
        set_point=Decimal(test.set_point),
        unit=test.set_point_unit,
        hold_s=test.seconds,
        tested_on=day,
        seals_unbroken=True,
        classes=(KNOWN[name],),
        method=Method(row.method) if row is not None else None,
        homogenizer=Homogenizer(test.homogenizer),
    )
    (found,) = covering([as_tested], KNOWN[name], rows, day, homogenizer=wanted, months=months)
    said = " ".join(again(one, _) for one in found.faults) or again(found.verdict.words, _)
    if found.verdict.standing is None:
        outcome = Outcome.NOT_PROVEN
    elif not found.verdict.met:
        outcome = Outcome.NOT_MET
    else:
        outcome = Outcome.MET if found.covers else Outcome.NOT_PROVEN
    return ForClass(name, outcome, f"{name}: {said}", found)


def cautions_of(test: HoldingTest) -> list[str]:
    """What the test does not say, though it was met: a test with water overstates the hold of a viscous product."""
    viscous = [one for one in test.classes if one in {product.value for product in VISCOUS}]
    if test.medium != "water" or not viscous:
        return []
    return [
        _(
            "A holding-time test with water can overstate the hold of a viscous product (mix, cream, condensed): "
            "settle with the regulator how this tube was sized."
        )
    ]


def judge_holding(test: HoldingTest, in_force: InForce) -> Judgement:
    """The worst of all classes: a set-up is tested for each class that it is approved for."""
    with in_force.speaking():
        found = by_class(test, in_force)
        if not found:
            nothing = _("The set-up is approved for no class of product.")
            return Judgement(Outcome.NOT_PROVEN.value, nothing, {}, "", rule=HOLDING)
        worst = min(found, key=lambda one: SEVERITY.index(one.outcome))
        row = worst.coverage.verdict.row if worst.coverage else None
        numbers = {"hold_s": plain(test.seconds), "set_point": f"{test.set_point} {test.set_point_unit}"}
        if row is not None:
            numbers["row"] = again(row.words, _)
        return Judgement(
            outcome=worst.outcome.value,
            reason=" ".join(one.sentence for one in found),
            numbers=numbers,
            monitoring_key="",
            limit_key="",
            rule=row.key if row is not None else HOLDING,
            clause=row.clause if row is not None else "",
            basis=row.basis if row is not None else "",
        )
