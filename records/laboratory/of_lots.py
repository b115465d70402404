"""What the laboratory says of the lots that are in a tub, each result with its verdict; registered with recalls."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.limits import Outcome
from records.flow.common import PACK, plan_at
from records.judging.models import Verdict
from records.judging.queries import governing
from records.judging.words import to_operator
from records.laboratory.models import RETAINED, LabResult, Sample
from records.laboratory.queries import missed_ever, root_of, standing
from records.laboratory.words import in_words, result_words
from records.lots.models import Lot
from records.recall import sampled
from records.recall.sampled import Tested

AT_ONCE = 500  # lots in one statement


def of_lots(lots: Collection[UUID]) -> list[Tested]:
    """Every result of these lots, what is still waited for, and what the plan wants of packs and nobody sampled."""
    wanted = sorted(set(lots))
    samples: list[Sample] = []
    packs: list[Lot] = []
    for first in range(0, len(wanted), AT_ONCE):
        some = wanted[first : first + AT_ONCE]
        samples += standing(Sample.objects.filter(lot__in=some))
        packs += Lot.objects.filter(id__in=some, origin=PACK)
    samples.sort(key=lambda one: (one.observed_at, one.number))
    results: dict[int, list[LabResult]] = {root_of(one): [] for one in samples}
    for row in LabResult.objects.filter(sample__in=list(results)).order_by("observed_at", "number"):
        results[row.sample].append(row)
    numbers = [row.number for rows in results.values() for row in rows]
    verdicts, missed = governing(LabResult.KIND, numbers), missed_ever(numbers)
    found = [told for one in samples for told in _of_sample(one, results[root_of(one)], verdicts, missed)]
    return found + [told for lot in sorted(packs, key=lambda one: one.number) for told in _unsampled(lot, samples)]


def _of_sample(
    one: Sample, results: list[LabResult], verdicts: dict[int, Verdict], missed: set[int]
) -> list[Tested]:
    gone = {row.amends for row in results}
    there = {row.test for row in results if row.number not in gone and not row.void}
    found = [
        _told(one, row, verdicts.get(row.number), row.number in missed, row.number in gone or row.void)
        for row in results
        if not row.void
    ]
    found += [_pending(one, test) for test in one.tests if test not in there]
    if one.kind == RETAINED and not one.tests:
        kept = f"{one.kept_where}, {one.kept_until}" if one.kept_until else one.kept_where
        found.append(_row(one, in_words(one.kind), kept, _("kept, not tested")))
    return found


def _told(one: Sample, row: LabResult, verdict: Verdict | None, missed: bool, replaced: bool) -> Tested:
    outcome, why = _("not judged: the plan has no limit"), ""
    if verdict is not None:
        outcome = to_operator(verdict.outcome)
        plan = _("plan version %(number)d") % {"number": verdict.plan_number}
        why = ", ".join(part for part in (verdict.reason, verdict.clause, plan) if part)
    return _row(
        one, in_words(row.test), result_words(row), outcome, why,
        missed=missed or (verdict is not None and verdict.outcome == Outcome.NOT_MET.value), replaced=replaced,
    )  # fmt: skip


def _pending(one: Sample, test: str) -> Tested:
    return _row(one, in_words(test), "", _("not in yet"), pending=True)


def _row(
    one: Sample, test: str, said: str, outcome: str, why: str = "", *, pending: bool = False, missed: bool = False,
    replaced: bool = False,
) -> Tested:  # fmt: skip
    of = one.lot_label or one.place_name
    taken: datetime = one.observed_at
    return Tested(of, one.number, one.code, taken, test, said, outcome, why, pending, missed, replaced)


def _unsampled(lot: Lot, samples: list[Sample]) -> list[Tested]:
    """What the plan in force when packs began wants of them before they go, and no sample asks for."""
    asked = {test for one in samples if one.lot == lot.id and one.kind != RETAINED for test in one.tests}
    return [
        Tested(
            f"{lot.product_name} {lot.code or ''}".strip(), None, "", None, in_words(row.test), "",
            _("wanted by the plan, no sample recorded"), pending=True,
        )
        for row in plan_at(lot.observed_at).plan.sampled
        if row.required and lot.product in row.products and row.test not in asked
    ]  # fmt: skip


sampled.register(of_lots)
