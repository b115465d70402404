"""What follows from a result: a deviation and held product where it misses, the end of waiting where all is in.

A late result holds the lot that was sampled from its beginning, and so, by computation, all that it flowed into.
Another or an amended result releases nothing: two people dispose of what is held.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from uuid import UUID

from dateutil.relativedelta import relativedelta
from django.utils.translation import gettext as _

from plant.hazard_plan.content import SampledDef
from plant.process.laboratory import CONTROLS, NOT_FOUND, TESTS, Kind
from plant.process.limits import Outcome
from records.deviations import queries as holds
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import lift_by_result, place_on_hold
from records.deviations.models import Deviation, DeviationCause
from records.flow.common import label, lot_by_id, plan_at
from records.flow.packing import RESULTS_BAR
from records.flow.queries import lots_touched
from records.judging.actions import write_verdict
from records.judging.judge import Judgement
from records.judging.models import Verdict
from records.judging.queries import governing
from records.laboratory import farms, running_rule, sites
from records.laboratory.controls import batch_of
from records.laboratory.judging import NO_POINT, by_mean, judge, longest_mean
from records.laboratory.models import SITE, LabResult, Sample
from records.laboratory.queries import (
    counts_of,
    missing_results,
    root_of,
    sample_of,
    source_of,
    standing,
    wanted_results,
)
from records.ledger.actions import Act
from records.ledger.models import Installation
from records.people.plans import InForce

MISSED_BAR = "laboratory"
TOUCHES_PRODUCT = 1  # the zone


def follow(
    a: Act, row: LabResult, sample: Sample, judged: Judgement | None, asked: SampledDef | None, in_force: InForce
) -> None:
    """The deviation of a miss with what it holds; else the end of what waited for this result."""
    if row.test in CONTROLS:
        return  # it says something of its batch, and nothing of product: see judge_batches
    missed = judged is not None and judged.outcome == Outcome.NOT_MET.value
    if missed and judged is not None and (asked is None or asked.weight != "quality"):
        _missed(a, row, sample, judged, asked, in_force)
    if sample.lot is not None:
        lift_when_all_are_in(a, sample.lot)
        if row.amends is not None:
            wait_again(a, row, sample.lot, in_force)


def wait_again(a: Act, row: LabResult, lot: UUID, in_force: InForce) -> None:
    """An amendment or a bad control plate that takes a wanted result away makes the product wait again."""
    if not missing_results(lot) or holds.open_holds_of(lot).filter(bars_release=RESULTS_BAR).exists():
        return
    with in_force.speaking():
        reason = _("Waits for the laboratory: entry %(number)d took a result back")
        if row.test in CONTROLS:
            reason = _("Waits for the laboratory: by the control plate of entry %(number)d a result is not proven")
        reason %= {"number": row.number}
    held = lot_by_id(lot)
    place_on_hold(
        a,
        lot=lot,
        lot_label=label(held, in_force),
        vessel=held.vessel if held is not None else "",
        since_at=held.observed_at if held is not None else row.observed_at,
        reason=reason,
        bars_release=RESULTS_BAR,
    )


def judge_batches(a: Act, controls: list[LabResult], in_force: InForce) -> None:
    """Judge again what these control plates, as they were and as they are, speak for; say what follows for product.

    What a bad one doubts is not proven, and product that waited for it keeps waiting or waits again. Where the entry of
    the bad one did not happen, or was amended, the results are what they were.
    """
    rows = {one.number: one for control in controls for one in batch_of(control, in_force)}
    samples = {one.number: sample_of(one.sample) for one in rows.values()}
    # A plan with several samples judges them as one: where one is doubted, its fellows have to wait for another.
    tested = {(sample.lot, rows[at].test) for at, sample in samples.items() if sample is not None and sample.lot}
    for lot, test in sorted(tested, key=str):
        roots = [root_of(one) for one in standing(Sample.objects.filter(lot=lot))]
        for one in standing(LabResult.objects.filter(sample__in=roots, test=test)):
            rows[one.number] = one
            samples.setdefault(one.number, sample_of(one.sample))
    # Twice: a lot's verdict reads which of its results are doubted by now.
    for _pass in range(2):
        verdicts = governing(LabResult.KIND, list(rows))
        for number, row in sorted(rows.items()):
            sample = samples[number]
            if sample is None:
                continue
            then = plan_at(sample.observed_at)
            judged, _asked = judge(row, sample, then)
            old = verdicts.get(number)
            if judged is None or (old is not None and (old.outcome, old.reason) == (judged.outcome, judged.reason)):
                continue
            write_verdict(a, LabResult.KIND, number, judged, then, "control plate", old.number if old else None)
    judge_later(a, [rows[one] for one in sorted(rows)], in_force)
    for lot in sorted({one.lot for one in samples.values() if one is not None and one.lot}, key=str):
        lift_when_all_are_in(a, lot)
        wait_again(a, controls[-1], lot, in_force)


def judge_later(a: Act, rows: Iterable[LabResult], in_force: InForce) -> None:
    """Judge again what was sampled in the months after these and is held against a rolling mean that they are in.

    A result that comes late, or is amended or taken back, changes those means: each gets a verdict that follows its old
    one, and what is now over its limit is a miss like any other. Nothing is closed or released by it.
    """
    months = longest_mean(in_force)
    done: set[int] = set()
    for row in rows if months else ():
        sample = sample_of(row.sample)
        if sample is None or TESTS[row.test].kind is not Kind.COUNT:
            continue
        day = in_force.calendar.local(sample.observed_at).date()
        since = in_force.calendar.utc(day, time())
        until = in_force.calendar.utc(day + relativedelta(months=months) + timedelta(days=1), time())
        pairs = counts_of(row.test, source_of(sample), None, since=since, until=until)
        later = [pair for pair in pairs if pair[1].number != row.number and pair[1].number not in done]
        done |= {one.number for _taken, one in later}
        verdicts = governing(LabResult.KIND, [one.number for _taken, one in later])
        for taken, one in later:
            _judge_again(a, one, taken, verdicts.get(one.number))


def _judge_again(a: Act, row: LabResult, sample: Sample, old: Verdict | None) -> None:
    then = plan_at(sample.observed_at)
    if not by_mean(row.test, sample, then):
        return
    judged, asked = judge(row, sample, then)
    if judged is None or (old is not None and (old.outcome, old.reason) == (judged.outcome, judged.reason)):
        return
    write_verdict(a, LabResult.KIND, row.number, judged, then, "another result", old.number if old else None)
    follow(a, row, sample, judged, asked, then)


def _missed(
    a: Act, row: LabResult, sample: Sample, judged: Judgement, asked: SampledDef | None, in_force: InForce
) -> None:
    point = in_force.plan.control_point_by_key(asked.control_point) if asked is not None else None
    of = sample.lot_label or sample.place_name or sample.farm or sample.code
    since = _since(sample)
    with in_force.speaking():
        told = {"code": row.sample_code, "of": of, "test": row.test, "result": row.typed, "why": judged.reason}
        sentence = _("Sample %(code)s of %(of)s, %(test)s: %(result)s. %(why)s") % told
        if farms.is_farms(sample):
            sentence = f"{sentence} {_of_a_farm(row, sample, a.now, in_force)}"
        lots = _lots(row, sample, since, a.now)
        if sample.kind == SITE and sample.zone:
            sentence = f"{sentence} {_of_a_site(row, sample, bool(lots), in_force)}"
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point.key if point is not None else NO_POINT,
        subject=sample.place or (sample.farm[:40] if farms.is_farms(sample) else f"sample {root_of(sample)}"),
        cause=Outcome.NOT_MET.value,
        found=Cause(LabResult.KIND, row.number, row.observed_at, sentence),
        since_at=since,
        weight=asked.weight if asked is not None else "safety",
        foreseen=False,
    )
    residue = "residue" if row.test == farms.RESIDUE_TEST else ""
    bar = residue or (point.bars_release if point is not None else "") or MISSED_BAR
    for lot, begun, vessel in lots:
        place_on_hold(
            a,
            lot=lot,
            lot_label=label(lot_by_id(lot), in_force),
            vessel=vessel,
            since_at=begun,
            reason=sentence,
            deviation=deviation.number,
            bars_release=bar,
        )
    running_rule.open_what_it_asks(a, row, sample, point.key if point is not None else NO_POINT, in_force)


def _of_a_site(row: LabResult, sample: Sample, held: bool, in_force: InForce) -> str:
    """What follows of a site by its zone, in words."""
    days = sites.days_asked(sample.place, row.test, in_force)
    again = _("Clean it and sample it again, and its surroundings (%(clause)s).") % {"clause": sites.CLAUSE}
    if days:
        again = _(
            "Clean it and sample it again, and its surroundings, until it is not found on %(days)d days in a row "
            "(%(clause)s)."
        ) % {"days": days, "clause": sites.CLAUSE}
    if sample.zone != TOUCHES_PRODUCT:
        return _("Zone %(zone)d touches no product: none is held by this alone.") % {"zone": sample.zone} + f" {again}"
    if held:
        return _("Zone 1 touches product: what touched it since it was last not found is held.") + f" {again}"
    return _("Zone 1 touches product, and the book does not know which: hold by hand what did.") + f" {again}"


def _of_a_farm(row: LabResult, sample: Sample, now: datetime, in_force: InForce) -> str:
    """What follows of a farm's milk, in words: it depends on the test."""
    if not farms.holds_loads(row, sample):
        if in_force.plan.plant.rule_set != "us":
            return _("This is a line of the farm and holds no load. The authority decides.")
        return _(
            "This is a line of the farm and holds no load: one count over the limit leads to nothing yet; two of the "
            "last four lead to a written notice and another sample (PMO Section 6). The regulator decides."
        )
    loads = farms.loads_of(sample, now)
    if not loads:
        return _("No load in the book has milk of this farm in those days: look for it by hand.")
    tickets = ", ".join(one.first.ticket or str(one.number) for one in loads)
    return _(
        "What its milk was unloaded into is held, of loads %(loads)s. Pick-up stops until a test is negative "
        "(Me. 01-001-329 XIV). Tell the regulator."
    ) % {"loads": tickets}


def _since(sample: Sample) -> datetime:
    """A sample stands for its whole lot; of anything else, for the moment it was taken."""
    lot = lot_by_id(sample.lot)
    return min(lot.observed_at, sample.observed_at) if lot is not None else sample.observed_at


def _lots(row: LabResult, sample: Sample, since: datetime, now: datetime) -> list[tuple[UUID, datetime, str]]:
    """(lot, held from, vessel): the lot sampled; in zone 1, what the place touched since it was last not found.

    Of a farm's milk with a residue, what its loads were unloaded into.
    """
    if farms.holds_loads(row, sample):
        return farms.lots_of_loads(farms.loads_of(sample, now))
    if sample.lot is not None:
        lot = lot_by_id(sample.lot)
        return [(sample.lot, since, lot.vessel if lot is not None else "")]
    if sample.kind != SITE or sample.zone != TOUCHES_PRODUCT:
        return []
    last = _last_clean(row, sample)
    return [(one.id, max(last, one.since), sample.place) for one in lots_touched(sample.place, last, now)]


def _last_clean(row: LabResult, sample: Sample) -> datetime:
    """When the same site was last sampled and this not found; without one, the book's beginning."""
    earlier = standing(
        Sample.objects.filter(place=sample.place, kind=SITE, zone=sample.zone, observed_at__lt=sample.observed_at)
    ).order_by("-observed_at")[:100]
    by_root = {root_of(one): one.observed_at for one in earlier}
    clean = standing(LabResult.objects.filter(sample__in=list(by_root), test=row.test, sign=NOT_FOUND))
    moments = [by_root[one] for one in clean.values_list("sample", flat=True)]
    if moments:
        return max(moments)
    first = Installation.objects.order_by("number").first()
    return first.observed_at if first is not None else sample.observed_at


def lift_when_all_are_in(a: Act, lot: UUID) -> None:
    """End a wait for results when each wanted one is there and in limits, and none of them ever missed."""
    if not wanted_results(lot) or missing_results(lot):
        return
    for hold in holds.open_holds_of(lot).filter(bars_release=RESULTS_BAR):
        lift_by_result(a, hold, _(
            "Every result that the plan asks for is in and in limits: nothing recorded among them stands against it. "
            "That is no permission."
        ))


def deviation_of(number: int) -> Deviation | None:
    """The deviation that a result is a cause of, if any."""
    cause = DeviationCause.objects.filter(cause_kind=LabResult.KIND, cause_number=number).first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause is not None else None
