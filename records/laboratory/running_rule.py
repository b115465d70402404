"""What the running rule of counts opens: a deviation of the legal weight, a notice, another sample within its days.

The counts are those of this book. The regulator counts the official ones, writes the notice and decides on any permit:
nothing here does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from plant.process.running_counts import DEGRADE_OF, RESAMPLE_CLAUSE, TESTED, Running, Standing, resample_days
from records.checks.told_once import put_notice
from records.deviations.actions import Cause, open_or_extend
from records.deviations.models import Deviation, DeviationCause
from records.deviations.queries import open_deviations
from records.laboratory.models import LabResult, Sample
from records.laboratory.queries import counts_of, root_of, running_of, source_of, standing
from records.laboratory.words import in_words, running_words
from records.ledger.actions import Act
from records.people.plans import InForce

CAUSE = "running rule"
TOLD = ("supervisor", "qualified individual")
LOOKED_BACK = timedelta(days=60)  # what the notice of an older one asked for is past its days


def open_what_it_asks(a: Act, row: LabResult, sample: Sample, point: str, in_force: InForce) -> Deviation | None:
    """After a count over its limit: the deviation and the notice, where two of four or three of five are over."""
    if row.test not in TESTED or in_force.plan.plant.rule_set != "us":
        return None
    rule = _worst(sample, row.test, in_force)
    if rule is None or rule.standing is Standing.NOTHING:
        return None
    with in_force.speaking():
        source = name_of_source(sample)
        after, until = resample_days(in_force.calendar.local(row.observed_at).date())
        words = {"source": source, "test": in_words(row.test), "rule": running_words(rule), "after": after.isoformat(),
                 "until": until.isoformat(), "clause": RESAMPLE_CLAUSE}  # fmt: skip
        sentence = _(
            "%(source)s, %(test)s: %(rule)s Another sample is due after %(after)s and by %(until)s (%(clause)s), "
            "counted from this result where the written notice bears no other day."
        ) % words
        deviation, opened = open_or_extend(
            a,
            in_force=in_force,
            control_point=point,
            subject=f"{row.test}: {source}"[:40],
            cause=CAUSE,
            found=Cause(LabResult.KIND, row.number, row.observed_at, sentence),
            since_at=sample.observed_at,
            weight="legal",
            foreseen=True,  # the ordinance itself says what follows
        )
        put_notice(a, in_force, f"running rule|{row.number}", sentence, *TOLD)
    return deviation


def _worst(sample: Sample, test: str, in_force: InForce) -> Running | None:
    """The worst standing after this sample and after each of those taken since that may count it among their last five.

    A result that comes late is often not the last: two of four may be so from a later sample on.
    """
    after = counts_of(test, source_of(sample), None, since=sample.observed_at)
    local = in_force.calendar.local
    days: dict[date, Sample] = {local(sample.observed_at).date(): sample}
    for taken, _row in after:
        days[local(taken.observed_at).date()] = taken  # the last one of each day
    rules = [running_of(days[day], test, in_force) for day in sorted(days)[:DEGRADE_OF]]
    order = list(Standing)
    return max((one for one in rules if one is not None), key=lambda one: order.index(one.standing), default=None)


def name_of_source(sample: Sample) -> str:
    """Whose counts run together, by name."""
    if sample.farm and sample.lot is None:
        return sample.farm
    return sample.product_name or sample.place_name or sample.code


@dataclass(frozen=True, slots=True)
class Asked:
    """Another sample that a running rule asks for: of whom, for which test, in which days; `late`: they are over."""

    deviation: int
    source: str
    test: str
    after: date
    until: date
    late: bool
    sample: Sample  # the last one over the limit: another of the same


def asked_again(now: datetime, in_force: InForce) -> list[Asked]:
    """The samples that open running rules still ask for. A few queries for each of them, of which there are few."""
    found = []
    rows = open_deviations(now).filter(cause=CAUSE, observed_at__gte=now - LOOKED_BACK).order_by("number")
    for deviation in rows:
        cause = DeviationCause.objects.filter(deviation=deviation.number).order_by("-number").first()
        row = LabResult.objects.filter(number=cause.cause_number).first() if cause is not None else None
        sample = Sample.objects.filter(number=row.sample).first() if row is not None else None
        if row is None or sample is None:
            continue
        local = in_force.calendar.local
        after, until = resample_days(local(row.observed_at).date())
        since = in_force.calendar.utc(after + timedelta(days=1), datetime.min.time())
        later = standing(Sample.objects.filter(observed_at__gte=since, **source_of(sample))).exclude(
            number=root_of(sample)
        )
        if any(row.test in one.tests for one in later):
            continue
        found.append(
            Asked(deviation.number, name_of_source(sample), row.test, after, until, local(now).date() > until, sample)
        )
    return found
