"""What follows from a chart that broke a rule: the deviation that it opens or joins, and the product not proven by it.

A chart not used past the time it is made for, and overlapped traces: 1 NYCRR 3.27(a), 2.48(a) (text consulted). Where
traces lie over each other the paper proves nothing, and product is held where the plan's control point reaches it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.units import plain
from records.charts import queries, recorders
from records.charts.models import ChartCompared, ChartOff, ChartOn, ChartPastSpan
from records.charts.queries import Chart
from records.checks.consequences import hold_what_it_reaches
from records.deviations.actions import Cause, open_or_extend
from records.deviations.models import Deviation, DeviationCause
from records.deviations.queries import is_closed
from records.ledger.actions import Act
from records.ledger.models import Record
from records.people.plans import InForce

LEGAL_RULE, NOT_PROVEN = "legal rule", "not proven"


def after_on(a: Act, chart: Chart, before: list[Chart], in_force: InForce) -> None:
    """A chart was put on while others were on: their traces may overlap, and nobody can say which paper holds what."""
    if not before:
        return
    with in_force.speaking():
        first = before[0]
        sentence = _("%(recorder)s: chart %(chart)s was put on while chart %(other)s of %(when)s was still on") % {
            "recorder": chart.on.recorder_name,
            "chart": chart.on.chart_number,
            "other": first.on.chart_number,
            "when": _when(first.on.put_on_at, in_force),
        }
        _open(a, chart.on, sentence, chart.on.put_on_at, in_force, recorder=chart.on.recorder)


def after_off(a: Act, chart: Chart, in_force: InForce, known: ChartOff | None = None) -> None:
    """What a chart's taking off shows: that it ran past its span, that its traces overlap, that another was on too.

    `known`: what was said of it before, when this amends it; what that led to is not opened again.
    """
    assert chart.off is not None  # the caller has just written it
    with in_force.speaking():
        if chart.is_past(a.now):
            past_span(a, chart, in_force)
        sentences = []
        overlapped = chart.off.overlapped and not (known and known.overlapped)
        if overlapped:
            sentences.append(_overlapped_words(chart))
        if later := _put_on_meanwhile(chart):
            sentences.append(_meanwhile_words(chart, later, in_force))
        if sentences:
            said = ". ".join(sentences)
            deviation = _open(a, chart.off, said, chart.on.put_on_at, in_force, recorder=chart.on.recorder)
            if overlapped:
                _hold(a, deviation, chart, chart.on.put_on_at, chart.off.taken_off_at, in_force)


def past_span(a: Act, chart: Chart, in_force: InForce) -> ChartPastSpan:
    """Write once that a chart ran past its span, and open or join the deviation; hold what ran under two traces.

    May be called again while the chart stays on: it then only holds what has run since. When the deviation was closed
    meanwhile and the chart is off, what came after the closing opens another.
    """
    known = ChartPastSpan.objects.filter(chart=chart.number).first()
    deviation = _deviation_of(known.number) if known else None
    if known is None:
        known, deviation = _first_past(a, chart, in_force)
    elif deviation is not None and is_closed(deviation.number):
        deviation = None
        if chart.off is not None and not is_cause(chart.off):
            deviation = _open(a, chart.off, known.sentence, chart.span_ends_at, in_force, recorder=chart.on.recorder)
    if deviation is not None:
        for start, end in _under_two_traces(chart, chart.until(a.now)):
            _hold(a, deviation, chart, start, end, in_force)
    return known


def _first_past(a: Act, chart: Chart, in_force: InForce) -> tuple[ChartPastSpan, Deviation]:
    with in_force.speaking():
        sentence = _("%(recorder)s: chart %(chart)s ran past the %(span)s h that it is made for, from %(when)s on") % {
            "recorder": chart.on.recorder_name,
            "chart": chart.on.chart_number,
            "span": plain(_hours(chart)),
            "when": _when(chart.span_ends_at, in_force),
        }
    known = a.write(
        ChartPastSpan(
            chart=chart.number,
            recorder=chart.on.recorder,
            recorder_name=chart.on.recorder_name,
            chart_number=chart.on.chart_number,
            span_min=chart.on.span_min,
            span_ended_at=chart.span_ends_at,
            sentence=sentence,
        ),
        observed_at=chart.span_ends_at,
    )
    return known, _open(a, known, sentence, chart.span_ends_at, in_force, recorder=chart.on.recorder)


def after_compared(a: Act, chart: Chart, compared: ChartCompared, in_force: InForce) -> Deviation:
    """Photo and stored trace disagree: which of the two is right is not proven."""
    assert compared.disagree_at is not None  # a disagreement is at a moment
    with in_force.speaking():
        sentence = _("%(recorder)s: chart %(chart)s and the stored trace disagree at %(when)s: %(because)s") % {
            "recorder": chart.on.recorder_name,
            "chart": chart.on.chart_number,
            "when": _when(compared.disagree_at, in_force),
            "because": compared.because,
        }
        deviation = _open(
            a, compared, sentence, compared.disagree_at, in_force, recorder=chart.on.recorder, cause=NOT_PROVEN
        )
        _hold(a, deviation, chart, compared.disagree_at, compared.disagree_at, in_force)
    return deviation


def _open(
    a: Act,
    row: Record,
    sentence: str,
    since: datetime,
    in_force: InForce,
    *,
    recorder: str,
    cause: str = LEGAL_RULE,
) -> Deviation:
    """The deviation of the recorder's charts that is open, or a new one; each record is its cause once."""
    point = recorders.control_point_of(recorder, in_force)
    key = point.key if point else ""
    written = any(one.corrective_action for one in in_force.plan.monitoring if one.control_point == key)
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=key,
        subject=recorder,
        cause=cause,
        found=Cause(row.KIND, row.number, row.observed_at, sentence),
        since_at=since,
        weight="legal",
        foreseen=written,
    )
    return deviation


def _hold(a: Act, deviation: Deviation, chart: Chart, start: datetime, end: datetime, in_force: InForce) -> None:
    """Hold what was at the recorder's place in that time, where the plan's control point reaches product."""
    point = recorders.control_point_of(chart.on.recorder, in_force)
    if point is None or not (point.kind == "ccp" or point.reaches_product) or not chart.on.place:
        return
    hold_what_it_reaches(a, deviation, point, chart.on.place, start, end)


def _under_two_traces(chart: Chart, until: datetime) -> list[tuple[datetime, datetime]]:
    """The times that the paper shows twice: what was written past the span, and what it was written over."""
    over: timedelta = until - chart.span_ends_at
    if over <= timedelta(0):
        return []
    first_end = min(chart.on.put_on_at + over, chart.span_ends_at)
    return [(chart.on.put_on_at, first_end), (chart.span_ends_at, until)]


def _put_on_meanwhile(chart: Chart) -> Chart | None:
    """A chart put on this recorder before this one came off, which nobody has noticed yet."""
    assert chart.off is not None  # only asked of a chart that is off
    others = queries.put_on_within(chart.on.recorder, chart.on.put_on_at, chart.off.taken_off_at)
    unseen = [one for one in others if one.number != chart.number and not is_cause(one.on)]
    return unseen[0] if unseen else None


def _overlapped_words(chart: Chart) -> str:
    return _("%(recorder)s: the traces on chart %(chart)s overlap") % {
        "recorder": chart.on.recorder_name,
        "chart": chart.on.chart_number,
    }


def _meanwhile_words(chart: Chart, later: Chart, in_force: InForce) -> str:
    return _("%(recorder)s: chart %(chart)s came off after chart %(other)s had been put on at %(when)s") % {
        "recorder": chart.on.recorder_name,
        "chart": chart.on.chart_number,
        "other": later.on.chart_number,
        "when": _when(later.on.put_on_at, in_force),
    }


def is_cause(row: ChartOn | ChartOff) -> bool:
    """Whether a record has opened or joined a deviation."""
    return DeviationCause.objects.filter(cause_kind=row.KIND, cause_number=row.number).exists()


def _deviation_of(number: int) -> Deviation | None:
    cause = DeviationCause.objects.filter(cause_number=number).order_by("-number").first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause else None


def _hours(chart: Chart) -> Fraction:
    return Fraction(chart.on.span_min, 60)


def _when(moment: datetime, in_force: InForce) -> str:
    return in_force.calendar.local(moment).strftime("%Y-%m-%d %H:%M")
