"""Samples and results as they stand, what the plan asks of them, and what product still waits for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any, TypeVar
from uuid import UUID

from dateutil.rrule import rrulestr
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from plant.hazard_plan.content import SampledDef
from plant.process.laboratory import TESTS, Result
from plant.process.limits import Outcome
from plant.process.running_counts import Running, running
from plant.process.sampling_plans.results import Count
from records.flow.common import PACK, plan_at
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing
from records.laboratory.models import DOUBTED, FARM, RETAINED, SITE, LabResult, Sample
from records.lots.models import Lot
from records.people.models import PlanApproval
from records.people.plans import InForce

S = TypeVar("S", Sample, LabResult)
LOOKED_BACK = timedelta(days=14)  # lots older than this are no longer listed as due
FIRST_DAY = datetime(2020, 1, 6)  # noqa: DTZ001 a Monday that every calendar rule counts from, on the plant's clocks
MOST = 60


def standing(rows: QuerySet[S]) -> QuerySet[S]:
    """Only what stands: the last of each line of amendments, and nothing that did not happen."""
    return rows.filter(~Exists(rows.model._default_manager.filter(amends=OuterRef("number"))), void=False)


def sample_of(number: int) -> Sample | None:
    """The row that stands (or the last of its line) of a sample's number, or of any of its amendments."""
    if not 0 < number < 2**63:
        return None
    row = Sample.objects.filter(number=number).first()
    if row is None:
        return None
    root = row.root or row.number
    return Sample.objects.filter(Q(number=root) | Q(root=root)).order_by("-number").first()


def results_of(root: int) -> QuerySet[LabResult]:
    """The results of a sample that stand, in order."""
    return standing(LabResult.objects.filter(sample=root)).order_by("observed_at", "number")


def root_of(sample: Sample) -> int:
    """The number that results name."""
    return sample.root or sample.number


def asked_of(sample: Sample, test: str, in_force: InForce) -> list[SampledDef]:
    """The rows of the plan that ask for this test of what was sampled."""
    return [one for one in in_force.plan.sampled if one.test == test and _is_about(one, sample)]


def _is_about(one: SampledDef, sample: Sample) -> bool:
    if one.zone or sample.kind == SITE:
        return bool(one.zone) and sample.kind == SITE and one.place == sample.place
    if one.farms or (sample.farm and sample.lot is None):  # one producer's milk has limits of its own
        return one.farms and bool(sample.farm) and sample.lot is None
    if one.place and one.place != sample.place:
        return False
    return not one.products or sample.product in one.products


def read_again(row: LabResult) -> Result:
    """A kept result as pure code reads it."""
    if row.value is None:
        return Result(sign=row.sign, too_many=row.too_many, estimated=row.estimated)
    return Result(Count(row.value, row.sign), estimated=row.estimated, too_many=row.too_many)


# --- what product waits for


@dataclass(frozen=True, slots=True)
class Wanted:
    """A result that the plan wants of a lot before it may go: whether it is there and in limits, and what is known."""

    row: SampledDef
    done: bool
    missed: bool = False  # one of its results, amended or not, was out of limits: no other one makes that good
    sample: int | None = None
    results: tuple[int, ...] = ()


def wanted_results(lot: UUID) -> list[Wanted]:
    """Every result that the plan in force when the lot began wants of it, and how far each is. A few queries."""
    found = Lot.objects.filter(id=lot).first()
    if found is None or found.origin != PACK:
        return []
    rows = [one for one in plan_at(found.observed_at).plan.sampled if one.required and found.product in one.products]
    if not rows:
        return []
    samples = list(standing(Sample.objects.filter(lot=lot).exclude(kind=RETAINED)).order_by("number"))
    results = list(LabResult.objects.filter(sample__in=[root_of(one) for one in samples]))
    replaced = {one.amends for one in results}
    stands = [one for one in results if one.number not in replaced and not one.void]
    verdicts = governing(LabResult.KIND, [one.number for one in stands])
    ever = missed_ever(one.number for one in results)
    return [_wanted(row, samples, results, stands, verdicts, ever) for row in rows]


def _wanted(
    row: SampledDef,
    samples: list[Sample],
    results: list[LabResult],
    stands: list[LabResult],
    verdicts: dict[int, Verdict],
    ever: set[int],
) -> Wanted:
    # One that a control plate doubts says nothing: another one may take its place.
    mine = [one for one in stands if one.test == row.test and not _doubted(verdicts.get(one.number))]
    good = [one for one in mine if one.number in verdicts and verdicts[one.number].outcome in GOOD]
    missed = any(one.test == row.test and one.number in ever for one in results)
    # Of a plan with several samples the verdict of the last one is that of all.
    done = len(mine) >= row.samples and bool(good) and (row.samples > 1 or len(good) == len(mine))
    sample = next((root_of(one) for one in samples if row.test in one.tests), None)
    return Wanted(row, done and not missed, missed, sample, tuple(one.number for one in mine))


def _doubted(verdict: Verdict | None) -> bool:
    return verdict is not None and verdict.rule == DOUBTED


def missed_ever(numbers: Iterable[int]) -> set[int]:
    """Of these results, those that any verdict ever said to be out of limits. One query."""
    rows = Verdict.objects.filter(
        subject_kind=LabResult.KIND, subject_number__in=list(numbers), outcome=Outcome.NOT_MET.value
    )
    return set(rows.values_list("subject_number", flat=True))


def missing_results(lot: UUID) -> list[Wanted]:
    """Of `wanted_results`, those that are not there or not in limits. Empty is no permission."""
    return [one for one in wanted_results(lot) if not one.done]


# --- what is due


@dataclass(frozen=True, slots=True)
class Due:
    """A sample that the plan asks for and nobody has recorded: of a lot, or since a day of the calendar."""

    row: SampledDef
    of: str
    since: datetime
    lot_code: str = ""


def due_samples(now: datetime, in_force: InForce) -> list[Due]:
    """What is due now by lots (of the last fortnight) and by calendar. A few queries for all of the plan's rows."""
    rows = in_force.plan.sampled
    if not rows:
        return []
    found: list[Due] = []
    recent = list(standing(Sample.objects.filter(observed_at__gte=now - timedelta(days=400))))
    by_lots = [one for one in rows if one.every_lots and one.products]
    packs = Lot.objects.filter(origin=PACK, observed_at__gte=now - LOOKED_BACK).order_by("observed_at", "number")
    lots = list(packs) if by_lots else []
    for row in by_lots:
        mine = [one for one in lots if one.product in row.products]
        done = {one.lot for one in recent if row.test in one.tests}
        for at, lot in enumerate(mine):
            near = mine[max(0, at - row.every_lots + 1) : at + 1]
            if len(near) == row.every_lots and not any(one.id in done for one in near):
                found.append(Due(row, f"{lot.product_name} {lot.code}", lot.observed_at, lot.code or ""))
                done.add(lot.id)
    first = PlanApproval.objects.order_by("in_force_from").values_list("in_force_from", flat=True).first() or now
    began = in_force.calendar.utc(in_force.calendar.local(first).date(), time())
    for row in rows:
        since = last_due(row, now, in_force)
        if since is not None and since < began:
            continue  # nobody asked before there was a plan
        if since is not None and not any(
            one.observed_at >= since and row.test in one.tests and _is_about(row, one) for one in recent
        ):
            found.append(Due(row, in_force.names.get(row.place, "") or ", ".join(_named(row, in_force)), since))
    return sorted(found, key=lambda one: (one.since, one.row.key))


def _named(row: SampledDef, in_force: InForce) -> list[str]:
    return [one.name for one in in_force.plan.products if one.code in row.products]


def last_due(row: SampledDef, now: datetime, in_force: InForce) -> datetime | None:
    """The beginning of the last day on which the calendar of a row asked for it; None where it has none."""
    if not row.calendar:
        return None
    local = in_force.calendar.local(now).replace(tzinfo=None)
    day = rrulestr(row.calendar, dtstart=FIRST_DAY).before(local, inc=True)
    return in_force.calendar.utc(day.date(), time()) if day is not None else None


# --- the running rule and the trend


def counts_of(
    test: str,
    of: dict[str, Any],
    most: int | None = MOST,
    *,
    since: datetime | None = None,
    until: datetime | None = None,
) -> list[tuple[Sample, LabResult]]:
    """The latest results of a test of one product, place or farm (`of`: columns of a sample), the oldest first.

    In order of when each was sampled, whenever its result came; of the samples taken from `since` to `until`, both
    included. Samples that have no result of this test take nobody's place. Two queries.
    """
    mine = standing(LabResult.objects.filter(test=test, sample=Coalesce(OuterRef("root"), OuterRef("number"))))
    rows = standing(Sample.objects.filter(**of)).filter(Exists(mine))
    if since is not None:
        rows = rows.filter(observed_at__gte=since)
    if until is not None:
        rows = rows.filter(observed_at__lte=until)
    samples = {root_of(one): one for one in rows.order_by("-observed_at", "-number")[:most]}
    results = standing(LabResult.objects.filter(sample__in=list(samples), test=test))
    pairs = [(samples[one.sample], one) for one in results]
    return sorted(pairs, key=lambda one: (one[0].observed_at, one[1].number))


def source_of(sample: Sample) -> dict[str, Any]:
    """Whose counts run together: of a farm, of a site, else of the product."""
    if sample.kind == FARM or sample.farm:
        return {"farm": sample.farm}
    if sample.kind == SITE or not sample.product:
        return {"place": sample.place, "kind": sample.kind}
    return {"product": sample.product, "farm": ""}


def running_of(sample: Sample, test: str, in_force: InForce) -> Running | None:
    """The running rule of a test up to this sample; None for what is no count. By the verdict that governs each.

    Days are those of sampling: a result that came late stands where its sample stands.
    """
    if TESTS[test].kind.value != "count":
        return None
    pairs = counts_of(test, source_of(sample), until=sample.observed_at)
    verdicts = governing(LabResult.KIND, [one.number for _sample, one in pairs])
    local = in_force.calendar.local
    return running(
        [
            (local(taken.observed_at).date(), verdicts[one.number].outcome == Outcome.NOT_MET.value)
            for taken, one in pairs
            if one.number in verdicts and not _doubted(verdicts[one.number])
        ]
    )
