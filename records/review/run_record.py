"""A run's record as the law wants it on the chart: each entry with its clause, what the book has of it, what it lacks.

It joins the run, what was read in it, its movements, the charts that were on the press's recorders and the trace. The
chart itself stays the legal record; this page says where the book and the chart have to agree.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max, Min
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef
from plant.rules import rule_set
from records.charts.day import ChartOfDay, charts_for_day
from records.checks.asking import what_words
from records.checks.models import Reading
from records.checks.queries import governing
from records.checks.saying import value_words
from records.flow.models import Movement, MovementEnd
from records.flow.story import quantity_words
from records.judging.judge import GOOD
from records.judging.queries import governing as verdicts_of
from records.judging.words import to_operator
from records.people.plans import InForce
from records.runs import starting
from records.runs.models import DIVERTED, FORWARD_AGAIN, UNUSUAL, RunEvent
from records.runs.queries import Run
from records.runs.words import what_words as event_words
from records.traces.findings import SILENT, standing_rows
from records.traces.models import SAMPLES, TraceBlock

When = Callable[[datetime], str]
MINUTE = timedelta(minutes=1)
HOT = "hold temperature"  # as the plan names what a recorder writes


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry that the record of a run has to carry: its clause, what the book says, and what is not in it."""

    title: str
    clause: str
    said: tuple[str, ...]
    lacks: str = ""


@dataclass(frozen=True, slots=True)
class RunRecord:
    """A run's entries in the order of the rule, with the charts that were on while it ran."""

    entries: tuple[Entry, ...]
    charts: tuple[ChartOfDay, ...]

    @property
    def lacking(self) -> list[Entry]:
        """Of them, those that the book lacks."""
        return [one for one in self.entries if one.lacks]


@dataclass(frozen=True, slots=True)
class _Case:
    run: Run
    start: datetime
    end: datetime
    now: datetime
    in_force: InForce
    when: When
    readings: list[tuple[Reading, MonitoringDef]]
    outcomes: dict[int, str]
    charts: list[ChartOfDay]

    def clause(self, rule: str) -> str:
        """The clause of a row of the plant's rule set; empty where it has no such row."""
        row = rule_set(self.in_force.plan.plant.rule_set).rows.get(rule)
        return row.clause if row is not None else ""


def record_of(run: Run, now: datetime, in_force: InForce, when: When) -> RunRecord:
    """What stands of a run by `now`; `when` writes a moment in the plant's time. About twenty queries."""
    start, end = run.first.happened_at, run.ended_at or now
    readings = _readings(run, start, end, in_force)
    verdicts = verdicts_of(Reading.KIND, [one.number for one, _check in readings])
    outcomes = {number: one.outcome for number, one in verdicts.items()}
    charts = [one for one in charts_for_day(start, end + MINUTE) if one.place == run.place]
    case = _Case(run, start, end, now, in_force, when, readings, outcomes, charts)
    makers = (_date, _trace, _indicating, _at_changes, _forward, _cut_in, _product, _unusual, _who)
    return RunRecord(tuple(make(case) for make in makers), tuple(charts))


def _readings(run: Run, start: datetime, end: datetime, in_force: InForce) -> list[tuple[Reading, MonitoringDef]]:
    known = {one.key: one for one in in_force.plan.monitoring}
    rows = Reading.objects.filter(observed_at__gte=start, observed_at__lte=end, subject=run.place)
    found = [(one, known[one.monitoring_key]) for one in governing(rows) if one.monitoring_key in known]
    return sorted(found, key=lambda one: (one[0].observed_at, one[0].number))


def _date(case: _Case) -> Entry:
    said = [case.when(case.start)]
    said += [
        _("chart %(number)s on %(recorder)s") % {"number": one.chart_number, "recorder": one.recorder_name}
        for one in case.charts
    ]
    lacks, typed = "", case.run.first.chart_number
    numbers = {one.chart_number for one in case.charts}
    if typed and numbers and typed not in numbers:
        words = {"typed": typed, "known": ", ".join(sorted(numbers))}
        lacks = _("The start names chart %(typed)s; on the recorder, by the book, was %(known)s.") % words
    elif not numbers:
        lacks = _("No chart on this press's recorders is in the book for that time.")
        said += [_("chart %(number)s, as the start says") % {"number": typed}] if typed else []
    return Entry(_("Date with its year, and the recorder"), case.clause("chart-date"), tuple(said), lacks)


def _trace(case: _Case) -> Entry:
    """Of the temperature at the end of the hold: from when to when it is stored, and each gap that was found in it."""
    keys = [one.key for one in case.in_force.plan.traced if one.place == case.run.place and one.what == HOT]
    blocks = TraceBlock.objects.filter(
        instrument__in=keys, content=SAMPLES, last_at__gte=case.start, first_at__lte=case.end
    ).aggregate(first=Min("first_at"), last=Max("last_at"))
    title, clause = _("A trace of the temperature without a break"), case.clause("chart-trace")
    if blocks["first"] is None:
        lacks = _("No trace of this run is stored in the book: it stands on the chart alone.")
        return Entry(title, clause, (), lacks)
    words = {"start": case.when(max(blocks["first"], case.start)), "end": case.when(min(blocks["last"], case.end))}
    said = _("stored in the book from %(start)s to %(end)s") % words
    return Entry(title, clause, (said,), " ".join(_not_covered(case, blocks["first"], blocks["last"])))


def _not_covered(case: _Case, first: datetime, last: datetime) -> list[str]:
    """Forward flow before or after what is stored, and what the trace's own findings say was not recorded."""
    spans = forward_spans(case.run, case.end)
    found = []
    if spans and first > spans[0][0] + MINUTE:
        found.append(_("Forward flow before that is on the chart alone."))
    if spans and last < spans[-1][1] - MINUTE:
        found.append(_("Forward flow after that is on the chart alone."))
    rows = standing_rows(case.start, case.end, [case.run.place])
    return [*found, *(one.sentence for one in rows if one.cause in SILENT)]


def _of(case: _Case, wanted: Callable[[MonitoringDef], bool]) -> tuple[list[str], str]:
    """What was read of these checks, each in words; and those read out of limits or not read at all."""
    checks = [one for one in starting.first_checks(case.run.place, case.in_force) if wanted(one)]
    said, lacks = [], []
    for check in checks:
        mine = [one for one, of in case.readings if of.key == check.key]
        said += [_read(case, one, check) for one in mine]
        if not mine:
            lacks.append(_("%(what)s: nothing recorded") % {"what": what_words(check)})
        elif case.outcomes.get(mine[-1].number, GOOD[0]) not in GOOD:
            words = {"what": what_words(check), "word": to_operator(case.outcomes[mine[-1].number])}
            lacks.append(_("%(what)s: %(word)s") % words)
    return said, "; ".join(lacks)


def _read(case: _Case, row: Reading, check: MonitoringDef) -> str:
    outcome = case.outcomes.get(row.number, "")
    words = {
        "when": case.when(row.observed_at), "what": what_words(check), "value": value_words(row),
        "word": to_operator(outcome) if outcome else "", "number": row.number,
    }  # fmt: skip
    if not outcome:
        return _("%(when)s %(what)s: %(value)s (entry %(number)d)") % words
    return _("%(when)s %(what)s: %(value)s, %(word)s (entry %(number)d)") % words


def _indicating(case: _Case) -> Entry:
    said, lacks = _of(case, lambda one: one.answer.kind == "pair")
    said += [
        _("%(when)s chart put on: %(value)s (entry %(number)d)")
        % {"when": case.when(one.put_on_at), "value": one.put_on_reading, "number": one.put_on_entry}
        for one in case.charts
        if one.put_on_reading and case.start <= one.put_on_at <= case.end
    ]
    title = _("The indicating thermometer at the start and at a marked time, beside the recorder")
    return Entry(title, case.clause("chart-indicator"), tuple(said), lacks)


def _at_changes(case: _Case) -> Entry:
    changed = [one for one in case.charts if case.start < one.put_on_at <= case.end]
    said, lacks = [], []
    for one in changed:
        words = {"when": case.when(one.put_on_at), "chart": one.chart_number, "value": one.put_on_reading}
        if one.put_on_reading:
            said.append(_("%(when)s chart %(chart)s: %(value)s") % words)
        else:
            lacks.append(_("%(when)s chart %(chart)s: nothing recorded") % words)
    if not changed:
        said.append(_("no change of chart is in the book for that time"))
    title = _("The indicating thermometer again at each change of chart")
    return Entry(title, case.clause("chart-indicator"), tuple(said), "; ".join(lacks))


def forward_spans(run: Run, end: datetime) -> list[tuple[datetime, datetime]]:
    """The periods of forward flow, on water or product, as the run's rows say; one without an end runs to `end`."""
    found: list[tuple[datetime, datetime]] = []
    since: datetime | None = None
    for moment in sorted({one.happened_at for one in run.by(end)}):
        forward = run.state_at(moment) in ("on water", "on product")
        if forward and since is None:
            since = moment
        elif not forward and since is not None:
            found.append((since, moment))
            since = None
    return [*found, (since, end)] if since is not None and since < end else found


def _forward(case: _Case) -> Entry:
    spans = forward_spans(case.run, case.end)
    said = [
        _("%(start)s to %(end)s") % {"start": case.when(start), "end": case.when(end)} for start, end in spans
    ]
    open_ = case.run.ended_at is None
    lacks = "" if spans or open_ else _("No forward flow is recorded.")
    return Entry(_("Every period of forward flow"), case.clause("chart-forward"), tuple(said), lacks)


def _cut_in(case: _Case) -> Entry:
    said, lacks = _of(case, lambda one: one.answer.kind != "pair")
    title = _("Cut-in and cut-out on the indicating thermometer, and what else the plan reads first")
    return Entry(title, case.clause("chart-cut-in"), tuple(said), lacks)


def _product(case: _Case) -> Entry:
    numbers = [one.movement for one in case.run.events if one.movement is not None]
    rows = Movement.objects.filter(number__in=numbers).order_by("started_at", "number")
    ends = {one.movement: one for one in MovementEnd.objects.filter(movement__in=numbers)}
    said, lacks = [], []
    for row in rows:
        end = ends.get(row.number, row)
        amount = quantity_words(end.quantity_typed, end.unit) if end.quantity_typed else ""
        words = {"product": row.product_name, "amount": amount, "target": row.target_name, "number": row.number}
        if amount:
            said.append(_("%(product)s, %(amount)s, into %(target)s (movement %(number)d)") % words)
        else:
            said.append(_("%(product)s into %(target)s (movement %(number)d)") % words)
            lacks.append(_("The amount of %(product)s is not recorded.") % words)
    if not said and case.run.ended_at is not None:
        said.append(_("no product, by this run's record"))
    return Entry(_("Name and amount of each product"), case.clause("chart-product"), tuple(said), " ".join(lacks))


def _unusual(case: _Case) -> Entry:
    said = [_event(case, one) for one in case.run.events if one.what in (DIVERTED, FORWARD_AGAIN, UNUSUAL)]
    said += [
        _("written on chart %(chart)s: %(words)s") % {"chart": one.chart_number, "words": one.unusual}
        for one in case.charts
        if one.unusual
    ]
    return Entry(
        _("Unusual occurrences, diversions among them"), case.clause("chart-unusual"),
        tuple(said) or (_("none recorded"),),
    )  # fmt: skip


def _event(case: _Case, row: RunEvent) -> str:
    words = {"when": case.when(row.happened_at), "what": event_words(row.what), "words": row.words}
    return (_("%(when)s %(what)s: %(words)s") if row.words else _("%(when)s %(what)s")) % words


def _who(case: _Case) -> Entry:
    said = [case.in_force.plan.plant.name]
    said += list(dict.fromkeys(f"{one.by_name} ({one.by_initials})" for one in case.run.events))
    lacks = [
        _("Chart %(chart)s has no signature in the book.") % {"chart": one.chart_number}
        for one in case.charts
        if one.taken_off_at is not None and not one.signed
    ]
    title = _("The plant's name; the operator's signature or initials")
    return Entry(title, case.clause("chart-signed"), tuple(said), " ".join(lacks))


__all__ = ["Entry", "RunRecord", "forward_spans", "record_of"]
