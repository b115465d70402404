"""What the pages of deviations say: each as a sentence with what is missing; one with its whole story."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from plant.kept_words import kept_word
from records.charts.day import charts_of_causes
from records.checks import queries as checks
from records.checks.models import Reading, Transition
from records.deviations import queries
from records.deviations.models import (
    Correction,
    CorrectiveAction,
    Deviation,
    DeviationCause,
    DeviationClosing,
    Disposition,
    Hold,
    HoldLift,
    Outage,
)
from records.deviations.words import in_words
from records.flow.floor import answer_words
from records.flow.lineage import downstream_lots
from records.flow.models import Movement
from records.flow.queries import labels_of
from records.judging import queries as verdicts
from records.judging.models import Verdict
from records.ledger.models import Record
from records.people.plans import InForce, plan_in_force
from records.review.evaluation import evaluations
from records.traces.models import TraceFinding

LATELY = timedelta(days=7)
IN_THE_UNIT = frozenset({"as_read", "extreme", "corrected", "margin"})
MOST_AFTER = 12  # the first ones show when limits were met again
MOST_CAUSES = 60  # shown on one page; a longer story says how many more there are


@dataclass(frozen=True, slots=True)
class Row:
    """One deviation in the list."""

    deviation: Deviation
    why: str
    held: tuple[Hold, ...]
    missing: tuple[str, ...]
    causes: int
    closing: DeviationClosing | None


def of_filter(which: str) -> QuerySet[Deviation]:
    """Open ones oldest first; closed and all of them newest first."""
    if which == "open":
        return queries.open_deviations()
    if which == "closed":
        closing = DeviationClosing.objects.filter(deviation=OuterRef("number"))
        return Deviation.objects.filter(Exists(closing)).order_by("-number")
    return Deviation.objects.order_by("-number")


def rows(deviations: Sequence[Deviation]) -> list[Row]:
    """The list's rows, in a few queries for all of them."""
    numbers = [one.number for one in deviations]
    closings = {one.deviation: one for one in DeviationClosing.objects.filter(deviation__in=numbers)}
    held = _grouped(Hold.objects.filter(deviation__in=numbers).order_by("number"), "deviation")
    lifted = set(HoldLift.objects.filter(hold__in=[one.number for rows in held.values() for one in rows])
                 .values_list("hold", flat=True))
    written: dict[int, set[str]] = defaultdict(set)
    for number, part in CorrectiveAction.objects.filter(deviation__in=numbers).values_list("deviation", "part"):
        written[number].add(part)
    causes = queries.causes_of(numbers)
    found = []
    for one in deviations:
        still = tuple(hold for hold in held[one.number] if hold.number not in lifted)
        absent = [words for key, words in queries.parts_wanted(one).items() if key not in written[one.number]]
        if still:
            absent.append(_("a disposition with two signatures for the product held"))
        closing = closings.get(one.number)
        missing = () if closing else tuple(absent)
        found.append(Row(one, in_words(one.cause), still, missing, len(causes.get(one.number, ())), closing))
    return found


def _grouped(found: Iterable[Any], name: str) -> dict[Any, list[Any]]:
    groups: dict[Any, list[Any]] = defaultdict(list)
    for one in found:
        groups[getattr(one, name)].append(one)
    return groups


@dataclass(frozen=True, slots=True)
class CorrectionRow:
    """A correction, and the deviation that it led to, if any."""

    row: Correction
    deviation: int | None


def corrections(found: Sequence[Correction]) -> list[CorrectionRow]:
    """Corrections with what became of them."""
    numbers = [one.number for one in found]
    led = dict(
        DeviationCause.objects.filter(cause_kind=Correction.KIND, cause_number__in=numbers)
        .order_by("number")
        .values_list("cause_number", "deviation")
    )
    return [CorrectionRow(one, led.get(one.number)) for one in found]


def missed_lines(now: datetime) -> list[Transition]:
    """Checks missed lately that are no deviation: a line each, newest first."""
    causes = DeviationCause.objects.filter(cause_kind=Transition.KIND, cause_number=OuterRef("number"))
    lately = Transition.objects.filter(what="missed", due_at__gte=now - LATELY).exclude(Exists(causes))
    return list(lately.order_by("-due_at", "-number")[:50])


# --- one deviation


@dataclass(frozen=True, slots=True)
class CauseRow:
    """One cause with what judged it: the verdict, its rule and clause, and the numbers."""

    cause: DeviationCause
    what: str
    verdict: Verdict | None
    numbers: tuple[tuple[str, str], ...]
    by: str
    outcome: str = ""
    reading: int | None = None
    movement: int | None = None
    finding: int | None = None
    chart: int | None = None


@dataclass(frozen=True, slots=True)
class HeldRow:
    """A hold with its dispositions, its lift, and what its lot flowed into since."""

    hold: Hold
    dispositions: tuple[Disposition, ...]
    lift: HoldLift | None
    reached: tuple[str, ...]

    @property
    def waiting(self) -> Disposition | None:
        """The newest disposition that still lacks its second signature."""
        return self.dispositions[-1] if self.dispositions and self.lift is None else None

    @property
    def becomes(self) -> str:
        """What becomes of it, in words; empty while held."""
        if self.lift is None:
            return ""
        chosen = next((one for one in self.dispositions if one.number == self.lift.disposition), None)
        return in_words(chosen.what) if chosen else ""


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part: what it asks, what governs, and what stood before."""

    key: str
    asks: str
    wanted: bool
    written: tuple[CorrectiveAction, ...]

    @property
    def governing(self) -> CorrectiveAction | None:
        """The last that was written."""
        return self.written[-1] if self.written else None

    @property
    def older(self) -> tuple[CorrectiveAction, ...]:
        """What it replaced, oldest first."""
        return self.written[:-1]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a story."""

    at: datetime
    text: str
    by: str
    number: int


@dataclass(frozen=True, slots=True)
class AfterRow:
    """A reading of the same check and place after the first cause: it shows when limits were met again."""

    reading: Reading
    words: str
    outcome: str


@dataclass(slots=True)
class Story:
    """Everything that one deviation's page says."""

    deviation: Deviation
    why: str
    causes: list[CauseRow] = field(default_factory=list)
    more_causes: int = 0
    parts: list[PartRow] = field(default_factory=list)
    held: list[HeldRow] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    closing: DeviationClosing | None = None
    planned_action: list[str] = field(default_factory=list)
    outage: Outage | None = None
    after: list[AfterRow] = field(default_factory=list)
    evaluations: list[tuple[str, str]] = field(default_factory=list)


def story_of(deviation: Deviation, now: datetime) -> Story:
    """A deviation with its causes, parts, product and time line."""
    causes = queries.causes_of([deviation.number]).get(deviation.number, [])
    found = Story(deviation, in_words(deviation.cause))
    found.causes = cause_rows(causes[:MOST_CAUSES])
    found.more_causes = max(0, len(causes) - MOST_CAUSES)
    written = queries.parts_written(deviation.number)
    wanted = queries.parts_wanted(deviation)
    found.parts = [
        PartRow(key, asks, key in wanted, tuple(written.get(key, ())))
        for key, asks in queries.parts_offered(deviation).items()
    ]
    holds = list(Hold.objects.filter(deviation=deviation.number).order_by("number"))
    found.held = held_rows(holds, now)
    found.closing = DeviationClosing.objects.filter(deviation=deviation.number).first()
    found.missing = [] if found.closing else queries.missing(deviation)
    found.planned_action = planned_actions(deviation, found.causes)
    found.outage = Outage.objects.filter(deviation=deviation.number).first()
    found.after = read_after(deviation, causes)
    in_force = plan_in_force(deviation.observed_at)
    found.evaluations = evaluations(deviation, causes, in_force) if in_force and causes else []
    found.lines = _lines(found, causes)
    return found


def read_after(deviation: Deviation, causes: Sequence[DeviationCause]) -> list[AfterRow]:
    """The readings of the checks that caused it, at its place, from its first cause on, the causes left out."""
    numbers = [one.cause_number for one in causes]
    keys = Verdict.objects.filter(
        subject_number__in=numbers, subject_kind__in=(Reading.KIND, Transition.KIND)
    ).values_list("monitoring_key", flat=True)
    rows = checks.governing(
        Reading.objects.filter(
            monitoring_key__in=set(keys) - {""}, subject=deviation.subject, observed_at__gte=deviation.observed_at
        ).exclude(number__in=numbers)
    )[:MOST_AFTER]
    outcomes = verdicts.governing(Reading.KIND, [one.number for one in rows])
    return [
        AfterRow(one, answer_words(one), outcomes[one.number].outcome) for one in rows if one.number in outcomes
    ]


def cause_rows(causes: Sequence[DeviationCause]) -> list[CauseRow]:
    """Causes with the verdict that governs each, and who made the record."""
    numbers = [one.cause_number for one in causes]
    judged = {
        one.subject_number: one
        for one in Verdict.objects.filter(subject_number__in=numbers).order_by("number")
        if one.subject_kind in (Reading.KIND, Transition.KIND, TraceFinding.KIND)
    }
    readings = {one.number: one for one in Reading.objects.filter(number__in=numbers)}
    movements = set(Movement.objects.filter(number__in=numbers).values_list("number", flat=True))
    charts = charts_of_causes(numbers)
    found = []
    for one in causes:
        verdict, reading = judged.get(one.cause_number), readings.get(one.cause_number)
        by = f"{reading.by_name} ({kept_word(reading.by_role)})" if reading else _by(one)
        found.append(
            CauseRow(
                cause=one,
                what=_kind_words(one.cause_kind),
                verdict=verdict,
                numbers=_numbers(verdict),
                by=by,
                outcome=verdict.outcome if verdict else "",
                reading=reading.number if reading else None,
                movement=one.cause_number if one.cause_number in movements else None,
                finding=one.cause_number if one.cause_kind == TraceFinding.KIND else None,
                chart=charts.get(one.cause_number),
            )
        )
    return found


def _kind_words(kind: str) -> str:
    words = {
        "reading": _("reading"),
        "transition": _("missed check"),
        "movement": _("movement"),
        "movement end": _("end of a movement"),
        "wash": _("wash"),
        "level seen": _("level seen"),
        "outage": _("outage"),
        "correction": _("correction"),
        "trace finding": _("found in a trace"),
        "seal act": _("seal"),
        "holding-time test": _("holding-time test"),
        "run event": _("run"),
        "recorder silent": _("silent recorder"),
        "freezer run event": _("freezer run"),
        "vat run event": _("vat run"),
        "strainer or magnet look": _("strainer or magnet looked at"),
        "metal detector challenge": _("metal detector challenged"),
        "parts count": _("parts counted"),
        "breakage": _("breakage"),
        "laboratory result": _("result of the laboratory"),
        "chart put on": _("chart put on"),
        "chart taken off": _("chart taken off"),
        "chart past span": _("chart past the time it is made for"),
        "chart compared": _("chart held against the stored trace"),
    }
    return words.get(kind, kind)


def _numbers(verdict: Verdict | None) -> tuple[tuple[str, str], ...]:
    if verdict is None:
        return ()
    names = {
        "as_read": _("as read"),
        "extreme": _("furthest"),
        "seconds": _("seconds of it"),
        "corrected": _("corrected"),
        "limit": _("limit"),
        "margin": _("distance from the limit"),
        "instrument": _("instrument"),
        "accuracy": _("how far off the instrument may be"),
        "uncertainty": _("how far off the instrument may be"),
    }
    told = {key: one if isinstance(one, str) else json.dumps(one) for key, one in verdict.numbers.items()}
    if told.get("corrected") == told.get("as_read"):
        told.pop("corrected", None)
    unit = told.get("unit", "")
    return tuple(
        (words, f"{told[key]} {unit}".strip() if key in IN_THE_UNIT else told[key])
        for key, words in names.items()
        if told.get(key, "null") not in ("", "null")
    )


def _by(row: Record) -> str:
    return f"{row.by_name} ({kept_word(row.by_role)})" if row.by_role and row.by_id else kept_word(row.by_name)


def held_rows(holds: Sequence[Hold], now: datetime) -> list[HeldRow]:
    """Holds with their dispositions, and the lots that each has flowed into, by computation."""
    numbers = [one.number for one in holds]
    proposed = _grouped(Disposition.objects.filter(hold__in=numbers).order_by("number"), "hold")
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=numbers)}
    reached = {one.number: downstream_lots(one.lot, one.since_at) for one in holds}
    in_force = plan_in_force(now)
    every: set[UUID] = set().union(*reached.values())
    labels = labels_of(every, in_force) if in_force and every else {}
    return [
        HeldRow(
            one,
            tuple(proposed[one.number]),
            lifts.get(one.number),
            tuple(sorted(labels[lot] for lot in reached[one.number] if lot in labels)),
        )
        for one in holds
    ]


def planned_actions(deviation: Deviation, causes: Sequence[CauseRow]) -> list[str]:
    """The written corrective action of its plan: of the checks that caused it, else of its control point."""
    in_force = _plan_of(deviation)
    if in_force is None:
        return []
    keys = {one.verdict.monitoring_key for one in causes if one.verdict}
    at_point = [one for one in in_force.plan.monitoring if one.control_point == deviation.control_point]
    asked = [one for one in at_point if one.key in keys] or [
        one for one in at_point if not one.subjects or deviation.subject in one.subjects
    ]
    return list(dict.fromkeys(one.corrective_action for one in asked if one.corrective_action))


def _plan_of(deviation: Deviation) -> InForce | None:
    found = plan_in_force(deviation.observed_at)
    if found is not None and deviation.plan_number in (None, found.number):
        return found
    return plan_in_force(deviation.received_at)


def _lines(found: Story, causes: Sequence[DeviationCause]) -> list[Line]:
    one = found.deviation
    told = [Line(one.received_at, _("opened: %(sentence)s") % {"sentence": one.sentence}, _by(one), one.number)]
    told += [Line(each.received_at, each.sentence, _by(each), each.number) for each in causes[1:MOST_CAUSES]]
    for part in found.parts:
        for row in part.written:
            again = _("written anew: %(what)s") if row is not part.written[0] else _("written: %(what)s")
            told.append(Line(row.received_at, again % {"what": part.asks}, _by(row), row.number))
    for held in found.held:
        words = {"lot": held.hold.lot_label}
        told.append(Line(held.hold.received_at, _("on hold: %(lot)s") % words, _by(held.hold), held.hold.number))
        for said in held.dispositions:
            text = _("proposed for %(lot)s: %(what)s") % {**words, "what": in_words(said.what)}
            told.append(Line(said.received_at, text, _by(said), said.number))
        if held.lift:
            text = _("hold lifted, %(lot)s: %(what)s") % {**words, "what": held.becomes}
            told.append(Line(held.lift.received_at, text, _by(held.lift), held.lift.number))
    for notice in Transition.objects.filter(key__startswith=f"told|deviation|{one.number}|").order_by("number"):
        told.append(Line(notice.received_at, notice.sentence, _by(notice), notice.number))
    if found.closing:
        text = _("closed: %(text)s") % {"text": found.closing.text}
        told.append(Line(found.closing.received_at, text, _by(found.closing), found.closing.number))
    return sorted(told, key=lambda line: (line.at, line.number))
