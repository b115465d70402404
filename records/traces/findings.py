"""What traces show: each finding a record, found once, with a verdict and a deviation; and how it is read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from plant.pictures.marks import mark_svg
from plant.pictures.strip_time import said
from plant.process.limits import SEVERITY, Outcome
from plant.process.said import again
from plant.process.trace_judging import Cause as Why
from plant.process.trace_judging import Finding, Kind
from plant.process.units import plain
from records.checks.models import Reading
from records.deviations.actions import Cause, add_causes, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import DeviationCause, Outage, OutageEnd
from records.flow.queries import lots_touched_in
from records.judging.actions import verdict_row, write_verdict
from records.judging.judge import OUT, Judgement
from records.judging.queries import governing as verdicts_of
from records.judging.words import to_operator
from records.ledger.actions import Act
from records.people.plans import InForce
from records.traces.circumstances import to_moment, to_ms
from records.traces.models import TraceFinding

# Findings so near one another at one control point and place are causes of one deviation.
NEAR = timedelta(hours=12)
SILENT = (Why.GAP.value,)
LONGEST, BACK_AGAIN = timedelta(days=7), timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Found:
    """A finding of the calculation with the control point that it belongs to."""

    finding: Finding
    control_point: str


@dataclass(slots=True)
class Written:
    """What an act wrote: the findings that stand now, by number, and how many of them are new or changed."""

    stand: list[int] = field(default_factory=list)
    changed: int = 0


def keep(
    a: Act, place: str, found: Sequence[Found], start: datetime, end: datetime, in_force: InForce, *, live: bool = False
) -> Written:
    """Write what is new of the findings of [start, end] at a place, with verdicts, deviations and holds.

    What stands already adds nothing. What grew, or is told otherwise, is a further part of the same finding. What is no
    longer found gets a verdict that says so; its deviation stays for a person to close. `live`: of a finding that goes
    on only what is worse is written, until its hour is over.
    """
    done = Written()
    left = {one.number: one for one in standing_rows(start, end, [place])}
    new: list[_New] = []
    for one in found:
        same = [row for row in left.values() if _same_story(row, one)]
        for row in same:
            del left[row.number]
        row = _row(place, one, in_force)
        first = min(same, key=lambda each: (each.start_at, each.number), default=None)
        if first is not None and (_unchanged(first, row) or (live and not _worse(first, row))):
            done.stand.append(first.number)
            continue
        if first is not None:
            row.key = first.key
        new.append(_New(row, one, [other for other in same if other.key != row.key]))
    _write(a, new, in_force)
    done.stand += [one.row.number for one in new]
    done.changed = len(new)
    for row in left.values():
        if start <= row.start_at and row.end_at <= end:
            _withdraw(a, row, _("Judged again with what is recorded now: it is no longer found."), in_force)
            done.changed += 1
        else:
            done.stand.append(row.number)
    return done


@dataclass(frozen=True, slots=True)
class _New:
    """A finding to be written, and those that it takes in."""

    row: TraceFinding
    found: Found
    taken_in: list[TraceFinding]


def _write(a: Act, new: list[_New], in_force: InForce) -> None:
    """Findings, their verdicts, what they take in, then their deviations and holds."""
    rows = [one.row for one in new]
    keys = TraceFinding.objects.filter(key__in=[row.key for row in rows]).values_list("key", flat=True)
    parts = Counter(keys)
    for row in rows:
        row.part = parts[row.key]
        parts[row.key] += 1
    a.write_many(rows, observed_at=[row.start_at for row in rows])
    verdicts = [
        verdict_row(TraceFinding.KIND, one.row.number, _judgement(one.found, one.row), in_force, "import")
        for one in new
    ]
    a.write_many(verdicts, observed_at=[a.now] * len(verdicts))
    for one in new:
        for other in one.taken_in:
            why = _("It is part of entry %(number)d now.") % {"number": one.row.number}
            _withdraw(a, other, why, in_force)
    _follow(a, [row for row in rows if row.outcome in OUT and row.control_point and not _in_an_outage(row)], in_force)


def _same_story(row: TraceFinding, found: Found) -> bool:
    one = found.finding
    if (row.about, row.instrument, row.rule) != (one.kind.value, one.channel, one.rule):
        return False
    if row.cause != one.cause.value:
        return False
    return row.start_at <= to_moment(one.end_ms) and to_moment(one.start_ms) <= row.end_at


_COMPARED = (
    "start_at", "end_at", "seconds", "extreme", "unit", "outcome", "contradicting", "lots", "clause", "control_point",
)  # fmt: skip


def _unchanged(before: TraceFinding, row: TraceFinding) -> bool:
    return all(getattr(before, name) == getattr(row, name) for name in _COMPARED)


def _worse(before: TraceFinding, row: TraceFinding) -> bool:
    """Whether more is to be said than that it goes on."""
    return (before.outcome, before.extreme, before.lots) != (row.outcome, row.extreme, row.lots)


def _row(place: str, found: Found, in_force: InForce) -> TraceFinding:
    one = found.finding
    return TraceFinding(
        key=f"{one.kind.value}|{one.cause.value}|{one.rule}|{place}|{one.channel}|{one.start_ms}"[:250],
        part=0,
        place=place,
        place_name=in_force.names.get(place, place),
        instrument=one.channel,
        about=one.kind.value,
        cause=one.cause.value,
        outcome=one.outcome.value,
        control_point=found.control_point,
        start_at=to_moment(one.start_ms),
        end_at=to_moment(one.end_ms),
        seconds=f"{one.seconds:f}",
        extreme="" if one.extreme is None else _exact(one.extreme),
        unit=one.unit,
        rule=one.rule,
        clause=one.clause,
        basis=one.basis,
        contradicting=one.contradicting,
        lots=list(one.lots),
        sentence=again(one.sentence, _),
    )


def _exact(value: Fraction) -> str:
    """A value with its digits; a fraction that has no end as two whole numbers."""
    number = Decimal(value.numerator) / Decimal(value.denominator)
    return f"{number.normalize():f}" if Fraction(number) == value else f"{value.numerator}/{value.denominator}"


def _judgement(found: Found, row: TraceFinding) -> Judgement:
    one = found.finding
    numbers = {"seconds": row.seconds, "from": str(one.start_ms), "until": str(one.end_ms)}
    if row.extreme:
        numbers |= {"extreme": row.extreme, "unit": row.unit}
    if row.instrument:
        numbers["instrument"] = row.instrument
    if row.contradicting:
        numbers["contradicting"] = str(row.contradicting)
    return Judgement(
        outcome=row.outcome,
        reason=row.sentence,
        numbers=numbers,
        monitoring_key="",
        rule=row.rule,
        clause=row.clause,
        basis=row.basis,
    )


def _withdraw(a: Act, row: TraceFinding, why: str, in_force: InForce) -> None:
    """A verdict that a finding no longer stands. Nothing that it opened or held is closed or released by it."""
    last = verdicts_of(TraceFinding.KIND, [row.number]).get(row.number)
    if last is not None and last.outcome == Outcome.MET.value:
        return
    write_verdict(
        a,
        TraceFinding.KIND,
        row.number,
        Judgement(Outcome.MET.value, why, {}, "", rule=row.rule, clause=row.clause, basis=row.basis),
        in_force,
        "import",
        last.number if last is not None else None,
    )


def _follow(a: Act, rows: list[TraceFinding], in_force: InForce) -> None:
    """Open or extend the deviations of findings, and hold what was flowing or held in their time."""
    for group in _groups(rows):
        point = in_force.plan.control_point_by_key(group[0].control_point)
        if point.kind != "ccp" and not point.reaches_product:
            continue
        causes = [
            Cause(TraceFinding.KIND, row.number, row.start_at, f"{row.place_name}: {row.sentence}") for row in group
        ]
        worst = min(group, key=lambda row: SEVERITY.index(Outcome(row.outcome)))
        deviation, _opened = open_or_extend(
            a,
            in_force=in_force,
            control_point=point.key,
            subject=group[0].place,
            cause=worst.outcome,
            found=causes[group.index(worst)],
            since_at=group[0].start_at,
            foreseen=any(one.control_point == point.key and one.corrective_action for one in in_force.plan.monitoring),
            same_excursion=_near(group),
        )
        add_causes(a, deviation, causes)
        for lot in lots_touched_in(group[0].place, [(row.start_at, row.end_at) for row in group]):
            place_on_hold(
                a,
                lot=lot.id,
                lot_label=lot.label,
                vessel=group[0].place,
                since_at=lot.since,
                reason=deviation.sentence,
                deviation=deviation.number,
                bars_release=point.bars_release,
            )


def _in_an_outage(row: TraceFinding) -> bool:
    """Whether silence is that of an outage, which has its deviation: one cause, one deviation.

    Product that may have flowed meanwhile is another matter: it is held as ever.
    """
    if row.cause not in SILENT or (row.lots and row.about != Kind.STORAGE.value):
        return False
    return outage_of(row) is not None


def outage_of(row: TraceFinding) -> Outage | None:
    """The outage that a time of silence lies in; a recorder may need some minutes to come back."""
    begun = Outage.objects.filter(started_at__lte=row.start_at + BACK_AGAIN, started_at__gte=row.start_at - LONGEST)
    ends = dict(OutageEnd.objects.filter(outage__in=[one.number for one in begun]).values_list("outage", "ended_at"))
    for one in begun:
        if one.number not in ends or row.end_at <= ends[one.number] + BACK_AGAIN:
            return one
    return None


def _groups(rows: Iterable[TraceFinding]) -> list[list[TraceFinding]]:
    """Findings of one control point and place that lie near one another: one cause, one deviation."""
    groups: list[list[TraceFinding]] = []
    for row in sorted(rows, key=lambda row: (row.control_point, row.place, row.start_at, row.number)):
        last = groups[-1] if groups else None
        same = last is not None and (last[0].control_point, last[0].place) == (row.control_point, row.place)
        if last is not None and same and row.start_at <= max(one.end_at for one in last) + NEAR:
            last.append(row)
        else:
            groups.append([row])
    return groups


def _near(group: list[TraceFinding]) -> list[int]:
    """The causes that may have opened this deviation already: findings near it, and readings at its place then."""
    first, last = group[0].start_at, max(row.end_at for row in group)
    near = TraceFinding.objects.filter(
        place=group[0].place,
        control_point=group[0].control_point,
        start_at__lte=last + NEAR,
        end_at__gte=first - NEAR,
    )
    read = Reading.objects.filter(subject=group[0].place, observed_at__gte=first, observed_at__lte=last)
    return [*near.values_list("number", flat=True), *read.values_list("number", flat=True)]


# --- reading them


@dataclass(frozen=True, slots=True)
class FindingSaid:
    """A finding as a page says it."""

    row: TraceFinding
    outcome: str
    word: str
    mark: str
    out: bool
    when: str
    length: str
    rule: str
    deviation: int | None


def standing_rows(start: datetime, end: datetime, places: Iterable[str]) -> list[TraceFinding]:
    """The findings that stand and touch [start, end]: the last part of each, unless a later verdict took it back."""
    rows = TraceFinding.objects.filter(place__in=list(places), start_at__lte=end, end_at__gte=start)
    latest: dict[str, TraceFinding] = {}
    for row in rows.order_by("number"):
        latest[row.key] = row
    # A later part may have left the window; then it speaks there, not here.
    newer = TraceFinding.objects.filter(key__in=list(latest)).order_by("number").values_list("key", "number")
    last = dict(newer)
    rows_now = [row for row in latest.values() if last[row.key] == row.number]
    verdicts = verdicts_of(TraceFinding.KIND, [row.number for row in rows_now])
    gone = {number for number, verdict in verdicts.items() if verdict.outcome == Outcome.MET.value}
    return sorted((row for row in rows_now if row.number not in gone), key=lambda row: (row.start_at, row.number))


def standing(start: datetime, end: datetime, places: Iterable[str], zone: str) -> list[FindingSaid]:
    """The findings that stand and touch [start, end], in words; the worst first among those of one moment."""
    return in_words(standing_rows(start, end, places), zone)


def in_words(rows: list[TraceFinding], zone: str) -> list[FindingSaid]:
    """Findings as pages say them, with the deviation that each is a cause of."""
    causes = DeviationCause.objects.filter(cause_number__in=[row.number for row in rows])
    deviations = dict(causes.values_list("cause_number", "deviation"))
    for row in rows:
        if row.number not in deviations and row.cause in SILENT and (outage := outage_of(row)) is not None:
            deviations[row.number] = outage.deviation or 0
    found = [_said(row, deviations.get(row.number), zone) for row in rows]
    return sorted(found, key=lambda one: (one.row.start_at, SEVERITY.index(Outcome(one.outcome)), one.row.number))


def _said(row: TraceFinding, deviation: int | None, zone: str) -> FindingSaid:
    rule = ", ".join(part for part in (row.rule, row.clause) if part)
    return FindingSaid(
        row,
        row.outcome,
        to_operator(row.outcome),
        mark_svg(row.outcome),
        row.outcome in OUT,
        when_words(row.start_at, row.end_at, zone),
        length_words(Decimal(row.seconds)),
        rule,
        deviation,
    )


def when_words(start: datetime, end: datetime, zone: str) -> str:
    """'2026-03-03 06:20:33 – 06:20:35', to the second, with its day once."""
    first, last = said(to_ms(start), zone), said(to_ms(end), zone)
    if last == first:
        return first
    return f"{first} – {last[11:] if last[:10] == first[:10] else last}"


def length_words(seconds: Decimal) -> str:
    """'2 s', '4 min 10 s', '3 h 5 min'."""
    whole = int(seconds)
    if seconds < 120:
        return _("%(s)s s") % {"s": plain(seconds, 3)}
    if whole < 7200:
        minutes = _("%(min)s min") % {"min": whole // 60}
        return _("%(min)s min %(s)s s") % {"min": whole // 60, "s": whole % 60} if whole % 60 else minutes
    hours = _("%(h)s h") % {"h": whole // 3600}
    rest = whole % 3600 // 60
    return _("%(h)s h %(min)s min") % {"h": whole // 3600, "min": rest} if rest else hours


def control_point_of(finding: Finding, rows: dict[str, Any], fallback: str) -> str:
    """The control point of a finding: that of its channel; of holding time, set-up and the rest, the main trace's."""
    if finding.kind is Kind.WASH:
        return next((str(one.wash_point) for one in rows.values()), "")
    row = rows.get(finding.channel)
    if row is not None:
        return str(row.control_point)
    about = {Kind.COOLING: "cooled product", Kind.PRESSURE: "pressure difference"}.get(finding.kind)
    named = next((one for one in rows.values() if one.what == about), None)
    return str(named.control_point) if named is not None else fallback
