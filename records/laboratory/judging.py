"""Holding a result against the plan in force when its sample was taken; a verdict says which row and which clause."""

from __future__ import annotations

from datetime import time, timedelta
from decimal import Decimal

from dateutil.relativedelta import relativedelta
from django.utils.translation import gettext as _

from plant.hazard_plan.content import SampledDef
from plant.process.geometric_mean import judge_mean
from plant.process.laboratory import (
    CONTROLS,
    FOUND,
    TESTS,
    Kind,
    Result,
    judge_control,
    judge_lot,
    judge_result,
    judge_signs,
    worst_of,
)
from plant.process.limits import SEVERITY, Judged, Limit, Outcome
from plant.process.said import again
from plant.process.sampling_plans.results import Plan
from plant.process.units import plain
from plant.rules import Rule, keys, rule_set
from records.judging.judge import GOOD, Judgement, as_limit
from records.laboratory.controls import bad_controls, doubted
from records.laboratory.models import DOUBTED, LabResult, Sample
from records.laboratory.queries import asked_of, counts_of, read_again, root_of, source_of, standing
from records.laboratory.words import in_words, result_words
from records.people.plans import InForce

# Found is out of limits in any food plant, whether or not the plan has a row for it.
NEVER = ("antibiotic", "Listeria", "Salmonella")
NO_POINT = "laboratory"  # the control point where the plan names none: the deviation stands all the same


def judge(row: LabResult, sample: Sample, in_force: InForce) -> tuple[Judgement | None, SampledDef | None]:
    """The worst judgement by the rows of the plan that ask for it, and that row; None where nothing judges it.

    A control plate is judged by what it has to show. Beside a bad one no result of its batch is proven in limits; one
    that is out of limits stays so.
    """
    if row.test in CONTROLS:
        with in_force.speaking():
            return _control(row), None
    judged, sampled = _by_plan(row, sample, in_force)
    if judged is not None and judged.outcome not in GOOD:
        return judged, sampled
    bad = bad_controls(row, in_force)
    if not bad:
        return judged, sampled
    with in_force.speaking():
        reason = _("Sample %(code)s, %(test)s: %(result)s. Its batch of plates proves nothing.") % {
            "code": bad[0].sample_code, "test": in_words(bad[0].test), "result": result_words(bad[0]),
        }  # fmt: skip
    numbers = judged.numbers if judged is not None else {"as_read": read_again(row).text()}
    key = sampled.key if sampled is not None else ""
    return Judgement(Outcome.NOT_PROVEN.value, reason, numbers, key, rule=DOUBTED, basis="plant rule"), sampled


def _control(row: LabResult) -> Judgement:
    result = read_again(row)
    judged = judge_control(TESTS[row.test], result)
    reason = " ".join(again(text, _) for text in judged.reasons)
    return Judgement(judged.outcome.value, reason, {"as_read": result.text()}, "", basis="plant rule")


def _by_plan(row: LabResult, sample: Sample, in_force: InForce) -> tuple[Judgement | None, SampledDef | None]:
    rows = asked_of(sample, row.test, in_force)
    result = read_again(row)
    with in_force.speaking():
        if not rows:
            if row.test in NEVER and result.sign == FOUND:
                reason = _("Found. The plan has no limit for it; what was found is out of limits all the same.")
                judged = Judgement(Outcome.NOT_MET.value, reason, {"as_read": FOUND}, "", basis="plant rule")
                return judged, None
            return None, None
        every = [(_by_row(one, row, result, sample, in_force), one) for one in rows]
        judged_row, sampled = min(every, key=lambda one: SEVERITY.index(one[0].outcome))
        return _judgement(judged_row, sampled, result), sampled


def _by_row(one: SampledDef, row: LabResult, result: Result, sample: Sample, in_force: InForce) -> Judged:
    test = TESTS[row.test]
    limits = [as_limit(in_force.plan.limit_by_key(key)) for key in one.limits]
    if one.samples == 1:
        return worst_of([_alone(row, result, limit, sample, in_force) for limit in limits])
    results = [*_others(row, sample), result]
    if test.kind is Kind.SIGN:
        return worst_of([judge_signs(results, one.samples, limit) for limit in limits])
    most = Decimal(one.never_above) if one.never_above else None
    return worst_of(
        [
            judge_lot(results, Plan(one.samples, one.may_exceed, limit.high, most, limit.clause), limit)
            for limit in limits
            if limit.high is not None
        ]
    )


def mean_of(limit: Limit, in_force: InForce) -> Rule | None:
    """The row of the rule set that holds this limit against a rolling geometric mean; None: each count by itself."""
    key = in_force.plan.plant.rule_set
    rule = rule_set(key).rows.get(limit.rule) if limit.rule and key in keys() else None
    return rule if rule is not None and rule.mean_months and limit.high is not None else None


def longest_mean(in_force: InForce) -> int:
    """The months of the longest rolling mean of the plan's rule set; 0 where it has none."""
    key = in_force.plan.plant.rule_set
    return max((one.mean_months for one in rule_set(key).rows.values()), default=0) if key in keys() else 0


def by_mean(test: str, sample: Sample, in_force: InForce) -> bool:
    """Whether the plan holds this test of this sample against a rolling mean."""
    rows = [one for one in asked_of(sample, test, in_force) if one.samples == 1]
    limits = [as_limit(in_force.plan.limit_by_key(key)) for one in rows for key in one.limits]
    return any(mean_of(limit, in_force) is not None for limit in limits)


def _alone(row: LabResult, result: Result, limit: Limit, sample: Sample, in_force: InForce) -> Judged:
    """By itself, or where the limit's row of the rule set bounds a rolling geometric mean, with those before it.

    The months run back from the day of sampling, and count what was sampled in them, whenever a result came.
    """
    test = TESTS[row.test]
    rule = mean_of(limit, in_force)
    if rule is None or test.kind is not Kind.COUNT:
        return judge_result(test, result, limit)
    day = in_force.calendar.local(sample.observed_at).date()
    since = in_force.calendar.utc(day - relativedelta(months=rule.mean_months), time())
    until = in_force.calendar.utc(day + timedelta(days=1), time())
    every = counts_of(row.test, source_of(sample), None, since=since, until=until)
    pairs = [pair for pair in every if pair[1].number not in (row.number, row.amends)]
    without = doubted([one.number for _taken, one in pairs])
    counts = [
        (in_force.calendar.local(taken.observed_at).date(), read_again(one))
        for taken, one in pairs if one.number not in without
    ]  # fmt: skip
    return judge_mean([*counts, (day, result)], day, limit, rule.mean_months, rule.mean_each, test.unit)


def _others(row: LabResult, sample: Sample) -> list[Result]:
    """The standing results of the same test of the same lot (without one: of this sample), other than this one."""
    samples = [root_of(sample)]
    if sample.lot is not None:
        samples = [root_of(one) for one in standing(Sample.objects.filter(lot=sample.lot))]
    rows = standing(LabResult.objects.filter(sample__in=samples, test=row.test)).exclude(
        number__in=[one for one in (row.number, row.amends) if one]
    )
    there = list(rows.order_by("observed_at", "number"))
    without = doubted([one.number for one in there])
    return [read_again(one) for one in there if one.number not in without]


def _judgement(judged: Judged, sampled: SampledDef, result: Result) -> Judgement:
    limit = judged.limit
    numbers = {"as_read": result.text()}
    if limit is not None:
        numbers |= {"limit": again(limit.words(), _), "unit": limit.unit}
        if limit.high is not None:
            numbers["high"] = plain(limit.high)
    return Judgement(
        outcome=judged.outcome.value,
        reason=" ".join(again(text, _) for text in judged.reasons),
        numbers=numbers,
        monitoring_key=sampled.key,
        limit_key=limit.key if limit else "",
        rule=limit.rule if limit else "",
        clause=limit.clause if limit else "",
        basis=limit.basis if limit else "",
    )
