"""What follows from a reading that is not in limits: the deviation it opens or joins, and the product it holds."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ControlPointDef, MonitoringDef
from plant.process.excursion import Excursion, excursion
from plant.process.limits import Outcome
from records.checks import announced
from records.checks.models import Reading, Transition
from records.checks.queries import governing
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation, DeviationCause
from records.flow import queries as flow
from records.judging import queries as verdicts
from records.judging.judge import OUT
from records.judging.models import Verdict
from records.judging.pasteurizer import Held, by_rows, holding_checks
from records.ledger.actions import Act
from records.people.plans import InForce

# How far to look around a reading for the others of its excursion. A longer one is joined through its own readings.
AROUND = timedelta(days=7)


def note_contents(reading: Reading, in_force: InForce) -> None:
    """Copy in what the book says the vessel held, or the line ran, when it was observed.

    While nothing runs, the class is that of the product which the line is made ready for.
    """
    with in_force.speaking():
        held = flow.held_or_running(reading.subject, reading.observed_at)
    if held is None:
        return
    reading.book_says = held.words
    reading.lot = held.lot
    reading.product = held.product
    code = held.product or announced.product_at(reading.subject, reading.observed_at)
    product = next((one for one in in_force.plan.products if one.code == code), None)
    reading.product_class = product.product_class if product else ""


def hold_of_record(reading: Reading, in_force: InForce) -> Held | None:
    """At a pasteurizer, the holding time that was last read from the test of record, up to the reading's moment."""
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key)
    if monitoring is None or not by_rows(monitoring, in_force):
        return None
    stated = Reading.objects.filter(
        monitoring_key__in=holding_checks(in_force),
        subject=reading.subject,
        observed_at__lte=reading.observed_at,
        value__isnull=False,
        unit="s",
    ).order_by("-observed_at", "-number")
    found = stated.exclude(number__in=Reading.objects.filter(amends__isnull=False).values("amends")).first()
    return Held(found.value, found.number) if found is not None and found.value is not None else None


def is_deviation(control_point: ControlPointDef, monitoring: MonitoringDef) -> bool:
    """Whether a miss here is a deviation; elsewhere it is a matter for a correction (21 CFR 117.150(c)).

    A quality check is never one. Not proven counts like not met.
    """
    if monitoring.weight == "quality":
        return False
    return control_point.kind == "ccp" or control_point.reaches_product or monitoring.legal


def holds_product(control_point: ControlPointDef, monitoring: MonitoringDef) -> bool:
    """Whether a miss here holds product: at a CCP, where the plan says that it reaches product, or by law."""
    if monitoring.weight == "quality":
        return False
    return control_point.kind == "ccp" or control_point.reaches_product or monitoring.legal


def follow(a: Act, reading: Reading, verdict: Verdict, in_force: InForce) -> Deviation | None:
    """Open or extend the deviation of a reading out of limits or not proven, and hold what it reaches.

    A reading in limits that lies in an excursion (the one that ends it, or one entered late) holds what its window
    reaches by now, and opens nothing. All of it is written in the plant's language.
    """
    with in_force.speaking():
        return _follow(a, reading, verdict, in_force)


def _follow(a: Act, reading: Reading, verdict: Verdict, in_force: InForce) -> Deviation | None:
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key)
    assert monitoring is not None  # a verdict exists only for a monitored reading
    point = in_force.plan.control_point_by_key(monitoring.control_point)
    if not is_deviation(point, monitoring):
        return None
    around = excursions_around(reading, in_force)
    if verdict.outcome not in OUT:
        _widen(a, reading, around, point, monitoring, in_force)
        return None
    found = next(one for one in around if reading.number in one.numbers)
    since = reaches_back_to(reading.subject, found.from_at, found.first_bad)
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point.key,
        subject=reading.subject,
        cause=verdict.outcome,
        found=Cause(
            Reading.KIND,
            reading.number,
            reading.observed_at,
            f"{reading.subject_name}: {reading.what}. {verdict.reason}",
        ),
        since_at=since,
        weight=monitoring.weight,
        foreseen=bool(monitoring.corrective_action),
        same_excursion=causes_in(around, reading),
    )
    if holds_product(point, monitoring):
        until = found.until or found.last_bad
        hold_what_it_reaches(a, deviation, _point_of(point, monitoring, in_force), reading.subject, since, until)
    return deviation


def _point_of(point: ControlPointDef, monitoring: MonitoringDef, in_force: InForce) -> ControlPointDef:
    """The control point with the bar of this check: a screen that came too late is no positive, it waits for a result.

    PMO Appendix N wants the result before processing (Ala. 420-3-16 App. N, a state mirror).
    """
    late = any(in_force.plan.limit_by_key(key).rule == "residue-before" for key in monitoring.limits)
    return replace(point, bars_release="residue pending") if late and point.bars_release == "residue" else point


def _widen(
    a: Act,
    reading: Reading,
    around: Sequence[Excursion],
    point: ControlPointDef,
    monitoring: MonitoringDef,
    in_force: InForce,
) -> None:
    if not holds_product(point, monitoring):
        return
    for one in around:
        cause = DeviationCause.objects.filter(cause_number__in=one.numbers).order_by("-number").first()
        deviation = Deviation.objects.filter(number=cause.deviation).first() if cause else None
        if deviation is not None and one.covers(reading.observed_at):
            since = reaches_back_to(reading.subject, one.from_at, one.first_bad)
            mine = _point_of(point, monitoring, in_force)
            hold_what_it_reaches(a, deviation, mine, reading.subject, since, one.until or reading.observed_at)


def reaches_back_to(subject: str, last_good: datetime | None, first_bad: datetime) -> datetime:
    """From when on product is touched: the last reading in limits, or the fill when nothing was read before.

    A clean break in between (empty and washed) ends what the earlier reading can say: what the vessel held before it is
    another lot, and the wash itself was warmer than any limit.
    """
    found = flow.contents_at(first_bad, [subject]).get(subject)
    if found is None or not found.holds:
        return last_good or first_bad
    if last_good is None:
        return found.since or first_bad
    return max(last_good, found.first_product_at or last_good)


def hold_what_it_reaches(
    a: Act, deviation: Deviation, point: ControlPointDef, subject: str, since: datetime, until: datetime
) -> None:
    """Hold every lot that was in the vessel, entered or left it (or ran through the line) in that time."""
    for lot in flow.lots_touched(subject, since, until):
        place_on_hold(
            a,
            lot=lot.id,
            lot_label=lot.label,
            vessel=subject,
            since_at=max(since, lot.since),
            reason=deviation.sentence,
            deviation=deviation.number,
            bars_release=point.bars_release,
        )


def excursions_around(reading: Reading, in_force: InForce) -> list[Excursion]:
    """The excursions at a reading's control point and place that its moment lies in, its own among them.

    Readings of one limit make one story: two temperatures in limits do not end what a broken seal began. Stories that
    overlap have one deviation.
    """
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key)
    assert monitoring is not None  # a verdict exists only for a monitored reading
    same_point = [one for one in in_force.plan.monitoring if one.control_point == monitoring.control_point]
    found = []
    for keys in _stories(same_point):
        for one in excursion(history(reading, keys)):
            if reading.number in one.numbers or one.covers(reading.observed_at):
                found.append(one)
    return found


def _stories(monitorings: Sequence[MonitoringDef]) -> list[set[str]]:
    """Monitoring keys put together where they share a limit."""
    stories: list[tuple[set[str], set[str]]] = []
    for one in monitorings:
        keys, limits = {one.key}, set(one.limits)
        apart = []
        for story in stories:
            if story[1] & limits:
                keys, limits = keys | story[0], limits | story[1]
            else:
                apart.append(story)
        stories = [*apart, (keys, limits)]
    return [keys for keys, _limits in stories]


def history(reading: Reading, keys: Collection[str]) -> list[tuple[datetime, Outcome, int]]:
    """(observed, outcome, number) of what stands at a reading's place around it: readings, and checks missed."""
    since, until = reading.observed_at - AROUND, reading.observed_at + AROUND
    placed: dict[str, object] = {"subject": reading.subject, "monitoring_key__in": keys}
    during = {"observed_at__gte": since, "observed_at__lte": until}
    rows = governing(Reading.objects.filter(**placed, **during))
    outcomes = verdicts.governing(Reading.KIND, [one.number for one in rows])
    missed = Transition.objects.filter(what="missed", **placed, **during)
    return [
        *(
            (one.observed_at, Outcome(outcomes[one.number].outcome), one.number)
            for one in rows
            if one.number in outcomes
        ),
        *((one.observed_at, Outcome.NOT_PROVEN, one.number) for one in missed),
    ]


def causes_in(around: Sequence[Excursion], reading: Reading) -> Sequence[int]:
    """The ledger numbers that may already have opened this deviation: readings, what they amend, misses."""
    numbers = {number for one in around for number in one.numbers}
    amended = Reading.objects.filter(number__in=numbers).exclude(amends=None).values_list("amends", flat=True)
    numbers.update(one for one in amended if one is not None)
    if reading.due_at is not None:
        missed = Transition.objects.filter(
            monitoring_key=reading.monitoring_key, subject=reading.subject, due_at=reading.due_at, what="missed"
        )
        numbers.update(missed.values_list("number", flat=True))
    return sorted(numbers)


def deviation_of(number: int) -> Deviation | None:
    """The deviation that a reading is a cause of, if any."""
    cause = DeviationCause.objects.filter(cause_number=number).order_by("-number").first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause else None


def words_for_correction(reading: Reading) -> str:
    """What to ask after a miss that needs a correction only."""
    return _("What was put right at %(where)s?") % {"where": reading.subject_name}
