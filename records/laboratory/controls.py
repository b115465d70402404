"""Control plates and the batch that each speaks for: which results stand beside a bad one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from django.db.models import Q

from plant.process.laboratory import CONTROLS, TESTS
from plant.process.limits import Outcome
from records.judging.models import Verdict
from records.judging.queries import governing
from records.laboratory.models import DOUBTED, LabResult
from records.laboratory.queries import standing
from records.people.plans import InForce

TOGETHER = timedelta(days=10)  # the same name of a batch, further apart, is another batch


def controls_of(row: LabResult, in_force: InForce) -> list[LabResult]:
    """The control plates that stand for a result: of its batch, or without one of its laboratory's day. One query.

    Where nobody wrote the batch of a plate count, each control plate that the laboratory read that day speaks for it:
    nobody can tell that it was of another one.
    """
    if row.test in CONTROLS:
        return []
    near = Q(observed_at__range=(row.observed_at - TOGETHER, row.observed_at + TOGETHER))
    named = Q(batch__iexact=row.batch) & near if row.batch else _of_the_day(row, in_force)
    if named is None:
        return []
    rows = LabResult.objects.filter(named, test__in=CONTROLS, laboratory__iexact=row.laboratory)
    return list(standing(rows).order_by("number"))


def _of_the_day(row: LabResult, in_force: InForce) -> Q | None:
    if row.test in TESTS and not TESTS[row.test].plated:
        return None
    start, end = in_force.calendar.day_bounds(in_force.calendar.plant_day(row.observed_at))
    return Q(observed_at__gte=start, observed_at__lt=end)


def bad_controls(row: LabResult, in_force: InForce) -> list[LabResult]:
    """Those of its control plates that say that the batch proves nothing. Two queries."""
    rows = controls_of(row, in_force)
    verdicts = governing(LabResult.KIND, [one.number for one in rows])
    return [
        one for one in rows if one.number in verdicts and verdicts[one.number].outcome == Outcome.NOT_MET.value
    ]


def batch_of(control: LabResult, in_force: InForce) -> list[LabResult]:
    """The results that a control plate speaks for, in order. One query."""
    start, end = in_force.calendar.day_bounds(in_force.calendar.plant_day(control.observed_at))
    named = Q(
        batch__iexact=control.batch or "",
        observed_at__range=(control.observed_at - TOGETHER, control.observed_at + TOGETHER),
    )
    plated = [one.key for one in TESTS.values() if one.plated]
    unnamed = (Q(batch="") | Q(batch=None)) & Q(test__in=plated, observed_at__gte=start, observed_at__lt=end)
    rows = LabResult.objects.filter(named | unnamed, laboratory__iexact=control.laboratory)
    return list(standing(rows).exclude(test__in=CONTROLS).order_by("observed_at", "number"))


def doubted(numbers: Iterable[int]) -> set[int]:
    """Those results whose verdict is not proven because of a control plate. One query."""
    found = governing(LabResult.KIND, numbers)
    return {number for number, verdict in found.items() if is_doubted(verdict)}


def is_doubted(verdict: Verdict | None) -> bool:
    """Whether a verdict says that a control plate took the proof away."""
    return verdict is not None and verdict.rule == DOUBTED
